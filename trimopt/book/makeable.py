"""What the mill cannot make of an order: each limit that stops it, by name, with what would pass.

The order book asks while a line is read, so that all its faults are seen at once; `making` asks for
a whole order and the jumbos that there are. Every figure in a message has been tried: it passes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Order, Product
from trimopt.book.reel_lengths import Cap, Draft, Way, span_on, ways
from trimopt.mill import Mill, Sheeter
from trimopt.paper import mass_kg, reel_diameter_mm

_RANGE = frozenset({"core", "min_diameter", "max_diameter"})  # without these no length is judged


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitFinding:
    """A limit that stops a line, or a warning about one."""

    key: str  # of the column
    wrong: str
    right: str
    stated: str = ""  # what the order states, where `wrong` speaks of it
    warning: bool = False


def mm(figure: Fraction | float) -> str:
    """A figure in mm, as short as it can be written: 1250, 29.5.

    Examples
    --------
    >>> mm(Fraction(1250)), mm(Fraction(1499, 2))
    ('1250', '749.5')
    """
    return f"{float(figure):.3f}".rstrip("0").rstrip(".")


def any_of(texts: Sequence[str]) -> str:
    """Texts of which any one will do.

    Examples
    --------
    >>> any_of(["76", "152", "305"])
    '76, 152 or 305'
    """
    return " or ".join(part for part in (", ".join(texts[:-1]), texts[-1]) if part)


def findings(draft: Draft | Order, mill: Mill) -> Iterator[LimitFinding]:
    """Everything in the mill that stops a line, whatever jumbos there are."""
    outside = list(_outside(draft, mill))
    yield from outside
    at_fault = isinstance(draft, Draft) and draft.range_at_fault
    stopped = any(found.key in _RANGE and not found.warning for found in outside)
    if draft.product is Product.REEL and not at_fault and not stopped:
        yield from _inside_range(draft, mill)


def _outside(draft: Draft | Order, mill: Mill) -> Iterator[LimitFinding]:
    """What lies outside the winder's or a sheeter's own range."""
    if draft.product is Product.REEL:
        yield from _reel_width(draft, mill)
        yield from _reel_core(draft, mill)
        yield from _reel_diameters(draft, mill)
    elif draft.product is Product.SHEET:
        yield from _sheet(draft, mill)


def stops(order: Order, mill: Mill, *, usable_m: int) -> str:
    """Why an order cannot be made: the limit by name, and what would pass; empty where it can.

    Parameters
    ----------
    usable_m
        The longest set that a jumbo gives, m.
    """
    if ways(order, mill, usable_m=usable_m):
        return ""
    found = next((each for each in _outside(order, mill) if not each.warning), None)
    if found is not None:
        return f"{found.stated} {found.wrong}; {found.right}".strip()
    empty = ways(order, mill, usable_m=usable_m, allow_empty=True)
    way = min(empty, key=lambda each: each.span.min_m - each.span.max_m)
    too_long = [_too_long(order, mill, way, cap) for cap in way.span.exceeded]
    wrong = " and ".join(each.wrong for each in too_long)
    if len(too_long) == 1:
        return f"{wrong}; {too_long[0].right}"
    cures = " and ".join(_cure(order, mill, way, cap) for cap in way.span.exceeded)
    return f"{wrong}; {_passes([cures, *_smaller(order, mill, way)])}"


def narrowed(order: Order, mill: Mill) -> str:
    """Which limit makes what an order allows narrower than it says; empty where none does."""
    return next((found.wrong for found in _outside(order, mill) if found.warning), "")


def _passes(texts: Sequence[str]) -> str:
    return f"{any_of(texts)} would pass"


def _reel_width(draft: Draft | Order, mill: Mill) -> Iterator[LimitFinding]:
    width = draft.width_mm
    if width is None:
        return
    min_mm, max_mm = mill.winder.min_reel_width_mm, mill.winder.max_reel_width_mm
    widest = min(max_mm, mill.deckle_mm)
    if width > widest:
        what = "the winder's widest reel" if widest < mill.deckle_mm else "the deckle"
        wrong, near = f"wider than {what} ({mm(widest)} mm)", widest
    elif width < min_mm:
        wrong, near = f"narrower than the winder's narrowest reel ({mm(min_mm)} mm)", min_mm
    else:
        return
    yield LimitFinding(
        key="width",
        stated=f"a width of {mm(width)} mm is",
        wrong=wrong,
        right=_passes([f"{mm(near)} mm"]),
    )


def _reel_core(draft: Draft | Order, mill: Mill) -> Iterator[LimitFinding]:
    if draft.core_mm is None or mill.winder.core(draft.core_mm) is not None:
        return
    cores = any_of([mm(one.inside_mm) for one in mill.winder.cores])
    wrong = f"the winder has no core of {mm(draft.core_mm)} mm"
    yield LimitFinding(key="core", wrong=wrong, right=_passes([f"{cores} mm"]))


def _reel_diameters(draft: Draft | Order, mill: Mill) -> Iterator[LimitFinding]:
    """A diameter range that is reversed, or outside the winder's; partly outside is a warning."""
    low, high = draft.min_diameter_mm, draft.max_diameter_mm
    min_winder = mill.winder.min_reel_diameter_mm
    max_winder = mill.winder.max_reel_diameter_mm
    span = f"the winder makes diameters of {mm(min_winder)} to {mm(max_winder)} mm"
    if high is not None and high < min_winder:
        yield LimitFinding(
            key="max_diameter", wrong=span, right=_passes([f"a max. of {mm(min_winder)} mm"])
        )
    elif low is not None and high is not None and low > high:
        yield LimitFinding(
            key="min_diameter",
            stated=f"a min. diameter of {mm(low)} mm is",
            wrong=f"above the max. diameter ({mm(high)} mm)",
            right="the smaller figure as the min., the larger as the max.",
        )
    elif low is not None and low > max_winder:
        yield LimitFinding(
            key="min_diameter", wrong=span, right=_passes([f"a min. of {mm(max_winder)} mm"])
        )
    else:
        for key, figure in (("min_diameter", low), ("max_diameter", high)):
            if figure is not None and not min_winder <= figure <= max_winder:
                right = "planned in the part that both allow"
                yield LimitFinding(key=key, wrong=span, right=right, warning=True)


