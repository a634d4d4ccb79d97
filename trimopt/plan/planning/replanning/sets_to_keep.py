"""Which sets of the plan as issued are worth keeping, estimated before anything is wound.

Orders that ask for less leave sets that nobody needs; others are cheaper to give up than to fill
up. How many of each block stay is chosen by an integer program (`trimopt.cutting.search`)
beside the patterns of a plan from scratch, each set of these with its share of a butt.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from trimopt.budget import Budget
from trimopt.cutting import Instance, Pattern, generated_patterns
from trimopt.cutting.model.cuts import is_allowed
from trimopt.cutting.search.pool_column import PoolColumn
from trimopt.making import PreparedRun, prepare
from trimopt.plan.model import Block
from trimopt.plan.planning.objective import Objective, with_butt_costs
from trimopt.plan.planning.replanning.kept_sets import BlockPieces, still_wanted
from trimopt.plan.planning.replanning.standing import Standing

Counts = tuple[int, ...]  # of each issued block the sets that stay, its first ones

_FEW = 3  # small blocks that are given up, each alone
_MAX_OTHERS = 400  # patterns in the program beside the sets issued


@dataclass(frozen=True, kw_only=True)
class SetsToKeep:
    """The choice for one run; `tail` are its issued blocks that may stay."""

    case: Standing
    tail: tuple[Block, ...]
    pinned: tuple[bool, ...]
    objective: Objective
    seed: int
    generated: list[Pattern] = field(default_factory=list)  # once they are all known

    def best(self, disturbance: float, beside: Sequence[Block], budget: Budget) -> Counts | None:
        """How many sets of each block to keep, where each block that changes costs so much.

        Parameters
        ----------
        beside
            Blocks of other plans of the rest; their patterns may be wound too.
        """
        # Slow to import, and a plan whose sets all stay does not come here.
        from trimopt.cutting.search.pool_program import sets_that_stay  # noqa: PLC0415

        per_unit = self.objective.per_kg * self.objective.kg_per_unit
        if not per_unit:
            return None
        known = map(self._engine.pattern, (*self.tail, *beside))
        others = dict.fromkeys(each for each in known if each and is_allowed(self._instance, each))
        if not self.generated:
            self.generated.extend(generated_patterns(self._instance, budget=budget.share(1.0)))
        others.update(dict.fromkeys(self.generated))
        return sets_that_stay(
            self._instance,
            [self._column(block) for block in self.tail],
            list(others)[:_MAX_OTHERS],
            pinned=self.pinned,
            change=round(disturbance / per_unit),
            set_up=round(self.objective.set_up / per_unit),
            budget=budget,
            seed=self.seed,
        )

    @property
    def less_one(self) -> Iterator[Counts]:
        """All blocks but one, the smallest first."""
        every = self._every
        small = sorted(range(len(every)), key=every.__getitem__)
        for place in [place for place in small if not self.pinned[place]][:_FEW]:
            yield (*every[:place], 0, *every[place + 1 :])

    @property
    def first_half(self) -> Counts:
        """The first blocks, to half of the sets or beyond; where these are all, to half of them."""
        left = -(-sum(self._every) // 2)
        whole, cut = [], []
        for sets, pinned in zip(self._every, self.pinned, strict=True):
            whole.append(sets if left > 0 or pinned else 0)
            cut.append(sets if pinned else max(0, min(sets, left)))
            left -= sets
        return tuple(cut if tuple(whole) == self._every else whole)

    @property
    def _every(self) -> Counts:
        return tuple(len(block.sets) for block in self.tail)

    @property
    def asked_for(self) -> Counts:
        """How many sets of each block the orders ask for, as they ask now."""
        blocks = still_wanted(self.case, self.tail, as_asked=True)
        wanted = {row.number for block in blocks for row in block.sets}
        return tuple(
            len(block.sets) if pinned else sum(row.number in wanted for row in block.sets)
            for block, pinned in zip(self.tail, self.pinned, strict=True)
        )

    @cached_property
    def _making(self) -> PreparedRun:
        """What orders lack after the head, over the lengths issued and those of a new plan."""
        case = self.case
        own = prepare(case.lacking(case.head), case.mill, usable_m=case.jumbos.sets_m)
        lengths = [(block.core_mm, block.length_m) for block in self.tail]
        lengths += [(each.core_mm, each.length_m) for each in own.classes]
        return prepare(
            own.run, case.mill, usable_m=case.jumbos.usable_m, lengths=dict.fromkeys(lengths)
        )

    @cached_property
    def _engine(self) -> BlockPieces:
        return BlockPieces(self._making)

    @cached_property
    def _instance(self) -> Instance:
        return with_butt_costs(self._making, self.case.mill, self.case.jumbos.max_m)

    def _column(self, block: Block) -> PoolColumn:
        """The sets of a block: they fill their jumbos, so that they are charged no butt."""
        yields: dict[int, tuple[int, int]] = {}
        for k, count in self._engine.of(block).items():
            if k is not None:
                option = self._instance.options[k]
                gain, worth = yields.get(option.demand, (0, 0))
                yields[option.demand] = gain + option.gain * count, worth + option.worth * count
        wide = int(self.case.mill.jumbo.width_mm / self._making.unit_mm)
        return PoolColumn(cost=block.length_m * wide, yields=yields, max_count=len(block.sets))
