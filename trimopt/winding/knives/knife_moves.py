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
dynamic program over the whole order (parked), or block by block with a look at the next ones
(lifted, `trimopt.winding.knives.idle_knives`: an upper figure, attained by the beams that are
returned). The simple count, positions that no knife holds, is never above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trimopt.errors import PlanError
from trimopt.mill.model import Winder

Number = int | Fraction
Beam = tuple[Number, ...]
Beam_mm = tuple[Fraction | None, ...]

FRONT = -(2**62)  # at the front end of the beam, out of the way
BACK = 2**62


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


def left_by(beam_mm: Beam_mm, row_mm: Sequence[Fraction], winder: Winder) -> Beam_mm:
    """Where knives stand behind a layout: all; where it had another number of them, those that cut.

    None where there are fewer than that by now.
    """
    if len(beam_mm) == winder.knives:
        return beam_mm
    return tuple(row_mm) if len(row_mm) <= winder.knives else ()


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


def total_moves(beams: Sequence[Beam]) -> int:
    """Moves from each beam to the next."""
    return sum(map(moves, beams, beams[1:]))


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


def park_options(row: Sequence[Number], knives: int) -> list[Beam]:
    """All ways to cut at `row` with the idle knives at the ends."""
    return [between_ends(row, front, knives) for front in range(knives - len(row) + 1)]
