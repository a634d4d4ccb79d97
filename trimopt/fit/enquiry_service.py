"""Answers enquiries, from "can it be made" to "what would help", against one book and its plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from time import monotonic

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Order
from trimopt.book.run_names import paper_weight
from trimopt.budget import Budget
from trimopt.fit.alternatives import Alternative, solve_alternatives
from trimopt.fit.answer import Answer
from trimopt.fit.carried_prices import widened
from trimopt.fit.curve import Floats, curve_of
from trimopt.fit.enquiry import Enquiry, as_order, with_tolerance
from trimopt.fit.fits_alone import alone
from trimopt.fit.hours_and_paper import Lacking, lacking_before, lacking_paper
from trimopt.fit.planned_run import Basis, basis_of_plan, basis_of_run
from trimopt.fit.run_with_enquiry import place_enquiry
from trimopt.fit.when import When, lacking_unplanned, when_alone, when_joining
from trimopt.making import Run, runs_of, stops
from trimopt.mill.model import Mill
from trimopt.paper import UnitSystem
from trimopt.plan.model import Plan, Request
from trimopt.plan.planning.request_settings import settings_of, shift_begins
from trimopt.plan.planning.run_jumbos import RunJumbos, jumbos_in_book

__all__ = ["EnquiryService"]


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
        The longest search with one enquiry in the run. Planning a run takes up to eight times as
        long.
    stock_widths_mm
        Widths that may be made for stock beside an enquiry.
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
        self.seed = seed
        self.stock_widths_mm = stock_widths_mm
        self._bases: dict[tuple[str, Fraction], _KeptBasis | None] = {}

    def answer(
        self,
        enquiry: Enquiry,
        *,
        help_seconds: float = 0.0,
        observer: Callable[[Alternative], None] | None = None,
    ) -> Answer:
        """Answer one enquiry.

        Parameters
        ----------
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
        enquiry = with_tolerance(enquiry, self.mill)
        order = as_order(enquiry)
        run = self._run(order)
        jumbos = None
        if run is not None and self.book is not None:
            jumbos = jumbos_in_book(run, self._runs, self.book, self.mill)
        mill, usable_m = self._paper(enquiry, jumbos)
        answer = Answer(
            enquiry=enquiry,
            stop=self.written.translated(stops(order, mill, usable_m=usable_m)),
            run="" if run is None else run.name,
            written=self.written,
        )
        if not answer.stop:
            answer = replace(answer, alone=alone(order, mill, usable_m=usable_m))
            if run is None or jumbos is None:
                answer = replace(
                    answer, unanswered=self._no_run(enquiry), when=self._alone(answer, order, mill)
                )
            elif not jumbos.usable_m:
                answer = replace(answer, lacking=Lacking(what="paper", why=_NO_JUMBO))
            else:
                answer = self._in_run(
                    answer, run, jumbos, order, help_seconds=help_seconds, observer=observer
                )
        return replace(answer, seconds=monotonic() - begun)

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

    def _alone(self, answer: Answer, order: Order, mill: Mill) -> When | None:
        """When a paper that the book has no order of is run again."""
        if self.book is None or not answer.alone:
            return None
        days, begins = self.book.run_days, shift_begins(self.book)
        return when_alone(order, answer.alone[0], days, mill, begins)

    def _in_run(
        self,
        answer: Answer,
        run: Run,
        jumbos: RunJumbos,
        order: Order,
        *,
        help_seconds: float,
        observer: Callable[[Alternative], None] | None,
    ) -> Answer:
        assert self.book is not None
        kept = self._basis(run, jumbos, order.width_mm)
        notes = [self._not_asked] if self._not_asked else []
        asked = () if self.plan is None else self.plan.request.instructions
        if any(
            one.concerns(run.grade, run.grammage_gsm) for one in (*self.book.instructions, *asked)
        ):
            notes.append(_INSTRUCTIONS)
        if self.book.left_out:
            names = ", ".join(each.order for each in self.book.left_out)
            notes.append(f"lines of the book are left out: {names}")
        if kept is None:
            return replace(answer, unanswered=_NO_PLAN, notes=tuple(notes))
        basis, plan = kept.basis, self.plan
        if not basis.planned:
            if plan is not None:
                notes.append(f"plan {plan.number} does not hold this run as the book has it now")
            notes.append(_NOT_WOUND)
        lacking = None if plan is None else lacking_before(plan, run.name)
        answer = replace(
            answer,
            from_plan=plan.number if plan is not None and basis.planned else "",
            shift_ends=self._shift_ends,
            lacking=lacking,
            notes=tuple(notes),
        )
        answer = self._with_book(answer, order, kept, help_seconds=help_seconds, observer=observer)
        if answer.placement is None:
            if lacking is None and not basis.whole:
                lacking = Lacking(what="paper", why=_SHORT)
            return replace(answer, lacking=lacking)
        placed, days = answer.placement, self.book.run_days
        lacking = lacking or lacking_paper(jumbos, basis.planned, placed, self.written)
        when = When(days_listed=bool(days))
        if plan is not None and basis.planned:
            when, lacking = when_joining(plan, basis.planned, days, jumbos, placed, lacking=lacking)
        else:
            lacking = lacking or lacking_unplanned(self.book, self.mill.winder, placed)
        return replace(answer, lacking=lacking, when=when)

    def _with_book(
        self,
        answer: Answer,
        order: Order,
        kept: _KeptBasis,
        *,
        help_seconds: float,
        observer: Callable[[Alternative], None] | None,
    ) -> Answer:
        basis = kept.basis
        step_mm = basis.mill.width_step_mm
        curve = curve_of(basis, order, step_mm=step_mm, losses=kept.losses)
        if curve.asked is None:
            # None of the plan's set lengths is in the enquiry's range; it brings its own.
            wider = widened(basis, order)
            if wider is not None:
                curve = curve_of(wider, order, step_mm=step_mm)
        placement = None
        if basis.whole:
            placement = place_enquiry(
                basis, order, budget=Budget.lasting(self.seconds), seed=self.seed
            )
        alternatives: tuple[Alternative, ...] = ()
        if help_seconds > 0 and placement is not None:
            alternatives = solve_alternatives(
                basis,
                order,
                curve,
                placement,
                budget=Budget.lasting(help_seconds),
                stock_widths_mm=self.stock_widths_mm,
                observer=observer,
            )
        unanswered = _NOT_FOUND if placement is None else ""
        return replace(
            answer,
            curve=curve,
            placement=placement,
            alternatives=alternatives,
            unanswered=unanswered,
        )

    def _run(self, order: Order) -> Run | None:
        """The run that the order would join."""
        grade = order.grade.strip().casefold()
        return next(
            (
                run
                for run in self._runs
                if run.grade.casefold() == grade and run.grammage_gsm == order.grammage_gsm
            ),
            None,
        )

    def _basis(self, run: Run, jumbos: RunJumbos, width_mm: Fraction) -> _KeptBasis | None:
        """The run as planned, on a grid that holds the width; kept for the next enquiry."""
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
                settings = settings_of(self.book, self.mill, Request(seed=self.seed))
                found = basis_of_run(
                    run, jumbos, settings, grid_mm=grid_mm, budget=Budget.lasting(8 * self.seconds)
                )
            self._bases[key] = None if found is None else _KeptBasis(basis=found)
        return self._bases[key]


@dataclass(slots=True, kw_only=True)
class _KeptBasis:
    """A basis, and what its prices were found to mean for widths in each class."""

    basis: Basis
    losses: dict[int, Floats] = field(default_factory=dict)


_NO_JUMBO = "the book lists no jumbo of this paper, and no others may be used"
_NO_PLAN = "no plan of the run was found in time; give more --time-limit"
_NOT_FOUND = "no plan with the enquiry was found in time; give more --time-limit"
_SHORT = "the plan of the run is short of it as it is"
_NOT_WOUND = "the run was planned now, patterns alone: its butts and its hours are not known"
_INSTRUCTIONS = (
    "the scheduler has instructions for this run; the sets in which the enquiry is made are not "
    "held to them, so ask the scheduler"
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
