"""Reading an order book: the file, its tables, its lines, and all that is wrong with them."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from os import PathLike
from pathlib import Path

from trimopt.book.book_columns import INSTRUCTION_COLUMNS, JUMBO_COLUMNS, ORDER_COLUMNS
from trimopt.book.book_settings import Settings
from trimopt.book.diameters import notes_on_min_diameter
from trimopt.book.instruction_line import InstructionLine, read_instruction
from trimopt.book.jumbo_line import JumboLine, read_jumbo
from trimopt.book.locate_tables import (
    INSTRUCTIONS,
    FoundTable,
    find_table,
    find_tables,
    order_vocabulary,
)
from trimopt.book.model import Book, LeftOut, Order
from trimopt.book.order_line import Line, read_line
from trimopt.book.raw_tables import BookFile, unreadable
from trimopt.book.row_reader import Table
from trimopt.book.table_rows import Lines, file_bytes, opened
from trimopt.book.tonnage import within_the_mill
from trimopt.errors import Fault
from trimopt.mill import Mill

__all__ = ["read_book"]

_SAID = 3  # faults of a line that the plan names


def read_book(
    path: str | PathLike[str],
    mill: Mill,
    *,
    as_of: date | None = None,
    instructions: str | PathLike[str] | None = None,
) -> Book:
    """The order book at `path`, every line checked against the mill.

    Parameters
    ----------
    path
        A workbook (.xlsx) or a text file (.csv, .tsv, .txt) with semicolons, commas or tabs.
    mill
        The mill, as `trimopt.mill.read_mill` gives it.
    as_of
        The day at which overdue lines are judged. Without it: the day that the book states
        (``As of``), or else the day on which the workbook was saved, or else today; the last two
        with a warning.
    instructions
        A file of instructions, or the workbook of a plan, to be read in place of the book's own
        sheet of them.

    Returns
    -------
    Book
        The lines without a fault, all faults and warnings, and what was left out.
        `Book.require_clean` raises where there is any fault.

    Raises
    ------
    OrderBookError
        Where the book gives no line at all: no such file, a kind of file that is not read, a
        damaged or protected one, an empty one, one without headings or without a column that
        every line needs.
    """
    path = Path(path)
    source = str(path)
    data = file_bytes(path, source)
    if not data:
        raise unreadable(source, "the file is empty", "a table with headings and order lines")
    file = opened(path, data, order_vocabulary(mill), source)
    tables = find_tables(file, mill, source)
    day, day_warnings = _day(as_of, tables.settings, file, path.name)

    orders = Lines(tables.orders, ORDER_COLUMNS, tables.settings)
    lines = [read_line(orders.table, row, cells, mill, day) for row, cells in orders.rows()]
    if not lines:
        raise unreadable(
            source,
            "no order line under the headings",
            "a row for each order line",
            where=tables.orders.sheet.name,
            row=tables.orders.heading_row,
        )
    lines = within_the_mill(orders.table, _without_spoilt(orders, lines), mill)
    jumbo_lines: list[JumboLine] = []
    jumbo_faults: Sequence[Fault] = ()
    if tables.jumbos is not None:
        jumbos = Lines(tables.jumbos, JUMBO_COLUMNS, tables.settings)
        jumbo_lines = [read_jumbo(jumbos.table, row, cells, mill) for row, cells in jumbos.rows()]
        jumbo_lines = _without_twins(jumbos, jumbo_lines)
        jumbo_faults = jumbos.faults
    line_faults = [fault for line in lines for fault in line.faults]
    faults = [*tables.faults, *sorted([*orders.faults, *line_faults], key=_row)]
    line_faults = [fault for jumbo_line in jumbo_lines for fault in jumbo_line.faults]
    faults += sorted([*jumbo_faults, *line_faults], key=_row)
    orders_read = tuple(line.order for line in lines if line.order is not None)
    instructed = _instructed(instructions, tables.instructions, tables.settings, orders_read, mill)
    faults += instructed.faults
    left_out = [
        _left_out(line.number or f"row {line.row}", line.row, [*orders.faults, *line.faults])
        for line in lines
        if line.order is None
    ]
    left_out += [
        _left_out(
            f"jumbo {one.name}" if one.name else f"jumbo in row {one.row}",
            one.row,
            [*jumbo_faults, *one.faults],
        )
        for one in jumbo_lines
        if one.jumbo is None
    ]
    line_warnings = [warning for line in lines for warning in line.warnings]
    return Book(
        source=source,
        fingerprint=hashlib.sha256(data).hexdigest(),
        as_of=day,
        orders=orders_read,
        jumbos=tuple(one.jumbo for one in jumbo_lines if one.jumbo is not None),
        only_listed_jumbos=tables.settings.only_listed_jumbos,
        jumbos_in_order=tables.settings.jumbos_in_order,
        shift_ends=tables.settings.shift_ends,
        instructions=tuple(
            line.instruction for line in instructed.lines if line.instruction is not None
        ),
        instructions_source=instructed.source,
        instructions_fingerprint=instructed.fingerprint,
        faults=tuple(faults),
        warnings=(
            *file.warnings,
            *tables.warnings,
            *day_warnings,
            *line_warnings,
            *notes_on_min_diameter(orders.table, orders_read, mill),
            *instructed.warnings,
        ),
        left_out=(*left_out, *instructed.left_out),
    )


def _left_out(name: str, row: int, faults: Sequence[Fault]) -> LeftOut:
    """A line with its faults in short."""
    own = [
        " ".join(text for text in (fault.column, fault.quoted, fault.wrong) if text)
        for fault in faults
        if fault.row == row
    ]
    more = f", and {len(own) - _SAID} more" if len(own) > _SAID else ""
    return LeftOut(order=name, why=f"its line has faults: {', '.join(own[:_SAID])}{more}")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Instructed:
    """The lines of the instruction sheet, of the book or of a file of its own."""

    lines: tuple[InstructionLine, ...] = ()
    faults: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()
    source: str = ""
    fingerprint: str = ""

    left_out: tuple[LeftOut, ...] = ()


def _instructed(
    path: str | PathLike[str] | None,
    found: FoundTable | None,
    settings: Settings,
    orders: tuple[Order, ...],
    mill: Mill,
) -> _Instructed:
    whole = _Instructed()
    if path is not None:
        path = Path(path)
        source = str(path)
        data = file_bytes(path, source)
        file = opened(path, data, INSTRUCTIONS.vocabulary(mill), source)
        found, settings, faults, warnings = find_table(file, INSTRUCTIONS, mill, source)
        whole = _Instructed(
            faults=faults,
            warnings=(*file.warnings, *warnings),
            source=source,
            fingerprint=hashlib.sha256(data).hexdigest(),
        )
    if found is None:
        return whole
    rows = Lines(found, INSTRUCTION_COLUMNS, settings)
    lines = tuple(
        read_instruction(rows.table, row, cells, orders, mill) for row, cells in rows.rows()
    )
    line_faults = sorted(
        [*rows.faults, *(fault for line in lines for fault in line.faults)], key=_row
    )
    spoilt = {line.row for line in lines if line.faults} | rows.spoilt
    left_out = []
    for line in lines:
        name = f"instruction in row {line.row}"
        if line.row in spoilt:
            left_out.append(_left_out(name, line.row, line_faults))
        elif line.warnings:
            left_out.append(LeftOut(order=name, why=", ".join(w.wrong for w in line.warnings)))
    return replace(
        whole,
        lines=tuple(line for line in lines if line.row not in spoilt),
        faults=(*whole.faults, *line_faults),
        warnings=(*whole.warnings, *(warning for line in lines for warning in line.warnings)),
        left_out=tuple(left_out),
    )


def _row(fault: Fault) -> int:
    return fault.row or 0


def _day(
    asked: date | None, settings: Settings, file: BookFile, name: str
) -> tuple[date, list[Fault]]:
    """The day at which overdue lines are judged, with a warning where nobody stated it."""
    day = asked or settings.as_of
    if day is not None:
        return day, []
    if file.saved is not None:
        day, taken = file.saved, "the day on which the workbook was saved"
    else:
        day, taken = datetime.now().astimezone().date(), "today"
    warning = Fault(
        where=name,
        row=None,
        column="As of",
        value="",
        wrong=f"the book states no day; {taken}, {day.isoformat()}, is taken",
        right="a pair of cells above the table: As of | the day",
    )
    return day, [warning]


def _without_spoilt(orders: Lines, lines: list[Line]) -> list[Line]:
    """The lines, those without an order that share a number or stand in merged cells."""
    by_number = defaultdict(list)
    for line in lines:
        if line.number:
            by_number[line.number.casefold()].append(line.row)
    checked = []
    for line in lines:
        rows = by_number.get(line.number.casefold(), [])
        if len(rows) > 1:
            twin = _twin_fault(orders.table, "number", line.row, line.number, rows)
            checked.append(replace(line, order=None, faults=(*line.faults, twin)))
        elif line.row in orders.spoilt:
            checked.append(replace(line, order=None))
        else:
            checked.append(line)
    return checked


def _without_twins(jumbos: Lines, lines: list[JumboLine]) -> list[JumboLine]:
    by_name = defaultdict(list)
    for line in lines:
        if line.name:
            by_name[line.name.casefold()].append(line.row)
    checked = []
    for line in lines:
        rows = by_name.get(line.name.casefold(), [])
        if len(rows) > 1:
            twin = _twin_fault(jumbos.table, "name", line.row, line.name, rows)
            checked.append(replace(line, jumbo=None, faults=(*line.faults, twin)))
        elif line.row in jumbos.spoilt:
            checked.append(replace(line, jumbo=None))
        else:
            checked.append(line)
    return checked


def _twin_fault(table: Table, key: str, row: int, value: str, rows: Sequence[int]) -> Fault:
    others = [str(other) for other in rows if other != row]
    shown = ", ".join(others[:5]) + (" …" if len(others) > 5 else "")
    return Fault(
        where=table.where,
        row=row,
        column=table.headings[key].text,
        value=value,
        wrong=f"stands in row{'s' if len(others) > 1 else ''} {shown} too",
        right="a number of its own for every line",
    )
