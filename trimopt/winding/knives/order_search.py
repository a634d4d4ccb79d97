"""Running order and layouts together: exact layouts into pools, exact choice out of them.

Two exact programs take turns. One lays a single lot out between two neighbours as they stand, over
all its layouts; what it finds goes into the lot's pool. The other chooses layouts of all lots for
an order at once, over the pools, inside a search over orders. Each lacks what the other has: the
first cannot change the neighbours, the second can use no layout that is not in a pool.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from random import Random

from trimopt.budget import Budget, SearchEnded
from trimopt.winding.knives.integer_lot import LotShape
from trimopt.winding.knives.layout_dp import Count, Laid
from trimopt.winding.knives.move_bounds import Moves
from trimopt.winding.knives.order_costs import Running
from trimopt.winding.knives.recombination import LayoutPools, Recombine, pool_size

_STEPS = 60  # changes of order before layouts are added to the pools
_ROUNDS = 12  # of these from warm to cold
_WARMTH = 0.8  # moves, at the start of a cooling


@dataclass(frozen=True, slots=True)
class Tour:
    """A running order with layouts: positions in the lots, in order, and a layout for each lot."""

    order: tuple[int, ...]
    laid: dict[int, Laid]
    moves: int
    cost: int


class OrderSearch:
    """Searches tours of these lots.

    Parameters
    ----------
    least
        Least moves from each lot to each other, over all layouts.
    starts
        Places of the knives before the first block, as `count` keeps them: of several, the one that
        suits. None: unknown.
    goal
        Moves that are known to be the fewest possible: reaching them with nothing else to gain ends
        the search.
    """

    def __init__(
        self,
        shapes: Sequence[LotShape],
        count: Count,
        running: Running,
        *,
        least: Moves,
        starts: Sequence[tuple[int, ...]],
        goal: int,
        budget: Budget,
        seed: int,
    ) -> None:
        self.shapes = shapes
        self.count = count
        self.running = running
        self.starts = tuple(starts)
        self.goal = goal
        self.budget = budget
        self.draw = Random(seed)
        self.best: Tour | None = None
        self.pools = LayoutPools(
            len(shapes),
            count,
            knives=max(len(count.best_layout(shape, None, None).places) for shape in shapes),
            starts=starts,
            max_size=pool_size(len(shapes)),
        )
        sizes = [len(self._lay(lot, None, None).places) for lot in range(len(shapes))]
        self.orders = Recombine(self.pools, running, sizes, self.draw)
        self.least = least
        near = range(len(shapes))
        self.near = [sorted(near, key=lambda j: (least[i][j] + (i == j) * 999, j)) for i in near]

    def _lay(self, lot: int, before: Laid | None, after: Laid | None) -> Laid:
        """Lay a lot out between two others, of equal layouts any, into its pool; no limit."""
        # The first block follows whichever start suits it best. Laying it out for a start drawn
        # at random missed the best order of two lots where the draws fell on the other one.
        places: Sequence[tuple[int, ...] | None]
        places = (before.places,) if before is not None else self.starts or (None,)
        following = None if after is None else after.places
        found = [
            self.count.best_layout(self.shapes[lot], place, following, self.draw)
            for place in places
        ]
        for laid in found:
            self.pools.add(lot, laid)
        return min(found, key=lambda laid: self._around(before, laid, after))

    def work(self) -> float:
        return self.count.work + self.orders.work / 50

    def _check(self) -> None:
        self.budget.spend(self.work() - self.budget.work)

    def _tour(self, order: Sequence[int], laid: dict[int, Laid]) -> Tour:
        moves = self._first(laid[order[0]])
        for before, after in pairwise(order):
            moves += self.count.moves(laid[before].places, laid[after].places)
        cost = moves * self.running.move + self.running.extra(order)
        return Tour(tuple(order), laid, moves, cost)

    def _take(self, tour: Tour) -> None:
        if self.best is None or tour.cost < self.best.cost:
            self.best = tour

    @property
    def _done(self) -> bool:
        return self.best is not None and self.running.plain and self.best.moves <= self.goal

    def _first(self, laid: Laid) -> int:
        return min((self.count.moves(start, laid.places) for start in self.starts), default=0)

    # Layouts into the pools

    def _follow(self, order: Sequence[int]) -> Tour:
        """An order with each lot laid out for the one before it."""
        laid: dict[int, Laid] = {}
        before: Laid | None = None
        for lot in order:
            before = laid[lot] = self._lay(lot, before, None)
        return self._tour(order, laid)

    def _relay(self, order: Sequence[int], laid: dict[int, Laid], lots: Sequence[int]) -> None:
        """Lay lots out again between their neighbours where that is no worse; changes `laid`."""
        place = {lot: t for t, lot in enumerate(order)}
        for lot in lots:
            self._check()
            t = place[lot]
            before = laid[order[t - 1]] if t else None
            after = laid[order[t + 1]] if t + 1 < len(order) else None
            new, old = self._lay(lot, before, after), laid[lot]
            if self._around(before, new, after) <= self._around(before, old, after):
                laid[lot] = new

    def _around(self, before: Laid | None, lot: Laid, after: Laid | None) -> int:
        moves = 0 if after is None else self.count.moves(lot.places, after.places)
        if before is None:
            return moves + self._first(lot)
        return moves + self.count.moves(before.places, lot.places)

    def _enrich(self, order: Sequence[int]) -> None:
        """Add layouts that suit this order, or lots that could well stand side by side."""
        laid = self.orders.layouts(order)
        n = len(order)
        lots = self.draw.sample(list(order), min(n, 8))
        self._relay(order, laid, lots)
        for _ in range(min(n - 1, 4)):
            self._check()
            lot = self.draw.randrange(n)
            other = self.near[lot][min(n - 2, int(self.draw.expovariate(0.5)))]
            t = order.index(lot)
            if self.draw.random() < 0.5:
                after = laid[order[t + 1]] if t + 1 < n and order[t + 1] != other else None
                self._lay(other, laid[lot], after)
            else:
                before = laid[order[t - 1]] if t and order[t - 1] != other else None
                self._lay(other, before, laid[lot])

    # The whole

    def nearest(self, first: int | None = None) -> list[int]:
        """An order that goes on with the lot of the least lower bound; precedence is obeyed."""
        precedence = self.running.precedence
        left = set(range(len(self.shapes)))
        order: list[int] = []
        while left:
            level = min(precedence[lot] for lot in left)
            ready = sorted(lot for lot in left if precedence[lot] == level)
            if not order and first in ready:
                chosen = first
            elif order:
                last = order[-1]
                chosen = min(ready, key=lambda j: self.least[last][j])
            else:
                chosen = max(ready, key=lambda j: self.shapes[j].knives)
            left.remove(chosen)
            order.append(chosen)
        return order

    def run(self, starts: Sequence[Sequence[int]]) -> Tour:
        """The best tour until a limit; `starts` are orders to begin from besides its own."""
        self._take(self._follow(self.nearest()))
        assert self.best is not None
        try:
            self._begin(starts)
            while not self._done:
                self._cool()
        except SearchEnded:
            pass
        return self.best

    def _begin(self, starts: Sequence[Sequence[int]]) -> None:
        n = len(self.shapes)
        firsts = self.draw.sample(range(n), min(n, 3))
        orders = [*starts, self.nearest(), *(self.nearest(first) for first in firsts)]
        for order in orders:
            self._check()
            tour = self._follow(order)
            self._take(tour)
            laid = dict(tour.laid)
            for _ in range(2):
                self._relay(order, laid, order)
            self._take(self._tour(order, laid))
            if self._done:
                return

    def _cool(self) -> None:
        assert self.best is not None
        order = list(self.best.order)
        for part in range(_ROUNDS):
            warmth = _WARMTH * (1 - (part + 1) / _ROUNDS)
            cost = self.orders.cost(order)
            for _ in range(_STEPS):
                self._check()
                order, cost = self.orders.step(order, cost, warmth)
                if cost < self.best.cost:
                    self._take(self._tour(order, self.orders.layouts(order)))
                    if self._done:
                        return
            self._enrich(order)
            self._enrich(self.best.order)
            now = self.orders.layouts(order)
            used = [(self.best.laid[lot], now[lot]) for lot in range(len(self.shapes))]
            self.pools.thin(used, self.draw)
