"""Where a run stands: the sets that were run of it, their jumbos, and what each order still lacks.

What was run never changes. A reel that was run for an order that has since been cancelled, or
changed so that the reel is none of it, serves no order any more: it stands with the spoiled ones.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from trimopt.book.model import Book, JumboInStock, LeftOut, Order
from trimopt.errors import PlanError
from trimopt.making import PreparedRun, Run, prepare, required, runs_of, ways
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, JumboUse, Plan, RunPlan
from trimopt.plan.planning.order_tally import made_of
from trimopt.plan.planning.replanning.done_sets import as_wound, done_before, require_sets
from trimopt.plan.planning.replanning.stock_as_picked import with_stock_as_picked
from trimopt.plan.planning.run_jumbos import (
    RunJumbos,
    at_width_of,
    jumbos_in_book,
    stock_jumbo,
    width_begun_with,
)
from trimopt.plan.replan import DoneSet, WhatRan
from trimopt.winding import StockJumbo

_Ready = tuple[tuple[Order, ...], tuple[tuple[float | None, int], ...], tuple[Fraction, ...]]
_MAX_READY = 50
_NUMBERED = re.compile(r"(.*?) ?(\d+)")


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A run of the book as it is now, and what stands of it.

    `head` are the sets that were run, block by block, `tail` those issued and not run. `opened`
    are the jumbos of the head in the order in which they came on, whole, and `wound_m` the metres
    taken off each. `place` counts the runs of the book.
    """

    run: Run
    place: int
    issued: RunPlan | None
    mill: Mill  # as the run sees it
    jumbos: RunJumbos
    in_order: bool  # listed jumbos come off in the list's order alone
    head: tuple[Block, ...] = ()
    tail: tuple[Block, ...] = ()
    opened: tuple[StockJumbo, ...] = ()
    waiting: frozenset[str] = frozenset()  # orders that nothing more is required of
    as_listed: frozenset[str] = frozenset()  # jumbos that are listed as the plan issued has them
    odd_held: bool = False  # odd jumbos are as they were planned, and nothing more is put on them
    ready: dict[_Ready, PreparedRun] = field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def wound_m(self) -> Mapping[str, int]:
        """Metres wound off each jumbo of the head."""
        wound: Counter[str] = Counter()
        for block in self.head:
            for row in block.sets:
                for part in row.stretches:
                    wound[part.jumbo] += part.to_m - part.from_m
        return wound

    @property
    def reached_m(self) -> Mapping[str, int]:
        """Where the head ends on each of its jumbos, what is cut out of it in between."""
        return {
            part.jumbo: part.to_m
            for block in self.head
            for row in block.sets
            for part in row.stretches
        }

    @property
    def taken_m(self) -> int:
        """Metres of the jumbos of the head: of the last up to where it ends, of others all."""
        return sum(jumbo.usable_m for jumbo in self.opened[:-1]) + sum(
            self.reached_m[jumbo.name] for jumbo in self.opened[-1:]
        )

    @property
    def started(self) -> StockJumbo | None:
        """The jumbo on the unwind, whole; None: nothing is left of it, or none was opened."""
        last = self.opened[-1] if self.opened else None
        if last is None or last.usable_m <= self.reached_m[last.name]:
            return None
        return None if self.odd_held and self.is_odd(self._left_of(last)) else last

    def jumbo(self, name: str) -> StockJumbo | None:
        """A jumbo of the plan as issued that sets can still be wound from, whole; None: it is not.

        Of those that were opened it is the one on the unwind.
        """
        opened = next((each for each in self.opened if each.name == name), None)
        if opened is not None:
            return opened if opened is self.opened[-1] else None
        uses = () if self.issued is None else self.issued.jumbos
        use = next((use for use in uses if use.name == name), None)
        listed = next((jumbo for jumbo in self.stock if jumbo.name == name), None)
        if listed is not None:
            return stock_jumbo(listed)
        if use is None or not use.nominal or self.jumbos.only_listed:
            return None
        own = self.mill.jumbo  # its losses as they are known now
        use = replace(use, loss_start_m=own.loss_start_m, loss_end_m=own.loss_end_m)
        return _whole(use, self.jumbos, own.length_m)

    @property
    def listed_names(self) -> frozenset[str]:
        """Names of the jumbos that the book lists for the run."""
        return frozenset(jumbo.name for jumbo in (*self.jumbos.listed, *self.jumbos.odd))

    def nominal_number(self, name: str) -> int:
        """The highest number of a jumbo of this name that was opened; 0: none was.

        A nominal one is listed once it is known to be short, or to have a defect.
        """
        found = (_NUMBERED.fullmatch(jumbo.name) for jumbo in self.opened)
        return max((int(each[2]) for each in found if each and each[1] == name), default=0)

    def after(self, blocks: Sequence[Block], jumbos: Mapping[str, StockJumbo]) -> Standing:
        """The run as it will stand when these blocks, which are laid, have run."""
        names = dict.fromkeys(
            part.jumbo for block in blocks for row in block.sets for part in row.stretches
        )
        known = {jumbo.name for jumbo in self.opened}
        opened = (*self.opened, *(jumbos[name] for name in names if name not in known))
        return replace(self, head=(*self.head, *blocks), opened=opened)

    @property
    def head_lengths(self) -> tuple[tuple[float | None, int], ...]:
        """Cores and nominal lengths of the head."""
        return tuple(dict.fromkeys((block.core_mm, block.length_m) for block in self.head))

    def making(
        self, orders: Sequence[Order], lengths: Sequence[tuple[float | None, int]]
    ) -> PreparedRun:
        """Make the run ready for these orders, lengths, and all jumbos, opened ones among them."""
        odd, opened = ({each.width_mm for each in some} for some in (self.jumbos.odd, self.opened))
        key = tuple(orders), tuple(lengths), tuple(sorted(odd | opened))
        if key not in self.ready:
            if len(self.ready) == _MAX_READY:
                self.ready.clear()
            run = replace(self.run, orders=key[0], odd_widths_mm=key[2])
            made = prepare(run, self.mill, usable_m=self.jumbos.usable_m, lengths=key[1])
            self.ready[key] = made
        return self.ready[key]

    def lacking(self, head: Sequence[Block]) -> Run:
        """The run with what its orders still lack after a head; those that take no more are out."""
        if not head and not self.waiting:
            return self.run
        made, unit_mm = self.made(head)
        orders = [
            replace(
                each,
                made=each.made + made[each.number],
                under=Fraction(1) if each.number in self.waiting else each.under,
            )
            for each in self.run.orders
        ]
        return replace(
            self.run,
            orders=tuple(each for each in orders if required(each, unit_mm).high > 0),
        )

    def made(self, head: Sequence[Block]) -> tuple[dict[str, Fraction], Fraction]:
        """What a head gives to each order, in its unit; and the run's unit of width."""
        lengths = tuple(dict.fromkeys((block.core_mm, block.length_m) for block in head))
        making = self.making(self.run.orders, lengths)
        return made_of(replace(making, run=self.run), self.mill, head), making.unit_mm

    def making_of_all(
        self, orders: Sequence[Order], lengths: Sequence[tuple[float | None, int]]
    ) -> PreparedRun:
        """The same, with lengths more for orders that none of these serves."""
        making = self.making(orders, lengths)
        served = {order.number for order in making.run.orders}
        others = tuple(order for order in orders if order.number not in served)
        if not others:
            return making
        run = replace(self.run, orders=others)
        more = prepare(run, self.mill, usable_m=self.jumbos.usable_m).classes
        every = (*lengths, *((each.core_mm, each.length_m) for each in more))
        return self.making(orders, every)

    def with_stock(self, left_out: Iterable[LeftOut]) -> list[LeftOut]:
        """Orders left out, with the reels that were picked from stock for them all the same."""
        stock = {order.number: order.stock for order in self.run.orders}
        return [replace(each, stock=stock.get(each.order, ())) for each in left_out]

    def is_odd(self, jumbo: StockJumbo | JumboInStock) -> bool:
        """Whether it is of another width than the run, or has defects."""
        return jumbo.width_mm != self.mill.jumbo.width_mm or bool(jumbo.defects)

    @property
    def odd(self) -> frozenset[str]:
        """Jumbos of another width, or with defects, that sets can be wound from."""
        return frozenset(jumbo.name for jumbo in self.stock if self.is_odd(jumbo))

    @property
    def stock(self) -> tuple[JumboInStock, ...]:
        """What the rest is wound from: what is left on the unwind, then listed and not opened.

        Where the list keeps its order, none that stands before one that was opened.
        """
        names = {jumbo.name for jumbo in self.opened}
        every = (*self.jumbos.listed, *self.jumbos.odd)
        if self.in_order:
            every = (*self.jumbos.odd, *self.jumbos.listed)  # as they are listed
            passed = [n for n, jumbo in enumerate(every, start=1) if jumbo.name in names]
            every = every[max(passed, default=0) :]
        listed = [
            jumbo
            for jumbo in every
            if jumbo.name not in names and not (self.odd_held and self.is_odd(jumbo))
        ]
        started = self.started
        if started is not None:
            listed.insert(0, self._left_of(started))
        return tuple(listed)

    def _left_of(self, started: StockJumbo) -> JumboInStock:
        """What is left of the jumbo on the unwind, with the defects that still lie in it."""
        gone_m = self.reached_m[started.name]
        before_m = started.loss_start_m + gone_m
        return JumboInStock(
            name=started.name,
            grade=self.run.grade,
            grammage_gsm=self.run.grammage_gsm,
            width_mm=started.width_mm,
            length_m=started.usable_m - gone_m + started.loss_end_m,
            loss_start_m=0,
            loss_end_m=started.loss_end_m,
            defects=tuple(
                replace(each, from_m=max(0, each.from_m - before_m), to_m=each.to_m - before_m)
                for each in started.defects
                if each.to_m > before_m
            ),
        )


