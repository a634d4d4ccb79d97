"""Recording what was run of a plan: all of a sheet or nothing of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import URL, Connection, RowMapping, Table, delete, select

from trimopt.errors import Fault, FilledSheetError, LedgerError, ReportError
from trimopt.ledger.actual_balance import SetRun, reckon
from trimopt.ledger.as_run_file import HEADINGS, FilledRow, read_filled
from trimopt.ledger.kept_plans import keep_in, kept_id
from trimopt.ledger.ledger_file import writing
from trimopt.ledger.ledger_tables import PARTS, as_run, plans, sets
from trimopt.ledger.match_rows import ENTERED, Entry, jumbo_faults, match
from trimopt.ledger.plan_chain import newest_after, recorded_elsewhere
from trimopt.ledger.set_shares import shares_of
from trimopt.plan.codec import from_json
from trimopt.plan.model import Plan

_Key = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryChange:
    """An entry of a set that is recorded otherwise than before."""

    run: str
    number: int  # of the set
    column: str
    was: str
    now: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What became of a sheet, and the figures of all sets that are recorded of the plan now.

    `planned` and `run` are kilograms by part (`PARTS`) of the recorded sets.
    """

    number: str
    units: str  # in which the plan is read: a value of `UnitSystem`
    sets: int  # sets of the plan that had not run when it was made
    recorded: int  # of them recorded now
    done: int
    fresh: int
    unchanged: int
    replaced: int
    not_named: int  # recorded before, and not on this sheet: they stay as they were
    changes: tuple[EntryChange, ...]
    warnings: tuple[str, ...]  # what of the sheet is read out of sight, and what is not read
    plan_kept: bool  # the plan itself came into the ledger with this
    newest: str  # the plan that stands in its place by now; empty where this one does
    minutes_stopped: float
    planned: Mapping[str, float]
    run: Mapping[str, float]


def record(
    plan: Plan | str,
    actuals: Path,
    url: URL,
    *,
    replace: bool = False,
    take_back: bool = False,
) -> Recorded:
    """Record a filled-in sheet.

    Parameters
    ----------
    plan
        The issued plan, or its number in the ledger. A plan that is not in the ledger is kept.
    actuals
        The plan's workbook as filled in, or a csv with the headings of its sheet "As run".
    replace
        Record the sets on the sheet anew. Without it, a set that was recorded with other figures
        is refused. Sets that are not on the sheet, or blank under "Done", stay as they are.
    take_back
        With `replace`: a blank takes back what was recorded there. Without it, such a blank is
        refused.

    Raises
    ------
    LedgerError
        With every row that does not match a set of the plan; or the plan is not in the ledger, or
        was recorded otherwise before. Nothing is recorded then.
    """
    filled = read_filled(actuals)
    with writing(url) as connection:
        if isinstance(plan, str):
            (plan_id, issued), kept = _find(connection, plan), False
        else:
            answer = keep_in(connection, plan)
            plan_id, issued, kept = answer.id, plan, answer.fresh
        entries, faults = match(issued, filled.rows)
        faults = (*filled.faults, *faults)
        if faults:
            in_order = sorted(faults, key=lambda fault: fault.row or 0)
            raise FilledSheetError(str(actuals), tuple(in_order))
        if not entries:
            raise LedgerError(
                f'{actuals}: no set has yes or no under "Done", or anything measured; nothing was '
                "recorded: fill the sheet in first"
            )
        sheet = MatchedSheet(
            source=actuals,
            plan_id=plan_id,
            plan=issued,
            rows=filled.rows,
            entries=entries,
            warnings=tuple(map(str, filled.warnings)),
        )
        return record_in(connection, sheet, replace=replace, take_back=take_back, kept=kept)


