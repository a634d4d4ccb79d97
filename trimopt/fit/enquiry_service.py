"""Answers enquiries, from "can it be made" to "what would help", against one book and its plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import inf
from time import monotonic

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Order, paper_weight
from trimopt.budget import Budget
from trimopt.errors import PlanError, types_checked
from trimopt.fit.alternatives import Alternative, curve_around, solve_alternatives
from trimopt.fit.answer import Answer
from trimopt.fit.enquiry import ENQUIRY, Enquiry, as_order, with_tolerance, with_usual
from trimopt.fit.extra_paper import ExtraPaper, average_use, floor_price
from trimopt.fit.fits_alone import alone
from trimopt.fit.joint_problem import ListedEnquiry, hours_left
from trimopt.fit.planned_run import Basis
from trimopt.fit.planned_runs import KeptBasis, PlannedRuns
from trimopt.fit.replanned import RunWithEnquiry, effort_for, min_use, replan_with
from trimopt.fit.run_with_enquiry import HeldSets, hold_sets, placement_of
from trimopt.fit.together import Together, choose_together
from trimopt.fit.when import (
    Lacking,
    When,
    lacking_before,
    lacking_paper,
    lacking_unplanned,
    minutes_left,
    noticed_changes,
    runs_with,
    when_alone,
    when_joining,
    when_planned,
)
from trimopt.making import Run, narrowed, stops
from trimopt.mill.model import Mill
from trimopt.paper import UnitSystem
from trimopt.plan.model import Effort, Plan, RunPlan
from trimopt.plan.planning.chosen_run import ProvenOnce
from trimopt.plan.planning.request_settings import shift_begins
from trimopt.plan.planning.run_jumbos import RunJumbos

_BESIDE_S = 1.2  # for them, reading and writing
_NO_BOOK = "without an order book neither paper nor hours are looked at"
_NO_JUMBO = "the book lists no jumbo of this paper, and no others may be used"
_NOT_FOUND = "no plan with the enquiry was found in time; give more --time-limit"
_NO_PLACE = "no place for it was found in the planned sets; plan the book with it as an order"
_SHORT = "the plan of the run is short of it as it is"
_SHORT_WITH = "the listed jumbos do not last for the run with it"
_LONGER = (
    "the plan made with it takes {more:,.0f} min more, and {left:,.0f} min are left before its "
    "hours end"
)
_NOT_PLANNED = "the run was not planned again with it, so planned sets are held"
_CLOCK = "the time limit or Ctrl-C cut the search for a better plan; give more --time-limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """An enquiry as an order, the run that it would join, and the basis for it, if there is one."""

    runs: PlannedRuns
    book: Book
    run: Run
    jumbos: RunJumbos
    order: Order
    begun: float  # by the monotonic clock
    kept: KeptBasis
    proven: ProvenOnce = field(default_factory=ProvenOnce)  # of the run with it

    @property
    def basis(self) -> Basis:
        """The run as planned, where it is known."""
        assert self.kept.basis is not None
        return self.kept.basis

    @property
    def plan(self) -> Plan | None:
        """The plan as issued, where it has the run."""
        return self.runs.plan if self.basis.issued else None


class EnquiryService:
    """Answers enquiries against one mill, one book and the plan that was made of it.

    Parameters
    ----------
    book
        The order book; None: only what needs none is answered.
    plan
        The plan of that book, where there is one; a run that it does not hold is planned here.
    seconds
        The longest for one enquiry, the run planned again with it. A run that has no plan is
        planned in half of that first.
    effort
        How hard to look for the plan with it. None: as in so many seconds is done, as a rule.
    stock_widths_mm
        Widths that may be made for stock beside an enquiry, with those of the mill file.
    leave_out_faulty
        Answer on the lines of the book that have no fault.
    held
        Held enquiries, which go before any that is asked now.

    Raises
    ------
    OrderBookError
        The book has faults, and is not to be used without them, or holds nothing else.
    """

    @types_checked
    def __init__(
        self,
        mill: Mill,
        book: Book | None = None,
        plan: Plan | None = None,
        *,
        seconds: float = 5.0,
        effort: Effort | None = None,
        seed: int = 0,
        stock_widths_mm: tuple[Fraction, ...] = (),
        leave_out_faulty: bool = False,
        held: tuple[Order, ...] = (),
    ) -> None:
        if book is not None:
            book = with_held(book.require_clean(leave_out_faulty=leave_out_faulty), held)
        self.mill = mill
        self.book = book
        self.written = mill.units.written(UnitSystem.METRIC if book is None else book.unit_system)
        self.seconds = seconds
        self.effort = effort_for(seconds) if effort is None else effort
        self.seed = seed
        self.stock_widths_mm = stock_widths_mm
        self._runs: PlannedRuns | None = None
        if book is not None:
            self._runs = PlannedRuns(
                mill, book, plan, seconds=seconds, effort=self.effort, seed=seed, held=bool(held)
            )
        ends = (book is not None and book.shift_ends, plan is not None and plan.settings.until)
        self._shift_ends = any(ends)

    @types_checked
    def answer(
        self,
        enquiry: Enquiry,
        *,
        quick: bool = False,
        first: Callable[[Answer], None] | None = None,
        help_seconds: float = 0.0,
        observer: Callable[[Alternative], None] | None = None,
    ) -> Answer:
        """Answer one enquiry.

        Parameters
        ----------
        quick
            Hold the planned sets, and do not plan the run again with the enquiry in it.
        first
            Told of the quick answer before the run is planned again.
        help_seconds
            How long to look for what would help; 0: not at all.
        observer
            Told of each change as it is solved. Ctrl-C ends the look with what is known.

        Raises
        ------
        OrderBookError
            The mill file has no such grade, or no default for a tolerance that is left blank.
        """
        begun = monotonic()
        runs = self._runs
        run = None if runs is None else runs.run(enquiry)
        if run is not None:
            enquiry = with_usual(enquiry, run.orders, self.mill)
        enquiry = with_tolerance(enquiry, self.mill)
        order = as_order(enquiry)
        jumbos = None if runs is None or run is None else runs.jumbos(run)
        answer = self._alone(enquiry, order, run, jumbos)
        if not answer.stop and runs is not None and run is not None and jumbos and jumbos.usable_m:
            assert self.book is not None
            kept = runs.kept(run, jumbos, order.width_mm)
            case = _Case(
                runs=runs, book=self.book, run=run, jumbos=jumbos, order=order, begun=begun,
                kept=kept,
            )  # fmt: skip
            answer = self._in_run(answer, case, first=None if quick else first, quick=quick)
            if answer.placement is not None:
                placed, solved = answer.placement, answer.planned is not None
                curve = curve_around(case.basis, kept.losses, order, placed, solved=solved)
                answer = replace(answer, curve=curve)
                if help_seconds > 0:
                    alternatives = solve_alternatives(
                        case.basis,
                        order,
                        curve,
                        placed,
                        budget=Budget.lasting(help_seconds),
                        stock_widths_mm=self.stock_widths_mm,
                        observer=observer,
                    )
                    answer = replace(answer, alternatives=alternatives)
        return replace(answer, seconds=monotonic() - begun)

    def _alone(
        self, enquiry: Enquiry, order: Order, run: Run | None, jumbos: RunJumbos | None
    ) -> Answer:
        """What is known without a plan."""
        mill, usable_m = self._paper(enquiry, jumbos)
        answer = Answer(
            enquiry=enquiry,
            stop=self.written.translated(stops(order, mill, usable_m=usable_m)),
            narrowed=self.written.translated(narrowed(order, mill)),
            run="" if run is None else run.name,
            written=self.written,
            currency=self.mill.values.currency,
        )
        if answer.stop:
            return answer
        answer = replace(answer, alone=alone(order, mill, usable_m=usable_m))
        if jumbos is None:
            return self._without_run(answer, order, mill)
        if not jumbos.usable_m:
            return replace(answer, lacking=Lacking(what="paper", why=_NO_JUMBO))
        return answer

    def _paper(self, enquiry: Enquiry, jumbos: RunJumbos | None) -> tuple[Mill, int]:
        """The mill as the enquiry's paper sees it, and the longest set that a jumbo gives, m."""
        if jumbos is not None and jumbos.usable_m:
            return jumbos.mill, max(jumbos.usable_m)
        grade = self.mill.grade(enquiry.grade)
        assert grade is not None
        mill = self.mill.for_paper(grade, enquiry.grammage_gsm)
        return mill, mill.jumbo.usable_m

    def _without_run(self, answer: Answer, order: Order, mill: Mill) -> Answer:
        """Of a paper that the book has no order of: when it is run again."""
        if self.book is None:
            return replace(answer, unanswered=_NO_BOOK)
        when = None
        if answer.alone:
            days, begins = self.book.run_days, shift_begins(self.book)
            when = when_alone(order, answer.alone[0], days, mill, begins)
        weight = paper_weight(order.grammage_gsm, (), self.mill.grade(order.grade), self.written)
        unanswered = f"the book has no order of {order.grade} {weight}"
        return replace(answer, unanswered=unanswered, when=when)

    def together(
        self, answers: Mapping[int, Answer], prices: Mapping[int, Fraction] | None = None
    ) -> Together | None:
        """Say which of some enquiries can all be had.

        Parameters
        ----------
        answers
            Of this service, by a key of the caller's. Those count that can be had by themselves.
        prices
            Money for a tonne, by the same keys; where one has none, tonnes count and not money.

        Returns
        -------
        Together or None
            None where none can be had in a run of the book.
        """
        listed = [self._listed(*each, prices or {}) for each in answers.items()]
        joining = [each for each in listed if each is not None]
        if not joining or self.book is None or self._runs is None:
            return None
        plan = self._runs.plan
        return choose_together(
            joining,
            self.mill.values,
            () if plan is None else hours_left(plan, self.book.run_days),
            effort=self.effort,
            budget=Budget.lasting(2 * self.seconds),
            seed=self.seed,
        )

    def _listed(
        self, key: int, answer: Answer, prices: Mapping[int, Fraction]
    ) -> ListedEnquiry | None:
        """An enquiry that can be had by itself, or may, as an order beside others."""
        order = replace(as_order(answer.enquiry), number=f"{ENQUIRY} {key}")
        runs = self._runs
        run = None if runs is None else runs.run(order)
        lacks = answer.lacking is not None and answer.lacking.certain
        if answer.placement is None or lacks or runs is None or run is None:
            return None
        jumbos = runs.jumbos(run)
        basis = runs.kept(run, jumbos, order.width_mm).basis
        if basis is None:
            return None
        return ListedEnquiry(
            key=key,
            order=order,
            run=run,
            basis=basis,
            jumbos=jumbos,
            instructions=runs.instructions(run),
            price_per_t=prices.get(key),
        )

    def _in_run(
        self,
        answer: Answer,
        case: _Case,
        *,
        first: Callable[[Answer], None] | None,
        quick: bool,
    ) -> Answer:
        """The quick answer, and then the full one."""
        notes = case.runs.notes(case.run)
        if case.kept.basis is None:
            return replace(answer, unanswered=case.kept.no_basis, notes=tuple(notes))
        basis, plan = case.basis, case.plan
        given = case.runs.plan
        answer = replace(
            answer,
            from_plan="" if plan is None else plan.number,
            left_out=len(case.book.left_out),
            shift_ends=self._shift_ends,
            lacking=None if given is None else lacking_before(given, case.run.name),
            notes=(*notes, *case.runs.notes_on(basis)),
        )
        if not basis.whole:
            return replace(answer, lacking=answer.lacking or Lacking(what="paper", why=_SHORT))
        budget = Budget.lasting(self.seconds)
        held = hold_sets(basis, case.order, budget=budget, seed=self.seed)
        if held is None:
            return replace(answer, unanswered=_NOT_FOUND if budget.stopped else _NO_PLACE)
        answer = self._placed(answer, case, held)
        if quick and budget.stopped:  # a better place may not have been looked at
            answer = replace(answer, notes=(*answer.notes, _CLOCK))
        if quick or (answer.lacking is not None and answer.lacking.certain):
            return answer
        if first is not None:
            first(replace(answer, seconds=monotonic() - case.begun))
        return self._planned(answer, case, held)

    def _placed(self, answer: Answer, case: _Case, held: HeldSets) -> Answer:
        """Put into the run, its sets held as they are planned."""
        basis, plan, days = case.basis, case.plan, case.book.run_days
        jumbos, lacking = case.jumbos, answer.lacking
        placed = placement_of(basis, held, case.order)
        lacking = lacking or lacking_paper(jumbos, basis.planned, placed, self.written)
        when = When(days_listed=bool(days))
        if plan is not None:
            when, lacking = when_joining(plan, basis.planned, days, jumbos, placed, lacking=lacking)
        else:
            lacking = lacking or lacking_unplanned(case.book, jumbos, basis.planned, placed)
        needs = held.needs_sales(case.order.number)
        answer = replace(answer, placement=placed, lacking=lacking, when=when, needs_sales=needs)
        extra = ExtraPaper(
            min_use=min_use(basis, case.order, case.proven, Budget.lasting(self.seconds)),
            max_use=None,
            held_use=placed.use,
            average=average_use(basis),
        )
        return self._priced(answer, extra)

    def _planned(self, answer: Answer, case: _Case, held: HeldSets) -> Answer:
        """The run planned again with the enquiry, as far as the time allows."""
        assert answer.extra is not None
        left_min = inf
        if case.plan is not None:
            left_min = minutes_left(case.plan, case.basis.planned, case.book.run_days)
        # So that with what stands beside the search no seconds are passed.
        search_s = self.seconds - min(_BESIDE_S, self.seconds / 4) - (monotonic() - case.begun)
        try:
            planned = replan_with(
                case.basis,
                case.run,
                case.order,
                case.jumbos,
                held=held,
                proven=case.proven,
                left_min=left_min,
                budget=Budget.lasting(max(0.0, search_s)),
                effort=self.effort,
                instructions=case.runs.instructions(case.run),
                jumbos_in_order=case.book.jumbos_in_order,
            )
        except PlanError as error:
            return replace(answer, notes=(*answer.notes, f"{_NOT_PLANNED}: {error}"))
        if planned is None or planned.short:
            short = Lacking(what="paper", why=_SHORT_WITH)
            return replace(answer, lacking=answer.lacking or short)
        lacking = answer.lacking
        if lacking is None or lacking.what == "hours":  # it was not sure with the sets held
            lacking = None
            if planned.minutes_more > left_min:
                why = _LONGER.format(more=planned.minutes_more, left=max(0.0, left_min))
                lacking = Lacking(what="hours", why=why, certain=False)
        notes = (*answer.notes, _CLOCK) if planned.clock_stopped else answer.notes
        proven = [use for use in (answer.extra.min_use, planned.min_use) if use is not None]
        extra = replace(answer.extra, min_use=max(proven, default=None), max_use=planned.use)
        needs = answer.needs_sales if planned.needs_sales else None
        answer = replace(answer, planned=planned, lacking=lacking, notes=notes, needs_sales=needs)
        return self._priced(self._done_to_others(answer, case, planned), extra)

    def _done_to_others(self, answer: Answer, case: _Case, planned: RunWithEnquiry) -> Answer:
        """When it is finished in the plan made with it, and what other orders get then."""
        plan = case.plan
        before: tuple[RunPlan, ...] = (case.basis.planned,)
        after: tuple[RunPlan, ...] = (planned.run,)
        if plan is not None and plan.replanned is None:
            before, after = plan.runs, runs_with(plan, planned.run, self.mill.winder)
            if answer.lacking is None:
                when = when_planned(plan, after, planned.line.number, case.book.run_days)
                answer = replace(answer, when=when)
        return replace(answer, others=noticed_changes(before, after))

    def _priced(self, answer: Answer, extra: ExtraPaper) -> Answer:
        floor = floor_price(extra, self.mill.values)
        return replace(answer, extra=extra, floor_price=floor)
