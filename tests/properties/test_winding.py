"""What must hold of every arrangement, on lots drawn at random."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from hypothesis import assume, example, given, settings, strategies as st

from tests.winding.brute import fewest_kept, layouts
from tests.winding.knife_counts import lay_out
from tests.winding.winders import winder
from trimopt.budget import Budget
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Winder
from trimopt.winding import Arrangement, Lot, MovePrices, Strip, arrange

_STEP = Fraction(10)


def _lot(number: int, widths: tuple[int, ...], inside: int) -> Lot:
    """Widths in steps of 10 mm; the last `inside` strips may not lie at an edge."""
    return Lot(
        number=number,
        strips=tuple(
            Strip(key=f"{w}", width_mm=w * _STEP, no_edge=i >= len(widths) - inside)
            for i, w in enumerate(widths)
        ),
        sets=1,
        length_m=5000,
        core_mm=76.0,
    )


_small = st.lists(
    st.lists(st.integers(min_value=1, max_value=6), min_size=2, max_size=3),
    min_size=2,
    max_size=3,
)
_large = st.lists(
    st.tuples(
        st.lists(st.integers(min_value=20, max_value=90), min_size=3, max_size=8),
        st.integers(min_value=0, max_value=1),
    ),
    min_size=1,
    max_size=6,
)


def _machine(knives: int, idle: str, **changes: object) -> Winder:
    return winder(
        knives=knives,
        idle_knives=idle,
        min_edge_trim_mm=Fraction(10),
        min_knife_spacing_mm=Fraction(10),
        **changes,
    )


def _recounted(found: Arrangement, machine: Winder) -> int:
    """Moves, from the beams alone."""
    kept = 0
    for block in found.blocks:
        standing = [place for place in block.beam_mm if place is not None]
        assert len(block.beam_mm) == machine.knives
        assert all(b - a >= machine.min_knife_spacing_mm for a, b in pairwise(standing))
        cuts = set(block.layout.knives_mm)
        assert tuple(place for place in standing if place in cuts) == block.layout.knives_mm
        first = block.beam_mm.index(standing[0])
        assert list(block.beam_mm[first : first + len(standing)]) == standing
        if machine.idle_knives == "parked":
            assert len(standing) == len(cuts)
    for before, after in pairwise(found.blocks):
        ends = [
            tuple(
                place if place is not None else ("front" if not any(beam[:i]) else "back")
                for i, place in enumerate(beam)
            )
            for beam in (before.beam_mm, after.beam_mm)
        ]
        moves = sum(a != b for a, b in zip(*ends, strict=True))
        assert moves == after.moves
        assert sum(after.moved) <= moves
        kept += moves
    return kept


@settings(max_examples=40)
@given(rows=_small, slack=st.integers(min_value=0, max_value=2))
def test_small_cases_equal_brute_force(rows: list[list[int]], slack: int) -> None:
    """With three lots of three reels nothing is better than what is found."""
    lots = tuple(_lot(n, tuple(widths), 0) for n, widths in enumerate(rows))
    web = (max(map(sum, rows)) + slack) * _STEP + 2 * _STEP
    machine = _machine(max(map(len, rows)) + 1, "parked")
    choices = [list(layouts(lot, machine, web, _STEP)) for lot in lots]
    kept = arrange(lots, machine, web, budget=Budget(max_work=400))
    assert kept.moves == fewest_kept(choices, machine.knives)
    assert kept.moves_bound <= kept.moves


@settings(max_examples=25)
@given(rows=_small, spare=st.integers(min_value=0, max_value=1))
@example(rows=[[1, 4], [1, 4, 6], [3, 6, 6]], spare=0)  # one of four knives is parked at either end
def test_a_known_start_equals_brute_force(rows: list[list[int]], spare: int) -> None:
    """Where the knives' places are known, the first block's moves are in the count."""
    lots = tuple(_lot(n, tuple(widths), 0) for n, widths in enumerate(rows[:2]))
    web = (max(map(sum, rows)) + 1) * _STEP + 2 * _STEP
    machine = _machine(max(map(len, rows)) + 1 + spare, "parked")
    start = (Fraction(10), Fraction(30), Fraction(40))
    choices = [list(layouts(lot, machine, web, _STEP)) for lot in lots]
    found = arrange(lots, machine, web, budget=Budget(max_work=400), knives_at_mm=start)
    assert found.moves == fewest_kept(choices, machine.knives, start)
    assert found.moves_bound <= found.moves


@settings(max_examples=30)
@given(
    rows=_large,
    idle=st.sampled_from(["parked", "lifted"]),
    spare=st.integers(min_value=0, max_value=3),
    shift=st.booleans(),
    slack=st.integers(min_value=0, max_value=8),
)
def test_layouts_hold_and_moves_are_recounted(
    rows: list[tuple[list[int], int]], idle: str, spare: int, shift: bool, slack: int
) -> None:
    """Every layout has its lot's strips inside its limits; moves claimed are moves made."""
    lots = tuple(_lot(n, tuple(widths), inside) for n, (widths, inside) in enumerate(rows))
    web = (max(sum(widths) for widths, _ in rows) + slack) * _STEP + 2 * _STEP
    machine = _machine(max(len(widths) for widths, _ in rows) + 1 + spare, idle, web_shift=shift)
    found = arrange(lots, machine, web, budget=Budget(max_work=60))
    assert sorted(block.lot for block in found.blocks) == sorted(lot.number for lot in lots)
    for block in found.blocks:
        lot, layout = lots[block.lot], block.layout
        assert sorted(layout.strips, key=repr) == sorted(lot.strips, key=repr)
        widths = [strip.width_mm for strip in layout.strips]
        assert [b - a for a, b in pairwise(layout.knives_mm)] == widths
        assert layout.edge_front_mm == layout.knives_mm[0] >= machine.min_edge_trim_mm
        assert layout.edge_back_mm == web - layout.knives_mm[-1] >= machine.min_edge_trim_mm
        assert not layout.strips[0].no_edge
        assert not layout.strips[-1].no_edge
        if not shift:
            assert layout.edge_front_mm == layout.edge_back_mm
    assert _recounted(found, machine) == found.moves
    assert found.moves_bound <= found.moves


