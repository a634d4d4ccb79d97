"""Tolerance customs by tonnage and grammage."""

from __future__ import annotations

from fractions import Fraction

from trimopt.mill import ToleranceStep
from trimopt.paper import custom_tolerance


def step(grammage_to: float | None, below: float | None, percent: int) -> ToleranceStep:
    """A step with the same share under and over."""
    share = Fraction(percent, 100)
    return ToleranceStep(grammage_to_gsm=grammage_to, below_t=below, under=share, over=share)


TABLE = (step(180, 5, 10), step(180, None, 5), step(None, 5, 15), step(None, None, 8))


def test_the_grammage_is_inside_its_step_and_the_tonnage_outside() -> None:
    """ "Up to 180 g/m²" holds 180; "under 5 t" does not hold 5."""
    assert custom_tolerance(TABLE, 4.999, 180) == (Fraction(1, 10), Fraction(1, 10))
    assert custom_tolerance(TABLE, 5, 180) == (Fraction(1, 20), Fraction(1, 20))
    assert custom_tolerance(TABLE, 4.999, 180.5) == (Fraction(3, 20), Fraction(3, 20))
    assert custom_tolerance(TABLE, Fraction(5), 180.5) == (Fraction(2, 25), Fraction(2, 25))


def test_under_and_over_may_differ() -> None:
    """A step's two shares come back as they are, under first."""
    one = ToleranceStep(grammage_to_gsm=None, below_t=None, under=Fraction(0), over=Fraction(1, 10))
    assert custom_tolerance((one,), 3, 250) == (Fraction(0), Fraction(1, 10))


def test_without_a_step_there_is_no_custom() -> None:
    """No table, or no step that holds, gives None: a tolerance is never invented."""
    assert custom_tolerance((), 3, 250) is None
    assert custom_tolerance((step(180, None, 5),), 3, 250) is None
