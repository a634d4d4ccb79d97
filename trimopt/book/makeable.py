"""What the mill can make of an order line: each limit that stops it, by name, with what would pass.

Lengths are whole metres, and a diameter is judged to the nearest millimetre: a reel of diameter D
is inside a range when least − 0.5 <= D <= greatest + 0.5.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Product
from trimopt.mill import Core, Grade, Mill, Sheeter
from trimopt.paper import mass_kg, reel_diameter_mm, reel_length_m

__all__ = ["Draft", "Finding", "findings", "mm", "whole_metres"]

_MARGIN_MM = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What could be read of a line; None where blank or at fault."""

    grade: Grade | None
    grammage_gsm: float | None
    product: Product | None
    width_mm: Fraction | None
    chop_mm: Fraction | None
    min_diameter_mm: float | None
    max_diameter_mm: float | None
    core_mm: float | None
    max_reel_mass_kg: float | None
    range_at_fault: bool = False  # a diameter or the core could not be read


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A limit that stops a line, or a warning about one."""

    key: str
    wrong: str
    right: str
    warning: bool = False


def mm(figure: Fraction | float) -> str:
    """A figure in mm, as short as it can be written: 1250, 29.5.

    Examples
    --------
    >>> mm(Fraction(1250)), mm(Fraction(1499, 2))
    ('1250', '749.5')
    """
    return f"{float(figure):.3f}".rstrip("0").rstrip(".")


def findings(draft: Draft, mill: Mill) -> Iterator[Finding]:
    """Everything in the mill that stops the line."""
    if draft.product is Product.REEL:
        yield from _reel_width(draft, mill)
        yield from _reel_range(draft, mill)
    elif draft.product is Product.SHEET:
        yield from _sheet(draft, mill)


def _reel_width(draft: Draft, mill: Mill) -> Iterator[Finding]:
    if draft.width_mm is None:
        return
    winder = mill.winder
    least = winder.min_reel_width_mm
    greatest = min(winder.max_reel_width_mm, mill.deckle_mm)
    if draft.width_mm > mill.deckle_mm:
        yield Finding(
            key="width",
            wrong=f"wider than the deckle ({mm(mill.deckle_mm)} mm)",
            right=f"{mm(greatest)} mm at most",
        )
    elif draft.width_mm > greatest:
        yield Finding(
            key="width",
            wrong=f"wider than the winder's greatest reel ({mm(greatest)} mm)",
            right=f"{mm(greatest)} mm at most",
        )
    elif draft.width_mm < least:
        yield Finding(
            key="width",
            wrong=f"narrower than the winder's least reel ({mm(least)} mm)",
            right=f"{mm(least)} mm at least",
        )


def _reel_range(draft: Draft, mill: Mill) -> Iterator[Finding]:
    winder = mill.winder
    core = None if draft.core_mm is None else winder.core(draft.core_mm)
    if draft.core_mm is not None and core is None:
        wanted = draft.core_mm
        cores = ", ".join(mm(one.inside_mm) for one in winder.cores)
        nearest = min(winder.cores, key=lambda one: abs(one.inside_mm - wanted))
        yield Finding(
            key="core",
            wrong=f"the winder has no such core (it has {cores} mm)",
            right=f"{mm(nearest.inside_mm)} mm is the nearest",
        )
    outside = list(_outside_winder(draft, mill))
    yield from outside
    if draft.range_at_fault or not all(finding.warning for finding in outside):
        return
    if core is not None:
        yield from _inside_range(draft, mill, (core,))
    elif draft.core_mm is None:
        yield from _inside_range(draft, mill, winder.cores)


def _outside_winder(draft: Draft, mill: Mill) -> Iterator[Finding]:
    """A diameter range that is reversed, or outside the winder's; partly outside is a warning."""
    least, greatest = draft.min_diameter_mm, draft.max_diameter_mm
    min_winder = mill.winder.min_reel_diameter_mm
    max_winder = mill.winder.max_reel_diameter_mm
    span = f"the winder makes {mm(min_winder)} to {mm(max_winder)} mm"
    if least is not None and greatest is not None and least > greatest:
        yield Finding(
            key="min_diameter",
            wrong=f"above the greatest diameter ({mm(greatest)} mm)",
            right="the smaller figure as the min., the larger as the max.",
        )
    elif least is not None and least > max_winder:
        yield Finding(key="min_diameter", wrong=span, right=f"{mm(max_winder)} mm at most")
    elif greatest is not None and greatest < min_winder:
        yield Finding(key="max_diameter", wrong=span, right=f"{mm(min_winder)} mm at least")
    else:
        for key, figure in (("min_diameter", least), ("max_diameter", greatest)):
            if figure is not None and not min_winder <= figure <= max_winder:
                yield Finding(
                    key=key,
                    wrong=span,
                    right="planned in the part that both allow",
                    warning=True,
                )


