"""Filled-in rows against the sets of a plan: each row belongs to one set, or it is a fault.

Nothing is guessed: a row that names another plan, an unknown run or set, or figures that cannot
have been so, is listed with its place and what would be right.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from fractions import Fraction

from trimopt.book.row_reader import needed
from trimopt.errors import Fault
from trimopt.ledger.as_run_file import REASONS, FilledRow
from trimopt.plan.model import Block, JumboUse, Plan, RunPlan, SetRow

ADD_UP_WITHIN_MM = 10
"""How far edge trims and reels may miss the jumbo's measured width: a tape on a running web."""

_WIDTH_WITHIN = Fraction(1, 20)  # of the planned width: no jumbo of this plan differs by more
_UNMEASURED = Fraction(1, 100)  # as above, where edge trims are written and the width is not
_MIN_DONE_SHARE = Fraction(1, 4)  # of the planned length: what is shorter gave no reels
_MAX_LENGTH_TIMES = 2  # the planned length: beyond it a figure is in other units, or mistyped


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
        return len(self.block.reels)

    @property
    def jumbo(self) -> JumboUse:
        """The jumbo that it is wound from, the first where there are more."""
        name = self.row.stretches[0].jumbo
        return next(jumbo for jumbo in self.run.jumbos if jumbo.name == name)

    @property
    def jumbos(self) -> str:
        """The jumbos that it is wound from, as the sheet names them."""
        return " + ".join(self.row.jumbos)


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


ENTERED = tuple(field.name for field in fields(Entry) if field.name not in ("place", "number"))
"""What the crew wrote of a set: fields of an entry, and of a row as it was read."""


def sets_of(plan: Plan) -> dict[tuple[int, int], PlanSet]:
    """Give the sets of a plan by the place of their run and their number."""
    return {
        (place, row.number): PlanSet(place=place, run=run, block=block, row=row)
        for place, run in enumerate(plan.runs, start=1)
        for block, row in run.sets_in_blocks
    }


def match(plan: Plan, rows: Iterable[FilledRow]) -> tuple[tuple[Entry, ...], tuple[Fault, ...]]:
    """Match rows with the sets of a plan.

    Returns
    -------
    tuple of Entry
        One for each set whose "Done" says yes or no, or that was measured; a row left blank is not
        recorded yet.
    tuple of Fault
        Everything that does not match, in the order of the rows.
    """
    sets = sets_of(plan)
    places = {run.name: place for place, run in enumerate(plan.runs, start=1)}
    entries: list[Entry] = []
    faults: list[Fault] = []
    seen: dict[tuple[int, int], int] = {}
    others: list[FilledRow] = []
    for row in rows:
        if row.plan != plan.number:
            others.append(row)
            continue
        wrong = _which_faults(row, places, sets)
        if not wrong:
            key = (places[row.run], needed(row.number))
            if key in seen:
                right = f"keep one row a set; the first is row {seen[key]}"
                wrong = [row.fault("number", "stands twice", right)]
            else:
                seen[key] = row.row
                wrong = _entry_faults(row, sets[key])
                if not wrong and row.was_run is not None:
                    entries.append(_entry(row, key[0]))
        faults += wrong
    faults += _of_other_plans(plan, others, alone=len(others) > len(seen))
    return tuple(entries), tuple(faults)


def _of_other_plans(plan: Plan, rows: list[FilledRow], *, alone: bool) -> Iterator[Fault]:
    """One fault for each other plan that rows are of, at the first of them."""
    by_plan: dict[str, list[FilledRow]] = defaultdict(list)
    for row in rows:
        by_plan[row.plan].append(row)
    for number, its in by_plan.items():
        right = f"give the sheet of plan {plan.number}"
        right += f", or record this one under plan {number}" if number and alone else ""
        wrong = f"is another plan, in {len(its)} rows" if its[1:] else "is another plan"
        yield its[0].fault("plan", wrong, right)


def _which_faults(
    row: FilledRow, places: dict[str, int], sets: dict[tuple[int, int], PlanSet]
) -> list[Fault]:
    """Whether the row names a set of the plan, as the plan has it."""
    if row.run not in places:
        known = ", ".join(places)
        return [row.fault("run", "is no run of the plan", f"one of: {known}")]
    mine = [number for place, number in sets if place == places[row.run]]
    if row.number not in mine:
        right = f"a set from {min(mine)} to {max(mine)}" if mine else "the run has no sets"
        return [row.fault("number", "is no set of that run", right)]
    each = sets[places[row.run], row.number]
    if each.row.done:
        if not row.says_something:
            return []
        right = f"record it under plan {each.row.issued or 'it was run on'}"
        return [row.fault("number", "was run before this plan was made", right)]
    faults = []
    if row.jumbo and row.jumbo != each.jumbos:
        right = f"leave it as {each.jumbos}"
        faults.append(row.fault("jumbo", "is not the set's jumbo in the plan", right))
    if row.planned_m is not None and row.planned_m != each.row.length_m:
        right = f'leave it as {each.row.length_m}; what was wound goes into "Length wound m"'
        faults.append(row.fault("planned_m", "is not the set's length in the plan", right))
    return faults


