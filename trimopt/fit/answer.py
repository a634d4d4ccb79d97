"""The answer to an enquiry, from "can it be made" to "what would help"."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from time import monotonic

from trimopt.book.model import Book, Order
from trimopt.budget import Budget
from trimopt.fit.alone import Alone, alone
from trimopt.fit.basis import Basis, basis_of_plan, basis_of_run
from trimopt.fit.curve import Curve, Floats, curve_of
from trimopt.fit.enquiry import Enquiry, as_order, with_tolerance
from trimopt.fit.helping import Helped, what_would_help
from trimopt.fit.prices import widened
from trimopt.fit.riding import Riding, ride
from trimopt.making import Run, runs_of, stops
from trimopt.mill.model import Mill
from trimopt.plan.jumbos import RunJumbos, jumbos_for
from trimopt.plan.model import Plan

__all__ = ["Answer", "Desk"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """All that is known of an enquiry. `stop` says why it cannot be made; empty: it can."""

    enquiry: Enquiry
    stop: str
    alone: tuple[Alone, ...] = ()
    run: str = ""
    from_plan: str = ""  # number of the plan that the run is taken from
    curve: Curve | None = None
    riding: Riding | None = None
    helps: tuple[Helped, ...] = ()
    note: str = ""  # what sales must know of the plan that stands behind the figures
    seconds: float = 0.0

    @property
    def line(self) -> str:
        """The answer in one line."""
        asked = f"{float(self.enquiry.width_mm):g} mm"
        if self.stop:
            return f"Cannot be made: {self.stop}"
        if self.riding is None:
            if not self.alone:
                return f"Fits: {asked}"
            best = self.alone[0]
            return (
                f"Fits: {best.across} × {float(best.reel_mm):g} mm across the deckle, "
                f"{float(best.trim_mm):g} mm of trim ({100 * best.trim_share:.1f} %)"
            )
        riding = self.riding
        sheets = self.enquiry.chop_mm is not None
        reels = f"{riding.reels} sheeter reels" if sheets else f"{riding.reels} × {asked}"
        sets = sum(row.sets for row in riding.sets)
        more = riding.extra_m
        metres = "no jumbo metres more" if not more else f"{more:+,} m of jumbo"
        return (
            f"Fits: {reels} ride in {sets} set{'' if sets == 1 else 's'}, {metres}; "
            f"{riding.marginal_use:.2f} t of paper per t"
        )


class Desk:
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
    ) -> None:
        self.mill = mill
        self.book = book
        self.plan = plan
        self.seconds = seconds
        self.seed = seed
        self.stock_widths_mm = stock_widths_mm
        self._bases: dict[tuple[str, Fraction], _Kept | None] = {}

    def answer(
        self,
        enquiry: Enquiry,
        *,
        help_seconds: float = 0.0,
        observer: Callable[[Helped], None] | None = None,
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
            The mill file has no such grade, or no custom for a tolerance that is left blank.
        """
        begun = monotonic()
        enquiry = with_tolerance(enquiry, self.mill)
        order = as_order(enquiry)
        grade = self.mill.grade(enquiry.grade)
        assert grade is not None
        mill = self.mill.for_paper(grade, enquiry.grammage_gsm)
        run = self._run(order)
        jumbos = None if run is None else self._jumbos(run, mill)
        if jumbos is not None and jumbos.usable_m:
            mill = jumbos.mill
        usable_m = (
            jumbos.usable_m if jumbos is not None and jumbos.usable_m else (mill.jumbo.usable_m,)
        )
        stop = stops(order, mill, usable_m=max(usable_m))
        if stop:
            return Answer(enquiry=enquiry, stop=stop, seconds=monotonic() - begun)
        answer = Answer(enquiry=enquiry, stop="", alone=alone(order, mill, usable_m=max(usable_m)))
        if run is not None and jumbos is not None and jumbos.usable_m:
            kept = self._basis(run, jumbos, order.width_mm)
            if kept is None:
                answer = replace(answer, run=run.name, note=_NO_PLAN)
            else:
                answer = self._with_book(
                    answer, run, order, kept, help_seconds=help_seconds, observer=observer
                )
        return replace(answer, seconds=monotonic() - begun)

    def _with_book(
        self,
        answer: Answer,
        run: Run,
        order: Order,
        kept: _Kept,
        *,
        help_seconds: float,
        observer: Callable[[Helped], None] | None,
    ) -> Answer:
        basis = kept.basis
        step_mm = basis.mill.width_step_mm
        curve = curve_of(basis, order, step_mm=step_mm, losses=kept.losses)
        if curve.asked is None:
            # None of the plan's set lengths is in the enquiry's range; it brings its own.
            wider = widened(basis, order)
            if wider is not None:
                curve = curve_of(wider, order, step_mm=step_mm)
        riding = None
        if basis.whole:
            riding = ride(basis, order, budget=Budget.lasting(self.seconds), seed=self.seed)
        helps: tuple[Helped, ...] = ()
        if help_seconds > 0 and riding is not None:
            helps = what_would_help(
                basis,
                order,
                curve,
                riding,
                budget=Budget.lasting(help_seconds),
                stock_widths_mm=self.stock_widths_mm,
                observer=observer,
            )
        issued = basis.planned is not None and self.plan is not None
        return replace(
            answer,
            run=run.name,
            from_plan=self.plan.number if issued and self.plan is not None else "",
            curve=curve,
            riding=riding,
            helps=helps,
            note=_note(basis, riding) or (_INSTRUCTIONS if self._instructed(run) else ""),
        )

    def _instructed(self, run: Run) -> bool:
        """Whether the scheduler has instructions for the run's plan."""
        instructions = () if self.book is None else self.book.instructions
        return any(
            instruction.concerns(run.grade, run.grammage_gsm) for instruction in instructions
        )

    def _run(self, order: Order) -> Run | None:
        """The run that the order would join."""
        if self.book is None:
            return None
        for run in runs_of(self.book, self.mill):
            same = run.grade.casefold() == order.grade.strip().casefold()
            if same and run.grammage_gsm == order.grammage_gsm:
                return run
        return None

    def _jumbos(self, run: Run, mill: Mill) -> RunJumbos:
        assert self.book is not None
        return jumbos_for(run, mill, self.book.jumbos, only_listed=self.book.only_listed_jumbos)

    def _basis(self, run: Run, jumbos: RunJumbos, width_mm: Fraction) -> _Kept | None:
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
                found = basis_of_run(
                    run,
                    jumbos,
                    grid_mm=grid_mm,
                    budget=Budget.lasting(8 * self.seconds),
                    seed=self.seed,
                )
            self._bases[key] = None if found is None else _Kept(basis=found)
        return self._bases[key]


@dataclass(slots=True, kw_only=True)
class _Kept:
    """A basis, and what its prices were found to mean for widths in each class."""

    basis: Basis
    losses: dict[int, Floats] = field(default_factory=dict)


_NO_PLAN = "no plan of the run was found, so nothing is said of the book"
_SHORT = "the plan is short of paper for its own orders, so nothing can join it"
_INSTRUCTIONS = (
    "the scheduler has instructions for this run; the sets in which the enquiry rides are not held "
    "to them, so ask the scheduler"
)
_NOT_FOUND = "no plan with the enquiry was found in time; give more --time-limit"


def _note(basis: Basis, riding: Riding | None) -> str:
    if not basis.whole:
        return _SHORT
    return _NOT_FOUND if riding is None else ""


def _common(a: Fraction, b: Fraction) -> Fraction:
    """The greatest step of which both are whole multiples."""
    while b:
        a, b = b, a % b
    return a
