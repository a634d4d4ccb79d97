"""Where knives go that are lifted when idle: as many as can be stay where they stand.

A knife stays where it cuts at its place, or idles at least the knife spacing away from every knife
that cuts. Between two knives that stay lie so many places to cut at, and so many knives: those left
over must find room there, at the least spacing, so knives that stay form a chain, and the longest
is found knife by knife. In front of the first one and behind the last there is always room, at the
end of the beam.

The chain is that of a longest path over knives from front to back: knife j may follow knife i in it
where `_fit` says that those between find their places. Knives are few, so all pairs are looked at.
A property test holds it against a program over all places.

A knife that has to leave its place goes where one of the next blocks needs it, if it can: that is a
move less later.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm

from trimopt.mill.model import Winder
from trimopt.winding.knives.knife_moves import (
    BACK,
    FRONT,
    Beam,
    Beam_mm,
    Number,
    moves,
    park_beams,
    park_options,
    starting_beams,
    to_mm,
    total_moves,
)

_MOVE = 10_000  # worth of a knife that stays; worth of its place breaks ties
_LOOKAHEAD = 3  # blocks whose places are wanted


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
        anew = lifted_beams(cuts, winder.knives, int(spacing / step), starts)
        kept = _between(starts, cuts, kept, int(spacing / step))

    def whole(beams: tuple[Beam, ...]) -> tuple[Beam, ...]:
        return min(starts, key=lambda start: moves(start, beams[0])), *beams

    beams = min(whole(kept), whole(anew), key=total_moves)
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
        wanted = [place for place in after if place not in {FRONT, BACK}]
        found.append(beam or stand(before[0], row, spacing, dict.fromkeys(wanted, 1), [wanted]))
    return tuple(found)


def lifted_beams(
    rows: Sequence[tuple[Number, ...]], knives: int, spacing: Number, starts: Sequence[Beam] = ()
) -> tuple[Beam, ...]:
    """Beams for a running order, idle knives lifted, from the start that takes fewest moves.

    `rows` are the positions at which each block cuts, in any one unit.
    """
    if not rows:
        return ()
    openings = starts or park_options(rows[0], knives)
    ways = ((opening, *in_turn(opening, rows, spacing)) for opening in openings)
    return min(ways, key=total_moves)[1:]


def in_turn(before: Beam, rows: Sequence[Sequence[Number]], spacing: Number) -> Iterator[Beam]:
    """The beam of each block of a running order, from where the knives stand before it.

    Of equally few moves, those that leave the places which are needed soonest.
    """
    needed: dict[Number, list[int]] = {}
    for t in range(len(rows) - 1, -1, -1):
        for knife in rows[t]:
            needed.setdefault(knife, []).append(t)
    for t, row in enumerate(rows):
        worth: dict[Number, int] = {}
        for place in before:
            coming = needed.get(place)
            if coming and coming[-1] > t:
                worth[place] = len(rows) - coming[-1]
        before = stand(before, row, spacing, worth, rows[t + 1 : t + 1 + _LOOKAHEAD])
        yield before
        for knife in row:
            needed[knife].pop()


@dataclass(slots=True)
class _Stay:
    """A knife that may stay: its number, its place, and places to cut at before and up to it."""

    knife: int
    place: Number
    low: int
    high: int
    value: int = -1  # of the best chain that ends here
    behind: _Stay | None = None  # the one before it in that chain


def stand(
    before: Beam,
    row: Sequence[Number],
    spacing: Number,
    worth: Mapping[Number, int],
    following: Sequence[Sequence[Number]] = (),
) -> Beam:
    """How the knives stand to cut at `row`, with fewest moves from `before`.

    Parameters
    ----------
    before
        Where they stand, in any one unit.
    row
        Places to cut at, rising; no more than knives.
    worth
        Of holding a place, below 10,000 in all; among equally few moves, the most worth is kept.
    following
        The rows of the next blocks.
    """
    knives, cuts = len(before), len(row)
    front = bisect_left(before, FRONT + 1)
    back = knives - bisect_left(before, BACK)
    # How many idle knives find room in front of each place to cut at, behind the first: between two
    # knives d apart stand d // spacing - 1 more.
    room = [0]
    for a, b in pairwise(row):
        room.append(room[-1] + int((b - a) // spacing) - 1)
    chain: list[_Stay] = []
    best = _MOVE * min(front + back, knives - cuts)
    last: _Stay | None = None
    for knife in range(front, knives - back):
        stay = _may_stay(knife, before[knife], row, spacing)
        if stay is None:
            continue
        own = _MOVE + worth.get(stay.place, 0)
        # As the first of a chain: the knives before it cut, or stand at the front end of the beam,
        # where those that stood there stay.
        if knife >= stay.low:
            stay.value = own + _MOVE * min(front, knife - stay.low)
        for other in chain:
            if own + other.value > stay.value and _fit(other, stay, row, room, spacing):
                stay.value, stay.behind = own + other.value, other
        if stay.value >= 0:
            chain.append(stay)
            # As the last of a chain: those left over behind it stand at the back end.
            left = knives - knife - 1 - (cuts - stay.high)
            total = stay.value + _MOVE * min(back, left)
            if left >= 0 and total > best:
                best, last = total, stay
    stays = [_Stay(knives, BACK, cuts, cuts)]  # the ends of the beam are walls at both ends
    while last is not None:
        stays.append(last)
        last = last.behind
    stays.append(_Stay(-1, FRONT, 0, 0))
    wanted = [place for later in following for place in later]
    return _beam(stays[::-1], row, spacing, (front, back), wanted)


def _may_stay(knife: int, place: Number, row: Sequence[Number], spacing: Number) -> _Stay | None:
    low = bisect_left(row, place)
    if low < len(row) and row[low] == place:
        return _Stay(knife, place, low, low + 1)
    clear = (low == 0 or place - row[low - 1] >= spacing) and (
        low == len(row) or row[low] - place >= spacing
    )
    return _Stay(knife, place, low, low) if clear else None


def _fit(
    one: _Stay, two: _Stay, row: Sequence[Number], room: Sequence[int], spacing: Number
) -> bool:
    """Whether the knives between two that stay find their places."""
    cuts = two.low - one.high
    idle = two.knife - one.knife - 1 - cuts
    if cuts < 0 or idle < 0:
        return False
    if idle == 0:
        return True
    if cuts == 0:
        return idle < (two.place - one.place) // spacing
    first, last = row[one.high] - one.place, two.place - row[two.low - 1]
    sides = int(first // spacing) + int(last // spacing) - 2
    return idle <= sides + room[two.low - 1] - room[one.high]


def _beam(
    chain: Sequence[_Stay],
    row: Sequence[Number],
    spacing: Number,
    ends: tuple[int, int],
    wanted: Sequence[Number],
) -> Beam:
    """The beam in which the knives of a chain stay; it begins and ends with ends of the beam."""
    beam: list[Number] = []
    for one, two in pairwise(chain):
        inside = list(row[one.high : two.low])
        idle = two.knife - one.knife - 1 - len(inside)
        front = min(ends[0], idle) if one.place == FRONT else 0
        back = min(ends[1], idle - front) if two.place == BACK else 0
        if idle > front + back:
            walls = one.place, two.place
            left = _put(inside, idle - front - back, walls, spacing, wanted)
            front, back = (front + left, back) if one.place == FRONT else (front, back + left)
        beam += [*(FRONT,) * front, *inside, *(BACK,) * back, two.place]
    return tuple(beam[:-1])


def _put(
    inside: list[Number],
    idle: int,
    walls: tuple[Number, Number],
    spacing: Number,
    wanted: Sequence[Number],
) -> int:
    """Put idle knives between others, where they are wanted if it can be; how many are left over.

    Between two walls all find their places; an end of the beam takes what is left over.
    """
    closed = FRONT not in walls and BACK not in walls
    for place in wanted:
        t = bisect_left(inside, place)
        below = inside[t - 1] if t else walls[0]
        above = inside[t] if t < len(inside) else walls[1]
        if place - below < spacing or above - place < spacing:
            continue
        inside.insert(t, place)
        if closed and _room(inside, walls, spacing) < idle - 1:
            del inside[t]
            continue
        idle -= 1
        if not idle:
            return 0
    if not closed:
        return idle
    at = walls[0]
    for hard in (*inside, walls[1]):
        while idle and hard - at >= 2 * spacing:
            at += spacing
            insort(inside, at)
            idle -= 1
        at = hard
    return 0


def _room(inside: Sequence[Number], walls: tuple[Number, Number], spacing: Number) -> int:
    """Idle knives that find room between those that stand."""
    return sum(int((b - a) // spacing) - 1 for a, b in pairwise((walls[0], *inside, walls[1])))
