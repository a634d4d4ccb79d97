"""What was run, in kilograms worked out by hand.

The plan is the sample's kraft run: 120 g/m², web 3600 mm, deckle 3560 mm. Sets 1 and 2 hold three
reels of 1186.5 mm (3559.5 mm), 6200 m each, from jumbo K-17 of 12,800 m with 50 + 150 m lost at its
ends; set 3 holds six reels of 593 mm (3558 mm).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.ledger.plans import small_plan
from trimopt.ledger.actual_balance import SetRun, reckon
from trimopt.ledger.match_rows import Entry
from trimopt.ledger.set_shares import shares_of

_BLANK = Entry(
    place=1, number=1, done=True, length_wound_m=None, reels_rejected=None, reason="",
    jumbo_width_mm=None, jumbo_length_m=None, edge_front_mm=None, edge_back_mm=None,
    minutes_stopped=None, remark="",
)  # fmt: skip


def _kg(width_mm: float, length_m: float) -> float:
    return width_mm * length_m * 120 / 1e6


def _run(*entries: Entry) -> dict[int, tuple[SetRun, dict[str, float]]]:
    plan = small_plan("a-1")
    return {
        each.number: (each, dict(each.parts_kg)) for each in reckon(plan, shares_of(plan), entries)
    }


def test_a_shorter_set_delivers_less() -> None:
    """6,000 m instead of 6,200 m: reels, trims and web wound follow the metres."""
    _, parts = _run(replace(_BLANK, length_wound_m=6000.0))[1]
    assert parts["wound_kg"] == pytest.approx(_kg(3600, 6000))
    assert parts["delivered_kg"] == pytest.approx(_kg(3559.5, 6000))
    assert parts["edge_trim_kg"] == pytest.approx(_kg(40, 6000))
    assert parts["pattern_trim_kg"] == pytest.approx(_kg(0.5, 6000))


def test_a_wider_jumbo_has_more_edge_trim() -> None:
    """The knives stay: 3,620 mm of web leave 60 mm beyond the deckle."""
    _, parts = _run(replace(_BLANK, jumbo_width_mm=3620.0))[1]
    assert parts["edge_trim_kg"] == pytest.approx(_kg(60, 6200))
    assert parts["pattern_trim_kg"] == pytest.approx(_kg(0.5, 6200))


def test_a_jumbo_narrower_than_the_deckle() -> None:
    """At 3,559.75 mm there is no edge trim left, and half of the pattern trim."""
    _, parts = _run(replace(_BLANK, jumbo_width_mm=3559.75))[1]
    assert parts["edge_trim_kg"] == pytest.approx(0)
    assert parts["pattern_trim_kg"] == pytest.approx(_kg(0.25, 6200))
    assert parts["deckle_kg"] == pytest.approx(_kg(3559.75, 6200))


def test_edge_trims_give_the_width() -> None:
    """25 and 30 mm of edge beside 3,559.5 mm of reels are a web of 3,614.5 mm."""
    _, parts = _run(replace(_BLANK, edge_front_mm=25.0, edge_back_mm=30.0))[1]
    assert parts["wound_kg"] == pytest.approx(_kg(3614.5, 6200))
    _, parts = _run(replace(_BLANK, edge_front_mm=25.0))[1]
    assert parts["wound_kg"] == pytest.approx(_kg(3600, 6200))


def test_rejected_reels_are_culled() -> None:
    """One of three reels is a third of the set's reels, and is not delivered."""
    _, parts = _run(replace(_BLANK, reels_rejected=1, reason="starred"))[1]
    assert parts["culled_kg"] == pytest.approx(_kg(1186.5, 6200))
    assert parts["delivered_kg"] == pytest.approx(_kg(2 * 1186.5, 6200))


def test_a_set_broken_off_is_lost() -> None:
    """A set not done, with 900 m wound, delivers nothing; all its reels are culled."""
    _, parts = _run(replace(_BLANK, done=False, length_wound_m=900.0))[1]
    assert parts["culled_kg"] == pytest.approx(_kg(3559.5, 900))
    assert parts["delivered_kg"] == 0


def test_a_set_not_run_uses_nothing() -> None:
    """A set that was neither done nor begun has no mass at all, and no set-up."""
    run, parts = _run(replace(_BLANK, number=3, done=False))[3]
    assert set(parts.values()) == {0.0}
    assert (run.length_m, run.set_ups, run.knife_moves) == (0.0, 0, 0)


def test_the_butt_follows_from_the_jumbo() -> None:
    """Of 13,000 m as measured, 12,400 m wound and 200 m at the ends leave a butt of 400 m."""
    sets = _run(
        replace(_BLANK, jumbo_length_m=13000.0),
        replace(_BLANK, number=2),
    )
    butts = sum(sets[n][1]["butts_kg"] for n in (1, 2))
    ends = sum(sets[n][1]["start_end_kg"] for n in (1, 2))
    assert butts == pytest.approx(_kg(3600, 400))
    assert ends == pytest.approx(_kg(3600, 200))


def test_metres_not_wound_stay_on_the_jumbo() -> None:
    """200 m less in a set are 200 m more of butt, where nothing else was measured."""
    sets = _run(replace(_BLANK, length_wound_m=6000.0), replace(_BLANK, number=2))
    assert sum(sets[n][1]["butts_kg"] for n in (1, 2)) == pytest.approx(_kg(3600, 400))


def test_the_butt_of_a_jumbo_not_wholly_run_is_as_planned() -> None:
    """While a set of the jumbo is open, the other keeps its planned share of the 200 m."""
    _, parts = _run(replace(_BLANK, jumbo_length_m=13000.0))[1]
    assert parts["butts_kg"] == pytest.approx(_kg(3600, 100))


def test_a_remainder_carried_forward_is_not_used() -> None:
    """Jumbo J04 goes forward: what set 3 leaves on it is no butt, at any length."""
    _, parts = _run(replace(_BLANK, number=3, length_wound_m=6000.0))[3]
    assert parts["butts_kg"] == 0
    assert parts["start_end_kg"] == pytest.approx(_kg(3600, 100))


def test_the_set_up_goes_to_the_first_set_that_was_run() -> None:
    """Set 3 is the second pattern: its set-up and six knife moves count when it is run.

    The first pattern's five moves, from where the run before left the knives, are no set-up.
    """
    run, _ = _run(replace(_BLANK, number=3))[3]
    assert (run.set_ups, run.knife_moves) == (1, 6)
    run, _ = _run(replace(_BLANK, number=2))[2]
    assert (run.set_ups, run.knife_moves) == (0, 5)
