"""When a search stops, and what it tells on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Limits", "Observer", "Progress"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """When to stop. `work` counts inside the engine and is repeatable; `seconds` is the clock."""

    seconds: float | None = 60.0
    work: int | None = None
    gap: float = 0.0  # stop where (loss - bound) / paper cost is at most this


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What is known at a moment of the search."""

    seconds: float
    loss: int | None
    bound: int | None
    step: str


Observer = Callable[[Progress], None]
