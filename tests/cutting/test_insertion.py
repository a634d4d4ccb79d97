"""A new demand joins a plan: what stays, what it costs, and the bound on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings, strategies as st

from tests.cutting.brute import best_loss
from tests.cutting.one_class import one_class
from trimopt.budget import Budget
from trimopt.cutting import Cut, Demand, Instance, Pattern, WindingClass, faults_of, loss_of, solve
from trimopt.cutting.insertion import Insertion, insert_demand
from trimopt.cutting.lp.class_offers import class_offers


def _instance(lows: tuple[int, ...], widths: tuple[int, ...], width: int = 100) -> Instance:
    """One class; a piece is worth its width."""
    return one_class(
        widths,
        (Demand(low=low, high=low, surplus_worth=w) for low, w in zip(lows, widths, strict=True)),
        WindingClass(cost=width, width=width, max_pieces=6),
        worth=1,
    )


def _joining(instance: Instance, kept: tuple[Cut, ...], set_up: float = 1.0) -> Insertion:
    return Insertion(
        instance=instance,
        demand=len(instance.demands) - 1,
        kept=kept,
        charges=tuple(limits.cost for limits in instance.classes),
        set_up=set_up,
    )


def test_a_piece_that_drops_into_trim_changes_no_set() -> None:
    """Ten sets of 45 + 45 leave 10 each: ten pieces of 10 ride in the same ten sets."""
    instance = _instance((20, 10), (45, 10))
    joined = insert_demand(_joining(instance, (Cut(Pattern(0, ((0, 2),)), 10),)), budget=Budget())
    assert joined.cuts == (Cut(Pattern(0, ((0, 2), (1, 1))), 10),)
    assert joined.bound == 0
    assert loss_of(instance, joined.cuts) == 0


def test_sets_that_gain_nothing_stay() -> None:
    """Full sets of other widths are left alone; the new piece has sets of its own."""
    instance = _instance((8, 9, 4), (50, 33, 25))
    full, nearly = Pattern(0, ((0, 2),)), Pattern(0, ((1, 3),))
    joined = insert_demand(_joining(instance, (Cut(full, 4), Cut(nearly, 3))), budget=Budget())
    assert set(joined.cuts) == {Cut(full, 4), Cut(nearly, 3), Cut(Pattern(0, ((2, 4),)), 1)}


def test_a_dear_set_up_is_saved() -> None:
    """Four of 40 could have two sets of their own; beside the four of 60 no pattern comes to it."""
    instance = _instance((4, 4), (60, 40))
    joined = insert_demand(
        _joining(instance, (Cut(Pattern(0, ((0, 1),)), 4),), set_up=1e6), budget=Budget()
    )
    assert joined.cuts == (Cut(Pattern(0, ((0, 1), (1, 1))), 4),)


@given(
    widths=st.lists(st.integers(3, 12), min_size=2, max_size=3, unique=True),
    lows=st.lists(st.integers(1, 3), min_size=3, max_size=3),
)
@settings(max_examples=40)
def test_the_bound_holds_and_the_plan_is_whole(widths: list[int], lows: list[int]) -> None:
    """Against every plan there is: bound <= least loss <= loss of the plan that was found."""
    instance = _instance(tuple(lows[: len(widths)]), tuple(widths), width=24)
    before = Instance(
        demands=instance.demands[:-1], classes=instance.classes, options=instance.options[:-1]
    )
    kept = solve(before, budget=Budget()).cuts
    joined = insert_demand(_joining(instance, kept), budget=Budget())
    least = best_loss(instance, sum(lows) + 1)
    assert least is not None
    assert joined.bound is not None
    assert not faults_of(instance, joined.cuts)
    assert joined.bound <= least <= loss_of(instance, joined.cuts)
    again = insert_demand(_joining(instance, kept), budget=Budget())
    assert again == joined


def test_nothing_that_no_pattern_holds() -> None:
    """Wider than the class: no cuts, and nothing is claimed."""
    instance = _instance((4, 2), (45, 101))
    joined = insert_demand(_joining(instance, (Cut(Pattern(0, ((0, 2),)), 2),)), budget=Budget())
    assert joined.cuts == ()
    assert joined.bound is None


@given(
    slack=st.none() | st.integers(0, 9),
    least=st.integers(1, 8),
    greatest=st.none() | st.integers(3, 12),
    stations=st.integers(1, 4),
)
def test_broke_reels_of_all_widths_at_once(
    slack: int | None, least: int, greatest: int | None, stations: int
) -> None:
    """The offer's array says what the class says of each used width."""
    limits = WindingClass(
        cost=40,
        width=40,
        max_pieces=stations,
        slack=slack,
        min_broke=least,
        max_broke=greatest,
    )
    instance = replace(_instance((4,), (1,)), classes=(limits,))
    (offer,) = class_offers(instance)
    expected = [limits.broke_reels(used) for used in range(41)]
    assert np.array_equal(offer.broke, [-1 if n is None or n > stations else n for n in expected])
