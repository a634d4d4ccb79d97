"""The sets that start so soon that they stay as issued without being asked about."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from itertools import takewhile

from trimopt.plan.model import Block, SetRow, Settings
from trimopt.plan.planning.replanning.issued_places import in_places
from trimopt.plan.planning.replanning.kept_sets import (
    MayStay,
    end_to_end,
    first_sets,
    numbers_of,
    sets_numbered,
)
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.replanning.whole_run import Rest, whole_run
from trimopt.winding import StockJumbo

_Laid = tuple[tuple[Block, ...], Mapping[str, StockJumbo]]  # and the jumbos that they lie on


@dataclass(frozen=True, kw_only=True)
class KeptSets:
    """What stays of a run as issued: the sets that are frozen, laid, and blocks that may stay.

    Where odd jumbos are cut anew, `soon` run behind the new sets on these however dear that is;
    `others` run next, if at all, up to the last set on an odd jumbo that is not cut anew. Those of
    them on jumbos like each other are in `tail`, too.
    """

    ahead: Standing  # the run as it stands when the frozen sets have run
    frozen: tuple[Block, ...]
    jumbos: Mapping[str, StockJumbo]
    tail: tuple[Block, ...]
    soon: tuple[Block, ...]
    others: tuple[Block, ...]
    cut_anew: bool  # odd jumbos are, behind the frozen sets
    now: datetime  # when the frozen sets begin
    start: datetime  # when they are finished


@dataclass(frozen=True, kw_only=True)
class FrozenSets:
    """The choice for one run.

    Parameters
    ----------
    stay
        Its sets that may stay.
    name
        What nominal jumbos of the run are called, before their number.
    start, before
        When the next set may start, and the last block before the run.
    keep_until
        Sets that start before it stay.
    odd_anew
        Whether sets on odd jumbos, and those before them, are kept no longer than others.
    """

    case: Standing
    stay: MayStay
    name: str
    settings: Settings
    start: datetime
    before: Block | None
    keep_until: datetime
    odd_anew: bool = False

    @property
    def freed(self) -> tuple[Block, ...]:
        """Sets that start soon and may stay, but the orders that ask for less need none of them."""
        soon = (
            replace(block, sets=tuple(filter(self._is_soon, block.sets)))
            for block in self.stay.too_much
        )
        return tuple(block for block in soon if block.sets)

    def found(self) -> KeptSets:
        """The frozen sets, laid, and those behind them that may stay."""
        frozen, jumbos = self._on_least_paper
        rows = self._timed((frozen, jumbos))
        _, later = first_sets(self.stay.blocks, self._count)
        odd = self.case.odd if self.odd_anew else frozenset()
        soon, others = self._behind
        numbers = {
            row.number
            for block in (*later, *self.stay.too_much)
            for row in block.sets
            if not odd & {*row.jumbos}
        }
        return KeptSets(
            ahead=replace(
                self.case.after(frozen, jumbos),
                odd_held=bool(self.stay.blocks) and not self._cut_anew,
            ),
            frozen=frozen,
            jumbos=jumbos,
            tail=sets_numbered(self.case.tail, numbers - soon),
            soon=sets_numbered(self.case.tail, soon),
            others=sets_numbered(self.case.tail, others),
            cut_anew=self._cut_anew,
            now=self.start,
            start=(rows[-1].finish if rows else None) or self.start,
        )

    @property
    def _behind(self) -> tuple[frozenset[int], frozenset[int]]:
        """Numbers of the sets behind the new ones on odd jumbos: those that start soon, and others.

        What starts soon on an odd jumbo takes the others on it along.
        """
        frozen = numbers_of(first_sets(self.stay.blocks, self._count)[0])
        rows = [row for b in self.stay.behind for row in b.sets if row.number not in frozen]

        def to_last(holds: Callable[[SetRow], object]) -> int:
            return max((at for at, row in enumerate(rows, start=1) if holds(row)), default=0)

        soon = to_last(self._is_soon)
        begun = self.case.odd & {name for row in rows[:soon] for name in row.jumbos}
        soon = max(soon, to_last(lambda row: begun & {*row.jumbos}))
        odd = frozenset[str]() if self.odd_anew else self.case.odd
        others = max(soon, to_last(lambda row: odd & {*row.jumbos}))
        numbers = [row.number for row in rows]
        return frozenset(numbers[:soon]), frozenset(numbers[soon:others])

    @property
    def _cut_anew(self) -> bool:
        return self.odd_anew or self.stay.cut_anew is not None

    @cached_property
    def _as_issued(self) -> _Laid:
        found = in_places(self.case, self.stay.blocks)
        assert found is not None  # each that may stay has its place
        return found

    @cached_property
    def _count(self) -> int:
        """How many of the sets that may stay are frozen."""
        issued = [row for block in self.stay.blocks for row in block.sets]
        rows = zip(issued, self._timed(self._as_issued), strict=True)
        # A set that moves up because others cannot stay need not stay for it.
        soon = list(takewhile(lambda pair: all(map(self._is_soon, pair)), rows))
        count = len(soon[: self.stay.cut_anew])
        on, odd = [{*row.jumbos} for row in issued], self.case.odd
        if not self.odd_anew:  # what lies on an odd jumbo, and goes before it, was to fill it
            count = max(count, *(at for at, names in enumerate(on, start=1) if odd & names), 0)
        if self._cut_anew:  # what is on the unwind is cut before an odd one
            opened = set().union(*on[:count])
            opened |= set() if self.case.started is None else {self.case.started.name}
            while count < len(on) and opened & on[count]:
                count += 1
        return count

    @cached_property
    def _on_least_paper(self) -> _Laid:
        """Frozen sets where they were issued, or end to end where less is left behind them."""
        laid, jumbos = self._as_issued
        frozen, _ = first_sets(laid, self._count)
        if not frozen or self.case.odd:
            return frozen, jumbos
        other = end_to_end(self.case, frozen, self.name)
        if sum(len(b.sets) for b in other.blocks) < self._count:
            return frozen, jumbos
        as_issued_m = self.case.after(frozen, jumbos).taken_m
        less = self.case.after(other.blocks, other.jumbos).taken_m < as_issued_m
        return (other.blocks, other.jumbos) if less else (frozen, jumbos)

    def _is_soon(self, row: SetRow) -> bool:
        return row.start is not None and row.start < self.keep_until

    def _timed(self, laid: _Laid) -> list[SetRow]:
        """Sets that go on from what was run, at their times."""
        blocks, jumbos = laid
        if not blocks:
            return []
        rest = Rest(
            blocks=blocks,
            orders=self.case.run,
            lengths=tuple((block.core_mm, block.length_m) for block in blocks),
            jumbos=jumbos,
        )
        run = whole_run(
            self.case, rest, settings=self.settings, start=self.start, before=self.before
        )
        return [row for block in run.blocks for row in block.sets if not row.done]
