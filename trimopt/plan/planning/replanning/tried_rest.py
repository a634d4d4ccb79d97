"""A rest of a run that was tried, what it is ranked by, and the one that was chosen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from trimopt.book.model import LeftOut, Order
from trimopt.plan.model import OrderLine
from trimopt.plan.planning.replanning.sets_changed import SetsChanged
from trimopt.plan.planning.replanning.sets_to_keep import Counts
from trimopt.plan.planning.replanning.whole_run import Rest
from trimopt.winding.knives.order_costs import urgency


@dataclass(frozen=True, kw_only=True)
class TriedRest:
    """Sets `kept` of each issued block, orders cut `first`, blocks `changed`; `cost` in money."""

    rest: Rest
    left_out: tuple[LeftOut, ...]
    orders: tuple[OrderLine, ...]
    kept: Counts
    first: frozenset[str]
    lacking: tuple[int, int]  # orders left out, and kg of those that are not
    surplus_kg: float
    late: tuple[Order, ...]  # that were not as issued
    cost: float
    changed: SetsChanged

    def rank(self, disturbance: float) -> tuple[object, ...]:
        """What is lacking, then orders newly late: few, and of those the least urgent; then cost.

        All of them can be compared.
        """
        urgent = sorted(urgency(order.priority, order.due) for order in self.late)
        late = [(-priority, datetime.min - due) for priority, _, due in urgent]  # noqa: DTZ901
        return *self.lacking, len(late), late, self.cost + disturbance * self.changed.weight


@dataclass(frozen=True, kw_only=True)
class ChosenRest:
    """The rest that was chosen, what was paid for keeping and gained by changing, in the objective.

    `paid` is against the cheapest rest that was found, `gained` against keeping every block.
    """

    rest: Rest
    left_out: tuple[LeftOut, ...] = ()
    paid: float = 0.0
    gained: float = 0.0
    changed: int = 0
    cut_short: bool = False  # by the clock