def entries_of(plan: Plan, connection: Connection) -> list[Entry]:
    """What is recorded of a plan; nothing where nothing is, or the plan is not kept.

    Sets that it took over as issued may be recorded under another plan.
    """
    plan_id = kept_id(connection, plan)
    if plan_id is None:
        return []
    elsewhere = (_entry(row._mapping) for row in recorded_elsewhere(connection, plan_id))
    own = {key: _entry(row) for key, row in _rows_recorded(connection, plan_id).items()}
    return list(({(each.place, each.number): each for each in elsewhere} | own).values())


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedSheet:
    """A sheet whose rows were matched with a plan of the ledger."""

    source: Path
    plan_id: int
    plan: Plan
    rows: tuple[FilledRow, ...]
    entries: tuple[Entry, ...]
    warnings: tuple[str, ...] = ()

    def line(self, entry: Entry) -> FilledRow:
        """The row of an entry."""
        run = self.plan.runs[entry.place - 1].name
        return next(row for row in self.rows if (row.run, row.number) == (run, entry.number))


def record_in(
    connection: Connection,
    sheet: MatchedSheet,
    *,
    replace: bool = False,
    take_back: bool = False,
    kept: bool = False,
) -> Recorded:
    """Record a matched sheet inside a transaction that writes. Raises as `record` does."""
    known = _rows_recorded(connection, sheet.plan_id)
    before = {key: _entry(row) for key, row in known.items()}
    _refuse_recorded_elsewhere(connection, sheet)
    if not (replace and take_back):
        _refuse_changes(sheet, before, replace=replace)
    together = before | {(entry.place, entry.number): entry for entry in sheet.entries}
    contradictions = jumbo_faults(sheet.plan, sheet.rows, together.values())
    if contradictions:
        raise FilledSheetError(str(sheet.source), tuple(contradictions))
    reckoned = reckon(sheet.plan, shares_of(sheet.plan), together.values())
    _write(connection, sheet, known, together, reckoned)
    return _answer(connection, sheet, before=before, together=together, kept=kept)


def _find(connection: Connection, number: str) -> tuple[int, Plan]:
    found = connection.execute(
        select(plans.c.id, plans.c.document, plans.c.made_at, plans.c.mill_name, plans.c.winder)
        .where(plans.c.number == number)
        .order_by(plans.c.made_at)
    ).all()
    if not found:
        raise LedgerError(
            f"there is no plan {number} in the ledger; name the plan's .json file, and it is kept "
            "with its record"
        )
    if len(found) > 1:
        each = "; ".join(
            f"{row.made_at:%Y-%m-%d %H:%M} {row.mill_name}, {row.winder}" for row in found
        )
        raise LedgerError(
            f"{len(found)} plans in the ledger have the number {number} ({each}); name the plan's "
            ".json file instead"
        )
    try:
        return found[0].id, from_json(found[0].document)
    except ReportError as error:
        raise LedgerError(f"plan {number} cannot be read from the ledger: {error}") from error


def _rows_recorded(connection: Connection, plan_id: int) -> dict[_Key, RowMapping]:
    rows = connection.execute(
        select(as_run).where(as_run.c.plan_id == plan_id).order_by(as_run.c.run, as_run.c.number)
    ).mappings()
    return {(row["run"], row["number"]): row for row in rows}


def _entry(row: RowMapping) -> Entry:
    written = {name: row[name] for name in ENTERED}
    return Entry(place=row["run"], number=row["number"], **written)


def _changes(
    sheet: MatchedSheet, before: Mapping[_Key, Entry]
) -> Iterator[tuple[Entry, str, object, object]]:
    """Entry, field, what was recorded there and what is written there now."""
    for entry in sheet.entries:
        old = before.get((entry.place, entry.number))
        for name in ENTERED if old is not None else ():
            was, now = getattr(old, name), getattr(entry, name)
            if was != now:
                yield entry, name, was, now


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or value == "":
        return "blank"
    return f"{value:.15g}" if isinstance(value, float) else str(value)


def _refuse_changes(sheet: MatchedSheet, before: Mapping[_Key, Entry], *, replace: bool) -> None:
    """Refuse entries that differ from what is recorded; with `replace`, blanks that would drop it.

    One fault a set tells that it was recorded; of blanks each is named.
    """
    faults: dict[object, Fault] = {}
    for entry, name, was, now in _changes(sheet, before):
        line = sheet.line(entry)
        wrong = f"was recorded before as {_shown(was)}"
        if not replace:
            right = "put it back, or give --replace to record this set anew"
            faults.setdefault((entry.place, entry.number), line.fault(name, wrong, right))
        elif _shown(now) == "blank":
            right = "write it again, or give --take-back to drop it"
            faults[entry.place, entry.number, name] = line.fault(name, wrong, right)
    if faults:
        raise FilledSheetError(str(sheet.source), tuple(faults.values()))


