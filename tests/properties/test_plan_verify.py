"""Whatever is changed in a good plan, the check says so; whatever nonsense, it never falls over."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction

import pytest
from hypothesis import given, settings, strategies as st

from tests.plan.leaves import Path, another, leaves, name_of, with_leaf
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.check import verify_plan
from trimopt.paper import UnitSystem
from trimopt.plan.model import Effort, Plan
from trimopt.plan.states import OrderState

_PLAN, _BOOK, _MILL = sample_plan(), sample_book(), sample_mill()

# What the check cannot know from mill file, order book and sets: who made the plan, when and why,
# which plan it replaces and which earlier one a set was issued with, free words, how long it took,
# what lies beside the chosen plan, bounds that a search proved, whether ways out were asked for
# where no run is above the target.
_FREE = re.compile(
    r"(number|replaces|made_at|made_with|approved_by|revised_by|revised_why|notes\.\d+|(book|mill)\.name"
    r"|request\.ways_out|runs\.\d+\.(name|notes\.\d+|set_ups_bound|knife_moves_bound)"
    r"|runs\.\d+\.proof\.(bound_on|seconds|clock_stopped|metres_bound|metres_bound_on)"
    r"|runs\.\d+\.blocks\.\d+\.sets\.\d+\.issued"  # another's
    r"|runs\.\d+\.blocks\.0\.set_up"  # the first set-up counts apart
    r"|runs\.\d+\.trade_off\.1\.\w+|runs\.\d+\.trade_off\.\d+\.loss_bound_kg"
    r"|runs\.\d+\.orders\.\d+\.text)"
)


_LEAVES = [
    (path, value)
    for path, value in leaves(_PLAN)
    if value is not None and not _FREE.fullmatch(name_of(path))
]


def test_the_sample_holds() -> None:
    """The plan worked out by hand passes: figures from two sources agree."""
    assert verify_plan(_PLAN, _BOOK, _MILL) == ()


@settings(max_examples=200)
@given(
    leaf=st.sampled_from(_LEAVES),
    size=st.integers(1, 400),
    down=st.booleans(),
)
def test_any_changed_figure_is_found(leaf: tuple[Path, object], size: int, down: bool) -> None:
    """No figure of a plan can be changed without a finding."""
    path, value = leaf
    changed = with_leaf(_PLAN, path, another(path, value, size, down=down))
    assert verify_plan(changed, _BOOK, _MILL), name_of(path)


_NONSENSE: dict[type, list[object]] = {
    int: [0, -1, -(10**9), 10**18],
    float: [0.0, -1.0, 1e300, float("inf"), float("nan")],
    Fraction: [Fraction(0), Fraction(-7, 3), Fraction(10**18), Fraction(1, 10**15)],
    str: ["", "no such thing", "4101", "K-17"],
    datetime: [
        datetime.fromisoformat(text)
        for text in ("2026-03-02T06:00+00:00", "0001-01-01T00:00", "9999-12-31T23:59:59.999999")
    ],
    date: [date.min, date.max],
    bool: [False, True],
    OrderState: list(OrderState),
    Effort: list(Effort),
    UnitSystem: list(UnitSystem),
}


@settings(max_examples=80)
@given(
    edits=st.lists(
        st.tuples(st.sampled_from(list(leaves(_PLAN))), st.integers(0, 4)), min_size=1, max_size=4
    )
)
def test_nonsense_is_a_finding_never_an_exception(
    edits: list[tuple[tuple[Path, object], int]],
) -> None:
    """Zero, negative, endless and foreign values are answered; the check ends and says what."""
    plan = _PLAN
    for (path, value), choice in edits:
        if value is not None:
            bad = _NONSENSE[type(value)]
            plan = with_leaf(plan, path, bad[choice % len(bad)])
    findings = verify_plan(plan, _BOOK, _MILL)
    assert all(str(finding) for finding in findings)


def _run_without(plan: Plan, field: str, place: int) -> Plan:
    parts = getattr(plan.runs[0], field)
    return with_leaf(plan, ("runs", 0, field), (*parts[:place], *parts[place + 1 :]))


@pytest.mark.parametrize(
    ("field", "place"),
    [(name, n) for name, many in (("blocks", 3), ("jumbos", 3), ("orders", 4)) for n in range(many)]
    + [("set_lengths", 0)],
)
def test_a_part_left_out_is_found(field: str, place: int) -> None:
    """A block, a jumbo, an order line or a set length that is gone is missed."""
    assert verify_plan(_run_without(_PLAN, field, place), _BOOK, _MILL)


_SETS = [(b, s) for b, block in enumerate(_PLAN.runs[0].blocks) for s in range(len(block.sets))]


@pytest.mark.parametrize(("block", "place"), _SETS)
@pytest.mark.parametrize("times", [0, 2])
def test_a_set_too_few_or_too_many_is_found(block: int, place: int, times: int) -> None:
    """A set that was taken out, or stands twice, is found."""
    rows = _PLAN.runs[0].blocks[block].sets
    rows = (*rows[:place], *(rows[place],) * times, *rows[place + 1 :])
    assert verify_plan(with_leaf(_PLAN, ("runs", 0, "blocks", block, "sets"), rows), _BOOK, _MILL)


@pytest.mark.parametrize("order", [(1, 0, 2), (0, 2, 1), (2, 1, 0)])
def test_blocks_in_another_order_are_found(order: tuple[int, ...]) -> None:
    """Blocks cannot change places without their numbers, metres and times."""
    blocks = tuple(_PLAN.runs[0].blocks[place] for place in order)
    assert verify_plan(with_leaf(_PLAN, ("runs", 0, "blocks"), blocks), _BOOK, _MILL)


def test_runs_without_anything_in_them_are_found() -> None:
    """Empty blocks, no blocks, no runs: each is answered."""
    run = _PLAN.runs[0]
    hollow = tuple(replace(block, sets=(), positions=(), knives_mm=()) for block in run.blocks)
    for runs in ((replace(run, blocks=hollow),), (replace(run, blocks=()),), ()):
        assert verify_plan(replace(_PLAN, runs=runs), _BOOK, _MILL)
