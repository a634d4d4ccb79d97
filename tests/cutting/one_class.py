"""Runs in which every order has one width, and all sets are of one class."""

from __future__ import annotations

from collections.abc import Iterable

from trimopt.cutting import Demand, Instance, Option, WindingClass

_NEVER = 1_000  # what a piece too many costs, in sets: no plan of less loss has one


def exactly(pieces: int, more: int = 0) -> Demand:
    """So many pieces, or up to so many more, of a run whose loss is its number of sets."""
    return Demand(low=pieces, high=pieces + more, surplus_worth=_NEVER)


def one_class(
    widths: Iterable[int], demands: Iterable[Demand], limits: WindingClass, *, worth: int = 0
) -> Instance:
    """Give a run: a piece of each width yields 1 to its demand; `worth` is that of its width."""
    return Instance(
        demands=tuple(demands),
        classes=(limits,),
        options=tuple(
            Option(demand=i, winding_class=0, width=w, gain=1, worth=worth * w)
            for i, w in enumerate(widths)
        ),
    )
