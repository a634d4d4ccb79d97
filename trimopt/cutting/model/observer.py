"""What a search tells on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trimopt.cutting.model.cuts import Cut


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What is known at a moment of the search."""

    seconds: float
    loss: int | None
    bound: int | None
    step: str
    cuts: tuple[Cut, ...] = ()  # the plan of that loss, where it is a whole one


Observer = Callable[[Progress], None]
