"""Filled-in rows against the sets of a plan: each row belongs to one set, or it is a fault.

Nothing is guessed: a row that names another plan, an unknown run or set, or figures that cannot
have been so, is listed with its place and what would be right.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from trimopt.errors import Fault
from trimopt.ledger.filled import FilledRow
from trimopt.plan.model import Block, Plan, RunPlan, SetRow
from trimopt.report.as_run import REASONS

__all__ = [
    "ADD_UP_WITHIN_MM",
    "Entry",
    "PlanSet",
    "jumbo_faults",
    "length_m",
    "match",
    "sets_of",
]

ADD_UP_WITHIN_MM = 10
"""How far edge trims and reels may miss the jumbo's measured width: a tape on a running web."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSet:
    """A set of the plan with the run and block that it stands in; `place` counts runs from 1."""

    place: int
    run: RunPlan
    block: Block
    row: SetRow

    @property
    def reels(self) -> int:
        """Reels that the set gives, broke reels not counted."""
        return sum(position.kind != "broke" for position in self.block.positions)

    @property
    def strips_mm(self) -> Fraction:
        """Width of all strips between the outer knives, broke reels in it."""
        return sum((p.width_mm for p in self.block.positions), Fraction(0))

    @property
    def jumbos(self) -> str:
        """The jumbos that it is wound from, as the sheet names them."""
        return " + ".join(part.jumbo for part in self.row.stretches)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What the crew wrote of one set. A blank is None: not measured."""

    place: int
    number: int
    done: bool
    length_wound_m: float | None
    reels_rejected: int | None
    reason: str
    jumbo_width_mm: float | None
    jumbo_length_m: float | None
    edge_front_mm: float | None
    edge_back_mm: float | None
    minutes_stopped: float | None
    remark: str


def sets_of(plan: Plan) -> dict[tuple[int, int], PlanSet]:
    """Give the sets of a plan by the place of their run and their number."""
    return {
        (place, row.number): PlanSet(place=place, run=run, block=block, row=row)
        for place, run in enumerate(plan.runs, start=1)
        for block in run.blocks
        for row in block.sets
    }


def match(plan: Plan, rows: Iterable[FilledRow]) -> tuple[tuple[Entry, ...], tuple[Fault, ...]]:
    """Match rows with the sets of a plan.

    Returns
    -------
    tuple of Entry
        One for each set whose «Done» says yes or no; a row left blank is not recorded yet.
    tuple of Fault
        Everything that does not match, in the order of the rows.
    """
    sets = sets_of(plan)
    places = {run.name: place for place, run in enumerate(plan.runs, start=1)}
    entries: list[Entry] = []
    faults: list[Fault] = []
    seen: dict[tuple[int, int], int] = {}
    for row in rows:
        wrong = _which_faults(plan, row, places, sets)
        if not wrong:
            assert row.number is not None
            key = (places[row.run], row.number)
            if key in seen:
                right = f"keep one row a set; the first is row {seen[key]}"
                wrong = [row.fault("number", "stands twice", right)]
            else:
                seen[key] = row.row
                wrong = _entry_faults(row, sets[key])
                if not wrong and row.done is not None:
                    entries.append(_entry(row, key[0]))
        faults += wrong
    return tuple(entries), tuple(faults)


def _which_faults(
    plan: Plan,
    row: FilledRow,
    places: dict[str, int],
    sets: dict[tuple[int, int], PlanSet],
) -> list[Fault]:
    """Whether the row names a set of this plan, as this plan has it."""
    if row.plan != plan.number:
        right = f"give the sheet of plan {plan.number}"
        return [row.fault("plan", "is another plan", right)]
    if row.run not in places:
        known = ", ".join(places)
        return [row.fault("run", "is no run of the plan", f"one of: {known}")]
    mine = [number for place, number in sets if place == places[row.run]]
    if row.number not in mine:
        right = f"a set from {min(mine)} to {max(mine)}" if mine else "the run has no sets"
        return [row.fault("number", "is no set of that run", right)]
    each = sets[places[row.run], row.number]
    faults = []
    if row.jumbo and row.jumbo != each.jumbos:
        faults.append(
            row.fault("jumbo", "is not the set's jumbo in the plan", f"leave it as {each.jumbos}")
        )
    if row.planned_m is not None and row.planned_m != each.row.length_m:
        right = f"leave it as {each.row.length_m}; what was wound goes into «Length wound m»"
        faults.append(row.fault("planned_m", "is not the set's length in the plan", right))
    return faults


def _entry_faults(row: FilledRow, each: PlanSet) -> list[Fault]:  # one rule after another
    faults: list[Fault] = []
    if row.done is None:
        if row.says_something:
            faults.append(row.fault("done", "is blank beside other entries", "write yes or no"))
        return faults
    rejected = row.reels_rejected or 0
    if row.done and row.length_wound_m == 0:
        faults.append(row.fault("length_wound_m", "of a set that was done", "write no into «Done»"))
    if rejected > each.reels:
        right = f"the set gives {each.reels} reels"
        faults.append(row.fault("reels_rejected", "more than the set has", right))
    if rejected and not row.done:
        right = "leave it blank: nothing of such a set is delivered"
        faults.append(row.fault("reels_rejected", "of a set that was not done", right))
    known = {reason.casefold() for reason in REASONS}
    if row.reason and row.reason.casefold() not in known:
        faults.append(row.fault("reason", "is not on the list", f"one of: {', '.join(REASONS)}"))
    if rejected and not row.reason:
        faults.append(row.fault("reason", "is missing", f"one of: {', '.join(REASONS)}"))
    if row.done and row.reason and not rejected:
        faults.append(row.fault("reels_rejected", "has a reason but no number", "how many reels"))
    return faults + _width_faults(row, each)


def _width_faults(row: FilledRow, each: PlanSet) -> list[Fault]:
    width, front, back = row.jumbo_width_mm, row.edge_front_mm, row.edge_back_mm
    strips = each.strips_mm
    if width is not None and width < strips:
        return [
            row.fault(
                "jumbo_width_mm",
                "is less than the reels across",
                f"at least {float(strips):g} mm, the width of the pattern",
            )
        ]
    if width is not None and front is not None and back is not None:
        off = width - (front + back + strips)
        if abs(off) > ADD_UP_WITHIN_MM:
            across = f"{float(front):g} + {float(strips):g} + {float(back):g} mm"
            return [
                row.fault(
                    "jumbo_width_mm",
                    f"edge trims and pattern are {across}, which is {abs(float(off)):g} mm off",
                    f"measure again; they must add up to within {ADD_UP_WITHIN_MM} mm",
                )
            ]
    if row.jumbo_length_m is not None and len(each.row.stretches) > 1:
        right = "write each jumbo's length beside a set that is wound from it alone"
        return [row.fault("jumbo_length_m", f"could be either of {each.jumbos}", right)]
    return []


def jumbo_faults(plan: Plan, rows: Iterable[FilledRow], entries: Iterable[Entry]) -> list[Fault]:
    """Find lengths of a jumbo that contradict each other or the metres wound from it."""
    sets = sets_of(plan)
    lines = {(row.run, row.number): row for row in rows}
    faults: list[Fault] = []
    said: dict[tuple[int, str], float] = {}
    wound: dict[tuple[int, str], float] = defaultdict(float)
    last: dict[tuple[int, str], FilledRow] = {}
    for entry in entries:
        each = sets[entry.place, entry.number]
        line = lines.get((each.run.name, entry.number))
        if len(each.row.stretches) != 1:
            continue
        key = (entry.place, each.row.stretches[0].jumbo)
        wound[key] += length_m(entry, each)
        length = entry.jumbo_length_m
        differs = length is not None and said.setdefault(key, length) != length
        if line is not None:
            last[key] = line
            if differs:
                wrong = f"jumbo {key[1]} was {said[key]:g} m beside another set"
                faults.append(line.fault("jumbo_length_m", wrong, "one length a jumbo"))
    for key, metres in wound.items():
        jumbo = next(j for j in plan.runs[key[0] - 1].jumbos if j.name == key[1])
        whole = said.get(key, float(jumbo.length_m))
        if metres > whole and key in last:
            wrong = f"{metres:,.0f} m were wound from {key[1]}, which is {whole:,.0f} m long"
            right = "mend the lengths wound, or write the jumbo's length as measured"
            faults.append(last[key].fault("length_wound_m", wrong, right))
    return faults


def length_m(entry: Entry, each: PlanSet) -> float:
    """Metres wound: as measured, as planned where a set was done and not measured, else none."""
    if entry.length_wound_m is not None:
        return entry.length_wound_m
    return float(each.row.length_m) if entry.done else 0.0


def _entry(row: FilledRow, place: int) -> Entry:
    def number(value: Fraction | None) -> float | None:
        return None if value is None else float(value)

    assert row.number is not None
    return Entry(
        place=place,
        number=row.number,
        done=bool(row.done),
        length_wound_m=number(row.length_wound_m),
        reels_rejected=row.reels_rejected,
        reason=row.reason.casefold(),
        jumbo_width_mm=number(row.jumbo_width_mm),
        jumbo_length_m=number(row.jumbo_length_m),
        edge_front_mm=number(row.edge_front_mm),
        edge_back_mm=number(row.edge_back_mm),
        minutes_stopped=number(row.minutes_stopped),
        remark=row.remark,
    )
