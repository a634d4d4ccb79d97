"""Small runs, and the answer by trying everything."""

from __future__ import annotations

from itertools import combinations, product

from hypothesis import strategies as st

from tests.cutting.one_class import exactly, one_class
from trimopt.cutting import (
    Cut,
    Demand,
    Instance,
    Option,
    Pattern,
    WindingClass,
    faults_of,
    loss_of,
    pattern_faults,
    patterns_in,
)

#: Sets of one pattern that brute force tries.
MAX_SETS = 5


def every_pattern_of(instance: Instance) -> list[Pattern]:
    """All allowed patterns, each tried against the rules."""
    found = []
    for c in range(len(instance.classes)):
        options = instance.options_of(c)
        room = instance.classes[c].width
        ranges = [range(room // instance.options[k].width + 1) for k in options]
        for counts in product(*ranges):
            pieces = tuple((k, n) for k, n in zip(options, counts, strict=True) if n)
            pattern = Pattern(c, pieces)
            if pieces and not pattern_faults(instance, pattern):
                found.append(pattern)
    return found


def min_by_count(instance: Instance, most: int) -> dict[int, int]:
    """Least loss for at most 1, 2, … patterns.

    A pattern may be wound for several orders or in several classes: `most` counts these rows.
    """
    patterns = every_pattern_of(instance)
    best: dict[int, int] = {}
    for size in range(1, most + 1):
        for chosen in combinations(patterns, size):
            for sets in product(range(1, MAX_SETS + 1), repeat=size):
                cuts = tuple(Cut(p, n) for p, n in zip(chosen, sets, strict=True))
                if not faults_of(instance, cuts):
                    loss = loss_of(instance, cuts)
                    count = patterns_in(instance, cuts)
                    best[count] = min(best.get(count, loss), loss)
    for count in range(2, most + 1):
        if count - 1 in best:
            best[count] = min(best.get(count, best[count - 1]), best[count - 1])
    return best


@st.composite
def textbook_runs(draw: st.DrawFn) -> Instance:
    """Cost 1; exact or at least."""
    exact = draw(st.booleans())
    widths = draw(st.lists(st.integers(4, 9), min_size=2, max_size=3, unique=True))
    demands = tuple(
        exactly(low) if exact else Demand(low=low, high=None)
        for low in draw(st.lists(st.integers(1, 5), min_size=len(widths), max_size=len(widths)))
    )
    return one_class(
        widths, demands, WindingClass(cost=1, width=draw(st.integers(10, 16)), max_pieces=9)
    )


@st.composite
def mill_runs(draw: st.DrawFn) -> Instance:
    """One or two classes, ranges, prices, stations, no-edge pieces, pairs apart."""
    lengths = draw(st.lists(st.integers(2, 4), min_size=1, max_size=2, unique=True))
    told_apart = draw(st.booleans())
    width = draw(st.integers(10, 14))
    slack = draw(st.one_of(st.none(), st.integers(2, 5)))
    classes = tuple(
        WindingClass(
            cost=(width + 1) * length,
            width=width,
            max_pieces=draw(st.integers(2, 4)),
            slack=slack,
            min_broke=1 if slack is not None else 0,
            setting=at if told_apart else 0,
        )
        for at, length in enumerate(lengths)
    )
    count = draw(st.integers(1, 3))
    demands, options = [], []
    for i in range(count):
        piece = draw(st.integers(4, 8))
        low = draw(st.integers(1, 4))
        high = low + draw(st.integers(0, 1))
        price = draw(st.sampled_from((0, 100)))
        demands.append(
            Demand(
                low=low,
                high=high,
                ordered=draw(st.integers(low, high)) * piece * lengths[0],
                under_price=price,
                over_price=price,
                surplus_worth=piece * max(lengths),
            )
        )
        no_edge = draw(st.integers(0, 9)) == 0
        options += [
            Option(
                demand=i,
                winding_class=c,
                width=piece,
                gain=1,
                worth=piece * length,
                no_edge=no_edge,
            )
            for c, length in enumerate(lengths)
        ]
    apart = ((0, 1),) if count > 1 and draw(st.integers(0, 3)) == 0 else ()
    return Instance(demands=tuple(demands), classes=classes, options=tuple(options), apart=apart)
