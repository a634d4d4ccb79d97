"""The bound at any loss never exceeds what trying everything gives, and is of use."""

from __future__ import annotations

from itertools import combinations, combinations_with_replacement

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from tests.cutting.setups.small import every_pattern_of
from trimopt.budget import Budget
from trimopt.cutting import Cut, Demand, Instance, Option, Pattern, WindingClass
from trimopt.cutting.setups.pattern_floor import fewest_patterns

#: The setting, and every strip.
Across = tuple[int, tuple[int, ...]]


@st.composite
def runs(draw: st.DrawFn) -> Instance:
    """Classes that take some orders only, ups, widths in common, broke reels, orders not needed."""
    width = draw(st.integers(9, 13))
    slack = draw(st.one_of(st.none(), st.integers(0, 2)))
    told_apart = draw(st.booleans())
    classes = tuple(
        WindingClass(
            cost=1,
            width=width - draw(st.integers(0, 2)),
            max_pieces=draw(st.integers(2, 4)),
            slack=slack,
            min_broke=1 if slack is not None else 0,
            setting=at if told_apart else 0,
            max_broke=draw(st.sampled_from((None, 3, 5))) if slack is not None else None,
        )
        for at in range(draw(st.integers(1, 2)))
    )
    demands, options = [], []
    for i in range(draw(st.integers(1, 4))):
        low = draw(st.integers(0, 5)) and 1
        demands.append(Demand(low=low, high=1, surplus_worth=1))
        across = draw(st.integers(3, 7))
        taken = draw(st.sets(st.integers(0, len(classes) - 1), min_size=1))
        ups = draw(st.integers(1, 2))
        options += [
            Option(demand=i, winding_class=c, width=across * k + k - 1, gain=k, worth=k)
            for c in sorted(taken)
            for k in range(1, ups + 1)
        ]
    return Instance(demands=tuple(demands), classes=classes, options=tuple(options))


def across_of(instance: Instance, pattern: Pattern) -> set[Across]:
    """Every way in which a pattern may look on the winder, broke reels of any width among it."""
    reels = [w for w, n in instance.widths_across(pattern.pieces) for _ in range(n)]
    limits = instance.classes[pattern.winding_class]
    count = limits.broke_reels(sum(reels)) or 0
    left = limits.width - sum(reels)
    most = limits.max_broke or left
    return {
        (limits.setting, tuple(sorted((*reels, *broke))))
        for broke in combinations_with_replacement(range(1, most + 1), count)
        if not count or left - (limits.slack or 0) <= sum(broke) <= left
    }


def fewest(needed: set[int], covers: list[set[int]]) -> int | None:
    """The fewest of the sets that hold all that is needed; None where they do not."""
    for size in range(len(needed) + 1):
        for chosen in combinations(covers, size):
            if needed <= set().union(*chosen):
                return size
    return None


@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(runs(), st.data())
def test_bound_holds_against_brute_force(instance: Instance, data: st.DataObject) -> None:
    """No choice of patterns, and of what lies across the winder, is smaller."""
    patterns = every_pattern_of(instance)
    needed = {i for i, demand in enumerate(instance.demands) if demand.low}
    fixed: tuple[Cut, ...] = ()
    if patterns:
        pinned = data.draw(st.lists(st.sampled_from(patterns), max_size=2, unique=True))
        fixed = tuple(Cut(pattern, 1) for pattern in pinned)
    demands_of = {p: {instance.options[k].demand for k, _ in p.pieces} for p in patterns}
    by_across: dict[Across, set[int]] = {}
    for pattern in patterns:
        for across in across_of(instance, pattern):
            by_across.setdefault(across, set()).update(demands_of[pattern])
    # the pinned patterns look like something each; the rest of what is needed comes beside it
    looks = [across_of(instance, cut.pattern) for cut in fixed]
    least = [
        len(shown) + more
        for shown in _choices(looks)
        if (
            more := fewest(
                needed - set().union(*(by_across[one] for one in shown)), list(by_across.values())
            )
        )
        is not None
    ]
    if least:
        assert fewest_patterns(instance, Budget(), fixed) <= min(least)


def _choices(looks: list[set[Across]]) -> list[set[Across]]:
    """One way to look for each pattern; the same ones are one."""
    chosen: list[set[Across]] = [set()]
    for ways in looks:
        chosen = [one | {way} for one in chosen for way in ways]
    return chosen


def _run(
    widths: tuple[int, ...], *, pieces: int = 9, classes: int = 1, told_apart: bool = False
) -> Instance:
    return Instance(
        demands=(Demand(low=4, high=4),) * len(widths),
        classes=tuple(
            WindingClass(cost=1, width=1000, max_pieces=pieces, setting=at if told_apart else 0)
            for at in range(classes)
        ),
        options=tuple(
            Option(demand=i, winding_class=i % classes, width=w, gain=1)
            for i, w in enumerate(widths)
        ),
    )


@pytest.mark.parametrize(
    ("instance", "patterns"),
    [
        (_run((520, 560, 610)), 3),  # over half the deckle: a pattern each
        (_run((400, 410, 420, 430, 440)), 3),  # two abreast
        (_run((100, 110, 120, 130, 140), pieces=2), 3),  # as the stations let it
        (_run((520, 520, 520)), 1),  # orders of one width are one pattern
        (_run((520, 520), classes=2), 1),  # and so are classes
        (_run((520, 520), classes=2, told_apart=True), 2),  # but where they count
        (_run((200, 300), classes=2), 2),  # which share no set where a width is not in both
        (_run((1100, 300)), 1),  # what fits nowhere asks for nothing
    ],
)
def test_worth_of_the_bound(instance: Instance, patterns: int) -> None:
    """The bound says what can be seen."""
    assert fewest_patterns(instance, Budget()) == patterns
