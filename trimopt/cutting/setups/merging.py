"""One pattern fewer: some patterns go, their sets are dealt anew to fewer, contents are sought."""

from __future__ import annotations

from random import Random

from trimopt.cutting.model.cuts import Cut
from trimopt.cutting.setups.archive import Archive
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.setups.dealt_sets import Slot, fill_dealt_sets
from trimopt.cutting.setups.ruin_recreate import Recreator


class Merger:
    """Draws what goes and how many sets the new patterns have.

    Parameters
    ----------
    recreator
        Knows how much of each demand may be made.
    """

    def __init__(
        self, tables: BuildTables, archive: Archive, recreator: Recreator, rng: Random
    ) -> None:
        self.tables = tables
        self.archive = archive
        self.recreator = recreator
        self.rng = rng

    def _split(self, plan: tuple[Cut, ...], count: int) -> tuple[list[Cut], list[Cut]]:
        """(kept, gone): those with few sets go first, with chance."""
        fixed = len(self.archive.fixed)
        rest = list(plan[fixed:])
        tilt = self.rng.random()
        rest.sort(key=lambda cut: self.rng.random() * cut.sets**tilt)
        return [*plan[:fixed], *rest[count:]], rest[:count]

    def draw(self, plan: tuple[Cut, ...], tries: int) -> bool:
        """Deal the sets of some patterns to one pattern fewer, some times over.

        Returns
        -------
        bool
            Whether the archive got better.
        """
        rng = self.rng
        free = len(plan) - len(self.archive.fixed)
        if free < 3:
            return False
        kept, gone = self._split(plan, rng.randint(3, min(free, 16)))
        for _ in range(tries):
            found = fill_dealt_sets(
                self.tables, kept, self._slots(gone), self.recreator.caps_for(plan), rng
            )
            if found is not None and self.archive.add(found):
                return True
        return False

    def _slots(self, gone: list[Cut]) -> list[Slot]:
        """Winding class and sets of one pattern fewer, with as much paper as before."""
        rng = self.rng
        slots = [(cut.pattern.winding_class, cut.sets) for cut in gone]
        c, sets = slots.pop(int(rng.random() * len(slots)))
        costs = [limits.cost for limits in self.tables.classes]
        extra = sets * costs[c]
        if rng.random() < 0.5 or len({slot[0] for slot in slots}) > 1:
            dealt = [n for _, n in slots]
            while extra > 0:
                at = int(rng.random() * len(slots))
                cost = costs[slots[at][0]]
                step = 1 + int(rng.random() * max(1, extra // cost))
                dealt[at] += step
                extra -= step * cost
            slots = [(slot[0], n) for slot, n in zip(slots, dealt, strict=True)]
        else:
            c = slots[0][0]
            total = sum(n for _, n in slots) + extra // costs[c]
            slots = [(c, n) for n in self._parts(total, len(slots))]
        slots.sort(key=lambda slot: (-slot[1] * costs[slot[0]], slot))
        return slots

    def _parts(self, total: int, count: int) -> list[int]:
        """Numbers that add up to the total, many of them a whole part of what some demand asks."""
        rng, tables = self.rng, self.tables
        parts: list[int] = []
        left = total
        for rest in range(count - 1, 0, -1):
            if rng.random() < 0.7:
                k = int(rng.random() * len(tables.gain))
                part = tables.low[tables.demand[k]] // tables.gain[k] // (1 + int(rng.random() * 5))
            else:
                part = int(rng.random() * 2 * left / (rest + 1))
            part = max(1, min(part, left - rest))
            parts.append(part)
            left -= part
        return [*parts, max(1, left)]
