"""How knife moves are counted. Small enough to be done by hand, and done again by the plan's check.

The rules
---------
1. The knives of the beam are numbered from the front side and keep their order. A layout of m
   strips takes m + 1 of them, with rising numbers; the others are idle.
2. A knife that cuts stands at its position; one that is **parked** when idle stands at an end of
   the beam, so those that cut have neighbouring numbers. One that is **lifted** when idle stays
   where it stands, so long as it keeps the least knife spacing to its neighbours; else it has to be
   moved clear, to another place between them or to an end.
3. A **move** is one knife that does not stand where it stood before, idle ones in it: ends of the
   beam are places too. What a beam costs is the number of entries in which it differs from the one
   before.
4. Where nobody says how the knives stand before the first block, the first block costs nothing:
   its idle knives stand at the ends, divided as suits what follows.

The count of a running order is the least over all ways to number the knives that cut, found by a
dynamic program over the whole order (parked), or block by block and then improved (lifted: an
upper figure, attained by the beams that are returned). The simple count, positions that no knife
holds, is never above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm

from trimopt.errors import PlanError
from trimopt.mill.model import Winder

Number = int | Fraction
Beam = tuple[Number, ...]
Beam_mm = tuple[Fraction | None, ...]

FRONT = -(2**62)  # at the front end of the beam, out of the way
BACK = 2**62


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """How the knives stand at a block, what that takes, and which of those that cut are moved."""

    beam_mm: Beam_mm
    moves: int
    moved: tuple[bool, ...]


def beams_from(
    starts: Sequence[Beam],
    rows: Sequence[Sequence[Fraction]],
    beams_mm: Sequence[Beam_mm],
    winder: Winder,
) -> tuple[Step, ...]:
    """How the knives stand at each block of a running order, from where they stand before it.

    Parameters
    ----------
    starts
        The ways in which they may stand, one at the least.
    rows
        The positions, mm, at which each block cuts.
    beams_mm
        How they would stand had they begun elsewhere: kept where nothing takes fewer moves. Empty:
        nobody says.
    """
    spacing = winder.min_knife_spacing_mm
    standing = [starting_beams(beam, winder)[0] if beam else () for beam in beams_mm]
    # Whole numbers of a common step: fractions would take five times as long.
    places = (place for row in (*starts, *rows, *standing, (spacing,)) for place in row)
    step = Fraction(1, lcm(*(place.denominator for place in places)))

    def in_steps(row: Sequence[Number]) -> tuple[int, ...]:
        return tuple(int(p if p in {FRONT, BACK} else p / step) for p in row)

    starts, cuts = [in_steps(beam) for beam in starts], [in_steps(row) for row in rows]
    kept: tuple[Beam, ...] = tuple(in_steps(beam) for beam in standing)
    if winder.idle_knives == "parked":
        anew = park_beams(cuts, winder.knives, starts)
        kept = kept if all(kept) else anew
    else:
        anew = clear_beams(cuts, winder.knives, int(spacing / step), starts)
        kept = _between(starts, cuts, kept, int(spacing / step))

    def whole(beams: tuple[Beam, ...]) -> tuple[Beam, ...]:
        return min(starts, key=lambda start: moves(start, beams[0])), *beams

    beams = min(whole(kept), whole(anew), key=lambda each: sum(map(moves, each, each[1:])))
    return tuple(
        Step(
            beam_mm=to_mm(after, step),
            moves=moves(before, after),
            moved=tuple(before[after.index(place)] != place for place in row),
        )
        for row, before, after in zip(cuts, beams, beams[1:], strict=False)
    )


def _between(
    starts: Sequence[Beam],
    rows: Sequence[tuple[Number, ...]],
    beams: Sequence[Beam],
    spacing: Number,
) -> tuple[Beam, ...]:
    """Beams with those that are empty set between their neighbours, idle knives lifted."""
    found: list[Beam] = []
    for row, beam, after in zip(rows, beams, (*beams[1:], ()), strict=True):
        before = found[-1:] or [min(starts, key=lambda start: moves(start, after or start))]
        found.append(beam or clear(before[0], after or None, row, spacing))
    return tuple(found)


def to_mm(beam: Beam, unit_mm: Fraction = Fraction(1)) -> Beam_mm:
    """A beam with None for the knives at the ends."""
    return tuple(None if place in {FRONT, BACK} else place * unit_mm for place in beam)


def stated_knives(winder: Winder, web_mm: Fraction) -> Beam_mm:
    """Where the mill file says that the knives stand.

    One outside the web (0 to `web_mm`) is parked, on a winder that parks them.
    """
    stated = winder.knives_at_mm
    if winder.idle_knives != "parked":
        return stated
    inside = tuple(place if place and 0 < place < web_mm else None for place in stated)
    whole = len(stated) == winder.knives
    return inside if whole else tuple(place for place in inside if place is not None)


def starting_beams(knives_at_mm: Sequence[Fraction | None], winder: Winder) -> tuple[Beam, ...]:
    """Beams that agree with where knives are said to stand: several where some are not stated."""
    known = [place for place in knives_at_mm if place is not None]
    if len(knives_at_mm) > winder.knives or sorted(set(known)) != known:
        raise PlanError(
            f"knives at {', '.join(f'{float(k):g}' for k in known)} mm: give each of the "
            f"{winder.knives} knives once, from the front side, no two at the same place"
        )
    if len(knives_at_mm) == winder.knives and known:
        front = next(i for i, place in enumerate(knives_at_mm) if place is not None)
        return (between_ends(known, front, winder.knives),)
    spare = winder.knives - len(known)
    return tuple(between_ends(known, front, winder.knives) for front in range(spare + 1))


def between_ends(row: Sequence[Number], front: int, knives: int) -> Beam:
    return (*(FRONT,) * front, *row, *(BACK,) * (knives - front - len(row)))


def moves(before: Beam, after: Beam) -> int:
    """Knives that do not stand where they stood."""
    return sum(a != b for a, b in zip(before, after, strict=True))


def park_beams(
    rows: Sequence[tuple[Number, ...]], knives: int, starts: Sequence[Beam] = ()
) -> tuple[Beam, ...]:
    """Beams for a running order, idle knives parked: the fewest moves in all, exactly.

    `rows` are the positions at which each block cuts, in any one unit.
    """
    # Parked knives that cut have neighbouring numbers, so a beam is said by how many stand in front
    # of them: a shortest path over these few, block by block, is exact.
    cost: dict[Beam, int] = dict.fromkeys(starts, 0)
    back: list[dict[Beam, Beam | None]] = []
    for row in rows:
        found: dict[Beam, int] = {}
        via: dict[Beam, Beam | None] = {}
        for beam in park_options(row, knives):
            if not cost:
                found[beam], via[beam] = 0, None
                continue
            best, before = min(
                ((c + moves(b, beam), b) for b, c in cost.items()), key=lambda item: item[0]
            )
            found[beam], via[beam] = best, before
        cost = found
        back.append(via)
    last = min(cost, key=lambda b: cost[b]) if rows else None
    path = []
    for via in reversed(back):
        assert last is not None
        path.append(last)
        last = via[last]
    return tuple(reversed(path))


@lru_cache(maxsize=4_096)  # a run is wound again and again while it is planned
def clear(before: Beam, after: Beam | None, row: tuple[Number, ...], spacing: Number) -> Beam:
    """How the knives stand to cut at `row`, idle ones lifted, with fewest moves.

    Moves from `before` and, where given, to `after` are counted. An idle knife stands where it
    stood, where it will stand, as far to the front as its neighbours let it, or at an end: any
    other place can be moved to one of these, knife by knife from the front, at no more moves.

    Knives are taken from the front. A cell of the dynamic program is (knives that cut so far, where
    the last knife stands); each keeps its least cost.
    """
    spare = len(before) - len(row)
    cells: dict[tuple[int, Number], int] = {(0, FRONT): 0}
    back: list[dict[tuple[int, Number], tuple[int, Number]]] = []
    for i, stood in enumerate(before):
        found: dict[tuple[int, Number], int] = {}
        via: dict[tuple[int, Number], tuple[int, Number]] = {}
        wanted = (stood,) if after is None else (stood, after[i])
        for cell, cost in cells.items():
            cut, last = cell
            places: list[tuple[int, Number]] = []
            if cut < len(row) and (last == FRONT or last + spacing <= row[cut]):
                places.append((cut + 1, row[cut]))
            if i - cut < spare:  # fewer idle before this knife than there are in all
                places += [(cut, p) for p in _idle(cut, last, wanted, row, spacing)]
            for place in places:
                new = cost + sum(place[1] != w for w in wanted)
                if place not in found or new < found[place]:
                    found[place], via[place] = new, cell
        cells = found
        back.append(via)
    # All idle knives can stand at the ends, so there is a cell in which all of the row is cut.
    cell = min((c for c in cells if c[0] == len(row)), key=lambda c: cells[c])
    beam = []
    for via in reversed(back):
        beam.append(cell[1])
        cell = via[cell]
    return tuple(reversed(beam))


def _idle(
    cut: int, last: Number, wanted: tuple[Number, ...], row: Sequence[Number], spacing: Number
) -> list[Number]:
    """Places for an idle knife behind one at `last`, with `cut` knives that cut before it."""
    ends = []
    if last == FRONT and cut == 0:
        ends.append(FRONT)
    if cut == len(row):
        ends.append(BACK)
        if last == BACK:
            return [BACK]
    lowest = None if last == FRONT else last + spacing
    highest = row[cut] - spacing if cut < len(row) else None
    places = [] if lowest is None else [lowest]
    places += [place for place in wanted if place not in {FRONT, BACK}]
    return ends + [
        place
        for place in dict.fromkeys(places)
        if (lowest is None or place >= lowest) and (highest is None or place <= highest)
    ]


def clear_beams(
    rows: Sequence[tuple[Number, ...]], knives: int, spacing: Number, starts: Sequence[Beam] = ()
) -> tuple[Beam, ...]:
    """Beams for a running order, idle knives lifted: block by block, then improved.

    `rows` are the positions at which each block cuts, in any one unit.
    """
    if not rows:
        return ()
    openings = starts or tuple(park_options(rows[0], knives))
    best: tuple[int, tuple[Beam, ...]] | None = None
    for opening in openings:
        beams = [opening]
        for row in rows:
            beams.append(clear(beams[-1], None, row, spacing))
        better = improved_beams(beams, rows, spacing, free_start=not starts)
        total = sum(map(moves, better, better[1:]))
        if best is None or total < best[0]:
            best = total, better[1:]
    assert best is not None
    return best[1]


def park_options(row: Sequence[Number], knives: int) -> list[Beam]:
    """All ways to cut at `row` with the idle knives at the ends."""
    return [between_ends(row, front, knives) for front in range(knives - len(row) + 1)]


def improved_beams(
    beams: Sequence[Beam], rows: Sequence[tuple[Number, ...]], spacing: Number, *, free_start: bool
) -> tuple[Beam, ...]:
    """Beams with each block set again between its neighbours while that saves moves.

    `beams` begins with the opening, which a free start lets the first block stand at.
    """
    best = tuple(beams)
    total = sum(map(moves, best, best[1:]))
    while True:
        now = list(best)
        for t in range(2 if free_start else 1, len(now)):
            after = now[t + 1] if t + 1 < len(now) else None
            now[t] = clear(now[t - 1], after, rows[t - 1], spacing)
        new = sum(map(moves, now, now[1:]))
        if new >= total:
            return best
        best, total = tuple(now), new
