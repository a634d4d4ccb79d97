"""Running order and layouts together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from fractions import Fraction

import pytest

from tests.winding.winders import winder
from trimopt.budget import Budget
from trimopt.winding import Arrangement, Lot, MovePrices, Strip, arrange
from trimopt.winding.knives.order_costs import Running

_WEB = Fraction(5600)
_PATTERNS = (
    (2000, 2000, 1500),
    (2000, 1500, 1500, 500),
    (1800, 1800, 1900),
    (1900, 1800, 1000, 800),
    (2500, 2500, 500),
    (2600, 1400, 1400),
)


def _lots(patterns: tuple[tuple[int, ...], ...] = _PATTERNS) -> tuple[Lot, ...]:
    return tuple(
        Lot(
            number=n,
            strips=tuple(Strip(key=str(w), width_mm=Fraction(w)) for w in widths),
            sets=n + 1,
            length_m=6000,
            core_mm=76.0,
        )
        for n, widths in enumerate(patterns)
    )


def _order(found: Arrangement) -> list[int]:
    return [block.lot for block in found.blocks]


@pytest.mark.parametrize("idle", ["parked", "lifted"])
def test_same_seed_and_work_give_the_same_arrangement(idle: str) -> None:
    """Nothing but the clock makes two runs differ."""
    machine = winder(knives=7, idle_knives=idle)
    one, two = (
        arrange(_lots(), machine, _WEB, budget=Budget(max_work=150), seed=4) for _ in range(2)
    )
    assert one == two


@pytest.mark.parametrize("idle", ["parked", "lifted"])
def test_an_interrupt_gives_a_whole_arrangement(
    idle: str, asking: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C once the search has begun ends it, and all lots are there."""
    spend, spent = Budget.spend, []

    def interrupted(budget: Budget, work: float) -> None:
        spent.append(work)
        if len(spent) == 20:
            asking()
        spend(budget, work)

    monkeypatch.setattr(Budget, "spend", interrupted)
    lots = _lots(tuple((2000 - 7 * k, 1800 + 5 * k, 1500 - 3 * k) for k in range(12)))
    budget = Budget()
    found = arrange(lots, winder(idle_knives=idle), _WEB, budget=budget)
    assert sorted(_order(found)) == list(range(12))
    assert len(spent) <= 22
    assert budget.stopped


def test_no_time_at_all_still_gives_a_whole_arrangement() -> None:
    """The clock may have run out before the search begins."""
    budget = Budget.lasting(0)
    found = arrange(_lots(), winder(), _WEB, budget=budget)
    assert sorted(_order(found)) == list(range(len(_PATTERNS)))
    assert budget.stopped


@pytest.mark.parametrize("idle", ["parked", "lifted"])
def test_without_a_bound_the_order_given_is_one_of_those_begun_from(idle: str) -> None:
    """It may be the only one that precedence allows; no moves are said to be the fewest."""
    lots = tuple(replace(lot, precedence=place) for place, lot in enumerate(_lots()))
    kept = winder(idle_knives=idle)
    found = arrange(lots, kept, _WEB, budget=Budget(max_work=100), bounded=False)
    assert _order(found) == list(range(len(_PATTERNS)))
    assert found.moves_bound == 0
    assert found.moves >= arrange(lots, kept, _WEB, budget=Budget(max_work=100)).moves_bound


def test_no_lots_is_an_empty_arrangement() -> None:
    """A run whose orders were all made before has nothing to arrange."""
    assert arrange((), winder(), _WEB).blocks == ()


def test_equal_patterns_are_no_set_up_and_no_move() -> None:
    """Two lots of the same widths in different lengths run one after the other as they stand."""
    lots = _lots((*_PATTERNS[:3], _PATTERNS[0]))
    lots = (*lots[:3], replace(lots[3], length_m=4000))
    found = arrange(lots, winder(knives=5), _WEB, budget=Budget(max_work=300))
    order = _order(found)
    later = max(order.index(0), order.index(3))
    assert abs(order.index(0) - order.index(3)) == 1
    assert found.blocks[later].moves == 0
    assert not found.blocks[later].set_up
    assert found.set_ups == 2


def test_a_high_price_runs_urgent_lots_first() -> None:
    """Priority comes before due date; at ten moves a pair nothing stands against them."""
    lots = _lots()
    lots = (
        *lots[:3],
        replace(lots[3], due=datetime(2025, 3, 2)),  # noqa: DTZ001  a mill's dates carry no zone
        replace(lots[4], due=datetime(2025, 3, 1)),  # noqa: DTZ001
        replace(lots[5], priority=1),
    )
    found = arrange(
        lots, winder(), _WEB, budget=Budget(max_work=300), prices=MovePrices(urgency=Fraction(10))
    )
    assert _order(found)[:3] == [5, 4, 3]
    assert Running(lots, MovePrices()).less_urgent_before(_order(found)) == 0


def test_lots_of_one_core_stay_together_among_equal_moves() -> None:
    """Where no order moves a knife, two cores change once."""
    same = _lots((_PATTERNS[0],) * 4)
    lots = tuple(replace(lot, core_mm=76.0 if lot.number % 2 else 152.0) for lot in same)
    found = arrange(lots, winder(), _WEB, budget=Budget(max_work=200))
    assert found.moves == 0
    assert Running(lots, MovePrices()).class_changes(_order(found)) == 1


def test_orders_break_ties_among_equal_moves() -> None:
    """Of orders with equally few moves, that is taken which leaves fewest orders open."""
    lots = tuple(
        replace(lot, orders=frozenset({"A" if lot.number in {0, 3} else f"B{lot.number}"}))
        for lot in _lots((_PATTERNS[0],) * 4)
    )
    found = arrange(lots, winder(), _WEB, budget=Budget(max_work=200))
    assert (found.moves, Running(lots, MovePrices())._open(_order(found))[0]) == (0, 1)


def test_the_first_block_starts_from_the_knives_as_they_stand() -> None:
    """Knives that stand as the second lot needs them bring it to the front, without a move."""
    lots = _lots(((1000, 2000, 2500), (2600, 1400, 1500)))
    start = tuple(Fraction(place) for place in (30, 2630, 4030, 5530))
    found = arrange(lots, winder(knives=4), _WEB, budget=Budget(max_work=200), knives_at_mm=start)
    assert _order(found) == [1, 0]
    assert found.blocks[0].moves == 0
    assert not found.blocks[0].set_up


def test_one_strip_and_fourteen_in_one_run() -> None:
    """The widest range of strips a winder has goes through, and the beam always has all knives."""
    lots = _lots(((5500,), tuple(range(330, 470, 10)), (2750, 2750)))
    found = arrange(
        lots,
        winder(knives=16, max_reel_width_mm=Fraction(6000)),
        _WEB,
        budget=Budget(max_work=60),
    )
    assert {len(block.beam_mm) for block in found.blocks} == {16}
