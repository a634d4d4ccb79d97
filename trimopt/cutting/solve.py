"""One `solve`: from an instance to a plan of cuts with a proven bound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trimopt.cutting.instance import Instance
from trimopt.cutting.outcome import Cut, Outcome

__all__ = ["Limits", "Observer", "Progress", "solve"]


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


def solve(
    instance: Instance,
    *,
    limits: Limits | None = None,
    seed: int = 0,
    observer: Observer | None = None,
    start: tuple[Cut, ...] = (),
) -> Outcome:
    """Least loss, proven.

    Parameters
    ----------
    instance
        The run.
    limits
        When to stop with the best so far.
    seed
        The same instance, seed and work limit give the same outcome.
    observer
        Told of progress; an exception it raises (KeyboardInterrupt too) ends the search with the
        best so far.
    start
        A plan to begin from.

    Returns
    -------
    Outcome
        Every plan in it has passed `faults_of`; its bound holds over all patterns.
    """
    raise NotImplementedError
