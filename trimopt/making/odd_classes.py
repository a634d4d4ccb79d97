"""Winding classes of a run's jumbos of other widths: its cores and set lengths on each of these."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.cutting.decomposition import part_with
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import Instance
from trimopt.making.cut_options import OptionBuilder
from trimopt.making.model import CutOption, PreparedRun
from trimopt.mill.model import Mill


class OddClasses:
    """Where a pattern stands on another width, or in the same run prepared with more orders.

    Parameters
    ----------
    making
        With classes of other widths behind its own (`with_odd_classes`).
    """

    def __init__(self, making: PreparedRun) -> None:
        self._class = {
            (winding.core_mm, winding.length_m, winding.jumbo_width_mm): c
            for c, winding in enumerate(making.classes)
        }
        self._option = {
            (option.winding_class, _piece(option)): k for k, option in enumerate(making.options)
        }
        self._making = making

    def on(
        self, pattern: Pattern, width_mm: Fraction | None, of: PreparedRun | None = None
    ) -> Pattern | None:
        """The pattern on jumbos of that width; None where a piece of it is wider than these.

        Parameters
        ----------
        width_mm
            None: the run's own.
        of
            Whose options and classes the pattern has; None: those of this one.
        """
        winding = (of or self._making).classes[pattern.winding_class]
        there = self._class.get((winding.core_mm, winding.length_m, width_mm))
        return None if there is None else self.in_class(pattern, there, of)

    def in_class(
        self, pattern: Pattern, there: int, of: PreparedRun | None = None
    ) -> Pattern | None:
        """The same pieces in another class; None where one of them has no option there."""
        pieces = []
        for k, count in pattern.pieces:
            place = self._option.get((there, _piece((of or self._making).options[k])))
            if place is None:
                return None
            pieces.append((place, count))
        return Pattern(there, tuple(sorted(pieces)))


def _piece(option: CutOption) -> tuple[str, Fraction, int | None, str]:
    return option.order.number, option.width_mm, option.ups, option.sheeter


def with_odd_classes(making: PreparedRun, mill: Mill, widths_mm: Sequence[Fraction]) -> PreparedRun:
    """The run with its classes on jumbos of other widths too, behind its own, width by width.

    A change of jumbo alone is no set-up, so a class has the setting of the one it is like. One that
    is too heavy on a wide jumbo has no options.
    """
    own = len(making.classes)
    classes, limits = list(making.classes), list(making.instance.classes)
    made, options = list(making.options), list(making.instance.options)
    for width_mm in widths_mm:
        builder = OptionBuilder(
            mill=mill.with_jumbos_of(width_mm),
            run=making.run,
            unit_mm=making.unit_mm,
            width_unit_mm=making.width_unit_mm,
        )
        first = len(classes)
        windable = [builder.windable(classes[c].length_m) for c in range(own)]
        for c in range(own):
            setting = making.instance.classes[c].setting
            limits.append(replace(builder.limits(classes[c].length_m), setting=setting))
            max_web_mm = builder.max_web_mm(classes[c].length_m)
            classes.append(replace(classes[c], jumbo_width_mm=width_mm, max_web_mm=max_web_mm))
        for cut, option in zip(making.options, making.instance.options, strict=True):
            there = first + option.winding_class
            if windable[option.winding_class] and option.width <= limits[there].width:
                made.append(replace(cut, winding_class=there))
                options.append(replace(option, winding_class=there))
    instance = replace(making.instance, classes=tuple(limits), options=tuple(options))
    return replace(making, classes=tuple(classes), options=tuple(made), instance=instance)


def part_of(instance: Instance, classes: Collection[int]) -> tuple[Instance, tuple[int, ...]]:
    """Some classes of an instance alone, with the places of its options in the whole.

    Of a demand that has no option there nothing must be made.
    """
    part = part_with(instance, range(len(instance.demands)), sorted(classes))
    served = {option.demand for option in part.instance.options}
    demands = tuple(
        demand if i in served else replace(demand, low=0)
        for i, demand in enumerate(instance.demands)
    )
    return replace(part.instance, demands=demands), part.options
