"""Reading an order book: the file, its tables, its lines, and all that is wrong with them."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from itertools import chain
from os import PathLike
from pathlib import Path
from typing import Any, Generic, TypeVar

from trimopt.book.book_settings import BookSettings
from trimopt.book.instruction_line import read_instruction
from trimopt.book.locate_tables import FoundTable, FoundTables, find_table, find_tables
from trimopt.book.model import Book, Instruction, JumboInStock, LeftOut, Order, unit_system_of
from trimopt.book.order_line import read_order
from trimopt.book.raw_tables import BookFile, unreadable
from trimopt.book.row_reader import BLANK, BookTable, RowReader, TableLine
from trimopt.book.sheet_lines import (
    OnJumbo,
    read_defects,
    read_jumbo,
    read_run_days,
    read_stock_reel,
    with_defects,
)
from trimopt.book.table_kinds import (
    DEFECTS,
    INSTRUCTIONS,
    JUMBOS,
    ORDERS,
    RUN_DAYS,
    STOCK,
    TableKind,
)
from trimopt.book.table_rows import Lines, file_bytes, opened
from trimopt.book.tonnage import notes_on_min_diameter, within_the_mill
from trimopt.book.unlike_forms import unlike_forms
from trimopt.errors import Fault, types_checked
from trimopt.mill import Mill
from trimopt.paper import Written

_Item = TypeVar("_Item")
_SAID = 3  # faults of a line that the plan names


@types_checked
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
    table, read = _read_tables(tables, mill, day, source)
    lines: tuple[Order, ...] = read[ORDERS.name].items
    orders = tuple(order for order in lines if not order.next_run)
    asked, asked_in, asked_print = _instructions(instructions, tables, orders, mill)
    every = (*read.values(), asked)
    # Limits are composed in metric units; they are read in those of the book.
    written, settings = mill.units.written(unit_system_of(lines)), tables.settings
    return Book(
        source=source,
        fingerprint=hashlib.sha256(data).hexdigest(),
        as_of=day,
        orders=orders,
        jumbos=with_defects(read[JUMBOS.name].items, read[DEFECTS.name].items),
        stock=read[STOCK.name].items,
        only_listed_jumbos=settings.only_listed_jumbos,
        jumbos_in_order=settings.jumbos_in_order,
        shift_ends=settings.shift_ends,
        run_days=read[RUN_DAYS.name].items,
        instructions=asked.items,
        instructions_source=asked_in,
        instructions_fingerprint=asked_print,
        faults=_in_units(written, (*tables.faults, *(f for each in every for f in each.faults))),
        warnings=(
            *chain(file.warnings, tables.warnings, day_warnings),
            *_in_units(written, (one for each in read.values() for one in each.warnings)),
            *notes_on_min_diameter(table, lines, mill),
            *asked.warnings,
        ),
        left_out=tuple(_left_out(every, lines, written)),
        next_run=tuple(order for order in lines if order.next_run),
        faulty_jumbos=read[JUMBOS.name].faulty,
    )


def _left_out(
    every: Iterable[_ReadTable[Any]], lines: Iterable[Order], written: Written
) -> Iterator[LeftOut]:
    """What is left out, with limits in the units of the book."""
    for one in (one for each in every for one in each.left_out):
        yield replace(one, why=written.translated(one.why))
    for order in lines:
        if order.next_run:
            yield LeftOut(order=order.number, why="it is for the next run of its paper")


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
    faulty: frozenset[str] = frozenset()  # names of lines that are left out


def _read_tables(
    tables: FoundTables, mill: Mill, day: date, source: str
) -> tuple[BookTable, dict[str, _ReadTable[Any]]]:
    """The table of orders, and what all tables but that of instructions gave, by kind."""
    lines = {
        name: Lines(found, tables.settings)
        for name, found in tables.by_kind.items()
        if name != INSTRUCTIONS.name
    }
    # Figures and dates that are written in two ways are a fault of the rows with the rarer one.
    owner = {id(reader): rows for rows in lines.values() for reader in rows.readers}
    for reader, fault in unlike_forms([one for rows in lines.values() for one in rows.readers]):
        owner[id(reader)].spoil(reader.row, fault)
    orders = lines[ORDERS.name].table
    if not lines[ORDERS.name].readers:
        left_out = [fault.wrong for fault in lines[ORDERS.name].warnings]
        wrong = ": ".join(filter(None, ("no order line under the headings", "; ".join(left_out))))
        row = tables.by_kind[ORDERS.name].heading_row
        raise unreadable(source, wrong, "a row for each order line", where=orders.where, row=row)

    def read_orders(rows: Lines) -> Sequence[TableLine[Order]]:
        named = _named(rows, partial(read_order, mill=mill, as_of=day), "number")
        return within_the_mill(orders, _no_stock_widths(rows, named, mill), mill)

    def read_flaws(rows: Lines) -> Sequence[TableLine[OnJumbo]]:
        jumbos, metres_from = read[JUMBOS.name], tables.settings.metres_from
        return read_defects(rows.readers, jumbos.items, metres_from, jumbos.faulty)

    kinds: tuple[tuple[TableKind, str, Callable[[Lines], Sequence[TableLine[Any]]]], ...] = (
        (ORDERS, "", read_orders),
        (JUMBOS, "jumbo", lambda rows: _named(rows, partial(read_jumbo, mill=mill), "name")),
        (DEFECTS, "defect", read_flaws),
        (STOCK, "stock reel",
         lambda rows: _named(rows, partial(read_stock_reel, mill=mill), "reel")),
        (RUN_DAYS, "run day", lambda rows: read_run_days(rows.readers, mill)),
    )  # fmt: skip
    read: dict[str, _ReadTable[Any]] = {}
    for kind, noun, of in kinds:
        rows = lines.get(kind.name)
        read[kind.name] = _ReadTable() if rows is None else _read_table(rows, of(rows), noun)
    read[JUMBOS.name] = _without_unsure(read[JUMBOS.name], read[DEFECTS.name].faulty)
    return orders, read


def _without_unsure(
    jumbos: _ReadTable[JumboInStock], defects: frozenset[str]
) -> _ReadTable[JumboInStock]:
    """Without jumbos that have a defect with faults: nobody knows where sets can lie on them."""
    names = {name.removeprefix("on ").casefold() for name in defects}
    unsure = [each.name for each in jumbos.items if each.name.casefold() in names]
    why = "a row of its defects has faults"
    return replace(
        jumbos,
        items=tuple(each for each in jumbos.items if each.name not in unsure),
        left_out=(
            *jumbos.left_out,
            *(LeftOut(order=f"jumbo {name}", why=why) for name in unsure),
        ),
        faulty=jumbos.faulty.union(unsure),
    )


def _read_table(rows: Lines, lines: Sequence[TableLine[_Item]], noun: str) -> _ReadTable[_Item]:
    """The lines taken together; `noun` names one without its name, none for an order."""
    items, left_out, faulty = [], [], []
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
        faulty += [line.name] if line.name else []
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
        faulty=frozenset(faulty),
    )


def _faults_in_short(faults: Sequence[Fault]) -> str:
    own = [
        " ".join(text for text in (fault.column, fault.quoted, fault.wrong) if text)
        for fault in faults
    ]
    more = f", and {len(own) - _SAID} more" if len(own) > _SAID else ""
    return f"its line has faults: {', '.join(own[:_SAID])}{more}"


def _instructions(
    path: str | PathLike[str] | None, tables: FoundTables, orders: tuple[Order, ...], mill: Mill
) -> tuple[_ReadTable[Instruction], str, str]:
    """What the book's sheet gave, or a file of instructions alone; its path and fingerprint."""

    def read(found: FoundTable, settings: BookSettings) -> _ReadTable[Instruction]:
        rows = Lines(found, settings)
        lines = [read_instruction(reader, orders, mill) for reader in rows.readers]
        return _read_table(rows, lines, "instruction")

    if path is None:
        in_book = tables.by_kind.get(INSTRUCTIONS.name)
        return (read(in_book, tables.settings) if in_book else _ReadTable()), "", ""
    path = Path(path)
    source = str(path)
    data = file_bytes(path, source)
    file = opened(path, data, INSTRUCTIONS.vocabulary(mill), source)
    found, settings, faults, warnings = find_table(file, INSTRUCTIONS, mill, source)
    of_file = read(found, settings)
    of_file = replace(
        of_file,
        faults=(*faults, *of_file.faults),
        warnings=(*file.warnings, *warnings, *of_file.warnings),
    )
    return of_file, source, hashlib.sha256(data).hexdigest()


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