def standing_runs(issued: Plan, book: Book, mill: Mill, ran: WhatRan) -> tuple[Standing, ...]:
    """Where each run of a plan or of the book stands: those with sets run first, as they ran.

    Reels from stock stay with the order that the plan as issued gives them to.

    Raises
    ------
    PlanError
        A set that is said to have been run is none of the plan, or takes more than its jumbo has;
        or sets were run of a paper that the mill file has no more.
    """
    require_sets(issued, ran)
    every = runs_of(replace(book, stock=()), mill)
    runs = {run.name: (place, run) for place, run in enumerate(every, start=1)}
    plans = {run.name: run for run in issued.runs}
    was = {u.name: (u.width_mm, u.length_m, u.defects) for r in issued.runs for u in r.jumbos}
    unused = {each.name: (each.width_mm, each.length_m) for each in issued.unused_jumbos}
    as_listed = frozenset(
        each.name
        for each in book.jumbos
        if was.get(each.name) == (each.width_mm, each.length_m, each.defects)
        or unused.get(each.name) == (each.width_mm, each.length_m)
    )
    standing = []
    for name in dict.fromkeys((*plans, *runs)):
        before = plans.get(name)
        done = {} if before is None else done_before(before)
        done |= {each.number: each for each in ran.sets if each.run == name}
        if name not in runs and before is not None and done:
            runs[name] = len(runs) + 1, _without_orders(before, book, mill)
        if name in runs:
            place, run = runs[name]
            jumbos = jumbos_in_book(run, every, book, mill, width_begun_with(before, done))
            before = before and at_width_of(before, jumbos.mill)
            case = Standing(
                run=run,
                place=place,
                issued=before,
                mill=jumbos.mill,
                jumbos=jumbos,
                in_order=book.jumbos_in_order,
                as_listed=as_listed,
            )
            standing.append(case if before is None else _run_in_part(case, before, done, ran))
    return with_stock_as_picked(standing, issued, book.stock, mill)


