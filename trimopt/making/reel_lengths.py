"""Which lengths a reel may have, and which limit says so."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Order, Product
from trimopt.making.model import Span
from trimopt.mill.model import Core, Mill, Sheeter
from trimopt.paper import reel_diameter_mm, reel_length_m

__all__ = [
    "DIAMETER_JUDGED_MM",
    "Way",
    "lightest_set_mm",
    "sheeter_width_mm",
    "stops",
    "ways",
]

#: A diameter is judged to the nearest millimetre.
DIAMETER_JUDGED_MM = 0.5
_FLOAT_SLIP = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One width in which an order may be wound on one core, with the lengths allowed."""

    width_mm: Fraction
    core: Core
    span: Span
    ups: int | None = None
    sheeter: Sheeter | None = None


def sheeter_width_mm(across_mm: Fraction, ups: int, sheeter: Sheeter) -> Fraction:
    """Width of the reel that gives `ups` sheets side by side, the sheeter's trim on both sides."""
    return ups * across_mm + 2 * sheeter.trim_per_side_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mass:
    """A limit on the mass of so wide a web, kg."""

    limit_kg: float
    wound_mm: Fraction
    name: str


def _span(
    *,
    core: Core,
    caliper_um: float,
    grammage_gsm: float,
    least: tuple[float, str],
    greatest: tuple[float, str],
    masses: Sequence[_Mass],
    usable_m: int,
) -> Span:
    def length_m(diameter_mm: float) -> float:
        if diameter_mm <= core.outside_mm:
            return 0.0
        return reel_length_m(diameter_mm, core.outside_mm, caliper_um)

    min_m = max(1, math.ceil(length_m(least[0] - DIAMETER_JUDGED_MM) - _FLOAT_SLIP))
    max_m = math.floor(length_m(greatest[0] + DIAMETER_JUDGED_MM) + _FLOAT_SLIP)
    longest_m = math.floor(length_m(greatest[0]) + _FLOAT_SLIP)
    by = greatest[1]
    cures = []
    if max_m < min_m:
        needed_mm = reel_diameter_mm(min_m, core.outside_mm, caliper_um)
        cures.append(f"a greatest diameter of {math.ceil(needed_mm - DIAMETER_JUDGED_MM)} mm")
    for mass in masses:
        heaviest_m = math.floor(_metres(mass.limit_kg, mass.wound_mm, grammage_gsm))
        if heaviest_m < max_m:
            max_m, by = heaviest_m, mass.name
        if heaviest_m < min_m:
            needed_kg = float(mass.wound_mm) * grammage_gsm * min_m / 1e6
            cures.append(f"{mass.name.rsplit(' ', 2)[0]} of {math.ceil(needed_kg)} kg")
    if usable_m < max_m:
        max_m, by = usable_m, f"the jumbo's usable length {usable_m} m"
    if usable_m < min_m:
        cures.append(f"a usable length of {min_m} m")
    longest_m = min(longest_m, max_m)
    if longest_m < min_m <= max_m:
        longest_m = max_m
    return Span(
        core_mm=core.inside_mm,
        min_m=min_m,
        max_m=max_m,
        longest_m=longest_m,
        least_by=least[1],
        greatest_by=by,
        cure=" and ".join(cures),
    )


def _metres(mass_kg: float, width_mm: Fraction, grammage_gsm: float) -> float:
    return mass_kg * 1e6 / (float(width_mm) * grammage_gsm) + _FLOAT_SLIP


def ways(order: Order, mill: Mill, *, usable_m: int, allow_empty: bool = False) -> tuple[Way, ...]:
    """Every width and core in which the order may be wound, with the lengths allowed.

    Parameters
    ----------
    order, mill
        The order's grade stands in the mill file.
    usable_m
        The longest set that a jumbo gives, m.
    allow_empty
        Keep ways that no whole metre meets (to explain them).
    """
    found = _reel_ways(order, mill, usable_m) if order.product is Product.REEL else ()
    if order.product is Product.SHEET:
        found = tuple(_sheeter_ways(order, mill, usable_m))
    return tuple(way for way in found if allow_empty or not way.span.empty)


