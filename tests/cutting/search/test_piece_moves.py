"""Plans by whole pieces and numbers of sets, patterns left open until they are known."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np
import pytest
from hypothesis import assume, given, settings, strategies as st

from tests.bench.mill_like import KINDS, mill_like
from tests.cutting.brute import all_patterns
from tests.cutting.one_class import one_class
from trimopt.budget import Budget
from trimopt.cutting import (
    SCALE,
    Cut,
    Demand,
    Instance,
    Option,
    Pattern,
    Progress,
    WindingClass,
    loss_of,
    pattern_faults,
    solve,
)
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.params import PARAMS, PieceMoveParams
from trimopt.cutting.search.piece_moves.change_pairs import Settling, Ways, meet
from trimopt.cutting.search.piece_moves.class_fit import ClassFit, packed
from trimopt.cutting.search.piece_moves.order_changes import Changes, OrderMoves
from trimopt.cutting.search.search_state import Search, paper_cost

_ALL = PieceMoveParams(ways=10_000)


def _one_class(widths: list[int], width: int, max_pieces: int, slack: int | None) -> Instance:
    """A demand for each width, in one class; with `slack`, a broke reel takes a station."""
    return one_class(
        widths,
        (Demand(low=0, high=20, surplus_worth=w) for w in widths),
        WindingClass(
            cost=width,
            width=width,
            max_pieces=max_pieces,
            slack=slack,
            max_broke=None if slack is None else 5,
        ),
        worth=1,
    )


def _fewest(instance: Instance, pieces: tuple[int, ...]) -> int:
    """Fewest sets that hold at least the pieces, by trying every pattern."""
    patterns = [dict(pattern.pieces) for pattern in all_patterns(instance)]
    level, sets = {pieces}, 0
    while not any(all(n <= 0 for n in left) for left in level):
        level = {
            tuple(max(0, n - held.get(k, 0)) for k, n in enumerate(left))
            for left in level
            for held in patterns
        }
        sets += 1
    return sets


@st.composite
def _classes(draw: st.DrawFn) -> tuple[Instance, tuple[int, ...]]:
    width = draw(st.integers(10, 20))
    widths = draw(st.lists(st.integers(3, 9), min_size=1, max_size=3, unique=True))
    slack = draw(st.sampled_from([None, 2]))
    pieces = tuple(draw(st.integers(0, 4)) for _ in widths)
    instance = _one_class(widths, width, draw(st.integers(2, 4)), slack)
    held = {k for pattern in all_patterns(instance) for k, _ in pattern.pieces}
    assume(len(held) == len(widths))
    return instance, pieces


@settings(max_examples=80)
@given(_classes())
def test_what_can_be_cut_fits_and_what_does_not_fit_is_shown(
    case: tuple[Instance, tuple[int, ...]],
) -> None:
    """It says no only where there is no plan, and prices that no pattern exceeds then show it."""
    instance, pieces = case
    pricer = Pricer(instance, class_offers(instance)[0])
    search = Search(instance=instance, budget=Budget())
    fit = ClassFit(pricer, [], np.zeros(len(pieces)), search)
    fewest = _fewest(instance, pieces)
    made = np.array(pieces)
    for sets in range(fewest + 2):
        before = len(fit.prices)
        if fit.fits(made, sets):
            assert len(fit.prices) == before
            continue
        assert sets < fewest
        assert (fit.prices @ made).max() > sets
    for pattern in all_patterns(instance):
        held = np.array([dict(pattern.pieces).get(k, 0) for k in range(len(pieces))])
        assert (fit.prices @ held).max() <= 1 + 1e-9


@settings(max_examples=60)
@given(_classes())
def test_pieces_are_packed_just_as_asked(case: tuple[Instance, tuple[int, ...]]) -> None:
    """Patterns that the rules allow, making just the pieces in so many sets, or none."""
    instance, pieces = case
    search = Search(instance=instance, budget=Budget())
    offer = class_offers(instance)[0]
    fewest = _fewest(instance, pieces)
    for sets in (fewest - 1, fewest, fewest + 1):
        plan = packed(search, offer, np.array(pieces), sets)
        if plan is None:
            continue
        assert fewest <= sum(plan.values()) <= max(0, sets)
        made = [0] * len(pieces)
        for pattern, n in plan.items():
            assert not pattern_faults(instance, pattern)
            for k, count in pattern.pieces:
                made[k] += count * n
        assert tuple(made) == pieces


def test_what_fills_sets_to_the_brim_is_packed() -> None:
    """Three sets of 100 without a millimetre left: 50 + 50, 37 + 63, 41 + 59."""
    instance = _one_class([63, 59, 50, 41, 37], 100, 4, slack=1)
    search = Search(instance=instance, budget=Budget())
    plan = packed(search, class_offers(instance)[0], np.array([1, 1, 2, 1, 1]), 3)
    assert plan is not None
    assert sum(plan.values()) == 3


_PRICES = np.array([[[0.31, 0.29], [0.13, 0.15]], [[0.0, 0.0], [0.27, 0.27]]])


def _prices(c: int, order: int) -> tuple[np.ndarray, np.ndarray]:
    """Options of an order in one of two classes, and two rows of their prices."""
    options = np.flatnonzero(_PRICES[c].any(axis=1))
    return options, _PRICES[c, options] * (1 + 0.1 * order)


def _lists(seed: int) -> tuple[Ways, Ways]:
    """Two orders a list; those of the right one are made in the first class and the second."""
    rng = np.random.default_rng(seed)
    costs = np.array([1.0, 0.6])
    lists = []
    for first in (0, 2):
        changes = []
        for order in (first, first + 1):
            pieces = rng.integers(-2, 3, size=(4, 2))
            needs = pieces @ _PRICES[:, :, 0].T * (1 + 0.1 * order)
            loss = 0.1 * rng.normal(size=4)
            changes.append(Changes(order=order, pieces=pieces, loss=loss, needs=needs))
        lists.append(Ways.of(changes, costs, _ALL, rng))
    return lists[0], lists[1]


@settings(max_examples=60)
@given(st.integers(0, 1 << 30), st.integers(0, 3))
def test_ways_meet_where_a_class_comes_out_nearly_whole(seed: int, now: int) -> None:
    """What is found is what trying all pairs finds, with the sets that they need at all prices."""
    left, right = _lists(seed)
    costs, need = np.array([1.0, 0.6]), np.array([now - 0.4, now - 0.45])
    settling = Settling(
        place=0,
        sets=now,
        need=need,
        prices=partial(_prices, 0),
        costs=costs,
    )
    rng = np.random.default_rng(0)
    both = meet(left, right, settling, _ALL, rng)
    found = {tuple(picks.tolist()): way for way, picks in enumerate(both.picks)}
    assert len(found) == len(both.loss)
    for a, b in product(range(len(left.loss)), range(len(right.loss))):
        need_more = float(left.needs[a, 0] + right.needs[b, 0])
        sets = int(np.ceil(need_more - 0.4 - 1e-6))
        waste = sets - (need_more - 0.4)
        score = left.loss[a] + right.loss[b] + 0.6 * (left.needs[a, 1] + right.needs[b, 1]) + sets
        rows = left.at(partial(_prices, 0))[a] + right.at(partial(_prices, 0))[b] + need
        fits = bool((rows <= now + sets + 1e-6).all()) and now + sets >= 0
        key = (*left.picks[a].tolist(), *right.picks[b].tolist())
        if abs(waste - 0.24) > 1e-4 and abs(score - 0.3) > 1e-6:
            assert (key in found) == (fits and waste <= 0.24 and score < 0.3)
        if key in found:
            way = found[key]
            assert both.sets[way].tolist() == [sets, 0]
            assert both.needs[way] == pytest.approx(left.needs[a] + right.needs[b])
            assert both.loss[way] == pytest.approx(left.loss[a] + right.loss[b])
    for way in range(len(left.loss)):
        loss = sum(
            float(change.loss[pick])
            for change, pick in zip(left.changes, left.picks[way], strict=True)
        )
        assert loss == pytest.approx(float(left.loss[way]))


@settings(max_examples=60)
@given(st.data())
def test_changes_lose_what_the_loss_says(data: st.DataObject) -> None:
    """The change of an order's loss is that of the plan's, the cost of sets left out."""
    whole = st.integers(1, 9)
    demand = Demand(
        low=12,
        high=data.draw(st.integers(12, 40)),
        ordered=data.draw(st.none() | st.integers(5, 60)),
        under_price=data.draw(st.integers(0, 200)),
        over_price=data.draw(st.integers(0, 200)),
        surplus_worth=9,
    )
    instance = Instance(
        demands=(demand,),
        classes=(WindingClass(cost=0, width=100, max_pieces=100),),
        options=tuple(
            Option(demand=0, winding_class=0, width=1, gain=data.draw(whole), worth=w)
            for w in (4, 7, 9)
        ),
    )
    now = np.array([data.draw(st.integers(4, 8)) for _ in range(3)])
    needs = np.array([[0.3], [0.5], [0.7]])
    order = OrderMoves(
        instance,
        0,
        [0, 1, 2],
        wanted=np.array([1.5, 0.0, 2.25]),
        prices=np.array([4.0, 7.0, 9.0]) * SCALE,
        needs=needs,
        unit=1.0,
        params=replace(PARAMS, piece_moves=PieceMoveParams(changes=30)),
    )

    def loss(pieces: np.ndarray) -> int:
        held = tuple((k, int(n)) for k, n in enumerate(pieces) if n)
        return loss_of(instance, (Cut(Pattern(0, held), 1),))

    changes = order.changes(now, (0,), np.random.default_rng(0))
    assert len(np.unique(changes.pieces, axis=0)) == len(changes.pieces)
    assert not changes.pieces.any(axis=1).all()
    assert changes.needs == pytest.approx(changes.pieces @ needs)
    for change, more in zip(changes.pieces, changes.loss, strict=True):
        after = now + change
        assert (after >= 0).all()
        made = sum(int(n) * option.gain for n, option in zip(after, instance.options, strict=True))
        assert np.isinf(more) == (made < demand.low)
        if np.isfinite(more):
            assert more == pytest.approx(loss(after) - loss(now))


def test_whole_pieces_bring_a_run_close_to_its_bound() -> None:
    """A run on which starts and exchanges end too far above the bound; twice the same."""
    kind = next(kind for kind in KINDS if kind.name == "edge_strips")
    instance = mill_like(kind, 5)
    steps: list[tuple[str, int]] = []

    def note(progress: Progress) -> None:
        if progress.loss is not None:
            steps.append((progress.step, progress.loss))

    outcome = solve(instance, budget=Budget(), observer=note)
    assert outcome.loss is not None
    enough = outcome.bound + 5e-4 * paper_cost(instance, outcome.cuts)
    first = [step for step, _ in steps].index("whole pieces and sets")
    assert steps[first - 1][1] > enough
    assert outcome.loss <= enough
    assert solve(instance, budget=Budget()).cuts == outcome.cuts
