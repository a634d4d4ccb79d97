"""Progress: one stream of events out of all runs, phases and worker processes.

A budget carries a `Watch` down the flow. Every phase looks at its budget often, so each look is a
chance to tell how far things are: a phase that never falls silent is one that can be stopped.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import inf
from time import monotonic

PLANNED = "planned"
"""The phase of a run that is done."""

_SILENT_S = 0.25  # after so long the same is told again
_QUICK_S = 0.05  # news of losses and bounds comes no faster
_PLANNED = 0.9  # of all work is done when the runs are planned; the rest is check and files
_TYPICAL_S = 3.0  # a phase whose work has no limit is half done, as far as anybody knows
_KNOWN = 0.02  # of the work, from which on the time left is estimated


@dataclass(frozen=True, slots=True, kw_only=True)
class RunProgress:
    """What is known at a moment. Of one run losses only fall, bounds and shares only rise."""

    run: str  # its name; empty where it is the whole plan
    phase: str  # what is being done
    loss_kg: float | None = None  # least loss across the width of a whole plan found so far
    bound_kg: float | None = None  # proven: no plan over the listed set lengths loses less
    share: float  # of the work for the whole plan that is done, check and files with it
    left_s: float = inf  # seconds left, estimated, and no more than the time limit has


Observer = Callable[[RunProgress], None]


class Watch:
    """Tells an observer of one run; `share` is of that run's own work."""

    def __init__(self, observer: Observer, run: str = "") -> None:
        self._observer = observer
        self._now = RunProgress(run=run, phase="", share=0.0)
        self._begins, self._ends = 0.0, 0.0
        self._entered = 0.0
        self._told = -inf

    def enter(self, phase: str, begins: float, ends: float) -> None:
        """Begin a phase that takes the run's work from one share of it to another."""
        self._begins, self._ends, self._entered = begins, ends, monotonic()
        self._now = replace(self._now, phase=phase, share=max(self._now.share, begins))
        self._tell()

    def found(self, *, loss_kg: float | None = None, bound_kg: float | None = None) -> None:
        """Take in the loss of a whole plan, or a loss that is proven to be least."""
        now = self._now
        losses = [each for each in (now.loss_kg, loss_kg) if each is not None]
        bounds = [each for each in (now.bound_kg, bound_kg) if each is not None]
        self._now = replace(
            now, loss_kg=min(losses, default=None), bound_kg=max(bounds, default=None)
        )
        if self._now != now and monotonic() - self._told >= _QUICK_S:
            self._tell()

    def look(self, done: float) -> None:
        """Somebody is at work, and has done such a share of the work that its limit allows.

        Where that is nothing, as no limit is near, the share comes ever closer to the phase's end.
        """
        now = monotonic()
        if now - self._told < _SILENT_S:
            return
        spent_s = now - self._entered
        done = max(done, spent_s / (spent_s + _TYPICAL_S))
        share = self._begins + min(1.0, done) * (self._ends - self._begins)
        self._now = replace(self._now, share=max(self._now.share, share))
        self._tell()

    def _tell(self) -> None:
        self._told = monotonic()
        self._observer(self._now)


class Inner(Watch):
    """Of a search that is a part of a run's, whose phases, losses and bounds are its own.

    Only that somebody is at work is told, and the share that was done before it.
    """

    def __init__(self, whole: Watch, done: float) -> None:
        self._whole, self._done = whole, done

    def enter(self, phase: str, begins: float, ends: float) -> None:
        """Tell nothing."""

    def found(self, *, loss_kg: float | None = None, bound_kg: float | None = None) -> None:
        """Tell nothing."""

    def look(self, done: float) -> None:  # noqa: ARG002  it is of the part
        """Somebody is at work."""
        self._whole.look(self._done)


class AllRuns:
    """Brings what single runs tell together: the share of all work that is done, and time left."""

    def __init__(self, observer: Observer, weights: Mapping[str, float], ends_at: float) -> None:
        self._observer = observer
        self._weights = dict(weights)
        self._ends_at = ends_at
        self._begun = self._told = monotonic()
        self._share = 0.0
        self._latest: dict[str, RunProgress] = {}

    def take(self, event: RunProgress) -> None:
        """Tell what a run tells."""
        before = self._latest.pop(event.run, event)
        if event.loss_kg is None:  # another process goes on with the run
            event = replace(event, loss_kg=before.loss_kg, bound_kg=before.bound_kg)
        self._latest[event.run] = event  # the last is what was told last
        done = sum(self._weights.get(run, 0.0) * each.share for run, each in self._latest.items())
        planned = _PLANNED * done / (sum(self._weights.values()) or 1.0)
        after = event.share if event.run not in self._weights else 0.0
        self._share = min(1.0, max(self._share, planned, after))
        self._tell(event)

    def look(self) -> None:
        """While workers are at work: where all of them are silent, tell again what is known."""
        if monotonic() - self._told < _SILENT_S:
            return
        at_work = [each for each in self._latest.values() if each.share < 1]
        self._tell(at_work[0] if at_work else RunProgress(run="", phase="begin", share=0.0))

    def _tell(self, event: RunProgress) -> None:
        self._told = now = monotonic()
        left_s = max(0.0, self._ends_at - now)
        if self._share >= _KNOWN:
            left_s = min(left_s, (now - self._begun) * (1 - self._share) / self._share)
        self._observer(replace(event, share=self._share, left_s=left_s))
