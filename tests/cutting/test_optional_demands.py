"""Which demands join a plan: against every choice and every plan there is."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, combinations

from hypothesis import Phase, given, settings, strategies as st

from tests.cutting.brute import best_loss
from tests.cutting.one_class import one_class
from trimopt.budget import Budget
from trimopt.cutting import SCALE, Cut, Demand, Instance, Pattern, WindingClass, faults_of
from trimopt.cutting.optional_demands import Choosing, SetLimit, choose_demands
from trimopt.cutting.params import PARAMS

_WIDTH = 24
_SEARCH = replace(PARAMS, choice=replace(PARAMS.choice, max_pool=0))  # no program over the pool


def _instance(lows: list[int], spare: int, widths: list[int]) -> Instance:
    """One class; a piece is worth its width; ranges reach a little above what is wanted."""
    return one_class(
        widths,
        (
            Demand(
                low=low,
                high=low + spare,
                ordered=low * width,
                under_price=100,
                over_price=100,
                surplus_worth=width,
            )
            for low, width in zip(lows, widths, strict=True)
        ),
        WindingClass(cost=_WIDTH, width=_WIDTH, max_pieces=6),
        worth=1,
    )


def _choosing(
    instance: Instance, declined: dict[int, int], most: int | None, change: int = 0
) -> Choosing:
    """The first demand is ordered, and has sets of its own; no more than `most` sets in all."""
    fit = _WIDTH // instance.options[0].width
    return Choosing(
        instance=instance,
        declined=declined,
        kept=(Cut(Pattern(0, ((0, fit),)), -(-instance.demands[0].low // fit)),),
        charges=(_WIDTH,),
        limits=()
        if most is None
        else (SetLimit(use=(1,), sure=most, possible=most, change=change),),
    )


def _least(choosing: Choosing, most: int) -> int:
    """Least total over every choice, and every plan of so many sets."""
    totals = []
    every = range(len(choosing.declined) + 1)
    for chosen in chain.from_iterable(combinations(choosing.declined, n) for n in every):
        out = choosing.declined.keys() - set(chosen)
        instance = choosing.of(frozenset(chosen))
        only = replace(instance, options=tuple(o for o in instance.options if o.demand not in out))
        least = best_loss(only, most)
        if least is not None:
            totals.append(least + SCALE * sum(choosing.declined[i] for i in out))
    return min(totals)


@given(
    widths=st.lists(st.integers(5, 16), min_size=4, max_size=4, unique=True),
    lows=st.lists(st.integers(1, 3), min_size=4, max_size=4),
    worths=st.lists(st.integers(-10, 80), min_size=3, max_size=3),
    spare=st.integers(0, 1),
    more=st.integers(0, 4),
)
@settings(max_examples=20, phases=(Phase.explicit, Phase.generate))
def test_the_best_choice_of_all(
    widths: list[int], lows: list[int], worths: list[int], spare: int, more: int
) -> None:
    """Bound <= least total over every choice and plan = that of the choice that is found."""
    instance = _instance(lows, spare, widths)
    declined = dict(zip((1, 2, 3), worths, strict=True))
    sets = _choosing(instance, declined, None).kept[0].sets
    choosing = _choosing(instance, declined, sets + more)
    choice, others = choose_demands(choosing, budget=Budget())
    least = _least(choosing, sets + more)
    assert choice.bound is not None
    assert choice.bound <= least <= choice.total
    assert choice.total == least
    assert not faults_of(choosing.of(choice.chosen), choice.cuts)
    assert choosing.holds(choice.chosen, choice.cuts)
    assert choice.total == choosing.total(choice.chosen, choice.cuts)
    assert others.keys() <= declined.keys() - choice.chosen
    assert all(i in chosen for i, chosen in others.items())
    assert choose_demands(choosing, budget=Budget()) == (choice, others)


@given(
    widths=st.lists(st.integers(5, 16), min_size=5, max_size=5, unique=True),
    lows=st.lists(st.integers(1, 4), min_size=4, max_size=4),
    large=st.integers(40, 120),
    share=st.floats(0.02, 1.1),
    change=st.integers(0, 3),
)
@settings(max_examples=4, phases=(Phase.explicit, Phase.generate))
def test_a_demand_more_makes_no_choice_worse(
    widths: list[int], lows: list[int], large: int, share: float, change: int
) -> None:
    """A large one beside small ones, whether there is room for it or not: no less is had."""
    instance = _instance([*lows, large], 1, widths)
    declined = {i: 1000 * (instance.demands[i].ordered or 0) for i in range(1, 5)}
    kept = _choosing(instance, declined, None).kept
    spare = 1 + round(share * large * widths[4] / _WIDTH)
    whole = _choosing(instance, declined, kept[0].sets + spare, change)
    choice, _ = choose_demands(whole, budget=Budget(), params=_SEARCH)
    assert whole.holds(choice.chosen, choice.cuts)
    for some in [(1, 2, 3), (4,)]:
        fewer = replace(
            whole,
            declined={i: declined[i] for i in some},
            instance=replace(
                instance,
                options=tuple(o for o in instance.options if o.demand in (0, *some)),
                demands=tuple(
                    d if i in (0, *some) else replace(d, low=0, ordered=None)
                    for i, d in enumerate(instance.demands)
                ),
            ),
        )
        found, _ = choose_demands(fewer, budget=Budget(), params=_SEARCH)
        assert sum(declined[i] for i in choice.chosen) >= sum(declined[i] for i in found.chosen)
