"""What the crew is asked after a run, and reading what it filled in: the sheet "As run", or a csv.

Cells are read exactly or not at all, as in the order book. What is wrong is a fault with its place;
whether a row belongs to the plan is judged elsewhere (`trimopt.ledger.match_rows`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from pathlib import Path

from trimopt.book.book_columns import name_key
from trimopt.book.csv_file import open_text_file
from trimopt.book.raw_tables import BookFile, Cells, RawSheet
from trimopt.book.trade_words import FLAGS, Words
from trimopt.book.written_figures import as_text, read_figure, read_flag, read_text
from trimopt.book.xlsx_file import open_workbook
from trimopt.errors import Fault, LedgerError, OrderBookError
from trimopt.paper.measures import LENGTHS, WIDTHS
from trimopt.paper.typed import CellFaultError, split_figure_and_unit

TITLE = "As run"
JOIN_AT = "Join at"
"""A column of plans that have joins."""


@dataclass(frozen=True, slots=True)
class AsRunColumn:
    """A column of the sheet, and the field of a row that it fills.

    `kind` is that of a column of the workbook; "flag" is yes or no, "reason" one of `REASONS`. No
    winder has a figure above `most`; what is `given` stands in the sheet as it is handed out.
    """

    heading: str
    field: str
    kind: str
    width: float
    most: int | None = None
    given: bool = False

    @property
    def is_text(self) -> bool:
        """Whether any text may stand in it."""
        return self.kind in ("text", "reason")


AS_RUN_COLUMNS = (
    AsRunColumn("Plan", "plan", "text", 12, given=True),
    AsRunColumn("Run", "run", "text", 34, given=True),
    AsRunColumn("Set", "number", "count", 8, given=True),
    AsRunColumn("Jumbo", "jumbo", "text", 9, given=True),
    AsRunColumn("Planned length m", "planned_m", "m", 9, given=True),
    AsRunColumn(JOIN_AT, "join_at", "text", 12, given=True),
    AsRunColumn("Done", "done", "flag", 6),
    AsRunColumn("Length wound m", "length_wound_m", "m", 9, 200_000),
    AsRunColumn("Reels rejected", "reels_rejected", "count", 9, 100),
    AsRunColumn("Reason", "reason", "reason", 17),
    AsRunColumn("Jumbo width mm", "jumbo_width_mm", "mm", 9, 20_000),
    AsRunColumn("Jumbo length m", "jumbo_length_m", "m", 9, 500_000),
    AsRunColumn("Edge trim front mm", "edge_front_mm", "mm", 9, 5_000),
    AsRunColumn("Edge trim back mm", "edge_back_mm", "mm", 9, 5_000),
    AsRunColumn("Minutes stopped", "minutes_stopped", "min", 9, 10_000),
    AsRunColumn("Remark", "remark", "text", 26),
)
"""One row a set."""

NEEDED = ("Plan", "Run", "Set", "Done")
"""Headings without which no row can be told apart."""

REASONS = (
    "web break",
    "wrinkles",
    "telescoped",
    "starred",
    "burst",
    "ragged slit edge",
    "core damaged",
    "holes or spots",
    "moisture streak",
    "off width",
    "off diameter",
    "handling damage",
    "other",
)
"""Why reels were rejected: words of the winder floor (common practice)."""


_LOOKED_AT = 50  # rows at the top in which the headings must stand

_UNKNOWN = "no heading of the sheet; what stands below it is not read"

_UNITS = {"mm": WIDTHS, "m": LENGTHS}
"""Units that may stand in place of the one at the end of a heading."""

HEADINGS = {column.field: column.heading for column in AS_RUN_COLUMNS}
"""Field, and the heading of its column."""


@dataclass(frozen=True, slots=True)
class _ColumnPlace:
    """Where a column stands, and the unit that its heading states."""

    index: int
    factor: Fraction


def _headed(text: str) -> tuple[str, Fraction] | None:
    """The field that a heading names, and what one of its unit is in that of the field.

    >>> _headed("Jumbo width [in]")
    ('jumbo_width_mm', Fraction(127, 5))
    """
    key = name_key(text)
    for column in AS_RUN_COLUMNS:
        if key == name_key(column.heading):
            return column.field, Fraction(1)
        name = column.heading.removesuffix(f" {column.kind}")
        if column.kind in _UNITS and key.startswith(f"{name_key(name)} "):
            named = _UNITS[column.kind].named.get(key[len(name) :].strip(" []()"))
            if named is not None:
                return column.field, named.factor
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledRow:
    """One row as written. A blank is None, or an empty text."""

    where: str
    row: int
    plan: str
    run: str
    number: int | None
    jumbo: str
    planned_m: Fraction | None
    join_at: str
    done: bool | None
    length_wound_m: Fraction | None
    reels_rejected: int | None
    reason: str
    jumbo_width_mm: Fraction | None
    jumbo_length_m: Fraction | None
    edge_front_mm: Fraction | None
    edge_back_mm: Fraction | None
    minutes_stopped: Fraction | None
    remark: str

    @property
    def was_run(self) -> bool | None:
        """Whether the set was run; where Done is blank, yes beside what only a set has."""
        of_a_set = (
            self.length_wound_m, self.reels_rejected, self.jumbo_width_mm, self.edge_front_mm,
            self.edge_back_mm,
        )  # fmt: skip
        measured = any(value is not None for value in of_a_set)
        return True if self.done is None and measured else self.done

    @property
    def says_something(self) -> bool:
        """Whether the crew wrote anything into the row beside what was given."""
        beside = (self.jumbo_length_m, self.minutes_stopped)
        words = bool(self.reason or self.remark)
        return words or self.was_run is not None or any(value is not None for value in beside)

    def fault(self, field: str, wrong: str, right: str) -> Fault:
        value = getattr(self, field)
        if isinstance(value, bool):
            shown = "yes" if value else "no"
        elif isinstance(value, Fraction):
            shown = f"{float(value):g}"
        else:
            shown = as_text(value)
        return Fault(
            where=self.where, row=self.row, column=HEADINGS[field], value=shown, wrong=wrong,
            right=right,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledSheet:
    """A filled-in sheet: every row that says anything, and what of it could not be read."""

    rows: tuple[FilledRow, ...]
    faults: tuple[Fault, ...]  # cells, as the eye meets them
    warnings: tuple[Fault, ...] = ()  # what is read though out of sight, and what is not read


def read_filled(path: Path) -> FilledSheet:
    """Read a filled-in sheet.

    Parameters
    ----------
    path
        The plan's workbook as filled in, or a csv with the same headings.

    Raises
    ------
    LedgerError
        The file is none of the two, or has no row of headings.
    """
    file = _opened(path)
    sheet, heading_row, columns, warnings = _table(file, path)
    rows: list[FilledRow] = []
    faults: list[Fault] = []
    filled: set[int] = set()
    headings: Cells = ()
    foreign: set[int] = set()
    struck = frozenset(sheet.struck_rows)
    try:
        for row, cells in sheet.rows():
            if row == heading_row:
                headings = cells
            if row <= heading_row or all(cell is None for cell in cells):
                continue
            foreign |= {k for k, cell in enumerate(cells) if cell not in (None, "")}
            read, wrong = _read_row(sheet.name, row, cells, columns)
            if wrong or read.says_something:
                filled.add(row)
            if row in struck and read.says_something:
                asked = "struck out, though something is filled in: was the set run?"
                right = "take the line off, or empty what is filled in"
                wrong.append(Fault(where=sheet.name, row=row, wrong=asked, right=right))
            faults += wrong
            if not wrong:
                rows.append(read)
    except OrderBookError as error:
        raise LedgerError(str(error)) from error
    foreign -= {place.index for place in columns.values()}
    unread = [as_text(headings[k]) for k in sorted(foreign) if k < len(headings)]
    hidden = [row for row in sheet.hidden_rows if row in filled]
    named = {place.index: HEADINGS[field] for field, place in columns.items()}
    warnings += [
        *sheet.out_of_sight(hidden, named),
        *(sheet.fault(_UNKNOWN, "use one of the sheet's", column=heading) for heading in unread),
    ]
    return FilledSheet(rows=tuple(rows), faults=tuple(faults), warnings=tuple(warnings))


def _opened(path: Path) -> BookFile:
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise LedgerError(f"{path}: cannot be read: {reason}; name the filled-in sheet") from error
    try:
        if data.startswith(b"PK") or path.suffix.casefold() in {".xlsx", ".xlsm", ".xls", ".ods"}:
            return open_workbook(path, data, str(path))
        return open_text_file(path, data, lambda cells: len(_known(cells)), str(path))
    except OrderBookError as error:
        raise LedgerError(str(error)) from error


def _known(cells: Cells) -> dict[str, _ColumnPlace]:
    found: dict[str, _ColumnPlace] = {}
    for index, cell in enumerate(cells):
        headed = _headed(cell) if isinstance(cell, str) else None
        if headed is not None and headed[0] not in found:
            found[headed[0]] = _ColumnPlace(index, headed[1])
    return found


_Table = tuple[RawSheet, int, Mapping[str, _ColumnPlace]]


def _table(file: BookFile, path: Path) -> tuple[*_Table, list[Fault]]:
    """The sheet with the set rows, the row of its headings, where each column stands; warnings."""
    tables: list[_Table] = []
    nearest: dict[str, _ColumnPlace] = {}
    for sheet in file.sheets:
        for row, cells in islice(sheet.rows(), _LOOKED_AT):
            found = _known(cells)
            if _missing(found) == []:
                tables.append((sheet, row, found))
                break
            nearest = max(nearest, found, key=len)
    if tables:
        chosen = _the_one([sheet for sheet, _, _ in tables], path)
        others = [sheet for sheet, _, _ in tables if sheet is not chosen]
        wrong, right = "a second sheet with sets; not read", f'"{chosen.name}" is read'
        table = next(table for table in tables if table[0] is chosen)
        return *table, [sheet.fault(wrong, right) for sheet in others]
    missing = ", ".join(_missing(nearest))
    raise LedgerError(
        f"{path}: no row with the headings {', '.join(NEEDED)} (missing: {missing}); "
        f'fill in the sheet "{TITLE}" of the plan\'s workbook, or a csv with its headings: '
        f"{', '.join(HEADINGS.values())}"
    )


def _the_one(sheets: list[RawSheet], path: Path) -> RawSheet:
    """The sheet that is read: the one of the usual name, or the only one in sight."""
    named = [sheet for sheet in sheets if name_key(sheet.name) == name_key(TITLE)]
    in_sight = [sheet for sheet in sheets if not sheet.hidden]
    one = next((some for some in (named, in_sight, sheets) if len(some) == 1), None)
    if one is None:
        names = ", ".join(f'"{sheet.name}"' for sheet in sheets)
        raise LedgerError(
            f'{path}: {len(sheets)} sheets hold sets: {names}; name the one to be read "{TITLE}"'
        )
    return one[0]


def _missing(found: Mapping[str, _ColumnPlace]) -> list[str]:
    headings = {HEADINGS[field] for field in found}
    return [heading for heading in NEEDED if heading not in headings]


def _read_row(
    where: str, row: int, cells: Cells, columns: Mapping[str, _ColumnPlace]
) -> tuple[FilledRow, list[Fault]]:
    values: dict[str, object] = {}
    faults: list[Fault] = []
    for column in AS_RUN_COLUMNS:
        place = columns.get(column.field)
        cell = cells[place.index] if place is not None and place.index < len(cells) else None
        factor = Fraction(1) if place is None else place.factor
        try:
            values[column.field] = _read_cell(column, cell, factor)
        except CellFaultError as fault:
            values[column.field] = None
            faults.append(
                Fault(
                    where=where, row=row, column=column.heading, value=as_text(cell),
                    wrong=fault.wrong, right=fault.right.partition(", or state the book")[0],
                )
            )  # fmt: skip
    return FilledRow(where=where, row=row, **values), faults  # type: ignore[arg-type]


def _read_cell(column: AsRunColumn, cell: object, factor: Fraction) -> object:
    if column.is_text:
        return read_text(cell) if cell is not None else ""
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        return None
    if column.kind == "flag":
        return read_flag(Words().cell(cell, FLAGS))  # the crew's yes in its own language
    units = _UNITS.get(column.kind)
    if units is not None:
        cell, behind = split_figure_and_unit(cell)
        stated = units.unit(behind)
        if stated is None:
            raise CellFaultError("text where a number belongs", "the number alone, or its unit too")
        factor = stated.factor if behind else factor
    figure = read_figure(cell, fractions=units is WIDTHS)
    if figure < 0:
        raise CellFaultError("negative", "a figure from 0 up, or a blank")
    figure *= factor
    if column.most is not None and figure > column.most:
        most = f"{float(column.most / factor):,.0f}"
        raise CellFaultError("more than can be", f"at most {most}")
    if column.kind == "count":
        if figure.denominator != 1:
            raise CellFaultError("not a whole number", "a whole number from 0 up")
        return int(figure)
    # The plan's own lengths are whole metres; a cell in feet has them to fifteen digits.
    return Fraction(round(figure)) if column.field == "planned_m" and factor != 1 else figure
