"""The loss of a demand: one formula, in whole numbers and in arrays."""

from __future__ import annotations

import numpy as np
from hypothesis import given, strategies as st

from trimopt.cutting.model.instance import SCALE, Demand
from trimopt.cutting.model.loss import LossTable, demand_loss


def test_under_over_and_surplus_by_hand() -> None:
    """Ten of worth 1 wanted, 8 to 12 allowed: below, above and beyond cost what the prices say."""
    demand = Demand(low=8, high=12, ordered=10, under_price=100, over_price=50, surplus_worth=1)
    assert demand_loss(demand, 9, 9) == -9 * SCALE + 100
    assert demand_loss(demand, 11, 11) == -11 * SCALE + 50
    assert demand_loss(demand, 15, 15) == -12 * SCALE + 2 * 50


@st.composite
def demands(draw: st.DrawFn) -> Demand:
    """Any demand, with and without a limit and a wanted worth."""
    low = draw(st.integers(0, 50))
    return Demand(
        low=low,
        high=draw(st.none() | st.integers(low, 80)),
        ordered=draw(st.none() | st.integers(0, 400)),
        under_price=draw(st.integers(0, SCALE)),
        over_price=draw(st.integers(0, SCALE)),
        surplus_worth=draw(st.integers(0, 9)),
    )


@given(st.lists(st.tuples(demands(), st.integers(0, 100), st.integers(0, 900)), min_size=1))
def test_arrays_give_what_one_amount_gives(rows: list[tuple[Demand, int, int]]) -> None:
    """Whole numbers and floats, all demands at once or one at many amounts."""
    some = [demand for demand, _, _ in rows]
    made, worth = (np.array(column, dtype=np.int64) for column in list(zip(*rows, strict=True))[1:])
    exact = [demand_loss(demand, m, w) for demand, m, w in rows]
    assert LossTable.of(some).loss(made, worth).tolist() == exact
    floats = LossTable.of(some, np.float64).loss(made.astype(float), worth.astype(float))
    assert floats.tolist() == exact
    first = some[0]
    short = LossTable.one(first, np.float64).loss_or_short(made.astype(float), worth.astype(float))
    for m, w, loss in zip(made.tolist(), worth.tolist(), short.tolist(), strict=True):
        assert loss == (float("inf") if m < first.low else demand_loss(first, m, w))
