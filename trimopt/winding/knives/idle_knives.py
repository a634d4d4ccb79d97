"""Where knives go that are lifted when idle: as many as can be stay where they stand.

A knife stays where it cuts at its place, or idles at least the knife spacing away from every knife
that cuts. Between two knives that stay lie so many places to cut at, and so many knives: those left
over must find room there, at the least spacing, so knives that stay form a chain, and the longest
is found knife by knife. In front of the first one and behind the last there is always room, at the
end of the beam.

The chain is that of a longest path over knives from front to back: knife j may follow knife i in it
where `_fit` says that those between find their places. Knives are few, so all pairs are looked at.
`trimopt.winding.knives.knife_moves.clear` finds the same number of moves over all places, four
times as slowly; a property test holds the two against each other.

A knife that has to leave its place goes where one of the next blocks needs it, if it can: that is a
move less later.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from trimopt.winding.knives.knife_moves import BACK, FRONT, Beam, Number

_MOVE = 10_000  # worth of a knife that stays; worth of its place breaks ties


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
