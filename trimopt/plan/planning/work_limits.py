"""How hard a step of a run's planning may search."""

from __future__ import annotations

__all__ = ["trade_work"]

#: Work at effort 1, repeatable; about a second on a laptop of 2024.
_TRADE_WORK = 2.4  # times the square of the orders: so the search grows
_MIN_ORDERS = 14  # a small run is searched as if it had so many


def trade_work(effort: int, orders: int) -> int:
    """Work of the search for few set-ups, for so many orders that must be made."""
    return round(effort * _TRADE_WORK * max(_MIN_ORDERS, orders) ** 2)
