"""How much time and work is left, and whether somebody asked to stop.

One budget is made where a command begins and goes down the whole flow. Every phase looks at it and
takes a share of the time that is left; what a phase does not need is there for those after it. Work
is counted by each phase in a measure of its own, so that the same input, seed and work give the
same plan. Time and Ctrl-C do not: a budget that they ended says so (`stopped`), and so does every
budget that it is a share of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import inf
from numbers import Real
from time import monotonic, time

from trimopt.errors import WrongTypeError
from trimopt.interrupt import asked_to_stop
from trimopt.progress import Watch

#: Where nobody says, a book's time limit: far more than it takes, so that work ends the search.
MAX_PLAN_S = 300.0


class SearchEnded(Exception):  # noqa: N818 - an end, not an error
    """Time or work is spent, somebody asked to stop, or nothing is left to gain."""


@dataclass(slots=True, kw_only=True)
class Budget:
    """What may be spent: until a moment of the monotonic clock, and so much work.

    Shares are of the time left; or where that is more than enough for all, of what is enough, and
    what is to spare is there for each of them. So a share cuts a phase only where time is short.

    Examples
    --------
    >>> half = Budget.lasting(10).share(0.5)
    >>> 4 < half.left_s <= 5
    True
    >>> ample = Budget.lasting(100).share(0.5, enough_s=5)
    >>> 94 < ample.left_s <= 95
    True
    """

    ends_at: float = inf
    max_work: float = inf
    work: float = 0.0
    stopped: bool = False
    of: Budget | None = None  # what it is a share of
    watch: Watch | None = None  # told of every look; shares have it too
    enough_s: float = inf  # for all that it is for, on a slow machine too
    anyway: bool = False  # a little work, done whatever the clock says and whoever asked to stop

    @classmethod
    def lasting(cls, seconds: float | None, max_work: float | None = None) -> Budget:
        """From now on so many seconds, and so much work; None: no limit."""
        for name, value in (("seconds", seconds), ("max_work", max_work)):
            if not isinstance(value, Real | None):
                kind = type(value).__name__
                raise WrongTypeError(f"Budget.lasting: {name} is of type {kind}, not a number")
        return cls(
            ends_at=inf if seconds is None else monotonic() + seconds,
            max_work=inf if max_work is None else max_work,
        )

    @property
    def left_s(self) -> float:
        """Seconds left; infinite where no clock runs."""
        return max(0.0, self.ends_at - monotonic())

    def share(
        self, part: float, max_work: float = inf, *, min_s: float = 0.0, enough_s: float = inf
    ) -> Budget:
        """A part of the time that is left, or more (`min_s`), with a count of work of its own.

        Where the seconds that are enough for the part are known (`enough_s`), so are those for the
        rest.
        """
        left_s, ends_at = self.left_s, inf
        of_s = min(left_s, self.enough_s if enough_s == inf else enough_s / part)
        if left_s < inf:
            ends_at = monotonic() + max(min_s, left_s - of_s + part * of_s)
        return Budget(
            ends_at=ends_at,
            max_work=max_work,
            of=self,
            watch=self.watch,
            enough_s=part * of_s if of_s < inf else inf,
            anyway=self.anyway,
        )

    def shares(self, count: int) -> Iterator[Budget]:
        """So many shares, each of an equal part of time and work left when it is taken."""
        return self.shares_by([1.0] * count)

    def shares_by(self, weights: Sequence[float]) -> Iterator[Budget]:
        """Shares of the time and work left when each is taken, by their weights."""
        for place, weight in enumerate(weights):
            left = sum(weights[place:])
            share = self.share(weight / left, (self.max_work - self.work) * weight / left)
            yield share
            self.work += share.work

    def watched(self, watch: Watch | None) -> Budget:
        """The whole of it, for work that a watch tells of."""
        whole = self.share(1.0, self.max_work)
        whole.watch = watch
        return whole

    def enter(self, phase: str, begins: float, ends: float) -> None:
        """Tell the watch, where there is one, that a phase begins (`Watch.enter`)."""
        if self.watch is not None:
            self.watch.enter(phase, begins, ends)

    def over(self) -> bool:
        """Whether to go on no longer. Asked where there is something left to do."""
        if self.watch is not None:
            self.watch.look(self.work / self.max_work if self.max_work else 0.0)
        if self.work >= self.max_work:
            return True
        if self.anyway or (monotonic() < self.ends_at and not asked_to_stop()):
            return False
        ended: Budget | None = self
        while ended is not None and not ended.stopped:
            ended.stopped, ended = True, ended.of
        return True

    def spend(self, work: float) -> None:
        """Count work done; raise as `check` does where it was the last."""
        self.work += work
        self.check()

    def check(self) -> None:
        """Raise SearchEnded where the budget is over."""
        if self.over():
            raise SearchEnded

    def __reduce__(self) -> tuple[Callable[..., Budget], tuple[float, float, bool, float]]:
        """For another process, or machine: it has a monotonic clock of its own."""
        left_work = self.max_work - self.work
        return _received, (time() + self.left_s, left_work, self.stopped, self.enough_s)


def _received(ends_at: float, max_work: float, stopped: bool, enough_s: float) -> Budget:
    ends_at += monotonic() - time()
    return Budget(ends_at=ends_at, max_work=max_work, stopped=stopped, enough_s=enough_s)
