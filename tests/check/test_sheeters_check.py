"""The check of the sheeters' side, one change at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.check import verify_plan
from trimopt.mill.model import Mill, Sheeter
from trimopt.plan.model import Plan
from trimopt.plan.sheeter_load import Load, LoadReel


def _said(plan: Plan, mill: Mill | None = None) -> str:
    return "\n".join(map(str, verify_plan(plan, sample_book(), mill or sample_mill())))


def _with(place: int, **changes: object) -> Plan:
    plan = sample_plan()
    loads = list(plan.loads)
    load: Load = replace(loads[place], **changes)  # type: ignore[arg-type]  # fields of a load
    loads[place] = load
    return replace(plan, loads=tuple(loads))


def test_a_reel_in_no_load_and_one_in_two() -> None:
    """Every sheeter reel is unwound once."""
    moved = (LoadReel(set_number=10, position=1), LoadReel(set_number=9, position=3))
    said = _said(_with(1, reels=moved))
    assert "set 10, place 3: a sheeter reel is in one load: the plan says 0; found 1" in said
    assert "set 9, place 3: a sheeter reel is in one load: the plan says 2; found 1" in said


def test_loads_that_are_gone_are_missed() -> None:
    """A plan with times has its loads; a run that somebody edited has neither."""
    plan = replace(sample_plan(), loads=())
    assert "set 7, place 3: a sheeter reel is in one load" in _said(plan)
    edited = replace(plan, runs=(replace(plan.runs[0], start=None), plan.runs[1]))
    assert "a sheeter reel is in one load" not in _said(edited)


def test_a_reel_that_is_none_of_the_sheeters() -> None:
    """A customer's reel, and one that nobody winds, are no reels of a load."""
    other = (LoadReel(set_number=1, position=1), LoadReel(set_number=99, position=1))
    said = _said(_with(1, reels=other))
    assert "Sheeter A, load 2: sheeter reel, set 1, place 1" in said
    assert "Sheeter A, load 2: sheeter reel, set 99, place 1" in said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"unwinds": 3}, "load 1: reels unwound together: the plan says 4; found 1 to 3"),
        ({"unwinds": 6}, "stands of Sheeter A empty"),
        ({"speed_m_min": 100.0}, "load 1: minutes from start to finish: the plan says 24.6"),
        ({"load_change_min": 20.0}, "load 2: minutes from start to finish"),
        ({"max_cuts_per_min": 100.0}, "load 1: minutes from start to finish"),
        ({"name": "Sheeter B"}, "load 1: sheeter: the plan says Sheeter A; found not in the mill"),
    ],
)
def test_each_rule_of_the_sheeter_is_kept(changes: dict[str, object], said: str) -> None:
    """A sheeter of other stands, speed or minutes makes the same plan fail, and says where."""
    mill = sample_mill()
    sheeter: Sheeter = replace(mill.sheeters[0], **changes)  # type: ignore[arg-type]  # its own
    found = _said(sample_plan(), replace(mill, sheeters=(sheeter,)))
    assert said in found


def test_lengths_that_do_not_match() -> None:
    """Reels of one load run out together, to the metres that the mill file lets them differ."""
    plan = sample_plan()
    run = plan.runs[0]
    block = run.blocks[1]
    longer = replace(block.sets[1], length_m=3160)
    blocks = (run.blocks[0], replace(block, sets=(block.sets[0], longer)), run.blocks[2])
    plan = replace(plan, runs=(replace(run, blocks=blocks), plan.runs[1]))
    words = "Sheeter A, load 1: reels unwound together differ in length, m: the plan says 10"
    assert f"{words}; found at most 0" in _said(plan)
    mill = sample_mill()
    loose = replace(mill.sheeters[0], max_length_difference_m=10)
    assert words not in _said(plan, replace(mill, sheeters=(loose,)))


def test_a_load_before_its_reels_are_wound() -> None:
    """A sheeter cannot cut what the winder has not made."""
    load = sample_plan().loads[0]
    early = timedelta(minutes=30)
    said = _said(_with(0, start=load.start - early, finish=load.finish - early))
    assert "load 1: starts after its reels are wound: the plan says 2026-03-02 07:07" in said


def test_two_loads_at_once() -> None:
    """A sheeter cuts one load at a time."""
    load = sample_plan().loads[1]
    early = timedelta(minutes=10)
    said = _said(_with(1, start=load.start - early, finish=load.finish - early))
    assert "load 2: starts after the load before it: the plan says 2026-03-02 07:52" in said
    assert "order 4103: finished: the plan says 2026-03-02 08:26; found 2026-03-02 08:16" in said


def test_reels_left_over_that_would_fill_a_load() -> None:
    """Stands stay empty only where no matched reels are left to fill them."""
    plan = sample_plan()
    full, rest = plan.loads
    first = replace(full, reels=full.reels[:3], sheets=3 * 6114)
    second = replace(rest, reels=(full.reels[3], *rest.reels), sheets=3 * 6114)
    said = _said(replace(plan, loads=(first, second)))
    assert "reels of 1460 mm that leave stands of Sheeter A empty: the plan says 6" in said
