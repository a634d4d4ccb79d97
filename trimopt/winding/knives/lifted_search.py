"""Running order and layouts where idle knives stay lifted where they stand.

A knife left behind by one block is at hand for any later one that cuts there. So what a block costs
depends on all that ran before it, and no choice of layouts for an order is a shortest path, as it
is for parked knives. The search begins with an arrangement for the simple count and anneals it: a
lot is laid out again for all places that knives hold and those that the next blocks need, or lots
are moved. The whole order is then set up block by block (`trimopt.winding.knives.idle_knives`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from trimopt.budget import Budget, SearchEnded
from trimopt.winding.knives.idle_knives import in_turn
from trimopt.winding.knives.integer_lot import LotShape
from trimopt.winding.knives.knife_moves import BACK, FRONT, Beam, park_options, total_moves
from trimopt.winding.knives.layout_dp import AnyKnife, Laid
from trimopt.winding.knives.order_costs import Running
from trimopt.winding.knives.order_search import Tour
from trimopt.winding.knives.recombination import accepted

_WARMTH = 0.7  # moves, at the start of a cooling
_COOLING = 400  # steps from warm to cold
_HELD_WEIGHT = 2  # a place that a knife holds counts like that of the next block
_FOLLOWING_WEIGHTS = (2, 1, 1)


@dataclass(frozen=True, slots=True)
class SetUp(Tour):
    """A tour, set up: the beam before the first block, then one a block."""

    front: int  # idle knives at the front end, where nobody says how the knives stand
    beams: tuple[Beam, ...]


class LiftedSearch:
    """Improves a tour in the winder's count, idle knives lifted.

    Parameters
    ----------
    near
        For each lot all lots, those first that could well run beside it.
    knives, spacing
        Of the winder; spacing in units.
    starts
        How the knives may stand before the first block; empty: unknown, and it costs nothing.
    goal, budget, seed
        As for `Search`; `work` is what has been used.
    """

    def __init__(
        self,
        shapes: Sequence[LotShape],
        running: Running,
        *,
        near: Sequence[Sequence[int]],
        knives: int,
        spacing: int,
        starts: Sequence[Beam],
        goal: int,
        budget: Budget,
        work: float,
        seed: int,
    ) -> None:
        self.shapes = shapes
        self.running = running
        self.near = near
        self.knives = knives
        self.spacing = spacing
        self.starts = tuple(starts)
        self.goal = goal
        self.budget = budget
        self.count = AnyKnife()
        self.work = work
        self.draw = Random(seed)

    def _set(
        self, order: Sequence[int], laid: dict[int, Laid], front: int, old: SetUp | None = None
    ) -> SetUp:
        """Set the order up; what is as in `old` is taken from there.

        That is the blocks before the first change, and those after the last one from where all
        knives stand as they stood.
        """
        n = len(order)
        same = end = 0  # blocks at the start, and at the end, that stand as in `old`
        if old is not None and old.front == front:
            alike = [
                lot == other and laid[lot] == old.laid[lot]
                for lot, other in zip(order, old.order, strict=True)
            ]
            same = (*alike, False).index(False)
            end = (*alike[::-1], False).index(False)
        first = laid[order[0]].places
        beams = list(old.beams[: same + 1]) if old and same else [self._opening(first, front)]
        rows = [laid[lot].places for lot in order[same:]]
        coming = in_turn(beams[-1], rows, self.spacing)
        for t in range(same, n):
            if old is not None and t >= n - end and beams[t] == old.beams[t]:
                beams += old.beams[t + 1 :]
                break
            self.work += 0.05
            beams.append(next(coming))
        moves = total_moves(beams)
        cost = moves * self.running.move + self.running.extra(order)
        return SetUp(tuple(order), laid, moves, cost, front, tuple(beams))

    def _opening(self, row: tuple[int, ...], front: int) -> Beam:
        if self.starts:
            return self.starts[front % len(self.starts)]
        options = park_options(row, self.knives)
        return options[front % len(options)]

    def _lay(self, lot: int, held: Beam, following: Sequence[int], laid: dict[int, Laid]) -> Laid:
        """A layout for the places that knives hold and those that the next blocks need."""
        targets = [int(place) for place in held if place not in {FRONT, BACK}] * _HELD_WEIGHT
        for other, times in zip(following, _FOLLOWING_WEIGHTS, strict=False):
            targets += laid[other].places * times
        return self.count.best_layout(self.shapes[lot], tuple(targets), None, self.draw)

    def run(self, tour: Tour) -> SetUp:
        """The best set-up until a limit, beginning with a tour in the simple count."""
        options = range(len(self.starts) or self.knives)
        best = min(
            (self._set(tour.order, tour.laid, front) for front in options),
            key=lambda found: found.cost,
        )
        now = best
        steps = 0
        try:
            while not (self.running.plain and best.moves <= self.goal):
                self.budget.spend(self.work + self.count.work - self.budget.work)
                warmth = _WARMTH * (1 - steps % _COOLING / _COOLING)
                new = self._change(now)
                if accepted((new.cost - now.cost) / self.running.move, warmth, self.draw):
                    now = new
                if now.cost < best.cost:
                    best = now
                steps += 1
                if steps % _COOLING == 0:
                    now = best
        except SearchEnded:
            pass
        return best

    def _change(self, now: SetUp) -> SetUp:
        draw = self.draw
        n = len(now.order)
        kind = draw.random()
        if kind < 0.05:
            return self._set(now.order, now.laid, draw.randrange(self.knives))
        if n == 1 or kind < 0.5:
            return self._lay_again(now, draw.randrange(n), draw.choice((1, 1, 2, 3)))
        order = list(now.order)
        if kind < 0.8:
            lot = draw.choice(order)
            order.remove(lot)
            beside = self.near[lot][min(n - 2, int(draw.expovariate(0.4)))]
            t = order.index(beside) + draw.randrange(2)
            order.insert(t, lot)
        else:
            order = _part_moved(order, draw)
        if not self.running.allowed(order):
            return now
        new = self._set(order, now.laid, now.front, now)
        return self._lay_again(new, min(t, n - 1), 1) if kind < 0.8 else new

    def _lay_again(self, now: SetUp, start: int, count: int) -> SetUp:
        """Lay some blocks out again, one after the other."""
        for t in range(start, min(start + count, len(now.order))):
            lot = now.order[t]
            held = now.beams[t] if t or self.starts else ()
            new = self._lay(lot, held, now.order[t + 1 :], now.laid)
            now = self._set(now.order, {**now.laid, lot: new}, now.front, now)
        return now


def _part_moved(order: Sequence[int], draw: Random) -> list[int]:
    """The order with a part of it moved, turned round, or both (Or 1976; Lin 1965)."""
    first, last = sorted(draw.sample(range(len(order) + 1), 2))
    part = list(order[first:last])
    new = [*order[:first], *order[last:]]
    if draw.random() < 0.5:
        part.reverse()
    at = first if draw.random() < 0.5 else draw.randrange(len(new) + 1)
    new[at:at] = part
    return new
