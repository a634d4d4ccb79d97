"""Other numbers of sets for the same patterns: a descent that ends in a local least loss."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.loss import LossTable
from trimopt.cutting.setups.build_tables import Case, Plan

__all__ = ["recounted"]

#: So many patterns at the most are changed in pairs; above it one at a time.
PAIRED = 40

Ints = NDArray[np.int64]


def recounted(case: Case, plan: Plan, fixed: int) -> Plan:
    """Change sets by steps, alone and in pairs, while the loss falls and no demand gets short.

    Parameters
    ----------
    case
        The instance.
    plan
        A plan that meets every demand.
    fixed
        So many rows at its front stay as they are.

    Returns
    -------
    tuple of rows
        The plan with no more loss; a pattern whose sets fall to none is left out.
    """
    free = len(plan) - fixed
    if free < 1:
        return plan
    descent = _Descent(case, plan, fixed)
    largest = max(row[2] for row in plan[fixed:])
    step = 1
    while step * 8 < largest:
        step *= 4
    while step:
        descent.run(step)
        step //= 4
    rest = [
        (c, p, int(n)) for (c, p, _), n in zip(plan[fixed:], descent.sets, strict=True) if n > 0
    ]
    return (*plan[:fixed], *rest)


class _Descent:
    """Steepest descent over single and paired changes, all looked at together."""

    def __init__(self, case: Case, plan: Plan, fixed: int) -> None:
        instance = case.instance
        demands = instance.demands
        count = len(plan)
        gain = np.zeros((count, len(demands)), dtype=np.int64)
        worth = np.zeros((count, len(demands)), dtype=np.int64)
        for row, (_, pieces, _) in enumerate(plan):
            for k, n in pieces:
                gain[row, case.demand[k]] += case.gain[k] * n
                worth[row, case.demand[k]] += instance.options[k].worth * n
        sets = np.array([row[2] for row in plan], dtype=np.int64)
        cost = np.array([SCALE * instance.classes[row[0]].cost for row in plan], dtype=np.int64)
        self.made = sets @ gain
        self.worth = sets @ worth
        self.sets = sets[fixed:]
        self.moves = self._moves(count - fixed)
        self.gain = self.moves @ gain[fixed:]
        self.value = self.moves @ worth[fixed:]
        self.cost = self.moves @ cost[fixed:]
        self.table = LossTable.of(demands)

    @staticmethod
    def _moves(rows: int) -> Ints:
        """One change a line: a pattern one set up or down, or one up and another down."""
        one = np.eye(rows, dtype=np.int64)
        moves = [one, -one]
        if rows <= PAIRED:
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
