"""The best plan for each number of patterns, with others as good, their sets counted anew."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.cuts import Cut, Pattern, yields_of
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.loss import LossTable
from trimopt.cutting.model.products import whole_product
from trimopt.cutting.setups.build_tables import BuildTables

Ints = NDArray[np.int64]


def recounted(
    instance: Instance, cuts: tuple[Cut, ...], fixed: int, max_paired: int
) -> tuple[Cut, ...]:
    """Change sets by steps, alone and in pairs, while the loss falls and no demand gets short.

    Parameters
    ----------
    cuts
        A plan that meets every demand.
    fixed
        So many cuts at its front stay as they are.
    max_paired
        Of so many patterns at most the sets are changed in pairs, of more one at a time.

    Returns
    -------
    tuple of Cut
        The plan with no more loss; a pattern whose sets fall to none is left out.
    """
    if len(cuts) <= fixed:
        return cuts
    descent = _Descent(instance, cuts, fixed, max_paired)
    largest = max(cut.sets for cut in cuts[fixed:])
    step = 1
    while step * 8 < largest:
        step *= 4
    while step:
        descent.run(step)
        step //= 4
    counted = zip(cuts[fixed:], descent.sets.tolist(), strict=True)
    return (*cuts[:fixed], *(Cut(cut.pattern, n) for cut, n in counted if n > 0))


class _Descent:
    """Steepest descent over single and paired changes, all looked at together."""

    def __init__(
        self, instance: Instance, cuts: tuple[Cut, ...], fixed: int, max_paired: int
    ) -> None:
        demands = instance.demands
        count = len(cuts)
        gain = np.zeros((count, len(demands)), dtype=np.int64)
        worth = np.zeros((count, len(demands)), dtype=np.int64)
        for row, cut in enumerate(cuts):
            for i, yields in yields_of(instance, cut.pattern).items():
                gain[row, i], worth[row, i] = yields
        sets = np.array([cut.sets for cut in cuts], dtype=np.int64)
        costs = [SCALE * instance.classes[cut.pattern.winding_class].cost for cut in cuts]
        cost = np.array(costs, dtype=np.int64)
        self.made = whole_product(sets, gain)
        self.worth = whole_product(sets, worth)
        self.sets = sets[fixed:]
        self.moves = self._moves(count - fixed, max_paired)
        self.gain = whole_product(self.moves, gain[fixed:])
        self.value = whole_product(self.moves, worth[fixed:])
        self.cost = whole_product(self.moves, cost[fixed:])
        self.table = LossTable.of(demands)

    @staticmethod
    def _moves(rows: int, max_paired: int) -> Ints:
        """One change a line: a pattern one set up or down, or one up and another down."""
        one = np.eye(rows, dtype=np.int64)
        moves = [one, -one]
        if rows <= max_paired:
            up, down = np.nonzero(~np.eye(rows, dtype=bool))
            moves.append(one[up] - one[down])
        return np.concatenate(moves)

    def loss(self, made: Ints, worth: Ints) -> Ints:
        """Loss beside the cost of the sets."""
        return np.asarray(self.table.loss(made, worth).sum(axis=-1), dtype=np.int64)

    def run(self, step: int) -> None:
        """Take the best change until none lowers the loss."""
        gain, value, cost = step * self.gain, step * self.value, step * self.cost
        moves = step * self.moves
        for _ in range(200):
            now = int(self.loss(self.made, self.worth))
            made = self.made + gain
            delta = cost + self.loss(made, self.worth + value) - now
            barred = (made < self.table.low).any(axis=1) | ((self.sets + moves) < 0).any(axis=1)
            delta[barred] = 0
            best = int(delta.argmin())
            if delta[best] >= 0:
                return
            self.made = made[best]
            self.worth = self.worth + value[best]
            self.sets = self.sets + moves[best]


def _merged(cuts: tuple[Cut, ...], fixed: tuple[Cut, ...]) -> tuple[Cut, ...]:
    """Cuts of equal patterns made one, most sets first; `fixed` stay in front as they are."""
    sets: dict[Pattern, int] = {}
    for cut in cuts[len(fixed) :]:
        sets[cut.pattern] = sets.get(cut.pattern, 0) + cut.sets
    rest = [Cut(pattern, n) for pattern, n in sets.items()]
    return (*fixed, *sorted(rest, key=lambda cut: (-cut.sets, cut)))


class Archive:
    """Least loss for each number of patterns; plans of equal loss beside it.

    Parameters
    ----------
    fixed
        Cuts that every plan begins with.
    """

    def __init__(self, tables: BuildTables, fixed: tuple[Cut, ...] = ()) -> None:
        self.tables = tables
        self.fixed = fixed
        self.loss: dict[int, int] = {}
        self.plans: dict[int, list[tuple[Cut, ...]]] = {}
        self._next: dict[int, int] = {}
        # where every quantity is exact, other numbers of sets for the same patterns make no plan
        self.ranges = any(d.high != d.low for d in tables.instance.demands)

    def add(self, cuts: tuple[Cut, ...]) -> bool:
        """Take in a plan; True where it is better than what was known for its patterns or fewer."""
        tables = self.tables
        loss = tables.loss(cuts)
        if loss is not None and self.ranges and self._promising(loss, tables.patterns(cuts)):
            cuts = recounted(tables.instance, cuts, len(self.fixed), tables.params.max_paired)
            loss = tables.loss(cuts)
        if loss is None:
            return False
        cuts = _merged(cuts, self.fixed)
        count = tables.patterns(cuts)
        known = self.loss.get(count)
        if known is None or loss < known:
            better = all(loss < other for number, other in self.loss.items() if number <= count)
            self.loss[count] = loss
            self.plans[count] = [cuts]
            return better
        if loss == known:
            plans = self.plans[count]
            if cuts not in plans:
                if len(plans) < tables.params.plans_kept:
                    plans.append(cuts)
                else:  # the oldest goes: the search walks along plans of equal loss
                    at = self._next.get(count, 0)
                    plans[at] = cuts
                    self._next[count] = (at + 1) % tables.params.plans_kept
        return False

    def _promising(self, loss: int, patterns: int) -> bool:
        """Whether better numbers of sets could make a plan the best of its patterns or fewer."""
        known = [other for number, other in self.loss.items() if number <= patterns]
        if not known:
            return True
        best, least = min(known), min(self.loss.values())
        return loss <= best + (best - least) // 2 + abs(best) // 8

    def min_loss(self) -> int | None:
        """The least loss known."""
        return min(self.loss.values(), default=None)

    def front(self) -> Iterator[tuple[int, int, list[tuple[Cut, ...]]]]:
        """(patterns, loss, plans) from least loss to fewest patterns, none beaten by another."""
        best: list[tuple[int, int]] = []
        for count in sorted(self.loss):
            if not best or self.loss[count] < best[-1][1]:
                best.append((count, self.loss[count]))
        for count, loss in reversed(best):
            yield count, loss, self.plans[count]
