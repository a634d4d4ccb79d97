"""What would help a run whose trim loss is above the target of the mill."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

NEXT_RUN, TAKEN_IN = MOVED = "next run", "taken in"
"""An order that waits for the next run of its paper, and one of that which is made in this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """A change that saves: planned, and held against the run planned without it by equal work."""

    kind: str  # "stock width", "width", "tolerance", "diameter", of MOVED, "set-up" or "deckle"
    what: str
    asks: str  # who must agree: "sales", "planning" or "machine"
    order: str = ""
    due: datetime | None = None  # of an order that would be made later, or sooner
    saved: float = 0.0  # in `RunWaysOut.unit`: loss, set-ups and knife moves, by the mill's values
    saved_kg: float = 0.0  # of paper that is neither delivered nor worth something in stock
    set_ups: int = 0  # more than without
    trim_loss: float = 0.0  # with it


@dataclass(frozen=True, slots=True, kw_only=True)
class RunWaysOut:
    """What would help a run whose trim loss is above the mill's target, the best first."""

    run: str
    trim_loss: float  # of the run as planned
    target: float
    unit: str  # "kg" of loss, or the mill's currency
    planned: int  # changes
    unplanned: int  # no time or too many
    ways: tuple[WayOut, ...]
