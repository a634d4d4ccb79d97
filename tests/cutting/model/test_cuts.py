"""What is left of a run where some sets are decided."""

from __future__ import annotations

from trimopt.cutting import Cut, Demand, Instance, Option, Pattern, WindingClass, loss_of, residual

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


def test_sets_decided_and_what_is_left_lose_as_much_as_all() -> None:
    """The loss of all sets is that of those decided and of the rest in the run that is left."""
    first = Pattern(0, ((0, 1), (3, 3)))
    second = Pattern(0, ((1, 1), (2, 1)))
    left = residual(RUN, (Cut(first, 2),))
    assert left.demands[0].low == 10
    assert left.demands[1].high == 50
    assert left.demands[1].ordered == 40
    none = loss_of(left, ())
    for sets in (1, 2):
        whole = loss_of(RUN, (Cut(first, 2), Cut(second, sets)))
        rest = loss_of(left, (Cut(second, sets),))
        # Of both the paper of the decided sets is taken off, and the prices begin where they stand.
        assert whole - loss_of(RUN, (Cut(first, 2),)) == rest - none
