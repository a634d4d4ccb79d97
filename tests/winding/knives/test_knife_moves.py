"""Knife moves counted as the winder has them."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations
from random import Random

import pytest

from tests.winding.knife_counts import moves_between, moves_simple, set_beams
from tests.winding.winders import winder
from trimopt.errors import PlanError
from trimopt.winding import Layout
from trimopt.winding.knives.idle_knives import beams_from, stand
from trimopt.winding.knives.knife_moves import FRONT, park_options


def _mm(*places: int) -> tuple[Fraction, ...]:
    return tuple(Fraction(place) for place in places)


def _layout(*places: int) -> Layout:
    row = _mm(*places)
    return Layout(strips=(), edge_front_mm=row[0], edge_back_mm=row[0], knives_mm=row)


@pytest.mark.parametrize("idle", ["parked", "lifted"])
def test_order_of_the_knives_makes_three_moves_of_two(idle: str) -> None:
    """Two positions are new, but the knife at 3000 would have to pass others to stay there."""
    before = _mm(0, 1000, 2000, 3000, 4000)
    after = _layout(0, 3000, 3300, 3600, 4000)
    moves, beam = moves_between(before, after, winder(knives=5, idle_knives=idle))
    assert (moves, moves_simple(before, after)) == (3, 2)
    assert beam == after.knives_mm


def test_a_parked_knife_moves_to_cut_and_back() -> None:
    """One reel fewer parks a knife, which is a move; one more takes it from the end again."""
    machine = winder(knives=4, idle_knives="parked")
    beams = set_beams([_layout(0, 500, 900), _layout(0, 900), _layout(0, 500, 900)], machine)
    assert [sum(a != b for a, b in zip(*pair, strict=True)) for pair in zip(beams, beams[1:])] == [  # noqa: B905, RUF007
        2,
        2,
    ]


def test_a_lifted_knife_is_at_hand_when_its_place_comes_again() -> None:
    """Lifted at 500 during the second block, it cuts there in the third without a move."""
    machine = winder(knives=3, idle_knives="lifted")
    beams = set_beams([_layout(0, 500, 900), _layout(0, 900), _layout(0, 500, 900)], machine)
    assert set(beams) == {_mm(0, 500, 900)}


def test_a_lifted_knife_in_the_way_is_moved_clear() -> None:
    """A knife that cuts 20 mm beside an idle one needs the place: the idle one is used for it."""
    machine = winder(knives=4, idle_knives="lifted", min_knife_spacing_mm=Fraction(100))
    moves, beam = moves_between(_mm(0, 480, 900, 1500), _layout(0, 500, 1500), machine)
    assert moves == 1
    assert beam == _mm(0, 500, 900, 1500)


def test_knives_that_cannot_stand_so_are_refused() -> None:
    """Too many knives, or two at one place, are named."""
    machine = winder(knives=3)
    with pytest.raises(PlanError, match="no two at the same place"):
        moves_between(_mm(0, 500, 500), _layout(0, 900), machine)


def test_knives_that_stay_equal_brute_force() -> None:
    """From every beam of four knives to every row, no beam on a fine grid takes fewer moves."""
    spacing, places = 2, range(0, 13, 2)
    for before in combinations(places, 4):
        for row in combinations(range(1, 12, 3), 2):
            found = stand(before, row, spacing, {})
            moves = sum(a != b for a, b in zip(before, found, strict=True))
            beams = [
                beam
                for beam in combinations(range(-6, 20), 4)
                if set(row) <= set(beam) and all(b - a >= spacing for a, b in zip(beam, beam[1:]))  # noqa: B905, RUF007
            ]
            assert moves == min(sum(a != b for a, b in zip(before, b, strict=True)) for b in beams)
            break
    assert stand((FRONT, 5), (5,), spacing, {}) == (FRONT, 5)


@pytest.mark.parametrize("idle", ["parked", "lifted"])
def test_a_block_of_which_nobody_says_how_its_knives_stand_takes_no_more_moves(idle: str) -> None:
    """One beam of a running order is forgotten: set between the others, it costs no more."""
    machine = winder(knives=9, idle_knives=idle, min_knife_spacing_mm=Fraction(100))
    for seed in range(60):
        draw = Random(seed)
        rows = [
            tuple(sorted(map(Fraction, draw.sample(range(0, 4000, 200), draw.randint(2, 7)))))
            for _ in range(draw.randint(2, 7))
        ]
        starts = park_options(rows[0], machine.knives)
        start = draw.choice(starts)
        whole = [step.beam_mm for step in beams_from((start,), rows, [()] * len(rows), machine)]
        was = sum(step.moves for step in beams_from((start,), rows, whole, machine))
        forgotten = draw.randrange(len(rows))
        known = [() if at == forgotten else beam for at, beam in enumerate(whole)]
        assert sum(step.moves for step in beams_from((start,), rows, known, machine)) <= was, seed
