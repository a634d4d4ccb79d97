"""All orders and all layouts of a few small lots, tried one by one in plain code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise, permutations
from math import inf

from trimopt.mill.model import Winder
from trimopt.winding import LengthBlock, Lot
from trimopt.winding.jumbos.laying import Content

Row = tuple[Fraction, ...]
Beam = tuple[Fraction | str, ...]
Ends = tuple[Content, ...]


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


def beam_of_fewest_moves(
    before: tuple[int, ...], row: Sequence[int], spacing: int, ends: tuple[int, int]
) -> tuple[int, ...]:
    """How knives stand to cut at `row`, idle ones lifted, with fewest moves from `before`.

    Knife by knife from the front, over all places worth a look: where it stood, as far to the front
    as the one before it lets it, and the two `ends` of the beam, which take any number.
    """
    front, back = ends
    # Knives that cut so far, and the last place: moves, places.
    cells: dict[tuple[int, int], tuple[int, tuple[int, ...]]] = {(0, front): (0, ())}
    for i, stood in enumerate(before):
        found: dict[tuple[int, int], tuple[int, tuple[int, ...]]] = {}
        for (cut, last), (moves, places) in cells.items():
            free = last == front or last + spacing <= (row[cut] if cut < len(row) else back)
            ways = [(cut + 1, row[cut])] if cut < len(row) and free else []
            if i - cut < len(before) - len(row):
                ways += [(cut, front)] * (last == front and not cut)
                ways += [(cut, back)] * (cut == len(row))
                low = front + 1 if last == front else last + spacing
                high = row[cut] - spacing if cut < len(row) else back - 1
                ways += [(cut, p) for p in (stood, low) if p not in ends and low <= p <= high]
            for way in ways:
                cell = moves + (way[1] != stood), (*places, way[1])
                if way not in found or cell[0] < found[way][0]:
                    found[way] = cell
        cells = found
    return min(each for (cut, _), each in cells.items() if cut == len(row))[1]


def all_ends(blocks: Sequence[LengthBlock], usable_m: Sequence[int]) -> Iterator[Ends]:
    """Every way to end the jumbos that sets at their least lengths allow, however early."""
    sets = [b for b, block in enumerate(blocks) for _ in range(block.sets)]

    def on(first: int, jumbo: int) -> Iterator[Ends]:
        if first == len(sets):
            yield ()
            return
        for end in range(first, len(sets) + 1) if jumbo < len(usable_m) else ():
            if sum(blocks[b].min_m for b in sets[first:end]) > usable_m[jumbo]:
                return
            fits = blocks[sets[first]].min_m <= usable_m[jumbo]
            if end > first or not fits:  # a jumbo on which no set fits stays closed
                here = tuple(sorted(Counter(sets[first:end]).items()))
                yield from ((here, *rest) for rest in on(end, jumbo + 1))

    return on(0, 0)


def least_butts_m(blocks: Sequence[LengthBlock], usable_m: Sequence[int]) -> int:
    """The least that any lengths and any ends leave on all jumbos but the last."""
    sets = [block for block in blocks for _ in range(block.sets)]

    @cache
    def on(first: int, jumbo: int) -> float:
        left = []
        for end in range(first, len(sets) + 1) if jumbo < len(usable_m) else ():
            here = sets[first:end]
            if sum(block.min_m for block in here) > usable_m[jumbo]:
                break
            if end == len(sets):
                return 0
            if here or sets[first].min_m > usable_m[jumbo]:
                longest = sum(block.max_m for block in here)
                butt = max(0, usable_m[jumbo] - longest) if here else 0
                left.append(butt + on(end, jumbo + 1))
        return min(left, default=inf)

    return int(on(0, 0))
