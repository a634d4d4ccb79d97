"""Reading an order book: the file, its tables, its lines, and all that is wrong with them."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from os import PathLike
from pathlib import Path
from typing import Any, Generic, TypeVar

from trimopt.book.book_settings import BookSettings
from trimopt.book.defect_line import WrittenDefect, read_defects, with_defects
from trimopt.book.diameters import notes_on_min_diameter
from trimopt.book.instruction_line import read_instruction
from trimopt.book.jumbo_line import read_jumbo
from trimopt.book.locate_tables import FoundTable, FoundTables, find_table, find_tables
from trimopt.book.model import (
    Book,
    Instruction,
    LeftOut,
    Order,
    RunDay,
    unit_system_of,
)
from trimopt.book.order_line import read_order
from trimopt.book.raw_tables import BookFile, unreadable
from trimopt.book.row_reader import BLANK, BookTable, RowReader, TableLine
from trimopt.book.run_day_line import read_run_days
from trimopt.book.stock_line import read_stock_reel
from trimopt.book.table_kinds import INSTRUCTIONS, ORDERS
from trimopt.book.table_rows import Lines, file_bytes, opened
from trimopt.book.tonnage import within_the_mill
from trimopt.book.unlike_forms import unlike_forms
from trimopt.errors import Fault
from trimopt.mill import Mill
from trimopt.paper import Written

_Item = TypeVar("_Item")
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
    file = opened(path, data, ORDERS.vocabulary(mill), source)
    tables = find_tables(file, mill, source)
    day, day_warnings = _day(as_of, tables.settings, file, path.name)

    settings = tables.settings
    orders, jumbos, flawed, stock, days = (
        None if found is None else Lines(found, settings)
        for found in (tables.orders, tables.jumbos, tables.defects, tables.stock, tables.run_days)
    )
    assert orders is not None
    every_line = (orders, jumbos, flawed, stock, days)
    _note_unlike_forms([rows for rows in every_line if rows is not None])
    if not orders.readers:
        raise unreadable(
            source,
            "no order line under the headings",
            "a row for each order line",
            where=tables.orders.sheet.name,
            row=tables.orders.heading_row,
        )
    lines = [read_order(reader, mill, day) for reader in orders.readers]
    lines = _no_stock_widths(orders, _without_twins(orders, lines, "number"), mill)
    of_orders = _read_table(orders, within_the_mill(orders.table, lines, mill), "")
    of_jumbos = _optional(jumbos, partial(read_jumbo, mill=mill), "jumbo", "name")
    of_defects: _ReadTable[WrittenDefect] = _ReadTable()
    if flawed is not None:
        found = read_defects(flawed.readers, of_jumbos.items, settings.metres_from)
        of_defects = _read_table(flawed, found, "defect")
    of_stock = _optional(stock, partial(read_stock_reel, mill=mill), "stock reel", "reel")
    of_days: _ReadTable[RunDay] = _ReadTable()
    if days is not None:
        of_days = _read_table(days, read_run_days(days.readers, mill), "run day")
    asked = _instructions(instructions, tables, of_orders.items, mill)
    every: list[_ReadTable[Any]] = [
        of_orders, of_jumbos, of_defects, of_stock, of_days, asked.read,
    ]  # fmt: skip
    # Limits are composed in metric units; they are read in those of the book.
    written = mill.units.written(unit_system_of(of_orders.items))
    return Book(
        source=source,
        fingerprint=hashlib.sha256(data).hexdigest(),
        as_of=day,
        orders=of_orders.items,
        jumbos=with_defects(of_jumbos.items, of_defects.items),
        stock=of_stock.items,
        only_listed_jumbos=settings.only_listed_jumbos,
        jumbos_in_order=settings.jumbos_in_order,
        shift_ends=settings.shift_ends,
        run_days=of_days.items,
        instructions=asked.read.items,
        instructions_source=asked.source,
        instructions_fingerprint=asked.fingerprint,
        faults=_in_units(
            written, (*tables.faults, *(fault for table in every for fault in table.faults))
        ),
        warnings=(
            *file.warnings,
            *tables.warnings,
            *day_warnings,
            *_in_units(written, (one for table in every[:-1] for one in table.warnings)),
            *notes_on_min_diameter(orders.table, of_orders.items, mill),
            *asked.read.warnings,
        ),
        left_out=tuple(
            replace(each, why=written.translated(each.why))
            for table in every
            for each in table.left_out
        ),
    )


def _in_units(written: Written, faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Faults with their limits in the units of the book."""
    return tuple(
        replace(fault, wrong=written.translated(fault.wrong), right=written.translated(fault.right))
        for fault in faults
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _ReadTable(Generic[_Item]):
    """What the lines of a table gave."""

    items: tuple[_Item, ...] = ()
    faults: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


def _note_unlike_forms(tables: Sequence[Lines]) -> None:
    """Figures and dates that are written in two ways are a fault of the rows with the rarer one."""
    owner = {id(reader): rows for rows in tables for reader in rows.readers}
    for reader, fault in unlike_forms([reader for rows in tables for reader in rows.readers]):
        owner[id(reader)].spoil(reader.row, fault)


def _optional(
    rows: Lines | None, read: Callable[[RowReader], TableLine[_Item]], noun: str, key: str
) -> _ReadTable[_Item]:
    """The lines of a table that a book need not have, each of another name in column `key`."""
    if rows is None:
        return _ReadTable()
    return _read_table(rows, _without_twins(rows, [read(each) for each in rows.readers], key), noun)


def _read_table(rows: Lines, lines: Sequence[TableLine[_Item]], noun: str) -> _ReadTable[_Item]:
    """The lines taken together; `noun` names one without its name, none for an order."""
    items, left_out = [], []
    faults = [
        *rows.faults,
        *(
            fault
            for line in lines
            for fault in line.faults
            if not (line.row in rows.asked and fault.wrong == BLANK)
        ),
    ]
    for line in lines:
        if line.item is not None and line.row not in rows.spoilt:
            items.append(line.item)
            continue
        own = [fault for fault in faults if fault.row == line.row]
        name = line.name or (f"in row {line.row}" if noun else f"row {line.row}")
        if own or line.row in rows.spoilt or line.warnings:
            unsure = rows.spoilt.get(line.row) or ", ".join(one.wrong for one in line.warnings)
            why = _faults_in_short(own) if own else unsure
            left_out.append(LeftOut(order=f"{noun} {name}".strip(), why=why))
    return _ReadTable(
        items=tuple(items),
        faults=tuple(sorted(faults, key=lambda fault: fault.row or 0)),
        warnings=(*rows.warnings, *(warning for line in lines for warning in line.warnings)),
        left_out=tuple(left_out),
    )


def _faults_in_short(faults: Sequence[Fault]) -> str:
    own = [
        " ".join(text for text in (fault.column, fault.quoted, fault.wrong) if text)
        for fault in faults
    ]
    more = f", and {len(own) - _SAID} more" if len(own) > _SAID else ""
    return f"its line has faults: {', '.join(own[:_SAID])}{more}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Instructions:
    """What the instruction sheet of the book gave, or a file of instructions alone."""

    read: _ReadTable[Instruction] = _ReadTable()
    source: str = ""
    fingerprint: str = ""


def _instructions(
    path: str | PathLike[str] | None, tables: FoundTables, orders: tuple[Order, ...], mill: Mill
) -> _Instructions:
    def read(found: FoundTable, settings: BookSettings) -> _ReadTable[Instruction]:
        rows = Lines(found, settings)
        lines = [read_instruction(reader, orders, mill) for reader in rows.readers]
        return _read_table(rows, lines, "instruction")

    if path is None:
        if tables.instructions is None:
            return _Instructions()
        return _Instructions(read=read(tables.instructions, tables.settings))
    path = Path(path)
    source = str(path)
    data = file_bytes(path, source)
    file = opened(path, data, INSTRUCTIONS.vocabulary(mill), source)
    found, settings, faults, warnings = find_table(file, INSTRUCTIONS, mill, source)
    of_file = read(found, settings)
    return _Instructions(
        read=replace(
            of_file,
            faults=(*faults, *of_file.faults),
            warnings=(*file.warnings, *warnings, *of_file.warnings),
        ),
        source=source,
        fingerprint=hashlib.sha256(data).hexdigest(),
    )


def _day(
    asked: date | None, settings: BookSettings, file: BookFile, name: str
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
        column="As of",
        wrong=f"the book states no day; {taken}, {day.isoformat()}, is taken",
        right="a pair of cells above the table: As of | the day",
    )
    return day, [warning]


def _without_twins(
    rows: Lines, lines: Sequence[TableLine[_Item]], key: str
) -> list[TableLine[_Item]]:
    """The lines, a fault in each whose number or name, in column `key`, is another's too."""
    by_name = defaultdict(list)
    for line in lines:
        if line.name:
            by_name[line.name.casefold()].append(line.row)
    checked = []
    for line in lines:
        same = by_name[line.name.casefold()] if line.name else []
        if len(same) > 1:
            twin = _twin_fault(rows.table, key, line.row, line.name, same)
            checked.append(replace(line, item=None, faults=(*line.faults, twin)))
        else:
            checked.append(replace(line, item=None) if line.row in rows.spoilt else line)
    return checked


def _no_stock_widths(
    rows: Lines, lines: Sequence[TableLine[Order]], mill: Mill
) -> list[TableLine[Order]]:
    """The lines, a fault in each that bears the name of a stock width of the mill file."""
    names = {each.name.casefold() for each in mill.stock_widths}
    checked = []
    for line in lines:
        if line.name.casefold() in names:
            fault = Fault(
                where=rows.table.where,
                row=line.row,
                column=rows.table.headings["number"].text,
                value=line.name,
                wrong="the mill file calls a stock width so",
                right="give the order another number, or the stock width another name",
            )
            line = replace(line, item=None, faults=(*line.faults, fault))  # noqa: PLW2901
        checked.append(line)
    return checked


def _twin_fault(table: BookTable, key: str, row: int, value: str, rows: Sequence[int]) -> Fault:
    others = [str(other) for other in rows if other != row]
    shown = ", ".join(others[:5]) + (" …" if len(others) > 5 else "")
    return Fault(
        where=table.where,
        row=row,
        column=table.headings[key].text,
        value=value,
        wrong=f"also used in row{'s' if len(others) > 1 else ''} {shown}",
        right="give every line its own number",
    )
