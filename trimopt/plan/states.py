"""The states of an order in a plan, each defined here and nowhere else.

Of amount one holds: an order is short or carried over (less than its lower limit is made), over or
in need of sales (more than its upper limit), light or met (inside both). Late may hold beside any
of the last four. The first that holds, in the order below, is the order's `state`, the rest stand
in `also`. What holds is decided by what is made, and the check decides it again by its own code.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum


class OrderState(StrEnum):
    """States of an order, the most pressing first. Limits are quantity and tolerance, less made."""

    NEEDS_SALES = "needs sales"
    """Above the upper limit, as no whole number of reels at the listed lengths lands inside."""

    SHORT = "short"
    """Below the lower limit, as the listed jumbos do not last, or no pattern has what it lacks."""

    CARRIED_OVER = "carried over"
    """Below the lower limit, as the shift ends first."""

    LATE = "late"
    """At or above the lower limit, and finished after its due time."""

    OVER = "over"
    """Above the upper limit, though some whole number of reels would land inside."""

    LIGHT = "met, light"
    """Inside the limits in its own unit, in mass below what the lower limit weighs at target."""

    MET = "met"
    """Inside the limits, in mass as well, and not late."""

    FOR_STOCK = "for stock"
    """A stock width of the mill file: no order, and no more of it made than the file allows."""


LACKING = frozenset({OrderState.SHORT, OrderState.CARRIED_OVER})
"""States of an order that gets less than its lower limit."""


def most_pressing_first(states: Iterable[OrderState]) -> tuple[OrderState, ...]:
    """Sort states that hold; met is said only where nothing else is.

    Examples
    --------
    >>> [str(state) for state in most_pressing_first([OrderState.OVER, OrderState.LATE])]
    ['late', 'over']
    >>> [str(state) for state in most_pressing_first([OrderState.MET, OrderState.LATE])]
    ['late']
    """
    found = [state for state in OrderState if state in set(states)]
    return tuple(found if found == [OrderState.MET] else [s for s in found if s != OrderState.MET])