def _inside_range(draft: Draft, mill: Mill, cores: tuple[Core, ...]) -> Iterator[Finding]:
    """Whether any whole metre on any open core gives a reel in the range, light enough."""
    least, greatest = draft.min_diameter_mm, draft.max_diameter_mm
    smallest = min(cores, key=lambda one: one.outside_mm)
    if greatest is not None and greatest <= smallest.outside_mm:
        yield Finding(
            key="max_diameter",
            wrong=f"no larger than the core's outside ({mm(smallest.outside_mm)} mm)",
            right=f"a diameter above {mm(smallest.outside_mm)} mm",
        )
        return
    if draft.grade is None or draft.grammage_gsm is None:
        return
    caliper_um = draft.grade.wound_caliper_um(draft.grammage_gsm)
    shortest = {
        one: span[0]
        for one in cores
        if (span := whole_metres(mill, caliper_um, one, least=least, greatest=greatest))
    }
    if shortest:
        lightest = min(shortest, key=lambda one: shortest[one])
        yield from _reel_mass(draft, mill, lightest, shortest[lightest])
        return
    yield Finding(
        key="min_diameter" if greatest is None else "max_diameter",
        wrong="no whole metre of length gives a diameter in this range",
        right=_nearest_range(mill, caliper_um, smallest, least),
    )


def whole_metres(
    mill: Mill, caliper_um: float, core: Core, *, least: float | None, greatest: float | None
) -> tuple[int, int] | None:
    """Least and greatest whole metres on that core inside the order's and the winder's range.

    None where no whole metre is. `least` and `greatest` are the order's diameters, mm.
    """
    winder = mill.winder
    min_mm = max(least or 0.0, winder.min_reel_diameter_mm) - _MARGIN_MM
    max_mm = winder.max_reel_diameter_mm
    if greatest is not None:
        max_mm = min(greatest, max_mm)
    max_mm += _MARGIN_MM
    if max_mm <= core.outside_mm:
        return None
    min_outer = max(min_mm, core.outside_mm)
    # A hair of slack: a diameter that is met exactly must not be lost to rounding.
    shortest = max(1, math.ceil(reel_length_m(min_outer, core.outside_mm, caliper_um) - 1e-9))
    longest = math.floor(reel_length_m(max_mm, core.outside_mm, caliper_um) + 1e-9)
    return (shortest, longest) if shortest <= longest else None


def _nearest_range(mill: Mill, caliper_um: float, core: Core, least: float | None) -> str:
    """The diameters next to the range that whole metres give."""
    min_mm = max(least or 0.0, mill.winder.min_reel_diameter_mm, core.outside_mm)
    above = max(2, math.ceil(reel_length_m(min_mm, core.outside_mm, caliper_um)))
    said = " and ".join(
        f"{length} m gives {mm(round(reel_diameter_mm(length, core.outside_mm, caliper_um), 1))} mm"
        for length in (above - 1, above)
    )
    return f"a wider range: on the {mm(core.inside_mm)} mm core {said}"


