"""What every part of the check is handed: one run, what it was made from, and its findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

from trimopt.book.model import Book, Instruction, Order
from trimopt.check.findings import Findings
from trimopt.mill.model import Mill, Winder
from trimopt.plan.model import Block, RunPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckContext:
    """One run under check. `orders` are the book's, of those that the run names, by number.

    `cut` says of its sheet orders when the last load is cut, where the plan has loads. `before` is
    the last block that the winder runs before the run.
    """

    run: RunPlan
    mill: Mill
    book: Book
    orders: Mapping[str, Order]
    notes: Findings
    cut: Mapping[str, datetime] = field(default_factory=dict)
    before: Block | None = None
    instructions: tuple[Instruction, ...] = ()  # of the book and of the request, for every run

    @property
    def winder(self) -> Winder:
        return self.mill.winder

    @property
    def caliper_um(self) -> float:
        """The grade's wound caliper, µm; the plan's own where the mill file lacks the grade."""
        grade = self.mill.grade(self.run.grade)
        if grade is None:
            return self.run.wound_caliper_um
        return grade.wound_caliper_um(self.run.grammage_gsm)

    @property
    def unit_mm(self) -> Fraction:
        """The run's width unit; 1 mm where the plan's is none."""
        unit_mm = self.run.proof.width_unit_mm
        return unit_mm if unit_mm > 0 else Fraction(1)
