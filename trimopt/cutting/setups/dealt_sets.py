"""Patterns for given numbers of sets: each fill leaves only what the later ones can make.

The numbers of sets x1, x2, … of the patterns are drawn first. What is still to be made of a demand
must then be a sum of counts times the numbers of sets to come; the reachable sums are bits of one
integer a demand. A pattern may hold only counts that leave such a sum, and its widths, again bits
of one integer, must fill the deckle within the trim that the plan can still bear. Because the sets
are given, the last pattern then fits by itself.

`Merger` saves a pattern so: some go, their sets are dealt anew to one fewer.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd
from random import Random

from trimopt.cutting.model.cuts import Cut, Pattern, is_allowed, totals_of
from trimopt.cutting.setups.archive import Archive
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.setups.ruin_recreate import Recreator

#: A pattern to be found: (winding class, number of sets).
Slot = tuple[int, int]

#: (place of the demand, option, units made by one piece in all sets, sums before it, counts).
Stage = tuple[int, int, int, int, list[int]]


class _DealtFill:
    """Remaining amounts, and what the later slots can still make of them.

    Parameters
    ----------
    kept
        Cuts that the plan holds beside the patterns to be found.
    slots
        Winding class and sets of each pattern to be found.
    caps
        The most that is made of each demand, in its yield.
    """

    def __init__(
        self,
        tables: BuildTables,
        kept: Sequence[Cut],
        slots: Sequence[Slot],
        caps: Sequence[int],
        rng: Random,
    ) -> None:
        self.tables = tables
        self.rng = rng
        self.slots = slots
        self.fills = 0
        self.max_fills = tables.params.fills * len(slots)
        made, _, _ = totals_of(tables.instance, kept)
        room = [most - got for most, got in zip(caps, made, strict=True)]
        need = [low - got for low, got in zip(tables.low, made, strict=True)]
        self.demands = [i for i, most in enumerate(room) if most > 0 or need[i] > 0]
        self.possible = all(need[i] <= room[i] for i in self.demands)
        if not self.possible:
            return
        chosen = [self._options(c) for c, _ in slots]
        self.left: list[int] = []
        self.open: list[list[int]] = []  # by slot, then by place in `demands`: bits still makeable
        self.items: list[list[tuple[int, int, int, int]]] = [[] for _ in slots]
        for at, i in enumerate(self.demands):
            self._open(at, chosen, room[i], need[i])
            if not self.open[at][0] >> self.left[at] & 1:  # what is left is no sum of later slots
                self.possible = False
                return
        self.slack = self._slack()
        self.possible = self.slack >= 0

    def _open(self, at: int, chosen: Sequence[dict[int, int]], room: int, need: int) -> None:
        """Note what of one demand may be left before each slot, from the last one back.

        Before the first slot `room` is left; after the last, no more than the range allows to be
        left out, `room - need`. Sums are bits, in units that the yields of its options share, or
        coarser ones where it takes many.
        """
        tables, i = self.tables, self.demands[at]
        unit = max(1, -(-room // tables.params.deal_units))
        if unit == 1:
            gains = [tables.gain[per[i]] for per in chosen if i in per]
            unit = gcd(*gains) or 1
        left = room // unit
        self.left.append(left)
        # Bit n of `reach`: n units may be left before a slot. After the last slot that is what the
        # range need not have; going back, a slot with count pieces adds count * step.
        mask = (2 << left) - 1
        spare = left if need <= 0 else max(0, left - -(-need // unit))
        reach = (2 << spare) - 1
        self.open.append([0] * len(self.slots) + [reach])
        for slot in range(len(self.slots) - 1, -1, -1):
            c, sets = self.slots[slot]
            option = chosen[slot].get(i)
            if option is not None:
                step = round(tables.gain[option] * sets / unit)
                cap = min(tables.classes[c].width // tables.width[option], left // max(1, step))
                if cap > 0 and step > 0:
                    self.items[slot].append((at, option, step, cap))
                    after = reach
                    for count in range(1, cap + 1):
                        reach |= after << (count * step)
                    reach &= mask
            self.open[at][slot] = reach

    def _options(self, c: int) -> dict[int, int]:
        """One option of each demand in a class."""
        tables, rng = self.tables, self.rng
        chosen = {}
        for options in tables.classes[c].by_demand:
            at = int(rng.random() * len(options)) if len(options) > 1 else 0
            chosen[tables.demand[options[at]]] = options[at]
        return chosen

    def _slack(self) -> float:
        """Share of paper, times cost, that may lie under no piece: what the needs leave."""
        tables = self.tables
        paper = sum(float(tables.classes[c].cost * n) for c, n in self.slots)
        needed = 0.0
        for at in range(len(self.demands)):
            final = self.open[at][len(self.slots)]
            least = self.left[at] - (final.bit_length() - 1)
            if least <= 0:
                continue
            rates = []
            for slot, (c, sets) in enumerate(self.slots):
                for place, k, step, _ in self.items[slot]:
                    if place == at:
                        limits = tables.classes[c]
                        rates.append(limits.cost * sets * tables.width[k] / limits.width / step)
            if not rates:
                return -1.0
            needed += least * min(rates)
        return paper - needed + 1e-6 * paper

    def run(self) -> list[Cut] | None:
        """Fill the slots in turn; go back to another fill where one led nowhere.

        None where the draw led nowhere.
        """
        cuts: list[Cut] = []
        return cuts if self.possible and self._from(0, self.slack, cuts) else None

    def _from(self, slot: int, slack: float, cuts: list[Cut]) -> bool:
        if slot == len(self.slots):
            return True
        c, sets = self.slots[slot]
        limits = self.tables.classes[c]
        cost = limits.cost * sets
        # No wider strip may be left than all the paper not needed, were it left in this slot alone.
        least = limits.width - int(min(1.0, slack / cost) * limits.width)
        field = self._field(slot)
        if field is None or field[1].bit_length() <= least:
            return False
        stages, usable = field
        before = len(cuts)
        for attempt in range(self.tables.params.fills_tried if slot < len(self.slots) - 1 else 1):
            target = self._target(usable, least, first=attempt == 0)
            pieces, moved = self._read(stages, target)
            if pieces:
                pattern = Pattern(c, pieces)
                if not is_allowed(self.tables.instance, pattern):
                    continue
                cuts.append(Cut(pattern, sets))
            for at, made in moved:
                self.left[at] -= made
            if self._from(slot + 1, slack - cost * (limits.width - target) / limits.width, cuts):
                return True
            for at, made in moved:
                self.left[at] += made
            del cuts[before:]
            if self.fills >= self.max_fills:
                return False
        return False

    def _target(self, usable: int, least: int, *, first: bool) -> int:
        """A used width to fill a slot to: the widest at first, then any from the least on."""
        target = top = usable.bit_length() - 1
        if not first:
            target -= int(self.rng.random() * (top - least + 1))
            while not usable >> target & 1:
                target += 1
        return target

    def _field(self, slot: int) -> tuple[list[Stage], int] | None:
        """Reachable used widths of a slot, and the stages to read a pattern back from."""
        tables, rng = self.tables, self.rng
        self.fills += 1
        limits = tables.classes[self.slots[slot][0]]
        items = self.items[slot]
        here = {item[0] for item in items}
        if not all(
            at in here or self.open[at][slot + 1] >> left & 1 for at, left in enumerate(self.left)
        ):
            return None
        mask = (2 << limits.width) - 1
        reach = 1
        stages: list[Stage] = []
        order = [item for item in items if self.left[item[0]]]
        rng.shuffle(order)
        for at, k, step, cap in order:
            left, after = self.left[at], self.open[at][slot + 1]
            counts = [
                n for n in range(min(cap, left // step) + 1) if after >> (left - n * step) & 1
            ]
            if not counts:
                return None
            stages.append((at, k, step, reach, counts))
            width = tables.width[k]
            grown = 0
            for n in counts:
                grown |= reach << (n * width)
            reach = grown & mask
            if not reach:  # no count of it leaves what the later slots can make, or none fits
                return None
        return stages, reach if limits.plain else reach & limits.allowed

    def _read(
        self, stages: list[Stage], used: int
    ) -> tuple[tuple[tuple[int, int], ...], list[tuple[int, int]]]:
        """A random pattern of the given used width, and what it makes."""
        rng, widths = self.rng, self.tables.width
        found: list[tuple[int, int]] = []
        moved: list[tuple[int, int]] = []
        for at, k, step, before, counts in reversed(stages):
            width = widths[k]
            fitting = [n for n in counts if n * width <= used and before >> (used - n * width) & 1]
            n = fitting[int(rng.random() * len(fitting))]
            if n:
                found.append((k, n))
                moved.append((at, n * step))
                used -= n * width
        return tuple(sorted(found)), moved


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
            slots = self._slots(gone)
            found = _DealtFill(self.tables, kept, slots, self.recreator.caps(), rng).run()
            if found is not None and self.archive.add((*kept, *found)):
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
