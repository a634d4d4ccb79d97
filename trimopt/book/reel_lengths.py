"""In which widths, on which cores and to which lengths an order may be wound.

Lengths are whole metres, and a diameter is judged to the nearest millimetre: a reel of diameter D
is inside a range when min. − 0.5 <= D <= max. + 0.5.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Order, Product
from trimopt.mill import Core, Mill, Sheeter
from trimopt.paper import mass_length_m, reel_length_m

_JUDGED_MM = 0.5
_FLOAT_SLIP = 1e-9  # a limit that is met exactly must not be lost to rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What could be read of a line of the book; None where blank or at fault."""

    grade: str | None
    grammage_gsm: float | None
    product: Product | None
    width_mm: Fraction | None
    chop_mm: Fraction | None
    min_diameter_mm: float | None
    max_diameter_mm: float | None
    core_mm: float | None
    max_reel_mass_kg: float | None
    range_at_fault: bool = False  # a diameter or the core could not be read
    diameter_by_custom: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cap:
    """A limit on the length of a reel: a diameter, a mass, or the jumbo's length."""

    max_m: int
    key: str  # of the column where an order states it, or may give way to it
    name: str
    figure: str  # of the limit, with its unit
    limit_kg: float | None = None  # where it is a mass
    wound_mm: Fraction = Fraction(0)  # the width that weighs it

    @property
    def text(self) -> str:
        """The limit by name, with its figure."""
        return f"{self.name} {self.figure}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Whole metres that a reel may have on one core, and the limits that set either end.

    `longest_m` is the longest that stays at or under the max. diameter; `max_m` is the longest
    whose diameter, judged to the nearest millimetre, is still inside. Empty where `min_m` >
    `max_m`.
    """

    min_m: int
    max_m: int
    longest_m: int
    min_by: str
    max_by: str
    exceeded: tuple[Cap, ...] = ()  # limits that even the shortest is too long for

    @property
    def empty(self) -> bool:
        """No whole number of metres lies inside."""
        return self.min_m > self.max_m

    def holds(self, length_m: int) -> bool:
        """Whether a reel of that length is inside."""
        return self.min_m <= length_m <= self.max_m


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


def lightest_set_mm(mill: Mill, width_mm: Fraction) -> Fraction:
    """Width wound in the lightest set that holds a strip of that width, whatever lies beside it."""
    return max(width_mm, mill.narrowest_web_mm)


def ways(order: Order, mill: Mill, *, usable_m: int, allow_empty: bool = False) -> tuple[Way, ...]:
    """Every width and core in which the order may be wound, with the lengths allowed.

    Parameters
    ----------
    usable_m
        The longest set that a jumbo gives, m.
    allow_empty
        Keep ways that no whole metre meets (to explain them).
    """
    grade = mill.grade(order.grade)
    if grade is None:
        raise ValueError(f"order {order.number}: the mill file has no grade {order.grade}")
    caliper_um = grade.wound_caliper_um(order.grammage_gsm)
    if order.product is Product.REEL:
        found = _reel_ways(order, mill, caliper_um, usable_m)
    else:
        found = _sheeter_ways(order, mill, caliper_um, usable_m)
    return tuple(way for way in found if allow_empty or not way.span.empty)


def _reel_ways(order: Order, mill: Mill, caliper_um: float, usable_m: int) -> Iterator[Way]:
    winder = mill.winder
    widest = min(winder.max_reel_width_mm, mill.deckle_mm)
    if not winder.min_reel_width_mm <= order.width_mm <= widest:
        return
    cores = winder.cores
    if order.core_mm is not None:
        core = winder.core(order.core_mm)
        cores = () if core is None else (core,)
    for core in cores:
        span = span_on(order, mill, core, caliper_um, usable_m=usable_m)
        yield Way(width_mm=order.width_mm, core=core, span=span)


def _sheeter_ways(order: Order, mill: Mill, caliper_um: float, usable_m: int) -> Iterator[Way]:
    winder = mill.winder
    chop = order.chop_mm
    if chop is None:
        return
    for sheeter in mill.sheeters:
        core = winder.core(sheeter.core_inside_mm)
        if core is None or not sheeter.min_chop_mm <= chop <= sheeter.max_chop_mm:
            continue
        for ups in range(1, sheeter.max_ups + 1):
            width = sheeter_width_mm(order.width_mm, ups, sheeter)
            if width > min(sheeter.max_web_mm, winder.max_reel_width_mm, mill.deckle_mm):
                break
            if width < winder.min_reel_width_mm:
                continue
            span = span_on(
                order, mill, core, caliper_um, width_mm=width, sheeter=sheeter, usable_m=usable_m
            )
            yield Way(width_mm=width, core=core, ups=ups, sheeter=sheeter, span=span)


def span_on(
    reel: Draft | Order,
    mill: Mill,
    core: Core,
    caliper_um: float,
    *,
    width_mm: Fraction | None = None,
    sheeter: Sheeter | None = None,
    usable_m: int | None = None,
) -> Span:
    """The lengths that a reel may have on a core.

    Parameters
    ----------
    reel
        Its limits on diameter and mass; of a sheeter reel the mass alone.
    width_mm
        Width of the reel; None: as `reel` has it.
    usable_m
        The longest set that a jumbo gives. None: the reel is judged alone, without jumbo and
        without what a set must hold beside it.
    """

    def length_m(diameter_mm: float) -> float:
        if diameter_mm <= core.outside_mm:
            return 0.0
        return reel_length_m(diameter_mm, core.outside_mm, caliper_um)

    (min_mm, min_by), (max_mm, name, key) = _diameters(reel, mill, sheeter)
    min_m = max(1, math.ceil(length_m(min_mm - _JUDGED_MM) - _FLOAT_SLIP))
    widest_m = math.floor(length_m(max_mm + _JUDGED_MM) + _FLOAT_SLIP)
    caps = [Cap(max_m=widest_m, key=key, name=name, figure=f"{max_mm:g} mm")]
    width_mm = reel.width_mm if width_mm is None else width_mm
    if width_mm is not None and reel.grammage_gsm is not None:
        caps += _mass_caps(reel, mill, width_mm, reel.grammage_gsm, alone=usable_m is None)
    if usable_m is not None:
        name = "the jumbo's usable length"
        caps.append(Cap(max_m=usable_m, key="width", name=name, figure=f"{usable_m} m"))
    tightest = min(caps, key=lambda cap: cap.max_m)
    longest_m = min(math.floor(length_m(max_mm) + _FLOAT_SLIP), tightest.max_m)
    if longest_m < min_m <= tightest.max_m:
        longest_m = tightest.max_m
    return Span(
        min_m=min_m,
        max_m=tightest.max_m,
        longest_m=longest_m,
        min_by=min_by,
        max_by=tightest.text,
        exceeded=tuple(cap for cap in caps if cap.max_m < min_m),
    )


def _diameters(
    reel: Draft | Order, mill: Mill, sheeter: Sheeter | None
) -> tuple[tuple[float, str], tuple[float, str, str]]:
    """Min. diameter with the limit that sets it; max. diameter with its limit and column."""
    winder = mill.winder
    min_mm, min_by = winder.min_reel_diameter_mm, "the winder's min. diameter"
    max_mm, max_by = winder.max_reel_diameter_mm, "the winder's max. diameter"
    key = "min_diameter"
    if sheeter is not None:
        max_mm = min(sheeter.max_reel_diameter_mm, max_mm)
        max_by, key = f"{sheeter.name}'s max. reel diameter", "width"
    else:
        if reel.min_diameter_mm is not None and reel.min_diameter_mm > min_mm:
            whose = "mill" if reel.diameter_by_custom else "order"
            min_mm, min_by = reel.min_diameter_mm, f"the {whose}'s min. diameter"
        if reel.max_diameter_mm is not None:
            key = "max_diameter"
            if reel.max_diameter_mm < max_mm:
                max_mm, max_by = reel.max_diameter_mm, "the order's max. diameter"
    return (min_mm, f"{min_by} {min_mm:g} mm"), (max_mm, max_by, key)


def _mass_caps(
    reel: Draft | Order, mill: Mill, width_mm: Fraction, grammage_gsm: float, *, alone: bool
) -> Iterator[Cap]:
    """The limits on a reel of that width and on the lightest set that can hold it."""
    winder = mill.winder
    set_mm = width_mm if alone else lightest_set_mm(mill, width_mm)
    for limit_kg, wound_mm, key, name in (
        (reel.max_reel_mass_kg, width_mm, "max_reel_mass", "the order's max. reel mass"),
        (winder.max_reel_mass_kg, width_mm, "width", "the winder's max. reel mass"),
        (winder.max_set_mass_kg, set_mm, "width", "the winder's max. set mass"),
    ):
        if limit_kg is not None:
            heaviest_m = mass_length_m(limit_kg, wound_mm, grammage_gsm) + _FLOAT_SLIP
            yield Cap(
                max_m=math.floor(heaviest_m),
                key=key,
                name=name,
                figure=f"{limit_kg:g} kg",
                limit_kg=limit_kg,
                wound_mm=wound_mm,
            )
