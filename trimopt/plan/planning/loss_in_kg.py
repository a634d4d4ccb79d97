"""The engine's loss in kilograms and back, a wound plan's loss, and what a set is charged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.making import Making
from trimopt.mill.model import Mill, Values
from trimopt.plan.model import Balance

__all__ = ["loss_kg", "loss_units", "steered", "with_butts_kg"]


def loss_kg(making: Making, loss: int) -> float:
    """Kilograms of a loss in 1/SCALE area units."""
    gsm = Fraction(str(making.run.grammage_gsm))
    return float(Fraction(loss, SCALE) * making.unit_mm * gsm / 1_000_000)


def loss_units(making: Making, mass_kg: float) -> int:
    """A loss in 1/SCALE area units, from kilograms."""
    gsm = Fraction(str(making.run.grammage_gsm))
    return round(Fraction(mass_kg) * 1_000_000 * SCALE / (gsm * making.unit_mm))


def with_butts_kg(balance: Balance, values: Values) -> float:
    """Loss of a run as wound, kg: paper used but not delivered, and kg under and over valued.

    The ends of jumbos, which no choice of patterns saves, are not in it.
    """
    return (
        balance.used_kg
        - balance.start_end_kg
        - balance.delivered_kg
        + float(values.under) * balance.under_kg
        + float(values.over) * balance.over_kg
    )


def steered(making: Making, mill: Mill, usable_m: Sequence[int]) -> Instance:
    """The run with each set charged for its share of the butt that sets like it would leave.

    It steers the search for a plan; what is proven is proven without it.

    Parameters
    ----------
    usable_m
        Usable lengths of jumbos; a set that is longer than all of them is charged for no butt.
    """
    paper_per_m = int(mill.jumbo.width_mm / making.unit_mm)
    classes = []
    for limits, winding in zip(making.instance.classes, making.classes, strict=True):
        length = winding.length_m
        shares = (Fraction(m, m // length) for m in usable_m if m >= length)
        charged_m = min(shares, default=Fraction(length))
        classes.append(replace(limits, cost=max(limits.cost, int(charged_m * paper_per_m))))
    return replace(making.instance, classes=tuple(classes))