def _entry_faults(row: FilledRow, each: PlanSet) -> list[Fault]:
    if row.was_run is None:
        wrong, right = "is blank beside other entries", "write yes or no, or what was measured"
        return [row.fault("done", wrong, right)] if row.says_something else []
    rejected, reason, run = row.reels_rejected or 0, row.reason.casefold(), row.was_run
    unknown = reason and reason not in {each.casefold() for each in REASONS}
    listed = f"one of: {', '.join(REASONS)}"
    rules = (
        (rejected > each.reels, "reels_rejected", "more than the set has",
         f"the set gives {each.reels} reels"),
        (rejected and not run, "reels_rejected", "of a set that was not done",
         "leave it blank: nothing of such a set is delivered"),
        (unknown, "reason", "is not on the list", listed),
        (rejected and not reason, "reason", "is missing", listed),
        (not run and row.length_wound_m and not reason, "reason",
         "is missing beside a length of a set not done",
         'yes under "Done", or why what was wound went to broke'),
        (run and reason and not rejected, "reels_rejected", "has a reason but no number",
         "how many reels"),
    )  # fmt: skip
    faults = [row.fault(field, wrong, right) for broken, field, wrong, right in rules if broken]
    return faults + _length_faults(row, each) + _width_faults(row, each)


def _length_faults(row: FilledRow, each: PlanSet) -> list[Fault]:
    """Lengths that no set and no jumbo of the plan can have had."""
    planned, metres, whole = each.row.length_m, row.length_wound_m, row.jumbo_length_m
    faults: list[Fault] = []
    if metres is not None and metres > _MAX_LENGTH_TIMES * planned:
        right = f"the metres that were wound; {planned:,} m were planned"
        faults.append(row.fault("length_wound_m", "is far longer than the set", right))
    elif row.was_run and metres is not None and metres < _MIN_DONE_SHARE * planned:
        right = f'no under "Done", or the metres wound; {planned:,} m were planned'
        faults.append(row.fault("length_wound_m", "is too short for a set that was done", right))
    if whole is None:
        return faults
    if len(each.row.jumbos) > 1:
        right = "write each jumbo's length beside a set that is wound from it alone"
        faults.append(row.fault("jumbo_length_m", f"could be either of {each.jumbos}", right))
    elif whole > _MAX_LENGTH_TIMES * each.jumbo.length_m:
        right = f"the metres on it when it was new; the plan has {each.jumbo.length_m:,} m"
        faults.append(row.fault("jumbo_length_m", f"is far longer than {each.jumbos}", right))
    return faults


def _width_faults(row: FilledRow, each: PlanSet) -> list[Fault]:
    """Widths that no jumbo of the plan can have had, or that do not add up."""
    width, front, back = row.jumbo_width_mm, row.edge_front_mm, row.edge_back_mm
    strips, planned = each.block.across_mm, each.run.web_mm(each.block)
    within = Fraction(ADD_UP_WITHIN_MM)
    if width is not None and width < strips:
        right = f"at least {float(strips):g} mm, the width of the pattern"
        return [row.fault("jumbo_width_mm", "is less than the reels across", right)]
    if width is not None and width > planned * (1 + _WIDTH_WITHIN):
        right = f"the width of the jumbo; {float(planned):g} mm were planned"
        return [row.fault("jumbo_width_mm", "is far wider than the plan's jumbo", right)]
    field = "jumbo_width_mm"
    if width is None:
        width, within, field = planned, planned * _UNMEASURED, "edge_front_mm"
    right = f"beside {float(strips):g} mm of reels on a jumbo of {float(width):g} mm"
    right += "; if that was wider, write its width" if row.jumbo_width_mm is None else ""
    faults = [
        row.fault(edge, "is wider than the reels leave", f"the strip that came off {right}")
        for edge, strip in (("edge_front_mm", front), ("edge_back_mm", back))
        if strip is not None and strip > width + within - strips
    ]
    if faults or front is None or back is None:
        return faults
    off = abs(width - (front + back + strips))
    if off > within:
        across = f"{float(front):g} + {float(strips):g} + {float(back):g} mm"
        wrong = f"edge trims and pattern are {across}, which is {float(off):g} mm off"
        right = f"measure again; they must add up to within {float(within):g} mm"
        return [row.fault(field, wrong, right)]
    return []


