"""A shift of eight hours: events at random times, a plan of the rest after each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path
from random import Random

from tests.shifts.afresh import Afresh, as_run, frozen_sets, lost_kg
from tests.shifts.events import happen
from tests.shifts.must_hold import must_hold, stayed
from trimopt import (
    Book,
    Budget,
    DoneSet,
    Effort,
    JumboInStock,
    Mill,
    Plan,
    Replan,
    Request,
    RunPlan,
    WhatRan,
    make_plan,
    read_book,
    read_mill,
    replan,
)
from trimopt.book.model import Defect
from trimopt.plan.model import Block, SetRow
from trimopt.plan.planning.replanning.standing import standing_runs

ORDERS = Path(__file__).parents[2] / "orders"
HOURS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """An event, and what the plan of the rest made of it.

    `may_stay` are sets still to run whose orders are unchanged and whose jumbo is as planned; of
    them `stayed` run with the same pattern, layout, length and orders. `lost_kg` is what the plan
    loses, `afresh` what plans made without regard to the one before lose; None: not sought.
    """

    what: str
    may_stay: int
    stayed: int
    used_kg: float
    lost_kg: float
    afresh: Afresh | None
    seconds: float


class SimulatedShift:
    """A shift by its number.

    Parameters
    ----------
    number
        Of its draws.
    orders, small, events
        How many lines the book has at first, whether they ask for less than in the example shift,
        and how many events there are.
    book
        In place of lines drawn from the example shift: a whole book, of which one run is taken.
    mill
        In place of the example mill, which joins in shifts of odd numbers.
    seconds
        For each plan of the rest.
    bad_edge
        Whether the first jumbo has one from the beginning, and is listed: a plan carries what is
        left of it forward, and what happens then asks for more of it, or for less.
    afresh
        Each so manieth is held against ones made without regard to the plan before; 0: none.
    """

    def __init__(
        self,
        number: int,
        *,
        orders: int = 4,
        small: bool = True,
        events: int = 4,
        book: Book | None = None,
        mill: Mill | None = None,
        bad_edge: bool = False,
        seconds: float = 1.0,
        afresh: int = 0,
    ) -> None:
        self.number = number
        self.draw = Random(number)
        self.mill: Mill = mill or read_mill(ORDERS / "mill.toml")
        self.book = self._drawn_book(orders, small=small) if book is None else book
        if bad_edge:
            self.book = replace(self.book, jumbos=(self._with_bad_edge(),))
        if number % 2 and mill is None:
            self._with_joins()
        self.events = events
        self.seconds = seconds
        self.afresh = afresh
        request = Request(effort=Effort.QUICK, time_limit_s=max(2.0, 2 * seconds), seed=number)
        self.plan: Plan = make_plan(self.book, self.mill, request, number="shift-1")
        self.labels: dict[str, tuple[str, str]] = {}
        self.changed: set[str] = set()  # orders, since the plan in force
        self.short: set[str] = set()  # jumbos that are not as planned

    def _drawn_book(self, count: int, *, small: bool) -> Book:
        book = read_book(ORDERS / "shift.xlsx", self.mill)
        orders = self.draw.sample(book.orders, count)
        drawn = tuple(
            replace(
                each,
                quantity=max(Fraction(2), Fraction(each.quantity * self.draw.randint(4, 9) // 10)),
                no_edge=each.product.value == "reel" and self.draw.random() < 0.25,
            )
            for each in sorted(orders, key=lambda each: each.number)
        )
        return replace(book, orders=drawn if small else tuple(orders))

    def _with_bad_edge(self) -> JumboInStock:
        first = self.book.orders[0]
        grade = self.mill.grade(first.grade)
        assert grade is not None
        nominal = self.mill.for_paper(grade, first.grammage_gsm).jumbo
        start, wide = self.draw.randint(0, 8_000), self.draw.choice([20, 45, 90])
        edge = Defect(
            from_m=start,
            to_m=start + self.draw.randint(500, 8_000),
            from_mm=Fraction(0),
            to_mm=Fraction(wide),
            what="bad edge",
        )
        return JumboInStock(
            name="M-1",
            grade=first.grade,
            grammage_gsm=first.grammage_gsm,
            width_mm=nominal.width_mm,
            length_m=nominal.length_m,
            loss_start_m=nominal.loss_start_m,
            loss_end_m=nominal.loss_end_m,
            defects=(edge,),
        )

    def _with_joins(self) -> None:
        """The winder joins, once or twice in a reel."""
        winder = replace(self.mill.winders[0], joins_allowed=True, min_join_part_m=300)
        self.mill = replace(self.mill, winders=(winder, *self.mill.winders[1:]))
        lines = self.book.orders
        orders = [replace(e, joins_allowed=1 + place % 2) for place, e in enumerate(lines)]
        self.book = replace(self.book, orders=tuple(orders))

    def live(self) -> Iterator[Happened]:
        """Let the shift pass: one happening after another."""
        begin = self.plan.settings.start
        assert begin is not None
        end = max((run.finish for run in self.plan.runs if run.finish), default=begin)
        hours = min(HOURS, (end - begin).total_seconds() / 3600)  # of few orders fewer
        times = sorted(self.draw.uniform(0.05, 1) * hours for _ in range(self.events))
        for place, hours in enumerate(times, start=2):
            moment = begin + timedelta(hours=hours)
            ran = self._run_until(moment)
            what, ran = happen(self, ran)
            started = datetime.now()  # noqa: DTZ005
            answer = self._replanned(self.plan, ran, None)
            seconds = (datetime.now() - started).total_seconds()  # noqa: DTZ005
            must_hold(self, answer, ran, f"shift-{place}")
            compared = self.afresh > 0 and (self.number + place) % self.afresh == 0
            afresh = self._afresh(answer, ran) if compared else None
            yield self._happened(what, answer, seconds, afresh)
            self.plan = replace(answer.plan, number=f"shift-{place}")
            self.changed.clear()
            self.short.clear()

    def _replanned(self, plan: Plan, ran: WhatRan, now: datetime | None) -> Replan:
        return replan(plan, self.book, self.mill, ran, now=now, budget=Budget.lasting(self.seconds))

    def _happened(
        self, what: str, answer: Replan, seconds: float, afresh: Afresh | None
    ) -> Happened:
        may_stay, kept = stayed(self, answer)
        return Happened(
            what=what,
            may_stay=may_stay,
            stayed=kept,
            used_kg=sum(run.balance.used_kg for run in answer.plan.runs),
            lost_kg=lost_kg(answer.plan),
            afresh=afresh,
            seconds=seconds,
        )

    def _afresh(self, answer: Replan, ran: WhatRan) -> Afresh:
        free = lost_kg(self._replanned(as_run(answer.plan), WhatRan(), answer.now).plan)
        frozen = frozen_sets(answer, standing_runs(self.plan, self.book, self.mill, ran))
        if not frozen:
            return Afresh(free_kg=free, after_frozen_kg=free)
        after = self._replanned(as_run(answer.plan, frozen), WhatRan(), None).plan
        return Afresh(free_kg=free, after_frozen_kg=lost_kg(after))

    def _waiting(self) -> list[tuple[RunPlan, Block, SetRow]]:
        return [
            (run, block, row)
            for run in self.plan.runs
            for block in run.blocks
            for row in block.sets
            if not row.done
        ]

    def _run_until(self, moment: datetime) -> WhatRan:
        """The sets that are finished by then, one here and there not as planned, or passed over."""
        done, passed = [], None
        for run, block, row in self._waiting():
            if row.finish is None or row.finish > moment:
                break
            if self.draw.random() < 0.02:
                passed = run.name, block.number
            if (run.name, block.number) == passed:  # left for later, with the jumbo's place of it
                self.short |= {part.jumbo for part in row.stretches}
                continue
            reels = [p.number for p in block.positions if p.kind != "broke"]
            metres = row.length_m
            spoiled: tuple[int, ...] = ()
            luck = self.draw.random()
            if luck < 0.04:  # a web break: the set is lost, and is shorter than planned
                metres, spoiled = row.length_m * self.draw.randint(3, 9) // 10, tuple(reels)
            elif luck < 0.1:
                spoiled = (self.draw.choice(reels),)
            if spoiled:
                self.changed |= {p.order for p in block.positions}
            if metres != row.length_m:
                self.short |= {part.jumbo for part in row.stretches}
            done.append(DoneSet(run=run.name, number=row.number, length_m=metres, spoiled=spoiled))
        return WhatRan(sets=tuple(done))
