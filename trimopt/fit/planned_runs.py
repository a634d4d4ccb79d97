"""The runs of a book as they are planned: what enquiries join, kept from one to the next."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction

from trimopt.book.model import Book, Instruction, OfPaper, paper_key
from trimopt.budget import Budget
from trimopt.errors import PlanError
from trimopt.fit.curve import Floats
from trimopt.fit.extra_paper import gap_of
from trimopt.fit.planned_run import Basis, basis_of_plan, plan_now
from trimopt.making import Run, runs_of
from trimopt.mill.model import Mill
from trimopt.paper import common_step
from trimopt.plan.model import Effort, Plan, Request
from trimopt.plan.planning.request_settings import settings_of
from trimopt.plan.planning.run_jumbos import RunJumbos, jumbos_in_book

_HELD_S = 5.0  # at the least, so that an answer in a hurry counts what is held
_MAX_GAP = 0.02  # of paper, of a plan made now that time cut short
_POOR = "no good plan of the run was found in time; plan the book, or give more --time-limit"
_PLANNED_NOW = "the run was planned now, by itself: its hours are not known"
_INSTRUCTIONS = (
    "the scheduler has instructions for this run: the plan made with the enquiry keeps what it can "
    "of them, the quick answer none"
)


@dataclass(slots=True, kw_only=True)
class KeptBasis:
    """A basis, or why there is none, and what its prices mean for widths in each class."""

    basis: Basis | None
    no_basis: str = ""
    losses: dict[int, Floats] = field(default_factory=dict)


class PlannedRuns:
    """The runs of a book, each as the plan of that book has it, or planned now.

    Parameters
    ----------
    book
        With what is held.
    plan
        Where it was made from another state of book or mill file, it is not asked.
    seconds
        Half of it for a run that has no plan.
    held
        Whether something is held that the plan may not have yet.
    """

    def __init__(
        self,
        mill: Mill,
        book: Book,
        plan: Plan | None,
        *,
        seconds: float,
        effort: Effort,
        seed: int,
        held: bool,
    ) -> None:
        self._mill, self._book = mill, book
        self._runs = runs_of(book, mill)
        self._not_asked = "" if plan is None else _why_not_asked(plan, book, mill)
        self.plan = None if self._not_asked else plan
        self._seconds = seconds
        self._request = Request(seed=seed, effort=effort)
        self._held_waits = held
        self._kept: dict[tuple[str, Fraction], KeptBasis] = {}

    def run(self, asked: OfPaper) -> Run | None:
        """The run of a paper, which an order of it would join."""
        return next((run for run in self._runs if paper_key(run) == paper_key(asked)), None)

    def jumbos(self, run: Run) -> RunJumbos:
        return jumbos_in_book(run, self._runs, self._book, self._mill)

    def instructions(self, run: Run) -> tuple[Instruction, ...]:
        """The scheduler's for a run, of the book and of the plan's request."""
        asked = () if self.plan is None else self.plan.request.instructions
        each = dict.fromkeys((*self._book.instructions, *asked))
        return tuple(one for one in each if one.concerns(run.grade, run.grammage_gsm))

    def notes(self, run: Run) -> list[str]:
        """What sales must know of what stands behind an answer for a run."""
        notes = []
        if held := [order.number for order in run.orders if order.held_until is not None]:
            notes.append(f"held enquiries go before it: {', '.join(held)}")
        if self._book.left_out:
            names = ", ".join(each.order for each in self._book.left_out)
            notes.append(f"lines of the book are left out: {names}")
        if self._not_asked:
            notes.append(self._not_asked)
        if self.instructions(run):
            notes.append(_INSTRUCTIONS)
        return notes

    def notes_on(self, basis: Basis) -> list[str]:
        """What they must know of a basis that no plan gives."""
        if basis.issued:
            return []
        lacks = "" if self.plan is None else f"plan {self.plan.number} does not hold this run"
        return [*([f"{lacks} as the book has it now"] if lacks else []), _PLANNED_NOW]

    def kept(self, run: Run, jumbos: RunJumbos, width_mm: Fraction) -> KeptBasis:
        """The run as planned, on a grid that holds the width; kept for the next enquiry."""
        self._place_held()
        grid_mm = common_step((jumbos.mill.width_step_mm, width_mm))
        key = run.name, grid_mm
        if key not in self._kept:
            try:
                self._kept[key] = KeptBasis(basis=self._basis(run, jumbos, grid_mm))
            except PlanError as error:
                why = f"{self._not_asked}, and {error}" if self._not_asked else str(error)
                self._kept[key] = KeptBasis(basis=None, no_basis=why)
        return self._kept[key]

    def _basis(self, run: Run, jumbos: RunJumbos, grid_mm: Fraction) -> Basis:
        budget = Budget.lasting(self._seconds)
        plan = self.plan
        planned = next((r for r in plan.runs if r.name == run.name), None) if plan else None
        if plan is not None and planned is not None:
            with suppress(PlanError):
                return basis_of_plan(
                    planned, run, jumbos, plan.settings, grid_mm=grid_mm, budget=budget
                )
        settings = settings_of(self._book, self._mill, self._request)
        budget = Budget.lasting(self._seconds / 2)
        now = plan_now(run, jumbos, settings, budget=budget)
        found = basis_of_plan(now, run, jumbos, settings, grid_mm=grid_mm, budget=budget)
        # Against a plan that time cut short, the enquiry would be given what the plan lost.
        if now.proof.clock_stopped and gap_of(now) > _MAX_GAP:
            raise PlanError(_POOR)
        return replace(found, issued=False)

    def _place_held(self) -> None:
        """Put into the plan, once, what is held and not in it yet."""
        if self._held_waits and self.plan is not None:
            # It brings the winding room, which an answer does without where nothing is held.
            from trimopt.fit.held_in_plan import plan_with_held  # noqa: PLC0415

            budget = Budget.lasting(max(self._seconds, _HELD_S))
            self.plan = plan_with_held(self.plan, self._book, self._mill, budget=budget)
        self._held_waits = False


def _why_not_asked(plan: Plan, book: Book, mill: Mill) -> str:
    """Why a plan is not asked; empty where it was made from this book and mill file."""
    for kind, then, now in (
        ("order book", plan.book.fingerprint, book.fingerprint),
        ("mill file", plan.mill.fingerprint, mill.fingerprint),
    ):
        if then != now:
            return f"plan {plan.number} was made from another state of the {kind}"
    return ""