def _named(
    rows: Lines, read: Callable[[RowReader], TableLine[_Item]], key: str
) -> list[TableLine[_Item]]:
    """The lines, a fault in each whose number or name, in column `key`, is another's too."""
    lines = [read(reader) for reader in rows.readers]
    by_name = defaultdict(list)
    for line in lines:
        if line.name:
            by_name[line.name.casefold()].append(line)
    checked = []
    for line in lines:
        same = by_name[line.name.casefold()] if line.name else []
        if len(same) > 1:
            twin = _twin_fault(rows.table, key, line, same)
            checked.append(replace(line, item=None, faults=(*line.faults, twin)))
        else:
            checked.append(replace(line, item=None) if line.row in rows.spoilt else line)
    return checked


def _no_stock_widths(
    rows: Lines, lines: Sequence[TableLine[Order]], mill: Mill
) -> list[TableLine[Order]]:
    """The lines, a fault in each that bears the name of a stock width of the mill file."""
    names = {each.name.casefold() for each in mill.stock_widths}
    wrong = "the mill file calls a stock width so"
    right = "give the order another number, or the stock width another name"
    checked = []
    for line in lines:
        if line.name.casefold() in names:
            fault = rows.table.fault(line.row, wrong, right, key="number", value=line.name)
            line = replace(line, item=None, faults=(*line.faults, fault))  # noqa: PLW2901
        checked.append(line)
    return checked


def _twin_fault(
    table: BookTable, key: str, line: TableLine[Any], same: Sequence[TableLine[Any]]
) -> Fault:
    """The fault of a name that others have too; what looks otherwise is quoted as they have it."""
    others = [
        str(other.row) if other.name == line.name else f'{other.row} (as "{other.name}")'
        for other in same
        if other.row != line.row
    ]
    shown = ", ".join(others[:5]) + (" …" if len(others) > 5 else "")
    wrong = f"also used in row{'s' if len(others) > 1 else ''} {shown}"
    right = "give every line its own number"
    return table.fault(line.row, wrong, right, key=key, value=line.name)
