"""The answer to an enquiry, from "can it be made" to "what would help"."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from time import monotonic

from trimopt.book.model import Book, Order
from trimopt.errors import Fault, OrderBookError
from trimopt.fit.alone import Alone, alone
from trimopt.fit.basis import Basis, basis_of_plan, basis_of_run
from trimopt.fit.curve import Curve, curve_of
from trimopt.fit.enquiry import Enquiry, as_order
from trimopt.fit.helping import Helped, what_would_help
from trimopt.fit.prices import widened
from trimopt.fit.riding import Riding, ride
from trimopt.making import Run, runs_of, stops
from trimopt.mill.model import Mill
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
        sets = sum(row.sets for row in riding.sets)
        reels = sum(row.sets * row.reels for row in riding.sets)
        where = (
            "in sets already planned" if not riding.extra_m else f"{riding.extra_m:+,} m of jumbo"
        )
        return (
            f"Fits: {reels} reels ride in {sets} sets, {where}; "
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
        The plan of that book, where there is one; a run that it does not hold is solved.
    seconds
        The longest search of one solve.
    """

    def __init__(
        self,
        mill: Mill,
        book: Book | None = None,
        plan: Plan | None = None,
        *,
        seconds: float = 1.0,
        seed: int = 0,
    ) -> None:
        self.mill = mill
        self.book = book
        self.plan = plan
        self.seconds = seconds
        self.seed = seed
        self._bases: dict[tuple[str, Fraction], Basis | None] = {}

    def answer(self, enquiry: Enquiry, *, help_seconds: float = 0.0) -> Answer:
        """Answer one enquiry.

        Parameters
        ----------
        help_seconds
            How long to look for what would help; 0: not at all.

        Raises
        ------
        OrderBookError
            The mill file has no such grade.
        """
        begun = monotonic()
        mill, order = self._placed(enquiry)
        stop = stops(order, mill, usable_m=mill.jumbo.usable_m)
        if stop:
            return Answer(enquiry=enquiry, stop=stop, seconds=monotonic() - begun)
        rows = alone(order, mill)
        run = self._run(order)
        basis = None if run is None else self.basis(run, mill, order.width_mm)
        if run is None or basis is None:
            return Answer(enquiry=enquiry, stop="", alone=rows, seconds=monotonic() - begun)
        curve = curve_of(basis, order, step_mm=mill.width_step_mm)
        if curve.asked is None:
            # None of the plan's set lengths is in the enquiry's range; it brings its own.
            wider = widened(basis, order)
            if wider is not None:
                curve = curve_of(wider, order, step_mm=mill.width_step_mm)
        riding = ride(basis, order, seconds=self.seconds, seed=self.seed)
        helps: tuple[Helped, ...] = ()
        if help_seconds > 0 and riding is not None:
            helps = what_would_help(basis, order, curve, riding, seconds=help_seconds)
        return Answer(
            enquiry=enquiry,
            stop="",
            alone=rows,
            run=run.name,
            from_plan=self.plan.number if basis.planned and self.plan is not None else "",
            curve=curve,
            riding=riding,
            helps=helps,
            seconds=monotonic() - begun,
        )

    def _placed(self, enquiry: Enquiry) -> tuple[Mill, Order]:
        grade = self.mill.grade(enquiry.grade)
        if grade is None:
            names = ", ".join(g.name for g in self.mill.grades)
            fault = Fault(
                where="enquiry",
                row=None,
                column="grade",
                value=enquiry.grade,
                wrong="the mill file has no such grade",
                right=f"one of: {names}",
            )
            raise OrderBookError("enquiry", (fault,))
        mill = self.mill.for_paper(grade, enquiry.grammage_gsm)
        order = as_order(enquiry)
        return mill, order

    def _run(self, order: Order) -> Run | None:
        """The run that the order would join."""
        if self.book is None:
            return None
        for run in runs_of(self.book, self.mill):
            same = run.grade.casefold() == order.grade.strip().casefold()
            if same and run.grammage_gsm == order.grammage_gsm:
                return run
        return None

    def basis(self, run: Run, mill: Mill, width_mm: Fraction) -> Basis | None:
        """The run as planned, on a grid that holds the width; kept for the next enquiry."""
        step = mill.width_step_mm
        grid_mm = step if width_mm % step == 0 else _common(step, width_mm)
        key = run.name, grid_mm
        if key not in self._bases:
            planned = None
            if self.plan is not None:
                planned = next((r for r in self.plan.runs if r.name == run.name), None)
            found = None
            if planned is not None:
                found = basis_of_plan(planned, run, mill, grid_mm=grid_mm)
            if found is None:
                found = basis_of_run(
                    run, mill, grid_mm=grid_mm, seconds=2 * self.seconds, seed=self.seed
                )
            self._bases[key] = found
        return self._bases[key]


def _common(a: Fraction, b: Fraction) -> Fraction:
    """The greatest step of which both are whole multiples."""
    while b:
        a, b = b, a % b
    return a