def two_lengths(plan: Plan, rows: Iterable[FilledRow], entries: Iterable[Entry]) -> list[Fault]:
    """Find rows that state another length of a jumbo than what was entered of it before."""
    return [
        fault
        for wound in _by_jumbo(plan, rows, entries)
        for fault in _two_lengths(_measured(wound))
    ]


def jumbo_faults(plan: Plan, rows: Iterable[FilledRow], entries: Iterable[Entry]) -> list[Fault]:
    """Find lengths of a jumbo that contradict each other or the metres wound from it.

    Parameters
    ----------
    rows
        The sheet's: a fault stands at one of them.
    entries
        All that would be recorded of the plan with it.
    """
    return [fault for wound in _by_jumbo(plan, rows, entries) for fault in _one_jumbo(wound)]


_Wound = tuple[Entry, PlanSet, FilledRow | None]


def _by_jumbo(
    plan: Plan, rows: Iterable[FilledRow], entries: Iterable[Entry]
) -> Iterable[list[_Wound]]:
    """What was entered of the sets of each jumbo, with their rows of the sheet."""
    sets = sets_of(plan)
    lines = {(row.run, row.number): row for row in rows if row.was_run is not None}
    by_jumbo: dict[tuple[int, str], list[_Wound]] = defaultdict(list)
    for entry in entries:
        each = sets[entry.place, entry.number]
        if len(each.row.jumbos) == 1:
            line = lines.get((each.run.name, entry.number))
            by_jumbo[entry.place, each.jumbos].append((entry, each, line))
    return by_jumbo.values()


def _measured(wound: list[_Wound]) -> list[_Wound]:
    """Those beside which the jumbo's length stands.

    What was recorded before stands; the row of the sheet that differs is the one at fault.
    """
    measured = [one for one in wound if one[0].jumbo_length_m is not None]
    return sorted(measured, key=lambda one: one[2] is not None)


def _two_lengths(measured: list[_Wound]) -> Iterator[Fault]:
    for entry, each, line in measured:
        first = measured[0][0]
        if line is not None and entry.jumbo_length_m != first.jumbo_length_m:
            said = f"{first.jumbo_length_m:g} m beside set {first.number}"
            wrong = f"jumbo {each.jumbos} was {said}"
            yield line.fault("jumbo_length_m", wrong, "one length a jumbo")


def _one_jumbo(wound: list[_Wound]) -> Iterator[Fault]:
    """What cannot be of the sets that were wound from one jumbo."""
    jumbo, measured = wound[0][1].jumbo, _measured(wound)
    yield from _two_lengths(measured)
    said = measured[0][0].jumbo_length_m if measured else None
    metres = sum(length_m(entry, each) for entry, each, _ in wound)
    if metres <= (jumbo.length_m if said is None else said):
        return
    if said is not None and metres <= jumbo.length_m:
        line = measured[-1][2]
        if line is not None:
            wrong = f"is less than the {metres:,.0f} m that were wound from {jumbo.name}"
            yield line.fault("jumbo_length_m", wrong, "the metres on it when it was new")
            return
    over = [(length_m(entry, each) - each.row.length_m, line) for entry, each, line in wound]
    line = max(over, key=lambda one: (one[1] is not None, one[0]))[1]
    if line is not None:
        whole = jumbo.length_m if said is None else said
        wrong = f"{metres:,.0f} m were wound from {jumbo.name}, which is {whole:,.0f} m long"
        right = "mend the lengths wound, or write the jumbo's length as measured"
        yield line.fault("length_wound_m", wrong, right)


def length_m(entry: Entry, each: PlanSet) -> float:
    """Metres wound: as measured, as planned where a set was done and not measured, else none."""
    if entry.length_wound_m is not None:
        return entry.length_wound_m
    return float(each.row.length_m) if entry.done else 0.0


def _entry(row: FilledRow, place: int) -> Entry:
    written = {name: getattr(row, name) for name in ENTERED}
    exact = {name: float(value) for name, value in written.items() if isinstance(value, Fraction)}
    return Entry(
        place=place,
        number=needed(row.number),
        **written | exact | {"done": bool(row.was_run), "reason": row.reason.casefold()},
    )