@settings(max_examples=60)
@given(
    widths=st.lists(st.integers(min_value=20, max_value=90), min_size=1, max_size=6),
    inside=st.integers(min_value=0, max_value=2),
    left=st.integers(min_value=0, max_value=260),
    broke=st.integers(min_value=0, max_value=3),
    position=st.sampled_from(["edge", "anywhere"]),
)
def test_edge_strips_and_broke_reels_are_within_limits(
    widths: list[int], inside: int, left: int, broke: int, position: str
) -> None:
    """What a lot leaves goes to two edge strips and its broke reels, each within its limits.

    Unless broke reels may lie anywhere, nothing lies outside them.
    """
    inside = min(inside, len(widths))
    lot = replace(_lot(1, tuple(widths), inside), broke_reels=broke)
    machine = _machine(
        12,
        "parked",
        max_edge_trim_mm=Fraction(60),
        max_reel_width_mm=Fraction(900),
        min_broke_width_mm=Fraction(30),
        broke_position=position,
    )
    web = (sum(widths) + left) * _STEP
    could = 20 + 30 * broke <= 10 * left <= 120 + 900 * broke
    could &= not inside or len(widths) - inside + broke >= 2
    try:
        layout = lay_out(lot, machine, web)
    except InfeasibleError:
        assert not could
        return
    assert could
    assert Fraction(10) <= layout.edge_front_mm <= 60
    assert Fraction(10) <= layout.edge_back_mm <= 60
    reels = [strip for strip in layout.strips if strip.broke]
    assert len(reels) == broke
    assert all(30 <= s.width_mm <= 900 for s in reels)
    if position == "edge":
        kinds = [strip.broke for strip in layout.strips]
        assert kinds[kinds.index(False) : len(kinds) - kinds[::-1].index(False)].count(True) == 0
    assert layout.edge_front_mm + sum(s.width_mm for s in layout.strips) == (
        web - layout.edge_back_mm
    )
    assert not layout.strips[0].no_edge
    assert not layout.strips[-1].no_edge


@settings(max_examples=15)
@given(rows=_large, levels=st.lists(st.integers(0, 2), min_size=6, max_size=6))
def test_precedence_is_obeyed_whatever_it_costs(
    rows: list[tuple[list[int], int]], levels: list[int]
) -> None:
    """Lots of a lower precedence all run before those of a higher one."""
    assume(len(rows) > 1)
    lots = tuple(
        replace(_lot(n, tuple(widths), 0), precedence=levels[n])
        for n, (widths, _) in enumerate(rows)
    )
    web = (max(sum(widths) for widths, _ in rows)) * _STEP + 2 * _STEP
    found = arrange(
        lots, _machine(10, "parked"), web, budget=Budget(max_work=60), prices=MovePrices()
    )
    ran = [lots[block.lot].precedence for block in found.blocks]
    assert ran == sorted(ran)
