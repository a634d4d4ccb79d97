"""The bound of prices over plans of whole pieces."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.mill_like import KINDS, mill_like
from trimopt.cutting import Demand, Instance, Limits, Option, WindingClass, solve
from trimopt.cutting.bound import floors, loss_part, price_bound
from trimopt.cutting.outcome import Certificate
from trimopt.cutting.search import paper_cost
from trimopt.cutting.whole_floors import whole_price_bound


@st.composite
def _orders(draw: st.DrawFn) -> tuple[Instance, Certificate]:
    low = draw(st.integers(0, 20))
    some = draw(st.lists(st.tuples(st.integers(2, 7), st.integers(0, 9)), min_size=1, max_size=3))
    demand = Demand(
        low=low,
        high=low + draw(st.integers(0, 8)),
        ordered=draw(st.none() | st.integers(0, 60)),
        under_price=draw(st.integers(0, 300)),
        over_price=draw(st.integers(0, 300)),
        surplus_worth=max(-(-worth // gain) for gain, worth in some),
    )
    instance = Instance(
        demands=(demand,),
        classes=(WindingClass(cost=100, width=100, most_pieces=100),),
        options=tuple(
            Option(demand=0, winding_class=0, width=1, gain=gain, worth=worth)
            for gain, worth in some
        ),
    )
    # Prices of nothing less than what a piece is worth: then making more never pays (B).
    scale = draw(st.sampled_from([1, 16]))
    worth_price = draw(st.integers(0, 1500)) * scale
    gain_price = draw(st.integers(0, 900)) * scale
    return instance, Certificate(scale=scale, gain_price=(gain_price,), worth_price=(worth_price,))


@settings(max_examples=200, deadline=None)
@given(_orders())
def test_no_whole_pieces_come_to_less(case: tuple[Instance, Certificate]) -> None:
    """Equal to the least over all counts of pieces, far beyond the range too, or the floor."""
    instance, proof = case
    demand = instance.demands[0]
    assert demand.high is not None
    least = None
    for counts in product(range(22), repeat=len(instance.options)):
        pieces = list(zip(counts, instance.options, strict=True))
        made = sum(n * option.gain for n, option in pieces)
        worth = sum(n * option.worth for n, option in pieces)
        if made < demand.low or made > demand.high + 10:
            continue
        net = worth - demand.surplus_worth * max(0, made - demand.high)
        price = proof.gain_price[0] * made + proof.worth_price[0] * worth
        cost = Fraction(price, proof.scale) + loss_part(demand, Fraction(net))
        least = cost if least is None else min(least, cost)
    assert least is not None
    bound = whole_price_bound(instance, proof)
    floor = floors(instance, proof)[0]
    assert price_bound(instance, proof) <= bound
    assert bound == -int(-max(least, floor) // 1)


def test_sheets_of_one_class_come_close_to_their_bound() -> None:
    """The prices alone leave 0.07 % of paper open, which no whole pieces can bring in."""
    kind = next(kind for kind in KINDS if kind.name == "sheets")
    outcome = solve(mill_like(kind, 6), limits=Limits(seconds=None))
    assert outcome.loss is not None
    paper = paper_cost(mill_like(kind, 6), outcome.cuts)
    assert outcome.bound - outcome.price_bound > 5e-4 * paper
    assert outcome.loss - outcome.bound <= 5e-4 * paper
