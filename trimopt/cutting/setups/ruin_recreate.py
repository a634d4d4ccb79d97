"""Ruin and recreate: patterns with few sets are dropped and the rest is built again.

A set-up is saved by patterns that repeat often, and a pattern can repeat only as often as its order
of least sets allows. So what decides is how much of each order a build may make (its caps), how
much trim it bears at first (its allowance), and what is left standing; all three are drawn anew for
each build, as none of them has a best value that could be known before.

References
----------
G. Schrimpf, J. Schneider, H. Stamm-Wilbrandt, G. Dueck (2000), "Record breaking optimization
results using the ruin and recreate principle", Journal of Computational Physics 159, 139-171.
R. W. Haessler (1975), "Controlling cutting pattern changes in one-dimensional trim problems",
Operations Research 23, 483-493, for building patterns by how often they can repeat.
"""

from __future__ import annotations

from math import inf
from random import Random

from trimopt.cutting.model.cuts import Cut
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.setups.archive import Archive
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.setups.direct_builds import Style, build


class Recreator:
    """Draws a plan, ruins it, builds it again, and tells the archive.

    Parameters
    ----------
    archive
        Where plans are kept; its `fixed` cuts are never ruined.
    floor
        Proven or assumed loss that every plan has beside the reduced costs of its patterns.
    """

    def __init__(self, tables: BuildTables, archive: Archive, floor: float, rng: Random) -> None:
        self.tables = tables
        self.archive = archive
        self.floor = floor
        self.rng = rng
        self._all_classes = tuple(range(len(tables.classes)))
        self._ranges = self._make_ranges()

    def _make_ranges(self) -> list[tuple[int, int, int]]:
        """(low, wanted, most) in yield for each demand; without a most no more than must be."""
        ranges = []
        for i, demand in enumerate(self.tables.instance.demands):
            most = demand.low if demand.high is None else demand.high
            wanted = demand.low
            if demand.ordered is not None:
                options = [self.tables.instance.options[k] for k in self.tables.by_demand[i]]
                ratios = [o.worth / o.gain for o in options if o.gain and o.worth]
                if ratios:
                    wanted = round(demand.ordered * len(ratios) / sum(ratios))
            ranges.append((demand.low, max(min(wanted, most), demand.low), most))
        return ranges

    def caps(self) -> tuple[int, ...]:
        """A random most for each demand."""
        rng = self.rng
        draw = rng.random()
        caps = []
        for low, wanted, most in self._ranges:
            if most == low:
                caps.append(low)
            # As much as may be in three builds of ten, so that patterns repeat most; the ordered
            # quantity for some orders in three; else anything between. One style for all orders of
            # a build: mixed, nearly every build would have orders at both ends of their ranges.
            elif draw < 0.3:
                caps.append(most)
            elif draw < 0.6:
                caps.append(wanted if rng.random() < 0.5 else most)
            else:
                caps.append(low + int(rng.random() * (most - low + 1)))
        return tuple(caps)

    def trim_share(self, plan: tuple[Cut, ...]) -> float:
        """Share of the paper in a plan that lies under no piece."""
        used = paper = 0.0
        for cut in plan:
            limits = self.tables.classes[cut.pattern.winding_class]
            paper += cut.sets * limits.cost
            taken = sum(self.tables.width[k] * n for k, n in cut.pattern.pieces)
            used += cut.sets * limits.cost * taken / limits.width
        return 1.0 - used / paper if paper else 0.0

    def _classes(self, plan: tuple[Cut, ...]) -> tuple[int, ...]:
        """Those of the plan and a few others, in random order; now and then all."""
        rng = self.rng
        every = self._all_classes
        if len(every) == 1:
            return every
        if not plan or rng.random() < 0.1:
            chosen = list(every)
        else:
            held = {cut.pattern.winding_class for cut in plan}
            chosen = sorted(held | set(rng.sample(every, min(len(every), 2))))
        rng.shuffle(chosen)
        return tuple(chosen)

    def _ruined(self, plan: tuple[Cut, ...]) -> tuple[Cut, ...]:
        """What is left when a quarter to most of the patterns go, those with few sets first."""
        rng = self.rng
        fixed = len(self.archive.fixed)
        rest = list(plan[fixed:])
        # Sorted by sets to a random power: tilt 0 drops any pattern alike, tilt 2 nearly always
        # those of fewest sets, which are the ones to be saved.
        share = 0.2 + 0.75 * rng.random()
        gone = max(2, round(share * len(rest)))
        tilt = rng.random() * 2.0
        rest.sort(key=lambda cut: rng.random() * (cut.sets**tilt))
        return (*self.archive.fixed, *rest[gone:])

    def step(self, base: tuple[Cut, ...] | None, target: float, patterns: int) -> bool:
        """One build.

        Parameters
        ----------
        base
            The plan to ruin; None: from nothing.
        target
            Loss that the new plan may have, at the most.
        patterns
            Patterns that it may have, at the most.

        Returns
        -------
        bool
            Whether the archive got better.
        """
        rng = self.rng
        kept = self.archive.fixed if base is None else self._ruined(base)
        # A build that begins with the trim of the plan on average seldom ends: fill gets harder as
        # orders run out. Up to three times as much, and `build` widens it where it is stuck.
        spare = self.trim_share(base) if base is not None else 0.02
        allowance = (spare + 1e-3) * 3.0 * rng.random()
        # What patterns lose above the floor is the sum of their reduced costs, so a build is given
        # up at the first pattern that takes it above the loss known for so many patterns.
        budget = target - self.floor if target < inf else inf
        style = Style(
            caps=self.caps(),
            allowance=min(1.0, allowance),
            classes=self._classes(base or ()),
            budget=budget + 1e-6 * SCALE,
            max_patterns=patterns,
            greedy=0.5 + 0.5 * rng.random(),
        )
        plan = build(self.tables, kept, style, rng)
        return plan is not None and self.archive.add(plan)