def _caliper_um(order: Order, mill: Mill) -> float:
    grade = mill.grade(order.grade)
    if grade is None:
        message = f"order {order.number}: the mill file has no grade {order.grade}"
        raise ValueError(message)
    return grade.wound_caliper_um(order.grammage_gsm)


def _reel_ways(order: Order, mill: Mill, usable_m: int) -> tuple[Way, ...]:
    winder = mill.winder
    if not winder.min_reel_width_mm <= order.width_mm <= winder.max_reel_width_mm:
        return ()
    if order.width_mm > mill.deckle_mm:
        return ()
    least, greatest = _min_winder(mill), _max_winder(mill)
    wanted = order.min_diameter_mm
    if wanted is not None and wanted > least[0]:
        whose = "the mill's" if order.diameter_by_custom else "the order's"
        least = (wanted, f"{whose} least diameter {wanted:g} mm")
    wanted = order.max_diameter_mm
    if wanted is not None and wanted < greatest[0]:
        greatest = (wanted, f"the order's greatest diameter {wanted:g} mm")
    cores = winder.cores
    if order.core_mm is not None:
        core = winder.core(order.core_mm)
        cores = () if core is None else (core,)
    return tuple(
        Way(
            width_mm=order.width_mm,
            core=core,
            span=_span(
                core=core,
                caliper_um=_caliper_um(order, mill),
                grammage_gsm=order.grammage_gsm,
                least=least,
                greatest=greatest,
                masses=_masses(order, mill, order.width_mm),
                usable_m=usable_m,
            ),
        )
        for core in cores
    )


def _min_winder(mill: Mill) -> tuple[float, str]:
    min_mm = mill.winder.min_reel_diameter_mm
    return min_mm, f"the winder's least diameter {min_mm:g} mm"


def _max_winder(mill: Mill) -> tuple[float, str]:
    max_mm = mill.winder.max_reel_diameter_mm
    return max_mm, f"the winder's greatest diameter {max_mm:g} mm"


def _masses(order: Order, mill: Mill, width_mm: Fraction) -> list[_Mass]:
    """The limits on a reel of that width and on the lightest set that can hold it."""
    winder = mill.winder
    found = []
    for limit_kg, whose in (
        (order.max_reel_mass_kg, "the order's"),
        (winder.max_reel_mass_kg, "the winder's"),
    ):
        if limit_kg is not None:
            name = f"{whose} greatest reel mass {limit_kg:g} kg"
            found.append(_Mass(limit_kg=limit_kg, wound_mm=width_mm, name=name))
    if winder.max_set_mass_kg is not None:
        found.append(
            _Mass(
                limit_kg=winder.max_set_mass_kg,
                wound_mm=lightest_set_mm(mill, width_mm),
                name=f"the winder's greatest set mass {winder.max_set_mass_kg:g} kg",
            )
        )
    return found


def lightest_set_mm(mill: Mill, width_mm: Fraction) -> Fraction:
    """Width wound in the lightest set that holds a strip of that width, whatever lies beside it."""
    return max(width_mm, mill.narrowest_web_mm)


def _sheeter_ways(order: Order, mill: Mill, usable_m: int) -> Iterator[Way]:
    winder = mill.winder
    chop = order.chop_mm
    if chop is None:
        return
    for sheeter in mill.sheeters:
        core = winder.core(sheeter.core_inside_mm)
        if core is None or not sheeter.min_chop_mm <= chop <= sheeter.max_chop_mm:
            continue
        diameter = min(sheeter.max_reel_diameter_mm, winder.max_reel_diameter_mm)
        for ups in range(1, sheeter.max_ups + 1):
            width = sheeter_width_mm(order.width_mm, ups, sheeter)
            if width > min(sheeter.max_web_mm, winder.max_reel_width_mm, mill.deckle_mm):
                break
            if width < winder.min_reel_width_mm:
                continue
            yield Way(
                width_mm=width,
                core=core,
                ups=ups,
                sheeter=sheeter,
                span=_span(
                    core=core,
                    caliper_um=_caliper_um(order, mill),
                    grammage_gsm=order.grammage_gsm,
                    least=_min_winder(mill),
                    greatest=(diameter, f"{sheeter.name}'s greatest reel diameter {diameter:g} mm"),
                    masses=_masses(order, mill, width),
                    usable_m=usable_m,
                ),
            )