def _reel_mass(draft: Draft, mill: Mill, core: Core, shortest_m: int) -> Iterator[Finding]:
    """The lightest reel that the range allows against the order's and the winder's limits."""
    if draft.width_mm is None or draft.grammage_gsm is None:
        return
    lightest = mass_kg(draft.width_mm, shortest_m, draft.grammage_gsm)
    winder = mill.winder
    lifted = [
        limit for limit in (winder.max_reel_mass_kg, winder.max_set_mass_kg) if limit is not None
    ]
    limits = (
        ("max_reel_mass", draft.max_reel_mass_kg, "its limit"),
        ("width", min(lifted, default=None), "the winder's limit"),
    )
    for key, limit, whose in limits:
        if limit is not None and lightest > limit:
            yield Finding(
                key=key,
                wrong=f"the lightest reel in the diameter range weighs {lightest:.0f} kg, above "
                f"{whose} of {limit:.0f} kg",
                right=_light_enough(draft, mill, core, shortest_m, limit),
            )


def _light_enough(draft: Draft, mill: Mill, core: Core, shortest_m: int, limit_kg: float) -> str:
    """The nearest mass, width and least diameter that would pass."""
    assert draft.width_mm is not None
    assert draft.grammage_gsm is not None
    assert draft.grade is not None
    width, grammage = float(draft.width_mm), draft.grammage_gsm
    said = [f"a limit of {math.ceil(mass_kg(draft.width_mm, shortest_m, grammage))} kg"]
    narrower = math.floor(limit_kg * 1e6 / (shortest_m * grammage))
    if narrower >= mill.winder.min_reel_width_mm:
        said.append(f"a width of {narrower} mm")
    longest_m = math.floor(limit_kg * 1e6 / (width * grammage))
    caliper_um = draft.grade.wound_caliper_um(grammage)
    diameter = math.floor(reel_diameter_mm(longest_m, core.outside_mm, caliper_um))
    if diameter >= mill.winder.min_reel_diameter_mm:
        said.append(f"a least diameter of {diameter} mm")
    return " or ".join(said)


def _sheet(draft: Draft, mill: Mill) -> Iterator[Finding]:
    sheeters = mill.sheeters
    if not sheeters:
        yield Finding(key="product", wrong="the mill has no sheeter", right="order reels")
        return
    if draft.chop_mm is not None:
        takers = [s for s in sheeters if s.min_chop_mm <= draft.chop_mm <= s.max_chop_mm]
        if not takers:
            spans = "; ".join(
                f"{s.name} {mm(s.min_chop_mm)} to {mm(s.max_chop_mm)} mm" for s in sheeters
            )
            yield Finding(
                key="chop", wrong="no sheeter cuts this chop", right=f"a chop inside {spans}"
            )
        else:
            sheeters = tuple(takers)
    if draft.width_mm is not None:
        yield from _sheet_across(draft.width_mm, sheeters, mill)


def _sheet_across(
    across_mm: Fraction, sheeters: tuple[Sheeter, ...], mill: Mill
) -> Iterator[Finding]:
    winder = mill.winder
    least = winder.min_reel_width_mm
    widest = narrowest = None
    for sheeter in sheeters:
        trim_mm = 2 * sheeter.trim_per_side_mm
        greatest = min(sheeter.max_web_mm, winder.max_reel_width_mm, mill.deckle_mm)
        for ups in range(1, sheeter.max_ups + 1):
            if least <= ups * across_mm + trim_mm <= greatest:
                return
        one_up = greatest - trim_mm
        widest = one_up if widest is None else max(widest, one_up)
        max_ups = (least - trim_mm) / sheeter.max_ups
        narrowest = max_ups if narrowest is None else min(narrowest, max_ups)
    assert widest is not None
    assert narrowest is not None
    if across_mm > widest:
        yield Finding(
            key="width",
            wrong="wider than any sheeter takes at 1 up",
            right=f"{mm(widest)} mm across at most",
        )
    elif across_mm < narrowest:
        yield Finding(
            key="width",
            wrong="too narrow: even at the most ups the sheeter reel is below the winder's least "
            f"({mm(least)} mm)",
            right=f"{mm(math.ceil(narrowest))} mm across at least",
        )
    else:
        yield Finding(
            key="width",
            wrong="no number of ups gives a sheeter reel that winder and sheeter both take",
            right=f"a dimension whose multiple lies between {mm(least)} and {mm(widest)} mm",
        )
