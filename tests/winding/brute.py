"""All orders and all layouts of a few small lots, tried one by one in plain code."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise, permutations

from trimopt.mill.model import Winder
from trimopt.winding import Lot

Row = tuple[Fraction, ...]
Beam = tuple[Fraction | str, ...]


def layouts(lot: Lot, winder: Winder, web_mm: Fraction, step_mm: Fraction) -> Iterator[Row]:
    """Knife positions of every layout of a lot without broke reels, edges in steps."""
    used = sum((strip.width_mm for strip in lot.strips), Fraction(0))
    greatest = winder.max_edge_trim_mm
    for strips in set(permutations((s.width_mm, s.no_edge) for s in lot.strips)):
        if strips[0][1] or strips[-1][1]:
            continue
        front = winder.min_edge_trim_mm
        while web_mm - used - front >= winder.min_edge_trim_mm:
            back = web_mm - used - front
            if greatest is None or max(front, back) <= greatest:
                row = [front]
                for width, _ in strips:
                    row.append(row[-1] + width)
                yield tuple(row)
            front += step_mm


def fewest_kept(choices: Sequence[Sequence[Row]], knives: int, start: Row = ()) -> int:
    """Fewest moves with the order of the knives kept, idle ones parked at the ends."""

    def beams(row: Row) -> Iterator[Beam]:
        for front in range(knives - len(row) + 1):
            yield (*("front",) * front, *row, *("back",) * (knives - len(row) - front))

    def step(before: Beam, after: Beam) -> int:
        return sum(a != b for a, b in zip(before, after, strict=True))

    best = []
    for order in permutations([[b for row in rows for b in beams(row)] for rows in choices]):
        if start:
            cost = {beam: min(step(at, beam) for at in beams(start)) for beam in order[0]}
        else:
            cost = dict.fromkeys(order[0], 0)
        for _, after in pairwise(order):
            cost = {beam: min(c + step(b, beam) for b, c in cost.items()) for beam in after}
        best.append(min(cost.values()))
    return min(best)