def stops(order: Order, mill: Mill, *, usable_m: int) -> str:
    """Why an order cannot be made: the limit by name and the nearest value that would pass.

    Empty where it can be made.
    """
    found = ways(order, mill, usable_m=usable_m)
    if found:
        return ""
    if order.product is Product.SHEET:
        return _why_no_sheet(order, mill, usable_m)
    winder = mill.winder
    width = order.width_mm
    if width < winder.min_reel_width_mm:
        return (
            f"width {float(width):g} mm is under the winder's least reel width; "
            f"{float(winder.min_reel_width_mm):g} mm would pass"
        )
    widest = min(winder.max_reel_width_mm, mill.deckle_mm)
    if width > widest:
        name = "the deckle" if widest == mill.deckle_mm else "the winder's greatest reel width"
        return f"width {float(width):g} mm is over {name}; {float(widest):g} mm would pass"
    if order.core_mm is not None and winder.core(order.core_mm) is None:
        near = min((c.inside_mm for c in winder.cores), key=lambda c: abs(c - (order.core_mm or 0)))
        return f"the winder has no core of {order.core_mm:g} mm; {near:g} mm would pass"
    empty = ways(order, mill, usable_m=usable_m, allow_empty=True)
    return _why_empty(order, mill, empty)


def _why_empty(order: Order, mill: Mill, empty: tuple[Way, ...]) -> str:
    way = min(empty, key=lambda w: w.span.min_m - w.span.max_m)
    span, core = way.span, way.core
    or_less = ""
    if span.max_m > 0:
        diameter = reel_diameter_mm(span.max_m, core.outside_mm, _caliper_um(order, mill))
        if diameter >= mill.winder.min_reel_diameter_mm:
            or_less = (
                f", or a least diameter of {math.floor(diameter)} mm ({span.max_m} m on the "
                f"{core.inside_mm:g} mm core)"
            )
    return (
        f"no length is both long enough for {span.least_by} ({span.min_m} m) and short enough "
        f"for {span.greatest_by} ({max(0, span.max_m)} m); {span.cure}{or_less} would pass"
    )


def _why_no_sheet(order: Order, mill: Mill, usable_m: int) -> str:
    if not mill.sheeters:
        return "the mill file has no sheeter; add one to it"
    if order.chop_mm is None:
        return "a sheet needs its dimension along the machine direction (chop); fill it in"
    chop = order.chop_mm
    if not any(s.min_chop_mm <= chop <= s.max_chop_mm for s in mill.sheeters):
        ends = [e for s in mill.sheeters for e in (s.min_chop_mm, s.max_chop_mm)]
        near = min(ends, key=lambda e: abs(e - chop))
        return f"no sheeter cuts a chop of {float(chop):g} mm; {float(near):g} mm would pass"
    empty = tuple(_sheeter_ways(order, mill, usable_m))
    if empty:
        return _why_empty(order, mill, empty)
    across = float(order.width_mm)
    widest = max(
        min(s.max_web_mm, mill.winder.max_reel_width_mm, mill.deckle_mm) - 2 * s.trim_per_side_mm
        for s in mill.sheeters
    )
    if order.width_mm > widest:
        return (
            f"{across:g} mm across is wider than any sheeter takes; {float(widest):g} mm would pass"
        )
    return (
        f"no number of ups of {across:g} mm gives a reel as wide as the winder's least "
        f"({float(mill.winder.min_reel_width_mm):g} mm)"
    )
