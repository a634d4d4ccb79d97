"""Answers enquiries, from "can it be made" to "what would help", against one book and its plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import inf
from time import monotonic

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Instruction, Order
from trimopt.book.run_names import paper_weight
from trimopt.budget import Budget
from trimopt.fit.alternatives import Alternative, solve_alternatives
from trimopt.fit.answer import Answer
from trimopt.fit.carried_prices import widened
from trimopt.fit.curve import Curve, Floats, curve_of
from trimopt.fit.enquiry import ENQUIRY, Enquiry, as_order, with_tolerance, with_usual
from trimopt.fit.extra_paper import ExtraPaper, average_use, floor_price, gap_of
from trimopt.fit.fits_alone import alone
from trimopt.fit.hours_and_paper import Lacking, lacking_before, lacking_paper
from trimopt.fit.joint_problem import ListedEnquiry, hours_left
from trimopt.fit.planned_run import Basis, basis_of_plan, basis_of_run
from trimopt.fit.replanned import RunWithEnquiry, effort_for, min_use, replan_with
from trimopt.fit.run_with_enquiry import (
    HeldSets,
    Placement,
    hold_sets,
    place_enquiry,
    placement_of,
)
from trimopt.fit.together import Together, choose_together
from trimopt.fit.when import (
    When,
    lacking_unplanned,
    minutes_left,
    noticed_changes,
    runs_with,
    when_alone,
    when_joining,
    when_planned,
)
from trimopt.making import Run, runs_of, stops
from trimopt.mill.model import Mill
from trimopt.paper import UnitSystem
from trimopt.plan.model import Effort, Plan, Request, RunPlan
from trimopt.plan.planning.request_settings import settings_of, shift_begins
from trimopt.plan.planning.run_jumbos import RunJumbos, jumbos_in_book


class EnquiryService:
    """Answers enquiries against one mill, one book and the plan that was made of it.

    Parameters
    ----------
    mill
        The mill file.
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
        self._runs = () if book is None else runs_of(book, mill)
        self.plan, self._not_asked = _usable(plan, book, mill)
        ends = (book is not None and book.shift_ends, plan is not None and plan.settings.until)
        self._shift_ends = any(ends)
        self.seconds = seconds
        self.effort = effort_for(seconds) if effort is None else effort
        self.seed = seed
        self.stock_widths_mm = stock_widths_mm
        self._held_waits = bool(held)
        self._bases: dict[tuple[str, Fraction], _KeptBasis | None] = {}

    def _stock_widths_mm(self, order: Order) -> tuple[Fraction, ...]:
        """Those asked for, and those of the mill file that are of the order's paper."""
        own = (
            each.width_mm
            for each in self.mill.stock_widths
            if (each.grade.casefold(), each.grammage_gsm)
            == (order.grade.casefold(), order.grammage_gsm)
        )
        return tuple(dict.fromkeys((*self.stock_widths_mm, *own)))

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
        run = self._run(enquiry.grade, enquiry.grammage_gsm)
        if run is not None:
            enquiry = with_usual(enquiry, run.orders, self.mill)
        enquiry = with_tolerance(enquiry, self.mill)
        order = as_order(enquiry)
        jumbos = None
        if run is not None and self.book is not None:
            jumbos = jumbos_in_book(run, self._runs, self.book, self.mill)
        answer = self._alone(enquiry, order, run, jumbos)
        if not answer.stop and run is not None and jumbos is not None and jumbos.usable_m:
            case = _Case(run=run, jumbos=jumbos, order=order, begun=begun)
            answer = self._in_run(answer, case, first=None if quick else first, quick=quick)
            if answer.placement is not None:
                answer = self._beside(answer, case, help_seconds, observer)
        return replace(answer, seconds=monotonic() - begun)

    def _alone(
        self, enquiry: Enquiry, order: Order, run: Run | None, jumbos: RunJumbos | None
    ) -> Answer:
        """What is known without a plan."""
        mill, usable_m = self._paper(enquiry, jumbos)
        answer = Answer(
            enquiry=enquiry,
            stop=self.written.translated(stops(order, mill, usable_m=usable_m)),
            run="" if run is None else run.name,
            written=self.written,
            currency=self.mill.values.currency,
        )
        if answer.stop:
            return answer
        answer = replace(answer, alone=alone(order, mill, usable_m=usable_m))
        if jumbos is None:
            when = self._when_alone(answer, order, mill)
            return replace(answer, unanswered=self._no_run(enquiry), when=when)
        if not jumbos.usable_m:
            return replace(answer, lacking=Lacking(what="paper", why=_NO_JUMBO))
        return answer

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
        if not joining or self.book is None:
            return None
        return choose_together(
            joining,
            self.mill.values,
            () if self.plan is None else hours_left(self.plan, self.book.run_days),
            effort=self.effort,
            budget=Budget.lasting(2 * self.seconds),
            seed=self.seed,
        )

    def _listed(
        self, key: int, answer: Answer, prices: Mapping[int, Fraction]
    ) -> ListedEnquiry | None:
        """An enquiry that can be had by itself, or may, as an order beside others."""
        order = replace(as_order(answer.enquiry), number=f"{ENQUIRY} {key}")
        run = self._run(order.grade, order.grammage_gsm)
        lacks = answer.lacking is not None and answer.lacking.certain
        if answer.placement is None or lacks or run is None or self.book is None:
            return None
        jumbos = jumbos_in_book(run, self._runs, self.book, self.mill)
        kept = self._basis(run, jumbos, order.width_mm)
        if kept is None:
            return None
        return ListedEnquiry(
            key=key,
            order=order,
            run=run,
            basis=kept.basis,
            jumbos=jumbos,
            instructions=self._instructions(run),
            price_per_t=prices.get(key),
        )

    def _paper(self, enquiry: Enquiry, jumbos: RunJumbos | None) -> tuple[Mill, int]:
        """The mill as the enquiry's paper sees it, and the longest set that a jumbo gives, m."""
        if jumbos is not None and jumbos.usable_m:
            return jumbos.mill, max(jumbos.usable_m)
        grade = self.mill.grade(enquiry.grade)
        assert grade is not None
        mill = self.mill.for_paper(grade, enquiry.grammage_gsm)
        return mill, mill.jumbo.usable_m

    def _no_run(self, enquiry: Enquiry) -> str:
        if self.book is None:
            return "without an order book neither paper nor hours are looked at"
        grade = self.mill.grade(enquiry.grade)
        weight = paper_weight(enquiry.grammage_gsm, (), grade, self.written)
        return f"the book has no order of {enquiry.grade} {weight}"

    def _when_alone(self, answer: Answer, order: Order, mill: Mill) -> When | None:
        """When a paper that the book has no order of is run again."""
        if self.book is None or not answer.alone:
            return None
        days, begins = self.book.run_days, shift_begins(self.book)
        return when_alone(order, answer.alone[0], days, mill, begins)

    def _in_run(
        self,
        answer: Answer,
        case: _Case,
        *,
        first: Callable[[Answer], None] | None,
        quick: bool,
    ) -> Answer:
        """The quick answer, and then the full one."""
        notes = self._notes(case.run)
        kept = self._basis(case.run, case.jumbos, case.order.width_mm)
        if kept is None:
            why = f"{self._not_asked}, and {_NO_PLAN}" if self._not_asked else _NO_PLAN
            return replace(answer, unanswered=why, notes=tuple(notes))
        basis, plan = kept.basis, self.plan
        if not basis.issued:
            if plan is not None:
                notes.append(f"plan {plan.number} does not hold this run as the book has it now")
            notes.append(_PLANNED_NOW)
        answer = replace(
            answer,
            from_plan=plan.number if plan is not None and basis.issued else "",
            left_out=0 if self.book is None else len(self.book.left_out),
            shift_ends=self._shift_ends,
            lacking=None if plan is None else lacking_before(plan, case.run.name),
            notes=tuple(notes),
        )
        held = None
        if basis.whole:
            budget = Budget.lasting(self.seconds)
            held = hold_sets(basis, case.order, budget=budget, seed=self.seed)
        if held is None:
            lacking = answer.lacking
            if lacking is None and not basis.whole:
                lacking = Lacking(what="paper", why=_SHORT)
            return replace(answer, lacking=lacking, unanswered=_NOT_FOUND)
        answer = self._placed(answer, case, basis, held)
        if quick or (answer.lacking is not None and answer.lacking.certain):
            return answer
        if first is not None:
            first(replace(answer, seconds=monotonic() - case.begun))
        return self._planned(answer, case, basis, held)

    def _notes(self, run: Run) -> list[str]:
        assert self.book is not None
        notes = []
        if held := [order.number for order in run.orders if order.held_until is not None]:
            notes.append(f"held enquiries go before it: {', '.join(held)}")
        if self.book.left_out:
            names = ", ".join(each.order for each in self.book.left_out)
            notes.append(f"lines of the book are left out: {names}")
        if self._not_asked:
            notes.append(self._not_asked)
        if self._instructions(run):
            notes.append(_INSTRUCTIONS)
        return notes

    def _instructions(self, run: Run) -> tuple[Instruction, ...]:
        """The scheduler's for a run, of the book and of the plan's request."""
        assert self.book is not None
        asked = () if self.plan is None else self.plan.request.instructions
        each = dict.fromkeys((*self.book.instructions, *asked))
        return tuple(one for one in each if one.concerns(run.grade, run.grammage_gsm))

    def _placed(self, answer: Answer, case: _Case, basis: Basis, held: HeldSets) -> Answer:
        """Put into the run as planned, the planned sets held."""
        assert self.book is not None
        jumbos, lacking, plan, days = case.jumbos, answer.lacking, self.plan, self.book.run_days
        placed = placement_of(basis, held, case.order)
        lacking = lacking or lacking_paper(jumbos, basis.planned, placed, self.written)
        when = When(days_listed=bool(days))
        if plan is not None and basis.issued:
            when, lacking = when_joining(plan, basis.planned, days, jumbos, placed, lacking=lacking)
        else:
            lacking = lacking or lacking_unplanned(self.book, jumbos, basis.planned, placed)
        answer = replace(answer, placement=placed, lacking=lacking, when=when)
        extra = ExtraPaper(
            min_use=min_use(basis, case.order, Budget.lasting(self.seconds)),
            max_use=None,
            held_use=placed.use,
            average=average_use(basis),
        )
        return self._priced(answer, extra)

    def _planned(self, answer: Answer, case: _Case, basis: Basis, held: HeldSets) -> Answer:
        """The run planned again with the enquiry, as far as the time allows."""
        assert self.book is not None
        assert answer.extra is not None
        left_min = inf
        if self.plan is not None and basis.issued:
            left_min = minutes_left(self.plan, basis.planned, self.book.run_days)
        planned = replan_with(
            basis,
            case.run,
            case.order,
            case.jumbos,
            held=held,
            left_min=left_min,
            budget=Budget.lasting(max(0.0, self._search_s - (monotonic() - case.begun))),
            effort=self.effort,
            instructions=self._instructions(case.run),
            jumbos_in_order=self.book.jumbos_in_order,
        )
        if planned is None:
            return replace(answer, notes=(*answer.notes, _NOT_PLANNED))
        if planned.short:
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
        answer = replace(answer, planned=planned, lacking=lacking, notes=notes)
        return self._priced(self._done_to_others(answer, basis, planned), extra)

    def _done_to_others(self, answer: Answer, basis: Basis, planned: RunWithEnquiry) -> Answer:
        """When it is finished in the plan made with it, and what other orders get then."""
        assert self.book is not None
        plan = self.plan
        before: tuple[RunPlan, ...] = (basis.planned,)
        after: tuple[RunPlan, ...] = (planned.run,)
        if plan is not None and basis.issued and plan.replanned is None:
            before, after = plan.runs, runs_with(plan, planned.run, self.mill.winder)
            if answer.lacking is None:
                when = when_planned(plan, after, planned.line.number, self.book.run_days)
                answer = replace(answer, when=when)
        return replace(answer, others=noticed_changes(before, after))

    @property
    def _search_s(self) -> float:
        """Seconds until the search ends, so that with what stands beside it none are passed."""
        return self.seconds - min(_BESIDE_S, self.seconds / 4)

    def _priced(self, answer: Answer, extra: ExtraPaper) -> Answer:
        floor = floor_price(extra, self.mill.values)
        return replace(answer, extra=extra, floor_price=floor)

    def _beside(
        self,
        answer: Answer,
        case: _Case,
        help_seconds: float,
        observer: Callable[[Alternative], None] | None,
    ) -> Answer:
        """What stands beside the answer: the curve, and changes that would help."""
        kept, order, placement = (
            self._basis(case.run, case.jumbos, case.order.width_mm),
            case.order,
            answer.placement,
        )
        assert kept is not None
        assert placement is not None
        basis, step_mm = kept.basis, kept.basis.mill.width_step_mm
        curve = curve_of(basis, order, step_mm=step_mm, losses=kept.losses)
        if curve.asked is None:
            # None of the plan's set lengths is in the enquiry's range; it brings its own.
            wider = widened(basis, order)
            if wider is not None:
                curve = curve_of(wider, order, step_mm=step_mm)
        if answer.planned is not None:
            curve = _solved(basis, order, curve, placement)
        alternatives: tuple[Alternative, ...] = ()
        if help_seconds > 0:
            alternatives = solve_alternatives(
                basis,
                order,
                curve,
                placement,
                budget=Budget.lasting(help_seconds),
                stock_widths_mm=self._stock_widths_mm(order),
                observer=observer,
            )
        return replace(answer, curve=curve, alternatives=alternatives)

    def _place_held(self) -> None:
        """Put into the plan, once, what is held and not in it yet."""
        if self._held_waits and self.plan is not None and self.book is not None:
            # It brings the winding room, which an answer does without where nothing is held.
            from trimopt.fit.held_in_plan import plan_with_held  # noqa: PLC0415

            budget = Budget.lasting(max(self.seconds, _HELD_S))
            self.plan = plan_with_held(self.plan, self.book, self.mill, budget=budget)
        self._held_waits = False

    def _run(self, grade: str, grammage_gsm: float) -> Run | None:
        """The run that an order of a paper would join."""
        name = grade.strip().casefold()
        return next(
            (
                run
                for run in self._runs
                if run.grade.casefold() == name and run.grammage_gsm == grammage_gsm
            ),
            None,
        )

    def _basis(self, run: Run, jumbos: RunJumbos, width_mm: Fraction) -> _KeptBasis | None:
        """The run as planned, on a grid that holds the width; kept for the next enquiry."""
        self._place_held()
        step = jumbos.mill.width_step_mm
        grid_mm = step if width_mm % step == 0 else _common(step, width_mm)
        key = run.name, grid_mm
        if key not in self._bases:
            found = None
            planned = None
            if self.plan is not None:
                planned = next((r for r in self.plan.runs if r.name == run.name), None)
            if planned is not None and self.plan is not None:
                found = basis_of_plan(
                    planned,
                    run,
                    jumbos,
                    self.plan.settings,
                    grid_mm=grid_mm,
                    budget=Budget.lasting(self.seconds),
                )
            if found is None:
                assert self.book is not None
                request = Request(seed=self.seed, effort=self.effort)
                settings = settings_of(self.book, self.mill, request)
                found = basis_of_run(
                    run, jumbos, settings, grid_mm=grid_mm, budget=Budget.lasting(self.seconds / 2)
                )
                # Against a plan that time cut short, the enquiry would be given what the plan lost.
                if found is not None and found.planned.proof.clock_stopped:
                    found = found if gap_of(found.planned) <= _MAX_GAP else None
            self._bases[key] = None if found is None else _KeptBasis(basis=found)
        return self._bases[key]


