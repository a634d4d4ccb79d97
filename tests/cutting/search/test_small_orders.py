"""Small orders in whole pieces, and what is left of a run where some sets are decided."""

from __future__ import annotations

import numpy as np

from trimopt.cutting import SCALE, Cut, Demand, Instance, Option, Pattern, WindingClass, loss_of
from trimopt.cutting.lp.master import Point
from trimopt.cutting.search.rounding import residual
from trimopt.cutting.search.small_orders import in_whole_pieces

#: One order of two or three pieces, one of many; yields of 9, 13 and 26.
RUN = Instance(
    demands=(
        Demand(low=28, high=32, ordered=30, under_price=100, over_price=100, surplus_worth=1),
        Demand(low=90, high=110, ordered=100, under_price=100, over_price=100, surplus_worth=1),
    ),
    classes=(WindingClass(cost=40, width=40, max_pieces=4),),
    options=(
        Option(demand=0, winding_class=0, width=9, gain=9, worth=9),
        Option(demand=0, winding_class=0, width=13, gain=13, worth=13),
        Option(demand=0, winding_class=0, width=26, gain=26, worth=26),
        Option(demand=1, winding_class=0, width=10, gain=10, worth=10),
    ),
)
#: Every yield is worth what it costs, whatever it is made of.
EVEN = Point(
    loss=0.0,
    sets=np.zeros(0),
    gain_price=np.zeros(2),
    worth_price=np.full(2, float(SCALE)),
)


def test_a_small_order_is_made_of_whole_pieces_inside_its_range() -> None:
    """28 to 32 of 9, 13 and 26 is 9 + 9 + 13 alone; the large order stays as it is."""
    closer = in_whole_pieces(RUN, EVEN, {}, most=3)
    counts = {
        k: closer.demands[option.demand].low
        for k, option in enumerate(closer.options)
        if closer.demands[option.demand].low and option.demand > 1
    }
    assert counts == {0: 2, 1: 1}
    assert closer.demands[0].high == 0
    assert closer.demands[1] == RUN.demands[1]
    assert in_whole_pieces(closer, EVEN, {}, most=3) == closer


def test_orders_tied_to_others_stay() -> None:
    """A rule names an order by its place, so such an order is not taken apart."""
    tied = Instance(demands=RUN.demands, classes=RUN.classes, options=RUN.options, apart=((0, 1),))
    assert in_whole_pieces(tied, EVEN, {}, most=3) == tied


def test_sets_decided_and_what_is_left_lose_as_much_as_all() -> None:
    """The loss of all sets is that of those decided and of the rest in the run that is left."""
    first = Pattern(0, ((0, 1), (3, 3)))
    second = Pattern(0, ((1, 1), (2, 1)))
    left = residual(RUN, {first: 2})
    assert left.demands[0].low == 10
    assert left.demands[1].high == 50
    assert left.demands[1].ordered == 40
    none = loss_of(left, ())
    for sets in (1, 2):
        whole = loss_of(RUN, (Cut(first, 2), Cut(second, sets)))
        rest = loss_of(left, (Cut(second, sets),))
        # Of both the paper of the decided sets is taken off, and the prices begin where they stand.
        assert whole - loss_of(RUN, (Cut(first, 2),)) == rest - none
