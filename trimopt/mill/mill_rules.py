"""Combinations that no mill can have, each with the nearest figure that would pass.

Every check compares figures that were read; where one of them is absent or faulty on its own, the
check says nothing, since that fault is already on the list.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, zip_longest
from math import inf

from trimopt.errors import Fault
from trimopt.mill.mill_section import Section, plain

_USUAL_SPACING_MM = Fraction(100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """All sections of a mill file as they were read, by the names of `SECTIONS`."""

    one: Mapping[str, Section]  # those written once
    several: Mapping[str, tuple[Section, ...]]
    cores: tuple[tuple[Section, ...], ...]  # of each winder


def impossible(sections: Sections) -> Iterator[Fault]:
    """Every combination of figures that contradicts itself."""
    one, several = sections.one, sections.several
    tolerances = ("diameter_tolerance_mm", "diameter_tolerance_percent")
    yield from _said_once(one["mill"], "tolerance", *tolerances)
    for winder, cores in zip(several["winder"], sections.cores, strict=True):
        yield from _winder(winder)
        yield from _cores(winder, cores)
        yield from _knives_at(winder, one["jumbo"])
        yield from _jumbo_width(one["jumbo"], winder)
    yield from _jumbo_length(one["jumbo"])
    for sheeter in several["sheeter"]:
        yield from _sheeter(sheeter, sections)
    for grade in several["grade"]:
        yield from _grade(grade)
    yield from _values(one["values"])
    yield from _custom_steps(several["tolerance"])
    yield from _winder_names(several["winder"])
    for stock_width in several["stock_width"]:
        yield from _stock_width(stock_width, sections)
    for name in ("sheeter", "grade", "stock_width"):
        yield from _same_name(several[name])
    yield from _headings_twice(one["headings"])
    yield from _signs(one["export"])


def _no_more_than(section: Section, lesser: str, greater: str) -> Iterator[Fault]:
    """`lesser` must not exceed `greater`, both of one section."""
    low, high = section.figure(lesser), section.figure(greater)
    if low is not None and high is not None and low > high:
        yield section.fault(
            lesser,
            f"is above {greater} ({plain(high)})",
            f"write {plain(high)} or less, or raise {greater} to {plain(low)}",
        )


def _said_once(section: Section, what: str, *names: str) -> Iterator[Fault]:
    """No more than one of the keys that all say the same may be given."""
    given = [name for name in names if name in section.written]
    for name in given[1:]:
        yield section.fault(
            name,
            f"stands beside {given[0]}: the {what} would be said twice",
            f"keep one of {' and '.join(given)}",
        )


_IN_ORDER = (  # the first of each pair no more than the second
    ("min_edge_trim_mm", "max_edge_trim_mm"),
    ("min_reel_width_mm", "max_reel_width_mm"),
    ("min_reel_width_mm", "max_web_mm"),
    ("min_reel_diameter_mm", "max_reel_diameter_mm"),
    ("min_knife_spacing_mm", "min_reel_width_mm"),
    ("min_knife_spacing_mm", "min_broke_width_mm"),
    ("min_broke_width_mm", "max_reel_width_mm"),
)


def _winder(winder: Section) -> Iterator[Fault]:
    for lesser, greater in _IN_ORDER:
        yield from _no_more_than(winder, lesser, greater)
    knives, reels = winder.figure("knives"), winder.figure("max_reels")
    if knives is not None and reels is not None and reels > knives - 1:
        yield winder.fault(
            "max_reels",
            f"needs {plain(reels + 1)} knives, and knives is {plain(knives)}: m reels with both "
            "edges trimmed take m + 1",
            f"write {plain(knives - 1)} or less",
        )
    a_side = winder.figure("max_reels_per_side")
    if a_side is None:
        return
    if winder.text("kind") != "single-drum":
        yield winder.fault(
            "max_reels_per_side",
            "holds for a single-drum winder only",
            'leave it out, or write kind = "single-drum"',
        )
    elif reels is not None and reels > 2 * a_side:
        yield winder.fault(
            "max_reels",
            f"is more than two sides of {plain(a_side)} reels hold",
            f"write {plain(2 * a_side)} or less",
        )


def knife_spacing_mm(winder: Section) -> Fraction | None:
    """Closest that two knives may stand; unsaid, 100 mm or the narrowest strip, if less."""
    if "min_knife_spacing_mm" in winder.written:
        return winder.figure("min_knife_spacing_mm")
    widths = map(winder.figure, ("min_reel_width_mm", "min_broke_width_mm"))
    return min([_USUAL_SPACING_MM, *(width for width in widths if width is not None)])


_STEP_ENDS = ("grammage_to_gsm", "below_t")
_STEPS_RIGHT = "set the steps by grammage_to_gsm, then by below_t, both rising, the open ones last"


def _custom_steps(steps: tuple[Section, ...]) -> Iterator[Fault]:
    """Steps of the tolerance custom that could never hold, and orders for which none would.

    The look-up takes the first step that holds: they must stand in order, and the last of each
    grammage, and of the table, must be open. Nothing is said from a step on that could not be read.
    """
    for step, following in zip_longest(steps, steps[1:]):
        both = [step] if following is None else [step, following]
        if any(name in s.written and s.figure(name) is None for s in both for name in _STEP_ENDS):
            return
        ends = [[_step_end(each, name) for name in _STEP_ENDS] for each in both]
        (heavy, below), (next_heavy, next_below) = ends[0], ends[-1]
        same = following is not None and heavy == next_heavy
        if not same and below < inf:
            yield step.fault(
                "below_t",
                "ends the last step of its grammage, so larger orders would have no custom",
                "leave below_t out of this step, or add one without it after it",
            )
        if following is None:
            if heavy < inf:
                yield step.fault(
                    "grammage_to_gsm",
                    "ends the last step, so heavier papers would have no custom",
                    "leave grammage_to_gsm out of the steps of the heaviest papers",
                )
        elif not same and next_heavy < heavy:
            yield following.fault("grammage_to_gsm", "stands out of order", _STEPS_RIGHT)
        elif same and next_below <= below:
            yield following.fault("below_t", "stands out of order", _STEPS_RIGHT)


def _step_end(step: Section, name: str) -> float:
    """The upper end of a step; an absent one is open."""
    figure = step.figure(name)
    return inf if figure is None else float(figure)


def _winder_names(winders: tuple[Section, ...]) -> Iterator[Fault]:
    """Plans name their winder, so where there are several each needs a name of its own."""
    if len(winders) > 1:
        for winder in winders:
            if "name" not in winder.written:
                yield winder.fault(
                    "name", "is missing, and there are several", "give each winder its own name"
                )
    yield from _same_name(winders)


def _cores(winder: Section, cores: tuple[Section, ...]) -> Iterator[Fault]:
    smallest = winder.figure("min_reel_diameter_mm")
    seen: list[Fraction] = []
    for core in cores:
        inside, wall = core.figure("inside_mm"), core.figure("wall_mm")
        if inside is None:
            continue
        if any(abs(inside - other) < Fraction(1, 10) for other in seen):
            yield core.fault("inside_mm", "stands there twice", "give each core once")
        seen.append(inside)
        if wall is not None and smallest is not None and inside + 2 * wall >= smallest:
            outside, room = inside + 2 * wall, (smallest - inside) / 2
            thinner = f"write a wall_mm below {plain(room)}" if room > 0 else "give a smaller core"
            yield core.fault(
                "inside_mm",
                f"and two walls make a core of {plain(outside)} mm outside, wider than the "
                f"smallest reel ({plain(smallest)} mm)",
                f"{thinner}, or raise [[winder]] min_reel_diameter_mm above {plain(outside)}",
            )


def _knives_at(winder: Section, jumbo_section: Section) -> Iterator[Fault]:
    places = winder.figures("knives_at_mm")
    knives, spacing = winder.figure("knives"), knife_spacing_mm(winder)
    if knives is not None and len(places) > knives:
        yield winder.fault(
            "knives_at_mm",
            f"has {len(places)} places for {plain(knives)} knives",
            f"give {plain(knives)} places or fewer",
        )
    for before, after in pairwise(places):
        if after <= before:
            yield winder.fault(
                "knives_at_mm",
                f"goes from {plain(before)} to {plain(after)}",
                "give the places from the front side to the back, each above the one before",
            )
        elif spacing is not None and after - before < spacing:
            yield winder.fault(
                "knives_at_mm",
                f"has knives at {plain(before)} and {plain(after)}, closer than "
                f"min_knife_spacing_mm ({plain(spacing)})",
                f"write {plain(before + spacing)} or more after {plain(before)}",
            )
    jumbo, web = jumbo_section.figure("width_mm"), winder.figure("max_web_mm")
    if places and jumbo is not None and web is not None and max(places) > max(jumbo, web):
        yield winder.fault(
            "knives_at_mm",
            f"has a knife at {plain(max(places))}, beyond the web",
            f"write {plain(max(jumbo, web))} or less, or leave out knives parked beside the web",
        )


def _jumbo_width(jumbo: Section, winder: Section) -> Iterator[Fault]:
    width, web = jumbo.figure("width_mm"), winder.figure("max_web_mm")
    min_trim, max_trim = winder.figure("min_edge_trim_mm"), winder.figure("max_edge_trim_mm")
    narrowest = winder.figure("min_reel_width_mm")
    if width is None:
        return
    if web is not None and max_trim is not None and width > web + 2 * max_trim:
        yield jumbo.fault(
            "width_mm",
            f"is wider than the winder's web ({plain(web)} mm) and the max. edge trim on both "
            f"sides ({plain(max_trim)} mm each)",
            f"write {plain(web + 2 * max_trim)} or less, or mend [[winder]] max_web_mm or "
            "max_edge_trim_mm",
        )
    if min_trim is not None and narrowest is not None and width - 2 * min_trim < narrowest:
        yield jumbo.fault(
            "width_mm",
            f"less {plain(min_trim)} mm edge trim each side leaves a deckle of "
            f"{plain(width - 2 * min_trim)} mm, less than the narrowest reel "
            f"({plain(narrowest)} mm)",
            f"write {plain(narrowest + 2 * min_trim)} or more, or mend [[winder]] min_edge_trim_mm "
            "or min_reel_width_mm",
        )


_LENGTH_GIVEN_BY = ("usable_length_m", "length_m", "diameter_mm", "mass_t")


def _jumbo_length(jumbo: Section) -> Iterator[Fault]:
    given = [name for name in _LENGTH_GIVEN_BY if name in jumbo.written]
    if "width_mm" in jumbo.written and not given:
        yield jumbo.fault(
            "usable_length_m",
            "is missing, and nothing stands in its place",
            f"give one of {', '.join(_LENGTH_GIVEN_BY[:-1])} or {_LENGTH_GIVEN_BY[-1]}",
        )
    yield from _said_once(jumbo, "length", *given)
    if "diameter_mm" in jumbo.written and "spool_mm" not in jumbo.written:
        yield jumbo.fault(
            "spool_mm",
            "is missing, and diameter_mm says nothing without it",
            "write the outside diameter of the spool in mm",
        )
    if "spool_mm" in jumbo.written and "diameter_mm" not in jumbo.written:
        yield jumbo.fault(
            "spool_mm", "is used with diameter_mm only", "leave it out, or give diameter_mm"
        )
    diameter, spool = jumbo.figure("diameter_mm"), jumbo.figure("spool_mm")
    if diameter is not None and spool is not None and spool >= diameter:
        yield jumbo.fault(
            "spool_mm",
            f"is no less than diameter_mm ({plain(diameter)})",
            f"write less than {plain(diameter)}, or mend diameter_mm",
        )
    length = jumbo.figure("length_m")
    losses = map(jumbo.figure, ("loss_start_m", "loss_end_m"))
    lost = sum((loss for loss in losses if loss is not None), Fraction(0))
    if length is not None and lost >= length:
        yield jumbo.fault(
            "length_m",
            f"is no more than start and end loss together ({plain(lost)} m)",
            f"write more than {plain(lost)}, or mend loss_start_m and loss_end_m",
        )


def _sheeter(sheeter: Section, sections: Sections) -> Iterator[Fault]:
    yield from _no_more_than(sheeter, "min_chop_mm", "max_chop_mm")
    web, trim = sheeter.figure("max_web_mm"), sheeter.figure("trim_per_side_mm")
    if web is not None and trim is not None and 2 * trim >= web:
        yield sheeter.fault(
            "trim_per_side_mm",
            f"on both sides leaves nothing of max_web_mm ({plain(web)}), so not one up is possible",
            f"write less than {plain(web / 2)}",
        )
    served = [
        tuple(_not_served(sheeter, winder, cores))
        for winder, cores in zip(sections.several["winder"], sections.cores, strict=True)
    ]
    if all(served):  # one winder that makes its reels is enough
        yield from next(iter(served), ())


def _not_served(
    sheeter: Section, winder: Section, winder_cores: tuple[Section, ...]
) -> Iterator[Fault]:
    """What keeps a winder from making reels for the sheeter."""
    web = sheeter.figure("max_web_mm")
    narrowest = winder.figure("min_reel_width_mm")
    if web is not None and narrowest is not None and web < narrowest:
        yield sheeter.fault(
            "max_web_mm",
            f"is narrower than the narrowest reel that the winder makes ({plain(narrowest)} mm), "
            "so not one up is possible",
            f"write {plain(narrowest)} or more, or mend [[winder]] min_reel_width_mm",
        )
    diameter = sheeter.figure("max_reel_diameter_mm")
    smallest = winder.figure("min_reel_diameter_mm")
    if diameter is not None and smallest is not None and diameter < smallest:
        yield sheeter.fault(
            "max_reel_diameter_mm",
            f"is below the smallest reel that the winder makes ({plain(smallest)} mm)",
            f"write {plain(smallest)} or more, or mend [[winder]] min_reel_diameter_mm",
        )
    yield from _strange_core(sheeter, "core_inside_mm", winder_cores)


def _strange_core(section: Section, key: str, of_winder: Sequence[Section]) -> Iterator[Fault]:
    """A core that the winder does not have, to the same 0.05 mm as `Winder.core`."""
    core = section.figure(key)
    cores = [inside for c in of_winder if (inside := c.figure("inside_mm")) is not None]
    if core is None or not cores or len(cores) < len(of_winder):
        return
    nearest = min(cores, key=lambda inside: abs(inside - core))
    if abs(nearest - core) >= Fraction(1, 20):
        right = f"write {plain(nearest)}, or add it as [[winder.core]]"
        yield section.fault(key, "is a core that the winder does not have", right)


def _grade(grade: Section) -> Iterator[Fault]:
    ways = ("caliper_um", "bulk_cm3_g", "density_kg_m3")
    given = [way for way in ways if way in grade.written]
    if not given:
        yield grade.fault("bulk_cm3_g", "is missing", f"give one of {', '.join(ways)}")
    yield from _said_once(grade, "caliper", *given)


def _stock_width(stock_width: Section, sections: Sections) -> Iterator[Fault]:
    """Its grade is one of the file, its core one of a winder, its diameters the right way round."""
    yield from _no_more_than(stock_width, "min_diameter_mm", "max_diameter_mm")
    names = [each.text("name") for each in sections.several["grade"]]
    grades = [name for name in names if name is not None]
    grade = stock_width.text("grade")
    all_read = len(grades) == len(names) > 0
    if all_read and grade is not None and grade.casefold() not in map(str.casefold, grades):
        yield stock_width.fault("grade", "is no grade of this file", f"one of {', '.join(grades)}")
    cores = [each for of_winder in sections.cores for each in of_winder]
    yield from _strange_core(stock_width, "core_mm", cores)


def _values(values: Section) -> Iterator[Fault]:
    priced = values.figure("trim_cost_per_t") is not None and values.figure("set_up") is not None
    if values.flag("split_blocks", default=False) and not priced:
        yield values.fault(
            "split_blocks",
            "what a split saves cannot be weighed without prices",
            "give trim_cost_per_t and set_up as well, or leave this out",
        )
    if values.figure("trim_cost_per_t") is not None:
        return
    for name in ("set_up", "knife_move"):
        if values.figure(name) is not None:
            yield values.fault(
                name,
                "has a price, and trim has none to weigh it against",
                "give trim_cost_per_t as well, or leave this out",
            )


def _same_name(sections: tuple[Section, ...]) -> Iterator[Fault]:
    """Names are looked up without regard to case, so they must differ without it."""
    seen: dict[str, Section] = {}
    for section in sections:
        text = section.text("name")
        if text is None:
            continue
        first = seen.setdefault(text.casefold(), section)
        if first is not section:
            wrong = f"is the name of {first.title} too"
            yield section.fault("name", wrong, "give each its own name")


def _signs(export: Section) -> Iterator[Fault]:
    sign = export.text("thousands_sign")
    if sign is not None and sign == export.text("decimal_sign"):
        yield export.fault(
            "thousands_sign", "is the decimal sign too", "write the sign that groups thousands"
        )


def _headings_twice(headings: Section) -> Iterator[Fault]:
    seen: dict[str, str] = {}
    for column in headings.values:
        heading = (headings.text(column) or column).casefold()
        first = seen.setdefault(heading, column)
        if first != column:
            yield headings.fault(
                column, f"is the heading of {first} too", "give each column its own heading"
            )