def _solved(basis: Basis, order: Order, curve: Curve, placement: Placement) -> Curve:
    """The curve with its marked widths put into the plan, as far as a moment allows."""
    budget = Budget.lasting(_MARKED_S)
    points = []
    for point in curve.valleys:
        there = None
        if not budget.over():
            there = place_enquiry(basis, replace(order, width_mm=point.width_mm), budget=budget)
        points.append(replace(point, held_use=None if there is None else there.use))
    asked = None if curve.asked is None else replace(curve.asked, held_use=placement.use)
    return replace(curve, asked=asked, valleys=tuple(points))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """An enquiry as an order, and the run that it would join."""

    run: Run
    jumbos: RunJumbos
    order: Order
    begun: float  # by the monotonic clock


@dataclass(slots=True, kw_only=True)
class _KeptBasis:
    """A basis, and what its prices were found to mean for widths in each class."""

    basis: Basis
    losses: dict[int, Floats] = field(default_factory=dict)


_HELD_S = 5.0  # at the least, so that an answer in a hurry counts what is held
_MAX_GAP = 0.02  # of paper, of a plan made now that time cut short
_MARKED_S = 0.7  # for widths that the curve marks
_BESIDE_S = 1.2  # for them, reading and writing
_NO_JUMBO = "the book lists no jumbo of this paper, and no others may be used"
_NO_PLAN = "no good plan of the run was found in time; plan the book, or give more --time-limit"
_NOT_FOUND = "no plan with the enquiry was found in time; give more --time-limit"
_SHORT = "the plan of the run is short of it as it is"
_SHORT_WITH = "the listed jumbos do not last for the run with it"
_LONGER = (
    "the plan made with it takes {more:,.0f} min more, and {left:,.0f} min are left before its "
    "hours end"
)
_PLANNED_NOW = "the run was planned now, by itself: its hours are not known"
_NOT_PLANNED = "the run was not planned again with it in time: planned sets are held"
_CLOCK = "the time limit cut the search for a better plan; give more --time-limit"
_INSTRUCTIONS = (
    "the scheduler has instructions for this run: the plan made with the enquiry keeps what it can "
    "of them, the quick answer none"
)


def _usable(plan: Plan | None, book: Book | None, mill: Mill) -> tuple[Plan | None, str]:
    """The plan, where it was made from this book and mill file; else why it is not asked."""
    if plan is None or book is None:
        return None, ""
    for kind, then, now in (
        ("order book", plan.book.fingerprint, book.fingerprint),
        ("mill file", plan.mill.fingerprint, mill.fingerprint),
    ):
        if then != now:
            return None, f"plan {plan.number} was made from another state of the {kind}"
    return plan, ""


def _common(a: Fraction, b: Fraction) -> Fraction:
    """The greatest step of which both are whole multiples."""
    while b:
        a, b = b, a % b
    return a
