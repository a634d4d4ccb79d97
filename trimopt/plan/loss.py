"""The engine's loss in kilograms and back, and what a set is charged while plans are sought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.cutting.instance import SCALE, Instance
from trimopt.making import Making
from trimopt.mill.model import Mill

__all__ = ["loss_kg", "loss_units", "steered"]


def loss_kg(making: Making, loss: int) -> float:
    """Kilograms of a loss in 1/SCALE area units."""
    gsm = Fraction(str(making.run.grammage_gsm))
    return float(Fraction(loss, SCALE) * making.unit_mm * gsm / 1_000_000)


def loss_units(making: Making, mass_kg: float) -> int:
    """A loss in 1/SCALE area units, from kilograms."""
    gsm = Fraction(str(making.run.grammage_gsm))
    return round(Fraction(mass_kg) * 1_000_000 * SCALE / (gsm * making.unit_mm))


def steered(making: Making, mill: Mill, usable_m: Sequence[int]) -> Instance:
    """The run with each set charged for its share of the butt that sets like it would leave.

    It steers the search for a plan; what is proven is proven without it.

    Parameters
    ----------
    usable_m
        Usable lengths of the jumbos that there are.
    """
    paper_per_m = int(mill.jumbo.width_mm / making.unit_mm)
    classes = []
    for limits, winding in zip(making.instance.classes, making.classes, strict=True):
        length = winding.length_m
        charged_m = min(Fraction(m, m // length) for m in usable_m if m >= length)
        classes.append(replace(limits, cost=max(limits.cost, int(charged_m * paper_per_m))))
    return replace(making.instance, classes=tuple(classes))
