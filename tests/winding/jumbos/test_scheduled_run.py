"""A run wound: butts against knife moves, never dearer than the order with fewest moves."""

from __future__ import annotations

from fractions import Fraction

from tests.properties.test_jumbos import check_metres, jumbo
from tests.winding.winders import winder
from trimopt.budget import Budget
from trimopt.winding.jumbos.last_metres import balance
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.jumbos.order_slack import LengthProblem
from trimopt.winding.jumbos.scheduled_run import ScheduledRun, schedule_run
from trimopt.winding.knives.arrangement import arrange
from trimopt.winding.model import JumboSupply, Lot, Strip

WINDER = winder(max_web_mm=Fraction(2000), knives=8)
WEB_MM = Fraction(2000)
WIDTHS = ((900, 900), (700, 600, 500), (1000, 800), (600, 600, 600), (500, 500, 900), (1100, 700))


def lots(sets: tuple[int, ...], lengths: tuple[int, ...]) -> tuple[Lot, ...]:
    """A lot for each pattern of `WIDTHS`."""
    return tuple(
        Lot(
            number=at,
            strips=tuple(Strip(key=str(w), width_mm=Fraction(w)) for w in widths),
            sets=many,
            length_m=length,
            core_mm=76.0,
        )
        for at, (widths, many, length) in enumerate(zip(WIDTHS, sets, lengths, strict=True))
    )


def rigid(asked: tuple[Lot, ...], spread: int = 0) -> LengthProblem:
    """Blocks whose lengths may move by `spread` metres, on jumbos of 80 km."""
    return LengthProblem(
        blocks=tuple(
            LengthBlock(
                sets=lot.sets,
                length_m=lot.length_m,
                min_m=lot.length_m - spread,
                max_m=lot.length_m + spread,
            )
            for lot in asked
        ),
        supply=JumboSupply(nominal=jumbo("N", 80_000)),
    )


LOTS = lots((2, 1, 3, 1, 2, 2), (30_000, 20_000, 25_000, 40_000, 35_000, 15_000))
FIRST = arrange(LOTS, WINDER, WEB_MM, budget=Budget(max_work=300))


def wound(
    asked: tuple[Lot, ...],
    move_m: float = 1.0,
    spread: int = 0,
    budget: Budget | None = None,
) -> ScheduledRun:
    """The run, beginning with the order of fewest moves."""
    problem = rigid(asked, spread)
    first = arrange(asked, WINDER, WEB_MM, budget=Budget(max_work=300))
    return schedule_run(
        asked,
        problem,
        WINDER,
        WEB_MM,
        first=first,
        balanced=balance(problem.in_order([block.lot for block in first.blocks])),
        move_m=move_m,
        tries=300,
        work=300,
        budget=budget,
    )


def first_cost_m(move_m: float) -> float:
    """What the order of fewest moves costs."""
    in_order = rigid(LOTS).in_order([block.lot for block in FIRST.blocks])
    return balance(in_order).laying.lost_m + move_m * FIRST.moves


def test_butts_come_before_moves_where_moves_only_break_ties() -> None:
    """At a metre a move, less is lost than in the order of fewest moves, and nothing overlaps."""
    run = wound(LOTS)
    assert first_cost_m(1.0) > run.cost_m
    check_metres(run.balanced.laying, [])
    assert run.cost_m == run.balanced.laying.lost_m + run.arrangement.moves


def test_jumbos_are_filled_though_time_is_over() -> None:
    """That takes next to none: butts are most of what a plan in a hurry would lose."""
    late = Budget(ends_at=0.0)
    run = wound(LOTS, budget=late)
    assert run.cost_m <= wound(LOTS).cost_m + 5 < first_cost_m(1.0)  # a few moves more
    assert late.stopped


def test_dear_moves_keep_the_order_of_fewest_moves() -> None:
    """At a jumbo a move, the knives decide."""
    run = wound(LOTS, 80_000.0)
    assert run.arrangement.moves <= FIRST.moves
    assert run.cost_m <= first_cost_m(80_000.0)


def test_blocks_and_lots_agree_in_number_order_and_length() -> None:
    """Each set is of the block that stands at its place, as long as its reels allow."""
    run = wound(LOTS, spread=700)
    by_place = [LOTS[at] for at in run.order]
    assert [block.lot for block in run.arrangement.blocks] == [lot.number for lot in by_place]
    for at, lot in enumerate(by_place):
        laid = [s.length_m for s in run.balanced.laying.sets if s.block == at]
        assert len(laid) == lot.sets
        assert all(abs(m - lot.length_m) <= 700 for m in laid)


def test_moving_lengths_lose_no_more_than_fixed_ones() -> None:
    """With 700 m either way, the run loses no more than with none."""
    assert wound(LOTS, spread=700).cost_m <= wound(LOTS).cost_m


def test_precedence_is_kept() -> None:
    """A lot that must run first does, whatever butt it leaves."""
    held = tuple(
        Lot(
            number=lot.number,
            strips=lot.strips,
            sets=lot.sets,
            length_m=lot.length_m,
            core_mm=lot.core_mm,
            precedence=0 if lot.number == 3 else 1,
        )
        for lot in LOTS
    )
    run = wound(held)
    assert run.order[0] == 3
    assert run.arrangement.blocks[0].lot == 3


def test_the_same_seed_gives_the_same_run() -> None:
    """Repeatable where no clock stops it."""
    assert wound(LOTS) == wound(LOTS)