def _without_orders(issued: RunPlan, book: Book, mill: Mill) -> Run:
    """A run of which every line was cancelled: what was run of it stands, and nothing follows."""
    if mill.grade(issued.grade) is None:
        raise PlanError(
            f"sets of {issued.name} were run, and the mill file has no grade {issued.grade} any "
            "more: keep it there as long as plans with such sets go on"
        )
    return Run(
        name=issued.name,
        grade=issued.grade,
        grammage_gsm=issued.grammage_gsm,
        orders=(),
        written=mill.units.written(book.unit_system),
        listed_jumbos=book.jumbo_names,
    )


def _run_in_part(
    case: Standing, issued: RunPlan, done: Mapping[int, DoneSet], ran: WhatRan
) -> Standing:
    """The run with its issued sets parted into those that were run and the others."""
    tail = tuple(
        replace(block, sets=rest)
        for block in issued.blocks
        if (rest := tuple(row for row in block.sets if row.number not in done))
    )
    case = replace(case, head=_head(case, issued, done), tail=tail)
    uses = {use.name: use for use in issued.jumbos}
    measured = dict(ran.jumbo_m)
    opened = tuple(_whole(uses[name], case.jumbos, measured.get(name)) for name in case.wound_m)
    for jumbo in opened:
        wound_m = case.wound_m[jumbo.name]
        if wound_m > jumbo.usable_m:
            raise PlanError(
                f"{wound_m:,} m were run off jumbo {jumbo.name}, of which {jumbo.usable_m:,} m can "
                "be used: mend the lengths as run, or the jumbo's"
            )
    case = replace(case, opened=opened)
    if case.started is not None:
        _require_width(case, case.started)
    return case


