"""Running order and layouts together: insertion with the exact layout, then take out and put back.

A tour is a running order with a layout for each lot. It is made by putting lot after lot where it
costs least, laid out exactly for that gap, and improved by taking some lots out and putting them
back, by reversing and shifting parts of the order as laid out, and by laying single lots out again
between their neighbours.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from random import Random
from time import monotonic

from trimopt.winding.between import Count, Laid
from trimopt.winding.running import Running
from trimopt.winding.shape import Shape

__all__ = ["Clock", "Search", "Tour"]


class _StopError(Exception):
    """The limit is reached."""


@dataclass(slots=True)
class Clock:
    """When to stop: seconds of the clock, or work, which is repeatable."""

    ends: float | None
    work: int | None
    stopped: bool = False  # by the clock

    def check(self, work: int) -> None:
        """Raise where a limit is reached."""
        if self.work is not None and work >= self.work:
            raise _StopError
        if self.ends is not None and monotonic() >= self.ends:
            self.stopped = True
            raise _StopError


@dataclass(slots=True)
class Tour:
    """A running order with layouts: positions in the lots, in order, and a layout for each lot."""

    order: list[int]
    laid: dict[int, Laid]
    moves: int = 0
    cost: int = 0

    def copy(self) -> Tour:
        """A copy that shares nothing which changes."""
        return Tour(list(self.order), dict(self.laid), self.moves, self.cost)


class Search:
    """Searches tours of these lots.

    Parameters
    ----------
    shapes
        One a lot.
    count
        How moves are counted.
    running
        What the order costs besides.
    least
        Valid lower bounds on the moves from lot i to lot j, over all layouts of both.
    start
        Places of the knives before the first block, as `count` keeps them; None: unknown.
    goal
        Moves that are known to be the fewest possible: reaching them with nothing else to gain ends
        the search.
    """

    def __init__(
        self,
        shapes: Sequence[Shape],
        count: Count,
        running: Running,
        *,
        least: Sequence[Sequence[int]],
        start: tuple[int, ...] | None,
        goal: int,
        clock: Clock,
        seed: int,
    ) -> None:
        self.shapes = shapes
        self.count = count
        self.running = running
        self.least = least
        self.start = start
        self.clock = clock
        self.draw = Random(seed)
        self.goal = goal
        self._seen: dict[tuple[Shape, tuple[int, ...] | None, tuple[int, ...] | None], Laid] = {}
        self.best: Tour | None = None

    # What a tour costs

    def _step(self, before: Laid | None, after: Laid | None) -> int:
        if after is None:
            return 0
        if before is None:
            return 0 if self.start is None else self.count.moves(self.start, after.places)
        return self.count.moves(before.places, after.places)

    def price(self, tour: Tour) -> Tour:
        """Count the tour again; gives it back."""
        before: Laid | None = None
        tour.moves = 0
        for lot in tour.order:
            after = tour.laid[lot]
            tour.moves += self._step(before, after)
            before = after
        tour.cost = tour.moves * self.running.move + self.running.extra(tour.order)
        return tour

    def lay(self, lot: int, before: Laid | None, after: Laid | None, *, draw: bool = False) -> Laid:
        """The lot laid out between two others; None is an end of the order."""
        first = self.start if before is None else before.places
        last = None if after is None else after.places
        if draw:
            self.clock.check(self.count.work)
            return self.count.between(self.shapes[lot], first, last, self.draw)
        key = (self.shapes[lot], first, last)
        found = self._seen.get(key)
        if found is None:
            self.clock.check(self.count.work)
            found = self._seen[key] = self.count.between(self.shapes[lot], first, last)
            if len(self._seen) > 200_000:
                self._seen.clear()
        return found

    # Making a tour

    def as_ordered(self, order: Sequence[int]) -> Tour:
        """The tour of a given order, each lot laid out for the one before it. No limit stops it."""
        tour = Tour(list(order), {})
        before: Laid | None = None
        for lot in order:
            first = self.start if before is None else before.places
            before = self.count.between(self.shapes[lot], first, None)
            tour.laid[lot] = before
        return self.price(tour)

    def nearest(self, first: int | None = None) -> list[int]:
        """An order that goes on with the lot of the least lower bound; precedence is obeyed."""
        left = sorted(range(len(self.shapes)), key=lambda i: self.running.precedence[i])
        order: list[int] = []
        if first is not None:
            left.remove(first)
            order.append(first)
        while left:
            level = self.running.precedence[left[0]]
            open_now = [i for i in left if self.running.precedence[i] == level]
            if order:
                last = order[-1]
                chosen = min(open_now, key=lambda j: (self.least[last][j], j))
            else:
                chosen = max(open_now, key=lambda j: (self.shapes[j].knives, -j))
            left.remove(chosen)
            order.append(chosen)
        return order

    def _insert(self, tour: Tour, lot: int) -> None:
        """Put a lot where it costs least, most promising gap first."""
        order, laid, running = tour.order, tour.laid, self.running
        level = running.precedence[lot]
        gaps = []
        for gap in range(len(order) + 1):
            if gap and running.precedence[order[gap - 1]] > level:
                break
            if gap < len(order) and running.precedence[order[gap]] < level:
                continue
            before = laid[order[gap - 1]] if gap else None
            after = laid[order[gap]] if gap < len(order) else None
            hope = -self._step(before, after)
            hope += self.least[order[gap - 1]][lot] if gap else 0
            hope += self.least[lot][order[gap]] if gap < len(order) else 0
            extra = running.extra([*order[:gap], lot, *order[gap:]])
            gaps.append((hope * running.move + extra, self.draw.random(), gap, extra))
        gaps.sort()
        best: tuple[int, int, Laid] | None = None
        for hope, _, gap, extra in gaps:
            if best is not None and hope >= best[0]:
                break
            before = laid[order[gap - 1]] if gap else None
            after = laid[order[gap]] if gap < len(order) else None
            new = self.lay(lot, before, after)
            moves = self._step(before, new) + self._step(new, after) - self._step(before, after)
            cost = moves * running.move + extra
            if best is None or cost < best[0]:
                best = cost, gap, new
        assert best is not None
        order.insert(best[1], lot)
        laid[lot] = best[2]

    # Improving one

    def _relay(self, tour: Tour, lots: Sequence[int]) -> None:
        """Lay lots out again between their neighbours; of equal layouts any."""
        place = {lot: t for t, lot in enumerate(tour.order)}
        for lot in lots:
            t = place[lot]
            before = tour.laid[tour.order[t - 1]] if t else None
            after = tour.laid[tour.order[t + 1]] if t + 1 < len(tour.order) else None
            new = self.lay(lot, before, after, draw=True)
            old = tour.laid[lot]
            if self._step(before, new) + self._step(new, after) <= self._step(
                before, old
            ) + self._step(old, after):
                tour.laid[lot] = new

    def _reorder(self, tour: Tour) -> None:
        """Reverse or shift parts of the order, layouts as they are, while that helps."""
        n = len(tour.order)
        if n < 3:
            return
        better = True
        while better:
            better = False
            self.clock.check(self.count.work)
            self.count.work += 1
            step: dict[tuple[int | None, int | None], int] = {}
            ends: list[int | None] = [None, *tour.order, None]
            for a in ends[:-1]:
                for b in ends[1:]:
                    if a != b or a is None:
                        before = None if a is None else tour.laid[a]
                        after = None if b is None else tour.laid[b]
                        step[a, b] = self._step(before, after)
            better = self._shift(tour, step)

    def _shift(self, tour: Tour, step: dict[tuple[int | None, int | None], int]) -> bool:
        order, running = tour.order, self.running
        n = len(order)
        now = tour.cost

        def cost(candidate: list[int]) -> int:
            moves = step[None, candidate[0]]
            for a, b in pairwise(candidate):
                moves += step[a, b]
            return moves * running.move + running.extra(candidate)

        for size in range(1, n):
            for i in range(n - size + 1):
                part = order[i : i + size]
                rest = order[:i] + order[i + size :]
                before = order[i - 1] if i else None
                after = order[i + size] if i + size < n else None
                taken = step[before, part[0]] + step[part[-1], after] - step[before, after]
                gaps = range(len(rest) + 1) if size <= 3 else (i,)
                for gap in gaps:
                    a = rest[gap - 1] if gap else None
                    b = rest[gap] if gap < len(rest) else None
                    for turned in (False, True):
                        first, last = (part[-1], part[0]) if turned else (part[0], part[-1])
                        if gap == i and not turned:
                            continue
                        put = step[a, first] + step[last, b] - step[a, b]
                        if put - taken >= 0 and (running.plain or put - taken > 2):
                            continue
                        middle = part[::-1] if turned else part
                        candidate = rest[:gap] + middle + rest[gap:]
                        if running.allowed(candidate) and cost(candidate) < now:
                            tour.order = candidate
                            self.price(tour)
                            return True
        return False

    def _take_out(self, tour: Tour) -> list[int]:
        """Some lots, taken out of the tour: neighbours, any, or those that cost most."""
        n = len(tour.order)
        count = self.draw.randint(1, max(1, min(7, n // 2)))
        kind = self.draw.random()
        if kind < 0.4:
            first = self.draw.randrange(n - count + 1)
            out = tour.order[first : first + count]
        elif kind < 0.7:
            out = self.draw.sample(tour.order, count)
        else:
            steps = []
            for t, lot in enumerate(tour.order):
                before = tour.laid[tour.order[t - 1]] if t else None
                after = tour.laid[tour.order[t + 1]] if t + 1 < n else None
                new = tour.laid[lot]
                dear = self._step(before, new) + self._step(new, after)
                steps.append((dear * (0.5 + self.draw.random()), lot))
            out = [lot for _, lot in sorted(steps, reverse=True)[:count]]
        for lot in out:
            tour.order.remove(lot)
            del tour.laid[lot]
        self.draw.shuffle(out)
        return out

    # The whole

    def keep(self, tour: Tour) -> None:
        """Remember the tour where it is the best."""
        if self.best is None or tour.cost < self.best.cost:
            self.best = tour.copy()

    @property
    def done(self) -> bool:
        """Whether nothing is left to gain."""
        return self.best is not None and self.running.plain and self.best.moves <= self.goal

    def run(
        self, starts: Sequence[Sequence[int]], heard: Callable[[int], None] | None = None
    ) -> Tour:
        """The best tour until a limit. `starts` are orders to begin from, most promising first.

        An exception from `heard`, KeyboardInterrupt too, ends the search with the best so far.
        """
        self.keep(self.as_ordered(starts[0]))
        try:
            self._begin(starts)
            assert self.best is not None
            tour = self.best.copy()
            idle = 0
            while not self.done:
                known = self.best.cost
                new = tour.copy()
                for lot in self._take_out(new):
                    self._insert(new, lot)
                self.price(new)
                if new.cost <= tour.cost + self.running.move:
                    lots = list(new.order)
                    self.draw.shuffle(lots)
                    self._relay(new, lots)
                    self.price(new)
                if new.cost <= tour.cost:
                    self._reorder(new)
                    tour = new
                    self.keep(tour)
                if self.best.cost < known:
                    idle = 0
                    if heard is not None:
                        heard(self.best.moves)
                else:
                    idle += 1
                    if idle > 60 and idle % 60 == 0:
                        tour = self.best.copy()
        except (_StopError, KeyboardInterrupt):
            pass
        assert self.best is not None
        return self.best

    def _begin(self, starts: Sequence[Sequence[int]]) -> None:
        for order in starts:
            tour = self.as_ordered(order)
            for _ in range(2):
                self._relay(tour, tour.order)
            self.price(tour)
            self._reorder(tour)
            self.keep(tour)
            if self.done:
                return
        lots = sorted(range(len(self.shapes)), key=lambda i: -self.shapes[i].knives)
        tour = Tour([], {})
        for lot in lots:
            self._insert(tour, lot)
        self.price(tour)
        self._relay(tour, tour.order)
        self.price(tour)
        self._reorder(tour)
        self.keep(tour)