def _inside_range(draft: Draft | Order, mill: Mill) -> Iterator[LimitFinding]:
    """Whether any whole metre on any open core gives a reel in the range, light enough."""
    cores = mill.winder.cores
    if draft.core_mm is not None:
        core = mill.winder.core(draft.core_mm)
        assert core is not None  # else it is a finding already
        cores = (core,)
    smallest = min(cores, key=lambda one: one.outside_mm)
    if draft.max_diameter_mm is not None and draft.max_diameter_mm <= smallest.outside_mm:
        yield LimitFinding(
            key="max_diameter",
            wrong=f"no larger than the core's outside ({mm(smallest.outside_mm)} mm)",
            right=f"a diameter above {mm(smallest.outside_mm)} mm",
        )
        return
    if draft.grade is None or draft.grammage_gsm is None:
        return
    caliper_um = _caliper_um(draft, mill)
    width = draft.width_mm or Fraction(0)
    found = [
        Way(width_mm=width, core=core, span=span_on(draft, mill, core, caliper_um))
        for core in cores
    ]
    if all(way.span.empty for way in found):
        way = min(found, key=lambda each: each.span.min_m - each.span.max_m)
        for cap in way.span.exceeded:
            yield _too_long(draft, mill, way, cap)


def _caliper_um(draft: Draft | Order, mill: Mill) -> float:
    assert draft.grade is not None
    assert draft.grammage_gsm is not None
    grade = mill.grade(draft.grade)
    assert grade is not None  # it was read against this mill
    return grade.wound_caliper_um(draft.grammage_gsm)


def _too_long(draft: Draft | Order, mill: Mill, way: Way, cap: Cap) -> LimitFinding:
    """A limit for which even the shortest reel of the diameter range is too long."""
    cures = [_cure(draft, mill, way, cap)]
    if cap.limit_kg is not None:
        one = "reel in the diameter range" if "reel" in cap.name else "set with it"
        kg = _shortest_kg(draft, way, cap)
        wrong = f"the lightest {one} weighs {kg:.0f} kg, above {cap.text}"
        cures += _narrower(draft, mill, way, cap)
    elif cap.figure.endswith(" mm"):
        wrong = "no whole metre of length gives a diameter in this range"
        cures += _nearest_diameters(draft, mill, way)
    else:
        wrong = f"the shortest reel in the diameter range is {way.span.min_m} m, above {cap.text}"
    return LimitFinding(key=cap.key, wrong=wrong, right=_passes(cures + _smaller(draft, mill, way)))


def _shortest_kg(draft: Draft | Order, way: Way, cap: Cap) -> float:
    assert draft.grammage_gsm is not None
    return mass_kg(cap.wound_mm, way.span.min_m, draft.grammage_gsm)


def _cure(draft: Draft | Order, mill: Mill, way: Way, cap: Cap) -> str:
    """The nearest figure of a limit that lets the shortest reel pass it."""
    if cap.limit_kg is not None:
        return f"{cap.name} of {math.ceil(_shortest_kg(draft, way, cap))} kg"
    if cap.figure.endswith(" m"):
        return f"a usable length of {way.span.min_m} m"
    needed_mm = reel_diameter_mm(way.span.min_m, way.core.outside_mm, _caliper_um(draft, mill))
    return f"a max. diameter of {math.ceil(needed_mm - 0.5)} mm"


