"""Winding classes of a run's jumbos of other widths: its cores and set lengths on each of these."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.cutting.decomposition import part_with
from trimopt.cutting.model.instance import Instance
from trimopt.making.cut_options import OptionBuilder
from trimopt.making.model import PreparedRun
from trimopt.mill.model import Mill


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
