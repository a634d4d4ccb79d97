"""The best plan for each number of patterns, with others as good."""

from __future__ import annotations

from collections.abc import Iterator

from trimopt.cutting.setups.build_tables import Case, Plan
from trimopt.cutting.setups.set_counts import recounted

__all__ = ["Archive", "tidy"]


def tidy(plan: Plan, fixed: Plan) -> Plan:
    """Equal patterns made one row, most sets first; `fixed` rows stay in front as they are."""
    sets: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
    for winding_class, pieces, count in plan[len(fixed) :]:
        key = (winding_class, pieces)
        sets[key] = sets.get(key, 0) + count
    rest = sorted(((c, p, n) for (c, p), n in sets.items()), key=lambda row: (-row[2], row))
    return (*fixed, *rest)


class Archive:
    """Least loss for each number of patterns; plans of equal loss beside it.

    Parameters
    ----------
    case
        The instance.
    fixed
        Rows that every plan begins with.
    keep
        Equal plans kept for each number of patterns.
    """

    def __init__(self, case: Case, fixed: Plan = (), keep: int = 24) -> None:
        self.case = case
        self.fixed = fixed
        self.keep = keep
        self.loss: dict[int, int] = {}
        self.plans: dict[int, list[Plan]] = {}
        self._next: dict[int, int] = {}
        # where every quantity is exact, other numbers of sets for the same patterns make no plan
        self._ranges = any(d.high != d.low for d in case.instance.demands)

    def add(self, plan: Plan) -> bool:
        """Take in a plan; True where it is better than what was known for its patterns or fewer."""
        loss = self.case.loss(plan)
        if loss is None:
            return False
        if self._ranges and self._promising(loss, self.case.patterns(plan)):
            plan = recounted(self.case, plan, len(self.fixed))
            loss = self.case.loss(plan)
            if loss is None:
                return False
        plan = tidy(plan, self.fixed)
        count = self.case.patterns(plan)
        known = self.loss.get(count)
        if known is None or loss < known:
            better = all(loss < other for number, other in self.loss.items() if number <= count)
            self.loss[count] = loss
            self.plans[count] = [plan]
            return better
        if loss == known:
            plans = self.plans[count]
            if plan not in plans:
                if len(plans) < self.keep:
                    plans.append(plan)
                else:  # the oldest goes: the search walks along plans of equal loss
                    at = self._next.get(count, 0)
                    plans[at] = plan
                    self._next[count] = (at + 1) % self.keep
        return False

    def _promising(self, loss: int, patterns: int) -> bool:
        """Whether better numbers of sets could make a plan the best of its patterns or fewer."""
        known = [other for number, other in self.loss.items() if number <= patterns]
        if not known:
            return True
        best, least = min(known), min(self.loss.values())
        return loss <= best + (best - least) // 2 + abs(best) // 8

    def least(self) -> int | None:
        """The least loss known."""
        return min(self.loss.values(), default=None)

    def front(self) -> Iterator[tuple[int, int, list[Plan]]]:
        """(patterns, loss, plans) from least loss to fewest patterns, none beaten by another."""
        best: list[tuple[int, int]] = []
        for count in sorted(self.loss):
            if not best or self.loss[count] < best[-1][1]:
                best.append((count, self.loss[count]))
        for count, loss in reversed(best):
            yield count, loss, self.plans[count]