def _head(case: Standing, issued: RunPlan, done: Mapping[int, DoneSet]) -> tuple[Block, ...]:
    usable_m = max(case.jumbos.usable_m, default=case.mill.jumbo.usable_m)
    orders = (each for each in case.run.orders if ways(each, case.mill, usable_m=usable_m))
    whole = {use.name: _whole(use, case.jumbos, None) for use in issued.jumbos}
    return tuple(as_wound(issued, done, {each.number: each for each in orders}, whole, case.mill))


def _require_width(case: Standing, started: StockJumbo) -> None:
    """Sets were run off the jumbo on the unwind: it cannot be of another width from its start."""
    stock = (*case.jumbos.listed, *case.jumbos.odd)
    listed = next((each for each in stock if each.name == started.name), None)
    if listed is not None and listed.width_mm != started.width_mm:
        was = f"{float(started.width_mm):g} mm"
        gone_m = started.loss_start_m + case.reached_m[started.name]
        raise PlanError(
            f"sets were run off jumbo {started.name} at {was}, and it is now listed at "
            f"{float(listed.width_mm):g} mm: list {gone_m} m of it at {was} with end loss 0, and "
            f"the other {listed.length_m - gone_m} m under another name with start loss 0"
        )


def _whole(use: JumboUse, jumbos: RunJumbos, measured_m: int | None) -> StockJumbo:
    """A jumbo of the plan as it is: as measured, as the book lists it now, or as it was planned."""
    every = (*jumbos.listed, *jumbos.odd)
    listed = next((jumbo for jumbo in every if jumbo.name == use.name), None)
    loss_end_m = jumbos.mill.jumbo.loss_end_m if use.carried_forward_m else use.loss_end_m
    length_m = use.length_m
    if listed is not None:
        length_m, loss_end_m = listed.length_m, listed.loss_end_m
    if measured_m is not None:
        length_m = measured_m
    return StockJumbo(
        name=use.name,
        width_mm=use.width_mm,
        usable_m=length_m - use.loss_start_m - loss_end_m,
        loss_start_m=use.loss_start_m,
        loss_end_m=loss_end_m,
        nominal=use.nominal and listed is None,
        defects=use.defects if listed is None else listed.defects,
    )
