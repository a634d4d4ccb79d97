"""Progress never falls silent, and tells nothing but what is so."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from math import inf
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from tests.cli.conftest import ROOT
from trimopt import Plan, Request, RunProgress, make_plan, read_book, read_mill, write_plan
from trimopt.budget import Budget
from trimopt.progress import PLANNED, AllRuns, Watch

_MAX_GAP_S = 0.5


@dataclass
class _Told:
    """What an observer was told, with the wall and processor time since it was told before."""

    events: list[RunProgress] = field(default_factory=list)
    gaps: list[tuple[float, float]] = field(default_factory=list)
    last: tuple[float, float] = (0.0, 0.0)

    def start(self) -> None:
        self.last = time.monotonic(), time.process_time()

    def __call__(self, event: RunProgress) -> None:
        now = time.monotonic(), time.process_time()
        self.gaps.append((now[0] - self.last[0], now[1] - self.last[1]))
        self.last = now
        self.events.append(event)


def _holds(told: _Told, plan: Plan) -> None:
    """Losses fall, bounds and shares rise; no bound is above the one that stands in the plan."""
    for run in plan.runs:
        events = [each for each in told.events if each.run == run.name]
        assert events[-1].phase == PLANNED
        losses = [each.loss_kg for each in events if each.loss_kg is not None]
        bounds = [each.bound_kg for each in events if each.bound_kg is not None]
        assert losses == sorted(losses, reverse=True)
        assert bounds == sorted(bounds)
        assert max(bounds, default=0.0) <= run.proof.bound_kg + 1e-6
        assert min(losses, default=inf) >= run.proof.bound_kg - 1e-6
    shares = [each.share for each in told.events]
    assert shares == sorted(shares)
    assert 0 <= shares[0] <= shares[-1] <= 1


@pytest.mark.slow
@pytest.mark.parametrize(("name", "processes"), [("shift", 1), ("week", 2)])
def test_it_is_never_silent(name: str, processes: int, tmp_path: Path) -> None:
    """At least twice a second, from all phases and processes, through check and files.

    One process is held to that by its own processor time, as others may use the machine.
    """
    mill = read_mill(ROOT / "orders" / "mill.toml")
    book = read_book(ROOT / "orders" / f"{name}.xlsx", mill)
    told = _Told()
    told.start()
    request = Request(time_limit_s=3.0)
    plan = make_plan(book, mill, request, processes=processes, observer=told)
    assert max(min(gap) if processes == 1 else gap[0] for gap in told.gaps) <= _MAX_GAP_S * 2
    assert sum(min(gap) > _MAX_GAP_S for gap in told.gaps) == 0
    _holds(told, plan)
    assert {run.name for run in plan.runs} <= {each.run for each in told.events}
    assert all(each.left_s <= 3.0 for each in told.events)
    write_plan(plan, book, mill, tmp_path, request=request, observer=told)
    phases = dict.fromkeys(each.phase for each in told.events if not each.run)
    assert list(phases)[-4:] == ["runs in turn", "check", "widths for sales", "files"]


@given(st.lists(st.tuples(st.sampled_from(["a", "b"]), st.floats(0, 1)), max_size=30))
def test_the_share_of_all_runs_never_falls(steps: list[tuple[str, float]]) -> None:
    """Whatever single runs tell, in any order."""
    shares = []
    of_all = AllRuns(lambda event: shares.append(event.share), {"a": 5.0, "b": 1.0}, inf)
    for run, share in steps:
        of_all.take(RunProgress(run=run, phase="patterns", share=share))
    assert shares == sorted(shares)
    assert all(0 <= share <= 1 for share in shares)


def test_what_was_found_is_told_with_the_next_event() -> None:
    """A worse loss or bound than the one known changes nothing."""
    events: list[RunProgress] = []
    watch = Watch(events.append, "Board")
    watch.found(loss_kg=9.0, bound_kg=2.0)
    watch.found(loss_kg=10.0, bound_kg=1.0)
    watch.enter("set-ups", 0.5, 0.7)
    assert (events[-1].loss_kg, events[-1].bound_kg, events[-1].share) == (9.0, 2.0, 0.5)


def test_a_budget_that_is_looked_at_tells(monkeypatch: pytest.MonkeyPatch) -> None:
    """Shares of shares too, until the work that they may do is done."""
    clock = [100.0]
    monkeypatch.setattr("trimopt.progress.monotonic", lambda: clock[0])
    events: list[RunProgress] = []
    budget = Budget().watched(Watch(events.append, "Board"))
    budget.enter("set-ups", 0.5, 0.7)
    search = budget.share(0.5).share(0.5, max_work=10)
    for _ in range(10):
        assert not search.over()
        clock[0] += 0.3
        search.work += 1
    assert search.over()
    assert len(events) == 11
    assert events[-1].share == pytest.approx(0.7)
    assert len({each.share for each in events}) == 11