def _nearest_diameters(draft: Draft | Order, mill: Mill, way: Way) -> list[str]:
    """The diameters that the whole metres on both sides of the range give."""
    caliper_um, outside_mm = _caliper_um(draft, mill), way.core.outside_mm
    lengths = [length for length in (way.span.min_m - 1, way.span.min_m) if length > 0]
    near = [mm(round(reel_diameter_mm(length, outside_mm, caliper_um), 1)) for length in lengths]
    metres = any_of([str(length) for length in lengths])
    return [f"a range with {any_of(near)} mm in it ({metres} m {_on_core(way)})"]


def _narrower(draft: Draft | Order, mill: Mill, way: Way, cap: Cap) -> list[str]:
    """The widest reel that is light enough, where its own width is what weighs too much."""
    assert draft.grammage_gsm is not None
    assert cap.limit_kg is not None
    if way.sheeter is not None or cap.wound_mm != way.width_mm:
        return []
    width = math.floor(cap.limit_kg * 1e6 / (way.span.min_m * draft.grammage_gsm))
    # A set is no lighter than the narrowest web of it.
    min_set_mm = mill.narrowest_web_mm if "set" in cap.name else Fraction(0)
    fits = width >= max(mill.winder.min_reel_width_mm, min_set_mm)
    return [f"a width of {width} mm"] if fits else []


def _smaller(draft: Draft | Order, mill: Mill, way: Way) -> list[str]:
    """The largest min. diameter that leaves some whole metre inside every limit."""
    longest_m, outside_mm = way.span.max_m, way.core.outside_mm
    if way.sheeter is not None or longest_m <= 0:
        return []
    diameter_mm = math.floor(reel_diameter_mm(longest_m, outside_mm, _caliper_um(draft, mill)))
    if diameter_mm < mill.winder.min_reel_diameter_mm:
        return []
    return [f"a min. diameter of {diameter_mm} mm ({longest_m} m {_on_core(way)})"]


def _on_core(way: Way) -> str:
    return f"on the {mm(way.core.inside_mm)} mm core"


def _sheet(draft: Draft | Order, mill: Mill) -> Iterator[LimitFinding]:
    sheeters, chop = mill.sheeters, draft.chop_mm
    if not sheeters:
        yield LimitFinding(key="product", wrong="the mill has no sheeter", right="order reels")
        return
    if chop is not None:
        takers = tuple(s for s in sheeters if s.min_chop_mm <= chop <= s.max_chop_mm)
        if not takers:
            spans = [f"{mm(s.min_chop_mm)} to {mm(s.max_chop_mm)} mm ({s.name})" for s in sheeters]
            wrong = f"no sheeter cuts a chop of {mm(chop)} mm"
            yield LimitFinding(key="chop", wrong=wrong, right=_passes(spans))
        sheeters = takers or sheeters
    if draft.width_mm is not None:
        yield from _sheet_across(draft.width_mm, sheeters, mill)


def _sheet_across(
    across_mm: Fraction, sheeters: tuple[Sheeter, ...], mill: Mill
) -> Iterator[LimitFinding]:
    winder = mill.winder
    narrowest_reel = winder.min_reel_width_mm
    widest, narrowest = Fraction(0), None
    for sheeter in sheeters:
        trim_mm = 2 * sheeter.trim_per_side_mm
        widest_reel = min(sheeter.max_web_mm, winder.max_reel_width_mm, mill.deckle_mm)
        for ups in range(1, sheeter.max_ups + 1):
            if narrowest_reel <= ups * across_mm + trim_mm <= widest_reel:
                return
        widest = max(widest, widest_reel - trim_mm)
        at_most_ups = (narrowest_reel - trim_mm) / sheeter.max_ups
        narrowest = at_most_ups if narrowest is None else min(narrowest, at_most_ups)
    assert narrowest is not None
    stated = f"a sheet of {mm(across_mm)} mm across is"
    if across_mm > widest:
        wrong, right = "wider than any sheeter takes at 1 up", _passes([f"{mm(widest)} mm"])
    elif across_mm < narrowest:
        wrong = (
            "too narrow: even at the most ups the sheeter reel is narrower than the winder's "
            f"narrowest ({mm(narrowest_reel)} mm)"
        )
        right = _passes([f"{mm(math.ceil(narrowest))} mm"])
    else:
        stated, wrong = "", "no number of ups gives a reel that winder and sheeter both take"
        right = f"a dimension whose multiple lies between {mm(narrowest_reel)} and {mm(widest)} mm"
    yield LimitFinding(key="width", stated=stated, wrong=wrong, right=right)
