"""Runs solved over a grid: what it may hold, what its bound may be, what memory it takes."""

from __future__ import annotations

import random
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import pytest
from hypothesis import assume, given, settings, strategies as st

from tests.bench.mill_like import mill_like_set
from tests.cutting.brute import all_patterns, best_loss, certified_bound
from tests.properties.test_cutting_brute import FEATURES, small_run
from trimopt.budget import Budget
from trimopt.cutting import Instance, Progress, Status, faults_of, loss_of, pattern_faults, solve
from trimopt.cutting.params import PARAMS, GridParams
from trimopt.cutting.search.search_state import paper_cost
from trimopt.cutting.width_grid import grid_of, on_grid

STEPS = 48
COARSE = replace(PARAMS, grid=GridParams(steps=(STEPS,)))


def finer(instance: Instance, times: int, seed: int) -> Instance:
    """The run in a unit `times` as fine, each width changed by a part of the old unit.

    Less by it; more where demands have no upper limit, so that making ever more never pays.
    """
    rng = random.Random(seed)
    sign = 1 if any(d.high is None for d in instance.demands) else -1
    change = {
        (o.winding_class, o.width): sign * rng.randrange(times)
        for o in sorted(instance.options, key=lambda o: (o.winding_class, o.width))
    }

    def fine(winding_class: int, width: int) -> int:
        return width * times + change[winding_class, width]

    return replace(
        instance,
        classes=tuple(
            replace(
                c,
                width=c.width * times,
                slack=None if c.slack is None else c.slack * times,
                min_broke=c.min_broke * times,
                max_broke=None if c.max_broke is None else c.max_broke * times,
            )
            for c in instance.classes
        ),
        options=tuple(replace(o, width=fine(o.winding_class, o.width)) for o in instance.options),
        barred=tuple(
            (c, tuple(sorted((fine(c, width), n) for width, n in across)))
            for c, across in instance.barred
        ),
    )


@pytest.mark.parametrize("feature", FEATURES)
@settings(max_examples=20, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_a_grid_lets_in_too_few_patterns_or_too_many(feature: str, seed: int) -> None:
    """Rounded up, patterns hold in the run; rounded down, no pattern of the run is lost."""
    run = finer(small_run(seed, feature), 29, seed)
    up, down = (on_grid(run, STEPS, up=up) for up in (True, False))
    mine = all_patterns(run)
    assert not [pattern for pattern in mine if pattern_faults(down, pattern)]
    # A broke reel that is none in the run may stand beside a no-edge piece of the grid.
    beside = any(o.no_edge for o in run.options) and any(c.slack is not None for c in run.classes)
    if not beside:
        assert not [pattern for pattern in all_patterns(up) if pattern_faults(run, pattern)]


@pytest.mark.parametrize("feature", FEATURES)
@settings(max_examples=5, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_a_plan_over_a_grid_holds_and_its_bound_is_true(feature: str, seed: int) -> None:
    """The plan keeps every rule of the run; no plan at all loses less than the bound."""
    run = finer(small_run(seed, feature), 29, seed)
    assume(grid_of(run, COARSE.grid) is not None)
    told: list[Progress] = []
    outcome = solve(run, budget=Budget(), params=COARSE, observer=told.append)
    truth = best_loss(run, max_sets=6)
    if outcome.status is Status.INFEASIBLE:
        assert truth is None
        return
    assert outcome.loss == loss_of(run, outcome.cuts)
    assert not faults_of(run, outcome.cuts)
    assert outcome.price_bound <= outcome.bound <= outcome.loss
    if truth is not None:
        assert outcome.bound <= truth
        assert all(progress.bound is None or progress.bound <= truth for progress in told)
    if outcome.certificate is not None:
        assert certified_bound(run, outcome.certificate) == outcome.price_bound


def test_a_grid_is_coarser_where_pieces_keep_off_the_edge() -> None:
    """There tables count pieces; a run that needs no grid keeps its own steps all the same."""
    (plain,) = (made.instance for made in mill_like_set(1) if made.name == "reels_1mm_exact_000")
    ruled = replace(plain, options=tuple(replace(o, no_edge=True) for o in plain.options))
    finest, *_, coarsest = PARAMS.grid.steps
    assert [grid_of(finer(run, 29, 0), PARAMS.grid) for run in (plain, ruled)] == [finest, coarsest]
    for run in (plain, ruled):
        assert grid_of(finer(run, 4, 0), PARAMS.grid) is None


def test_equal_reels_that_fill_a_set_fill_it_on_the_grid() -> None:
    """Halves, thirds … twelfths of the deckle lose nothing by rounding."""
    for steps in PARAMS.grid.steps:
        assert all(steps % parts == 0 for parts in range(1, 13))


def solved_alone(name: str) -> tuple[int, float]:
    """Peak memory in bytes, and gap as a share of the paper, of a mill-like run in a fine unit."""
    run = finer(next(m.instance for m in mill_like_set(1) if m.name == name), 40, 1)
    assert grid_of(run, PARAMS.grid) is not None
    outcome = solve(run, budget=Budget())
    assert outcome.loss is not None
    # Not `resource`: what it tells of a new process begins with the peak of the one it came from.
    status = Path("/proc/self/status").read_text(encoding="ascii")
    peak = 1024 * int(status.split("VmHWM:")[1].split()[0])
    return peak, (outcome.loss - outcome.bound) / paper_cost(run, outcome.cuts)


@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read as Linux gives it")
@pytest.mark.parametrize("name", ["reels_classes_000", "edge_strips_000"])
def test_fine_widths_take_little_memory_and_lose_little(name: str) -> None:
    """Mill-like runs in a unit 40 times as fine: below half a gigabyte, and close to the bound."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as alone:
        peak, gap = alone.submit(solved_alone, name).result()
    assert peak < 500e6
    assert gap < 1e-3
