"""The rest of a run planned: what stays as issued of it, and what is put in place of the others."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property, partial

from trimopt.book.model import Book, Instruction
from trimopt.budget import Budget
from trimopt.errors import OutOfTimeError
from trimopt.plan.model import Block, Settings
from trimopt.plan.planning.replanning.frozen_sets import FrozenSets, KeptSets
from trimopt.plan.planning.replanning.kept_sets import task_of, that_may_stay
from trimopt.plan.planning.replanning.least_disturbance import FIRST_S, RestSearch
from trimopt.plan.planning.replanning.odd_rest import FEW_ORDERS, OddRest, least_of
from trimopt.plan.planning.replanning.rest_instructions import for_the_rest
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.replanning.tried_rest import ChosenRest
from trimopt.plan.planning.replanning.whole_run import Rest
from trimopt.plan.proof_data import InstructionAnswer
from trimopt.plan.states import LACKING

_ANEW_S, _ORDER_S = 0.75, 0.05  # of work, for a rest with odd jumbos anew and each of its orders
_SEARCH = 0.9  # of a run's time; the rest is for its bound


@dataclass(frozen=True, kw_only=True)
class RestPlanner:
    """Plans what runs still lack."""

    book: Book
    settings: Settings
    asked: tuple[Instruction, ...]
    names: dict[str, str]  # of nominal jumbos, before their number, by run
    keep_until: datetime

    @cached_property
    def _known(self) -> frozenset[str]:
        """Orders that are not cancelled: those of the book, and its lines with faults."""
        left_out = (each.order for each in self.book.left_out)
        return frozenset((*(each.number for each in self.book.orders), *left_out))

    def frozen(self, case: Standing, start: datetime, before: Block | None) -> FrozenSets:
        """The sets of a run that stay as issued."""
        stay = that_may_stay(case, self.settings, self._known)
        if not stay.refused:
            case = replace(case, waiting=_waiting(case))
        return FrozenSets(
            case=case,
            stay=stay,
            name=self.names[case.run.name],
            settings=self.settings,
            start=start,
            before=before,
            keep_until=self.keep_until,
        )

    def rest(
        self, case: Standing, frozen: FrozenSets, before: Block | None, budget: Budget
    ) -> ChosenRest:
        """The rest of a run, frozen sets first, and its orders that cannot be made.

        Sets on odd jumbos are kept, and what goes before them, or all of the rest is planned anew:
        not where something is asked for, which was not tried.
        """
        asked = [one for one in self.asked if one.concerns(case.run.grade, case.run.grammage_gsm)]
        kept = frozen.found()
        found = self._rest(case, kept, before, asked, budget)
        anew = replace(frozen, odd_anew=True).found() if case.odd and not asked else kept
        if _count(anew.frozen) == _count(kept.frozen) or not _is_work_left(case, budget):
            return found
        if budget.share(1.0).over() or budget.left_s < FIRST_S:
            return replace(found, cut_short=True)
        ways = [found]
        with suppress(OutOfTimeError):
            ways.append(self._rest(case, anew, before, asked, budget))
        search = partial(self._search, kept=kept, before=before, asked=asked, budget=budget)
        rank = OddRest(case=frozen.case, tail=case.tail, search=search).ranked
        cut_short = budget.stopped or any(each.cut_short for each in ways)
        return replace(least_of([*map(rank, ways)]), cut_short=cut_short)

    def _rest(
        self,
        case: Standing,
        kept: KeptSets,
        before: Block | None,
        asked: Sequence[Instruction],
        budget: Budget,
    ) -> ChosenRest:
        ahead = kept.ahead
        found = ChosenRest(rest=Rest(orders=case.run, jumbos={}))
        search = partial(self._search, kept=kept, before=before, asked=asked, budget=budget)
        if kept.tail or kept.soon or ahead.lacking(ahead.head).must_be_made:
            part = budget.share(_SEARCH, budget.max_work - budget.work)
            if kept.cut_anew:
                odd = OddRest(
                    case=ahead, tail=kept.tail, search=search, soon=kept.soon, others=kept.others
                )
                found = odd.best(part)
            else:
                found = search(ahead, kept.tail, None).best(part)
            budget.work += part.work
        whole = found.rest.behind(kept.frozen, kept.jumbos)
        # The check judges whether each is kept.
        answers = tuple(InstructionAnswer(instruction=one, kept=True) for one in asked)
        return replace(found, rest=replace(whole, instructions=answers))

    def _search(
        self,
        case: Standing,
        tail: tuple[Block, ...],
        start: datetime | None,
        *,
        kept: KeptSets,
        before: Block | None,
        asked: Sequence[Instruction],
        budget: Budget,
    ) -> RestSearch:
        """The search for the rest of a run as it stands, with the blocks that may stay.

        It begins at `start`; None: when the frozen sets end.
        """
        start = start or kept.start
        return RestSearch(
            case=case,
            tail=tail,
            task=task_of(
                case,
                case.lacking(case.head),
                self.book,
                settings=self.settings,
                start=start,
                before=case.head[-1] if case.head else before,
                instructions=tuple(for_the_rest(asked, (*case.head, *tail), case.run, case.mill)),
                budget=budget,
            ),
            name=self.names[case.run.name],
            settings=self.settings,
            now=kept.now,
            start=start,
            before=before,
            pins=tuple(one for one in asked if one.what == "pin"),
            watch=budget.watch,
        )


def _is_work_left(case: Standing, budget: Budget) -> bool:
    """Whether there is, for the rest of a run planned anew; of few orders there always is."""
    orders = len(case.run.orders)
    return orders <= FEW_ORDERS or budget.work + _ANEW_S + _ORDER_S * orders <= budget.max_work


def _count(blocks: Sequence[Block]) -> int:
    return sum(len(block.sets) for block in blocks)


def _waiting(case: Standing) -> frozenset[str]:
    """Orders that the plan as issued had no hours or paper for, and that ask no more now."""
    issued = () if case.issued is None else case.issued.orders
    asked = {line.number: (line.asked, line.made_before) for line in issued
             if set(line.states) & LACKING}  # fmt: skip
    return frozenset(
        order.number
        for order in case.run.orders
        if asked.get(order.number) == (order.quantity, order.made)
        and not any(
            position.order == order.number and position.number in row.spoiled
            for block in case.head
            for row in block.sets
            for position in block.positions
        )
    )
