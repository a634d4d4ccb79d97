"""Plans of few patterns, quickly made: what the bench of knife moves arranges.

For a number of sets, from large to small, the fullest pattern that the demand left over can repeat
so often is taken when its trim is within an allowance; the allowance grows where none is.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

CutPlan = tuple[tuple[int, tuple[int, ...]], ...]  # (sets, widths), most sets first


@dataclass(frozen=True, slots=True)
class MillLike:
    """A made-up run: usable width and (width, reels) in units."""

    name: str
    width: int
    demand: tuple[tuple[int, int], ...]


def _fullest(width: int, most: list[tuple[int, int]], strips: int) -> list[int]:
    """The widest pattern of at most `most` of each width; by subset sums in one integer."""
    mask = (1 << (width + 1)) - 1
    reach = [1]
    pieces = [w for w, count in most for _ in range(min(count, width // w))]
    for w in pieces:
        reach.append((reach[-1] | reach[-1] << w) & mask)
    total = reach[-1].bit_length() - 1
    chosen = []
    for i in range(len(pieces) - 1, -1, -1):
        if not reach[i] >> total & 1:
            chosen.append(pieces[i])
            total -= pieces[i]
    return chosen if len(chosen) <= strips else sorted(chosen, reverse=True)[:strips]


def few_patterns(
    width: int, demand: tuple[tuple[int, int], ...], *, strips: int = 14, seed: int = 0, tries: int
) -> tuple[CutPlan, ...]:
    """The plans of fewest patterns, among those of fewest sets, of several tries: equal plans.

    Parameters
    ----------
    width
        Usable width, units.
    demand
        (width, reels), met exactly.
    strips
        Most reels in a set.
    tries
        How often to build.
    """
    draw = Random(seed)
    plans = [_build(width, demand, strips, draw) for _ in range(tries)]
    keys = [(sum(sets for sets, _ in plan), len(plan)) for plan in plans]
    least = min(keys)
    return tuple(dict.fromkeys(plan for plan, key in zip(plans, keys, strict=True) if key == least))


def _build(width: int, demand: tuple[tuple[int, int], ...], strips: int, draw: Random) -> CutPlan:
    left = dict(demand)
    allowed = draw.uniform(0.0, 0.02)
    plan = []
    while any(left.values()):
        most = max(left.values())
        slack = allowed
        found: tuple[int, list[int]] | None = None
        while found is None:
            for sets in range(most, 0, -1):
                counts = [(w, n // sets) for w, n in left.items() if n >= sets]
                draw.shuffle(counts)
                counts.sort(key=lambda c: -c[0] * draw.uniform(0.7, 1.3))
                if sum(w * n for w, n in counts) < width * (1 - slack):
                    continue
                pattern = _fullest(width, counts, strips)
                if sum(pattern) >= width * (1 - slack):
                    found = sets, pattern
                    break
            slack = slack * 1.5 + 0.002
        sets, pattern = found
        for w in pattern:
            left[w] -= sets
        plan.append((sets, tuple(sorted(pattern, reverse=True))))
    return tuple(sorted(plan, key=lambda cut: (-cut[0], cut[1])))


def mill_like(widths: int, seed: int) -> MillLike:
    """Reels of a board machine: 5 mm steps, 400 to 1,600 mm, many of a few and a few of many.

    The unit is 5 mm; the usable width 4,200 to 6,600 mm.
    """
    draw = Random(f"{widths}-{seed}")
    width = draw.randrange(840, 1320)
    chosen = sorted(draw.sample(range(80, 320), widths), reverse=True)
    demand = tuple((w, max(2, round(draw.lognormvariate(3.0, 0.7)))) for w in chosen)
    return MillLike(name=f"mill_{widths}_{seed}", width=width, demand=demand)
