"""The best plan for each number of patterns, with others as good."""

from __future__ import annotations

from collections.abc import Iterator

from trimopt.cutting.model.cuts import Cut, Pattern
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.setups.set_counts import recounted


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
        self._ranges = any(d.high != d.low for d in tables.instance.demands)

    def add(self, cuts: tuple[Cut, ...]) -> bool:
        """Take in a plan; True where it is better than what was known for its patterns or fewer."""
        tables = self.tables
        loss = tables.loss(cuts)
        if loss is not None and self._ranges and self._promising(loss, tables.patterns(cuts)):
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
