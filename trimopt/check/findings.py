"""What every part of the check is handed: a run, what it was made from, and its findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction

from trimopt.book.model import Book, Instruction, Order
from trimopt.mill.model import Mill, Winder
from trimopt.plan.model import Block, RunPlan

#: Masses are compared to this; the balance as a whole closes to 0.1 kg.
KG_WITHIN = 0.051
#: A timetable may be written in whole minutes.
MINUTES_WITHIN = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that does not hold. `run` is empty for what concerns the whole plan."""

    run: str
    where: str
    what: str
    claimed: str
    found: str

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.run, self.where) if part)
        said = f": the plan says {self.claimed}" if self.claimed else ""
        return f"{place or 'plan'}: {self.what}{said}; found {self.found}"


def figure(value: object) -> str:  # noqa: PLR0911  one line a kind of value
    """Write a value as a person would: exact fractions as decimals where they are finite."""
    if isinstance(value, Fraction):
        return f"{float(value):.12g}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return ", ".join(figure(part) for part in value) or "none"
    if value is None:
        return "none"
    return str(value) or "nothing"


class Findings:
    """Collects findings; comparing in one place keeps the words alike."""

    def __init__(self, run: str = "") -> None:
        self._run = run
        self._findings: list[Finding] = []

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All that was noted, in the order of the check."""
        return tuple(self._findings)

    def add(self, where: str, what: str, claimed: object, found: object) -> None:
        """Note one thing that does not hold. An empty text: the plan claims nothing of it."""
        said = "" if claimed == "" else figure(claimed)
        self._findings.append(
            Finding(run=self._run, where=where, what=what, claimed=said, found=figure(found))
        )

    def same(self, where: str, what: str, claimed: object, found: object) -> None:
        if claimed != found:
            self.add(where, what, figure(claimed), found)

    def at_least(self, where: str, what: str, claimed: Fraction, min_value: Fraction) -> None:
        """Note it where a figure in mm is below its limit."""
        if claimed < min_value:
            self.add(where, what, claimed, f"{float(min_value):g} mm at the least")

    def at_most(
        self,
        where: str,
        what: str,
        claimed: Fraction,
        max_value: Fraction | float | None,
        unit: str = "mm",
    ) -> None:
        """Note it where a figure is above its limit, if there is one, and what a float loses."""
        if max_value is not None and claimed > max_value + 1e-6:
            self.add(where, what, claimed, f"{float(max_value):g} {unit} at the most")

    def near(
        self,
        where: str,
        what: str,
        claimed: float | Fraction,
        found: float | Fraction,
        within: float = KG_WITHIN,
    ) -> None:
        """Note it where the two differ by more than `within` and what a float loses."""
        # Written so that a figure that is not a number is noted too.
        if not abs(float(claimed) - float(found)) <= within + 1e-9 * abs(float(found)):
            self.add(where, what, claimed, found)


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
