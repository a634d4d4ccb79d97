"""The rest of a run of which jumbos unlike the others are cut anew: they come first.

Sets that start soon run behind what is put on these jumbos. Tried are such jumbos filled with what
orders lack beside all sets that may stay, those up to the last on another odd jumbo held too;
beside all others; with what the last of these give too, and with all that is lacking, each with as
many of these sets behind as are worth it; and all planned anew. What the whole rest lacks, is late
with and costs decides, each block that changes at its worth. That an odd jumbo is used up is worth
nothing here: what is left of it is there for the next plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf
from typing import NamedTuple

from trimopt.budget import Budget
from trimopt.errors import OutOfTimeError
from trimopt.plan.model import Block
from trimopt.plan.planning.odd_jumbos.odd_sets import MAX_LOSS
from trimopt.plan.planning.plan_run import alone_in_sets
from trimopt.plan.planning.replanning.issued_places import in_places
from trimopt.plan.planning.replanning.kept_sets import (
    OnJumbos,
    first_sets,
    numbers_of,
    on_jumbos,
    sets_numbered,
    still_wanted,
)
from trimopt.plan.planning.replanning.least_disturbance import FIRST_S, RestSearch
from trimopt.plan.planning.replanning.rest_instructions import for_lacking
from trimopt.plan.planning.replanning.sets_changed import changes_of
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.replanning.tried_rest import ChosenRest
from trimopt.plan.planning.replanning.whole_run import Rest, whole_run
from trimopt.plan.planning.run_jumbos import jumbos_for
from trimopt.plan.planning.run_patterns import odd_part_of
from trimopt.plan.planning.schedule.run_assembly import blocks_of
from trimopt.plan.states import OrderState
from trimopt.progress import Inner
from trimopt.winding import Arrangement

_TIME = 0.85  # of what is left, for a way
_FOR_JUMBOS = 0.8  # of a way's time, for the sets on odd jumbos
_FILLED_S = 0.5  # of work, as `least_disturbance` counts it
_WAY_S = 0.8  # of a whole way, as a rule
_SWIFT = 0.4  # of a way's time, and of work, for all planned anew where none is left
FEW_ORDERS = 9  # of so many there is always work for a rest planned anew


@dataclass(frozen=True, kw_only=True)
class TriedWay:
    """A rest, and what it is ranked by."""

    chosen: ChosenRest
    rank: tuple[int, int, int, float]  # orders left out, kg lacking, orders late, cost
    cost: float


class _Filling(NamedTuple):
    """Blocks that run behind the new sets at once, and those beside which these are sought."""

    held: tuple[Block, ...]
    beside: tuple[Block, ...]


def least_of(found: Sequence[TriedWay]) -> ChosenRest:
    """The one that lacks least, is late with least, and costs least; the first keeps most."""
    best = min(found, key=lambda each: each.rank)
    alike = [e.cost - e.chosen.paid for e in found if e.rank[:-1] <= best.rank[:-1]]
    return replace(
        best.chosen,
        paid=max(0.0, best.cost - min(alike)),
        gained=max(0.0, found[0].cost + found[0].chosen.gained - best.cost),
    )


def _is_enough(best: TriedWay, budget: Budget) -> bool:
    """Whether a rest lacks nothing, is not late, and there is not work enough for another way."""
    return not any(best.rank[:-1]) and budget.work + _WAY_S > budget.max_work


@dataclass(frozen=True, kw_only=True)
class OddRest:
    """The search for such a rest.

    Parameters
    ----------
    case
        The run as it stands when the frozen sets have run, odd jumbos among its stock.
    tail
        Blocks behind them that may stay.
    soon, others
        Those that run behind the new sets at once, as `KeptSets` says.
    search
        Gives the search for the rest of the run as it then stands, with the blocks that may stay
        and the time from which on they run; None: when the frozen sets end.
    """

    case: Standing
    tail: tuple[Block, ...]
    search: Callable[[Standing, tuple[Block, ...], datetime | None], RestSearch]
    soon: tuple[Block, ...] = ()
    others: tuple[Block, ...] = ()

    def best(self, budget: Budget) -> ChosenRest:
        """The rest that lacks least, is late with least, and costs least.

        A way is not begun for which the clock leaves less than one before it took.
        """
        found: list[TriedWay] = []
        ways, took_s, cut = list(self._ways()), 0.0, False
        for place, way in enumerate(ways):
            best = min(found, key=lambda each: each.rank, default=None)
            spent = best is not None and (budget.over() or _is_enough(best, budget))
            if spent and not (way is None and self._is_anew_tried(budget)):
                continue
            left_s = budget.left_s
            if cut := left_s < took_s * (_SWIFT if spent else 1.0):
                break
            # Work parts them; a part of the clock for each would end them on a busy machine.
            left = budget.max_work - budget.work
            work = _SWIFT if spent else left / (len(ways) - place)
            part = budget.share(_TIME, work, min_s=0.0 if found else FIRST_S)
            if budget.watch is not None:
                part.watch = Inner(budget.watch, budget.work / budget.max_work)
            with suppress(OutOfTimeError):
                found.append(self._tried(place, way, part))
            budget.work += part.work
            took_s = max(took_s, left_s - budget.left_s) if left_s < inf else 0.0
        if not found:
            raise OutOfTimeError("the time limit came before any plan of the rest")
        return replace(least_of(found), cut_short=budget.stopped or cut)

    def _is_anew_tried(self, budget: Budget) -> bool:
        """Whether all is planned anew, swiftly, though no work is left: of few orders it is."""
        return len(self.case.run.orders) <= FEW_ORDERS and not budget.share(1.0).over()

    def _ways(self) -> Iterator[_Filling | None]:
        """Ways to fill odd jumbos; None: all is planned anew."""
        tail, soon = self.tail, self.soon
        if self.others:
            beside = sets_numbered(tail, numbers_of(tail) - numbers_of(self.others))
            yield _Filling(held=(*soon, *self.others), beside=beside)
        yield _Filling(held=soon, beside=tail)
        left_m = sum(self._odd(self.case).values())
        rows = [row for block in tail for row in block.sets]
        while rows and left_m > 0:
            left_m -= rows.pop().length_m
        fewer = first_sets(tail, len(rows))[0], ()
        yield from (_Filling(held=soon, beside=b) for b in dict.fromkeys(fewer) if b != tail)
        if not soon:
            yield None

    def _tried(self, number: int, way: _Filling | None, budget: Budget) -> TriedWay:
        if way is None:
            chosen = self.search(self.case, (), None).best(budget)
            return self.ranked(chosen)
        budget.work += _FILLED_S
        of_others = frozenset(n for b in way.held for row in b.sets for n in row.jumbos)
        beside = (*way.held, *way.beside)
        new = self._filled(number, beside, budget.share(_FOR_JUMBOS), of_others)
        case = self.case.after(new.blocks, new.jumbos)
        held, jumbos = in_places(case, way.held) or ((), {})
        case = replace(case.after(held, jumbos), odd_held=True)
        empty = Rest(orders=case.run, jumbos={})
        standing = self.search(self.case, (), None)
        run = whole_run(
            case, empty, settings=standing.settings, start=standing.now, before=standing.before
        )
        tail = sets_numbered(self.tail, numbers_of(self.tail) - numbers_of(held))
        chosen = ChosenRest(rest=empty)
        if case.stock or not case.jumbos.only_listed:
            chosen = self.search(case, still_wanted(case, tail), run.finish).best(budget)
        rest = chosen.rest.behind(held, jumbos).behind(new.blocks, new.jumbos)
        return self.ranked(replace(chosen, rest=rest))

    def _filled(
        self,
        number: int,
        beside: tuple[Block, ...],
        budget: Budget,
        without: frozenset[str] = frozenset(),
    ) -> OnJumbos:
        """Odd jumbos with sets of what orders lack beside some blocks.

        Parameters
        ----------
        without
            Stock widths and jumbos that are passed by.
        """
        case = self.case
        lacking = case.lacking((*case.head, *beside))
        orders = tuple(each for each in lacking.orders if each.number not in without)
        lacking = replace(lacking, orders=orders)
        none = OnJumbos(blocks=(), jumbos={}, with_butts=frozenset())
        if not self._odd(case).keys() - without or not lacking.must_be_made:
            return none
        search = self.search(case, (), None)
        # A seed of its own for each way, so that what one is unlucky with not all are.
        settings = replace(search.settings, seed=search.settings.seed + number)
        stock = tuple(each for each in search.task.stock if each.name not in without)
        task = for_lacking(search.task, lacking)
        task = replace(task, settings=settings, budget=budget, swift=True, stock=stock)
        if case.issued is not None:
            task = replace(task, issued=case.issued.blocks)
        part = odd_part_of(task)
        if part is None:
            return none
        stage = part.stage
        butts = stage.butts_before(others=True)
        # What is left of the one on the unwind is lost as well where nothing is put on it.
        new = [butt for butt in butts if not butt.jumbo.started]
        most_m = MAX_LOSS * sum(butt.jumbo.usable_m for butt in new)
        if beside and sum(butt.left_m for butt in new) > most_m:
            worst = max(new, key=lambda butt: butt.left_m).jumbo.name
            return self._filled(number, beside, budget, without | {worst})
        blocks = blocks_of(
            part.making,
            case.mill,
            Arrangement(blocks=stage.blocks),
            lots=stage.lots,
            sets=stage.sets,
            times=(),
        )
        widths = {each.number for each in orders if each.stock_share is not None}
        if alone := alone_in_sets(blocks, widths):
            return self._filled(number, beside, budget, without | alone)
        return on_jumbos(case, blocks, stage.sets, butts, search.name)

    def _odd(self, case: Standing) -> dict[str, int]:
        """Usable metres of the jumbos that are cut anew, by name."""
        jumbos = jumbos_for(
            case.run,
            case.mill,
            case.stock,
            only_listed=case.jumbos.only_listed,
            in_order=case.in_order,
            started=case.started is not None,
            own_width=True,
        )
        return {jumbo.name: jumbo.usable_m for jumbo in jumbos.odd}

    def ranked(self, chosen: ChosenRest) -> TriedWay:
        """What a rest is ranked by, as one of those that keep of the tail what is worth it."""
        search = self.search(self.case, (), None)
        rest = chosen.rest
        run = search.whole(rest)
        numbers = numbers_of((*self.tail, *self.soon, *self.others))
        changed = changes_of(sets_numbered(self.case.tail, numbers), rest.blocks)
        cost = search.objective.cost_of_plan(run)
        worth = search.disturbance * changed.weight
        late = sum(OrderState.LATE in line.states for line in run.orders)
        lacking_kg = round(sum(line.lacking_kg for line in run.orders))
        return TriedWay(
            chosen=replace(chosen, changed=changed.blocks),
            rank=(len(chosen.left_out), lacking_kg, late, cost + worth),
            cost=cost,
        )
