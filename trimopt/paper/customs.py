"""Tolerance customs: how far a delivery may differ from the order, by tonnage and grammage."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Protocol

from trimopt.paper.unit_factors import Figure


class CustomStep(Protocol):
    """One step of a table: what holds up to a grammage and below a tonnage, None meaning no end."""

    @property
    def grammage_to_gsm(self) -> float | None:
        """Heaviest grammage of the step, g/m², itself included."""

    @property
    def below_t(self) -> float | None:
        """Tonnage that ends the step, t, itself in the next step."""

    @property
    def under(self) -> Fraction:
        """Share that may be lacking: 1/20 is 5 %."""

    @property
    def over(self) -> Fraction:
        """Share that may be over."""


def custom_tolerance(
    steps: Iterable[CustomStep], tonnes: Figure, grammage_gsm: Figure
) -> tuple[Fraction, Fraction] | None:
    """Under and over tolerance, as shares of the ordered quantity; None where no step holds.

    The first step that holds is taken, so a table stands in order: light grammages before heavy
    ones, and within each, small orders before large ones.

    Parameters
    ----------
    steps
        The mill's table, such as `Mill.tolerances`.
    tonnes
        The order's quantity, t.
    grammage_gsm
        The order's grammage, g/m².

    Examples
    --------
    >>> from trimopt.mill import ToleranceStep
    >>> tenth = Fraction(1, 10)
    >>> table = (
    ...     ToleranceStep(grammage_to_gsm=180, below_t=5, under=tenth, over=tenth),
    ...     ToleranceStep(grammage_to_gsm=None, below_t=None, under=Fraction(0), over=tenth / 2),
    ... )
    >>> custom_tolerance(table, 4.9, 180)
    (Fraction(1, 10), Fraction(1, 10))
    >>> custom_tolerance(table, 5, 180)
    (Fraction(0, 1), Fraction(1, 20))
    """
    for step in steps:
        light = step.grammage_to_gsm is None or grammage_gsm <= step.grammage_to_gsm
        small = step.below_t is None or tonnes < step.below_t
        if light and small:
            return step.under, step.over
    return None
