"""What a search tells on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Observer", "Progress"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What is known at a moment of the search."""

    seconds: float
    loss: int | None
    bound: int | None
    step: str


Observer = Callable[[Progress], None]
