"""Winding classes with their limits, and every way to make a piece in each."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit
from trimopt.book.reel_lengths import Way, lightest_set_mm
from trimopt.cutting.model.instance import WindingClass
from trimopt.making.model import CutOption, Run, WindingLength
from trimopt.mill.model import Mill, Sheeter


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What one reel gives: sheets (0 for a customer's reel), gain and delivered area units."""

    sheets: int
    gain: int
    area: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionBuilder:
    """Classes and options of one run, in the run's units."""

    mill: Mill
    run: Run
    unit_mm: Fraction
    width_unit_mm: Fraction

    def limits_of(self, classes: Sequence[WindingLength]) -> tuple[WindingClass, ...]:
        """What a set of each class costs and may hold."""
        winder = self.mill.winder
        settings: dict[tuple[float | None, int], int] = {}
        return tuple(
            replace(
                self.limits(winding.length_m),
                setting=settings.setdefault(
                    (
                        winding.core_mm if winder.core_change_is_set_up else None,
                        winding.length_m if winder.length_change_is_set_up else 0,
                    ),
                    len(settings),
                ),
            )
            for winding in classes
        )

    def limits(self, length_m: int) -> WindingClass:
        mill, winder, step = self.mill, self.mill.winder, self.width_unit_mm
        width = math.floor(self.max_web_mm(length_m) / step)
        slack = None
        if winder.max_edge_trim_mm is not None:
            slack = width - math.ceil(mill.narrowest_web_mm / step)
        min_broke, max_broke = self._broke_units(length_m)
        return WindingClass(
            cost=int(mill.jumbo.width_mm / self.unit_mm) * length_m,
            width=width,
            max_pieces=winder.stations,
            slack=slack,
            min_broke=min_broke,
            max_broke=max_broke,
        )

    def _broke_units(self, length_m: int) -> tuple[int, int]:
        """Min. and max. width of a broke reel, in the engine's units.

        On a grid that does not divide the limits each is rounded so that one broke reel is allowed
        just where it fits, so long as two then always fit; else so that every count that is allowed
        fits.
        """
        step, max_web_mm = self.width_unit_mm, self.max_web_mm(length_m)
        min_mm = self.mill.winder.narrowest_broke_mm
        max_mm = self.mill.winder.max_reel_width_mm
        narrow_mm = self.mill.narrowest_web_mm
        min_units, max_units = math.ceil(min_mm / step), math.floor(max_mm / step)
        if max_mm >= 2 * (min_mm + step):
            min_units = math.floor(max_web_mm / step) - math.floor((max_web_mm - min_mm) / step)
        if narrow_mm <= 2 * max_mm:
            max_units = math.ceil(narrow_mm / step) - math.ceil((narrow_mm - max_mm) / step)
        return min_units, max_units

    def max_web_mm(self, length_m: int) -> Fraction:
        width_mm = self.mill.deckle_mm
        if self.mill.winder.max_set_mass_kg is not None:
            gsm = Fraction(str(self.run.grammage_gsm))
            mass = Fraction(str(self.mill.winder.max_set_mass_kg))
            width_mm = min(width_mm, mass * 1_000_000 / (gsm * length_m))
        return width_mm

    def windable(self, length_m: int) -> bool:
        """Whether some set of that length stays under the winder's max. set mass."""
        narrowest_mm = self.mill.winder.min_reel_width_mm
        return self.max_web_mm(length_m) >= lightest_set_mm(self.mill, narrowest_mm)

    def classes_and_options(
        self,
        lengths: Iterable[tuple[float | None, int]],
        ways_of: Sequence[tuple[Order, tuple[Way, ...]]],
    ) -> tuple[tuple[WindingLength, ...], tuple[CutOption, ...]]:
        """Classes that serve somebody, and every way to make a piece in each."""
        classes: list[WindingLength] = []
        options: list[CutOption] = []
        for core_mm, length_m in lengths:
            if not self.windable(length_m):
                continue
            found = [
                option
                for order, its_ways in ways_of
                for option in self._options_in(order, its_ways, core_mm, length_m, len(classes))
            ]
            if found:
                max_web_mm = self.max_web_mm(length_m)
                classes.append(
                    WindingLength(core_mm=core_mm, length_m=length_m, max_web_mm=max_web_mm)
                )
                options += found
        return tuple(classes), tuple(options)

    def _options_in(
        self,
        order: Order,
        its_ways: tuple[Way, ...],
        core_mm: float | None,
        length_m: int,
        winding_class: int,
    ) -> list[CutOption]:
        best: dict[Fraction, CutOption] = {}
        for way in its_ways:
            if core_mm is not None and way.core.inside_mm != core_mm:
                continue
            if not way.span.holds(length_m):
                continue
            piece = piece_of_way(order, way, length_m=length_m, unit_mm=self.unit_mm)
            held = best.get(way.width_mm)
            if piece.gain > 0 and (held is None or piece.gain > held.gain):
                best[way.width_mm] = CutOption(
                    order=order,
                    winding_class=winding_class,
                    core_mm=way.core.inside_mm,
                    min_m=way.span.min_m,
                    max_m=way.span.max_m,
                    width_mm=way.width_mm,
                    ups=way.ups,
                    sheeter="" if way.sheeter is None else way.sheeter.name,
                    gain=piece.gain,
                    area=piece.area,
                )
        return list(best.values())


def piece_of(
    order: Order,
    *,
    width_mm: Fraction,
    ups: int | None,
    sheeter: Sheeter | None,
    length_m: int,
    unit_mm: Fraction,
) -> Piece:
    """What one reel of that width and length gives its order."""
    if order.product is Product.SHEET:
        assert ups is not None
        assert sheeter is not None
        assert order.chop_mm is not None
        sheets = sheeter.sheets(length_m, order.chop_mm, ups)
        each = order.width_mm * order.chop_mm / 1000 / unit_mm
        return Piece(sheets=sheets, gain=sheets, area=math.floor(sheets * each))
    area = int(width_mm / unit_mm) * length_m
    gain = {Unit.REELS: 1, Unit.METRES: length_m}.get(order.unit, area)
    return Piece(sheets=0, gain=gain, area=area)


def piece_of_way(order: Order, way: Way, *, length_m: int, unit_mm: Fraction) -> Piece:
    """What one reel of an order gives, wound in one of its ways to that length."""
    return piece_of(
        order,
        width_mm=way.width_mm,
        ups=way.ups,
        sheeter=way.sheeter,
        length_m=length_m,
        unit_mm=unit_mm,
    )