def _refuse_recorded_elsewhere(connection: Connection, sheet: MatchedSheet) -> None:
    """Refuse sets that were taken over as issued, and are recorded under another plan as run."""
    known = {
        (row.run, row.number): row.plan
        for row in recorded_elsewhere(connection, sheet.plan_id)
        if row.length_m > 0
    }
    faults = []
    for entry in sheet.entries:
        if (entry.place, entry.number) in known and (entry.done or entry.length_wound_m):
            plan = known[entry.place, entry.number]
            right = f"leave its row blank here; what is wrong of it, put right under plan {plan}"
            faults.append(
                sheet.line(entry).fault("number", f"is recorded under plan {plan}", right)
            )
    if faults:
        raise FilledSheetError(str(sheet.source), tuple(faults))


def _write(
    connection: Connection,
    sheet: MatchedSheet,
    known: Mapping[_Key, RowMapping],
    together: Mapping[_Key, Entry],
    reckoned: Sequence[SetRun],
) -> None:
    plan_id = sheet.plan_id
    # Written anew as a whole: a jumbo's butt moves with every set of it that is added.
    connection.execute(delete(as_run).where(as_run.c.plan_id == plan_id))
    now = datetime.now(tz=UTC).replace(tzinfo=None)
    lines = []
    for run in reckoned:
        key = (run.place, run.number)
        entry, row = together[key], known.get(key)
        recorded_at, source = now, sheet.source.name
        if row is not None and _entry(row) == entry:
            recorded_at, source = row["recorded_at"], row["source"]
        lines.append(
            {
                "plan_id": plan_id,
                "run": run.place,
                "number": run.number,
                "winder": sheet.plan.runs[run.place - 1].winder,
                "recorded_at": recorded_at,
                "source": source,
                **{name: getattr(entry, name) for name in ENTERED},
                "length_m": run.length_m,
                "set_ups": run.set_ups,
                "knife_moves": run.knife_moves,
                **run.parts_kg,
            }
        )
    connection.execute(as_run.insert(), lines)


def _answer(
    connection: Connection,
    sheet: MatchedSheet,
    *,
    before: Mapping[_Key, Entry],
    together: Mapping[_Key, Entry],
    kept: bool,
) -> Recorded:
    plan, plan_id, entries = sheet.plan, sheet.plan_id, sheet.entries
    old = [before.get((entry.place, entry.number)) for entry in entries]

    def parts(table: Table) -> dict[str, float]:
        rows = connection.execute(select(table).where(table.c.plan_id == plan_id)).mappings().all()
        ours = [row for row in rows if (row["run"], row["number"]) in together]
        return {name: sum(row[name] for row in ours) for name in PARTS}

    return Recorded(
        number=plan.number,
        units=plan.written.system.value,
        sets=sum(not r.done for each in plan.runs for r in each.sets),
        recorded=len(together),
        done=sum(entry.done for entry in together.values()),
        fresh=old.count(None),
        unchanged=sum(one == entry for one, entry in zip(old, entries, strict=True)),
        replaced=sum(
            one is not None and one != entry for one, entry in zip(old, entries, strict=True)
        ),
        not_named=len(together) - len(entries),
        changes=tuple(
            EntryChange(
                run=plan.runs[entry.place - 1].name,
                number=entry.number,
                column=HEADINGS[name],
                was=_shown(was),
                now=_shown(now),
            )
            for entry, name, was, now in _changes(sheet, before)
        ),
        warnings=sheet.warnings,
        plan_kept=kept,
        newest=newest_after(connection, plan_id),
        minutes_stopped=sum(entry.minutes_stopped or 0.0 for entry in together.values()),
        planned=parts(sets),
        run=parts(as_run),
    )
