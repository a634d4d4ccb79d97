"""Reels as patterns of a run made ready: the class that is wound so, and the option of each."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from trimopt.cutting.model.cuts import Pattern
from trimopt.making.model import PreparedRun

Reel = tuple[str, Fraction]  # its order and width, mm


class ReelPatterns:
    """Where reels stand in the engine's terms. In a class an order has one option at a width.

    Parameters
    ----------
    making
        The run, with classes of other widths behind its own or without (`with_odd_classes`).
    """

    def __init__(self, making: PreparedRun) -> None:
        self._class = {
            (winding.core_mm, winding.length_m, winding.jumbo_width_mm): c
            for c, winding in enumerate(making.classes)
        }
        self._option = {
            (option.winding_class, option.order.number, option.width_mm): k
            for k, option in enumerate(making.options)
        }
        self._making = making

    def winding_class(
        self, core_mm: float | None, length_m: int, jumbo_width_mm: Fraction | None = None
    ) -> int | None:
        """The class of that core and set length on jumbos of that width; None: the run's own."""
        return self._class.get((core_mm, length_m, jumbo_width_mm))

    def option(self, winding_class: int | None, order: str, width_mm: Fraction) -> int | None:
        """The option of a reel; None where it has none in that class, or there is no such class."""
        return None if winding_class is None else self._option.get((winding_class, order, width_mm))

    def pattern(self, winding_class: int | None, reels: Mapping[Reel, int]) -> Pattern | None:
        """So many reels of each as a pattern of that class; None where `option` has one not."""
        pieces = []
        for reel, count in reels.items():
            option = self.option(winding_class, *reel)
            if option is None:
                return None
            pieces.append((option, count))
        return None if winding_class is None else Pattern(winding_class, tuple(sorted(pieces)))

    def on(
        self, pattern: Pattern, width_mm: Fraction | None, of: PreparedRun | None = None
    ) -> Pattern | None:
        """The pattern on jumbos of that width; None where a piece of it is wider than these.

        Parameters
        ----------
        width_mm
            None: the run's own.
        of
            Whose options and classes the pattern has; None: those of this run.
        """
        of = of or self._making
        winding = of.classes[pattern.winding_class]
        there = self.winding_class(winding.core_mm, winding.length_m, width_mm)
        return self.in_class(pattern, there, of)

    def in_class(
        self, pattern: Pattern, there: int | None, of: PreparedRun | None = None
    ) -> Pattern | None:
        """The same reels in another class; None where one of them has no option there."""
        options = (of or self._making).options
        cut = [(options[k], count) for k, count in pattern.pieces]
        return self.pattern(
            there, {(each.order.number, each.width_mm): count for each, count in cut}
        )
