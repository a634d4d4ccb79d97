"""Which sheet is the order table, which the jumbo table, and what the book states about itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from itertools import islice

from trimopt.book.book_columns import INSTRUCTION_COLUMNS, JUMBO_COLUMNS, ORDER_COLUMNS, Column
from trimopt.book.book_settings import Settings, read_settings, settings_in
from trimopt.book.match_headings import Headings, Vocabulary, name_key
from trimopt.book.raw_tables import BookFile, Cells, Sheet, unreadable
from trimopt.errors import Fault, OrderBookError
from trimopt.mill import Mill

__all__ = [
    "INSTRUCTIONS",
    "FoundTable",
    "FoundTables",
    "TableKind",
    "find_table",
    "find_tables",
    "order_vocabulary",
]

_LOOKED_AT = 50  # rows at the top of a sheet in which the headings must stand
_MIN_KNOWN = 4  # headings that make a row of them
_SETTINGS_SHEET = "settings"


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTable:
    """A table: its sheet, the row of its headings, and what they say."""

    sheet: Sheet
    heading_row: int
    headings: Headings


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTables:
    """The tables of a book and its settings, with what was wrong or odd on the way."""

    orders: FoundTable
    jumbos: FoundTable | None
    instructions: FoundTable | None
    settings: Settings
    faults: tuple[Fault, ...]
    warnings: tuple[Fault, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    sheet: Sheet
    row: int
    cells: Cells
    known: frozenset[str]


def order_vocabulary(mill: Mill) -> Vocabulary:
    """The words for the order table's columns, the mill's own among them."""
    return Vocabulary(ORDER_COLUMNS, mill.headings)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """A table that a file may hold alone."""

    name: str  # of several: "instructions"
    columns: tuple[Column, ...]
    marks: tuple[frozenset[str], ...]  # its row of headings has a column of each of these
    right: str  # what that row looks like

    def vocabulary(self, mill: Mill) -> Vocabulary:
        """The words for its columns, the mill's own among them."""
        return Vocabulary(self.columns, mill.headings)


INSTRUCTIONS = TableKind(
    name="instructions",
    columns=INSTRUCTION_COLUMNS,
    marks=(frozenset({"instruction"}), frozenset({"pattern", "orders", "number"})),
    right="a row with Instruction and Pattern or Orders, as in a plan's workbook",
)


def find_table(
    file: BookFile, kind: TableKind, mill: Mill, source: str
) -> tuple[FoundTable, Settings, tuple[Fault, ...], tuple[Fault, ...]]:
    """The table of a file that holds one kind alone, its settings, faults and warnings.

    Raises
    ------
    OrderBookError
        Where no row has the headings of one.
    """
    words = kind.vocabulary(mill)
    tops = _tops(file)
    warnings: list[Fault] = []
    table = _the_one(_candidates(tops, words, *kind.marks), kind.name, source, warnings)
    if table is None:
        raise unreadable(
            source,
            f"no row with the headings of {kind.name} in the first {_LOOKED_AT} rows",
            kind.right,
        )
    settings, faults = _settings(tops, {table.sheet.name: table.row})
    found = _table(table, words, kind.columns, source, warnings)
    return found, settings, faults, tuple(warnings)


def _tops(file: BookFile) -> list[tuple[Sheet, list[tuple[int, Cells]]]]:
    return [(sheet, list(islice(sheet.rows(), _LOOKED_AT))) for sheet in file.sheets]


def _settings(
    tops: Sequence[tuple[Sheet, list[tuple[int, Cells]]]], above: Mapping[str, int]
) -> tuple[Settings, tuple[Fault, ...]]:
    """What stands above the tables, or on a sheet of settings."""
    stated = [
        setting
        for sheet, rows in tops
        if sheet.name in above or name_key(sheet.name) == _SETTINGS_SHEET
        for setting in settings_in(
            sheet.name, [pair for pair in rows if pair[0] < above.get(sheet.name, _LOOKED_AT + 1)]
        )
    ]
    return read_settings(stated)


def find_tables(file: BookFile, mill: Mill, source: str) -> FoundTables:
    """The order table, those of jumbos and instructions where there are any, and the settings.

    Raises
    ------
    OrderBookError
        Where the book is empty, has no row of headings, lacks a column that every line needs, or
        has two order tables.
    """
    orders_words = order_vocabulary(mill)
    jumbo_words = Vocabulary(JUMBO_COLUMNS, mill.headings)
    instruction_words = INSTRUCTIONS.vocabulary(mill)
    tops = _tops(file)
    if not any(cell is not None for _, rows in tops for _, cells in rows for cell in cells):
        raise unreadable(source, "the book is empty", "a table with headings and order lines")
    order_tables = _candidates(tops, orders_words, {"quantity"})
    order_tables = [table for table in order_tables if len(table.known) >= _MIN_KNOWN]
    warnings: list[Fault] = []
    orders = _the_one(order_tables, "orders", source, warnings)
    if orders is None:
        raise _no_headings(tops, orders_words, source)
    jumbo_tables = [
        table
        for table in _candidates(tops, jumbo_words, {"name"}, {"length"})
        if table.sheet is not orders.sheet
    ]
    jumbos = _the_one(jumbo_tables, "jumbos", source, warnings)
    instructions = _the_one(
        _candidates(tops, instruction_words, *INSTRUCTIONS.marks), "instructions", source, warnings
    )
    tables = (orders, jumbos, instructions)
    settings, faults = _settings(tops, {one.sheet.name: one.row for one in tables if one})
    found_orders = _table(orders, orders_words, ORDER_COLUMNS, source, warnings)
    found_jumbos = None
    if jumbos is not None:
        found_jumbos = _table(jumbos, jumbo_words, JUMBO_COLUMNS, source, warnings)
    found_instructions = None
    if instructions is not None:
        found_instructions = _table(
            instructions, instruction_words, INSTRUCTION_COLUMNS, source, warnings
        )
    vocabularies = (orders_words, jumbo_words, instruction_words)
    nowhere = set.intersection(*(set(words.unknown_mappings) for words in vocabularies))
    warnings.extend(
        Fault(
            where="mill file, [headings]",
            row=None,
            column=ours,
            value=mill.headings[ours],
            wrong="names no column of the order book",
            right=f"one of {', '.join(column.key for column in ORDER_COLUMNS)}",
        )
        for ours in sorted(nowhere)
    )
    return FoundTables(
        orders=found_orders,
        jumbos=found_jumbos,
        instructions=found_instructions,
        settings=settings,
        faults=faults,
        warnings=tuple(warnings),
    )


def _candidates(
    tops: Sequence[tuple[Sheet, list[tuple[int, Cells]]]],
    words: Vocabulary,
    *marks: Set[str],
) -> list[_Candidate]:
    """The best heading row of every sheet that has one, with a column of each of `marks`."""
    found = []
    for sheet, rows in tops:
        rated = [
            _Candidate(sheet=sheet, row=row, cells=cells, known=known)
            for row, cells in rows
            if all((known := words.known_in(cells)) & mark for mark in marks)
        ]
        if rated:
            found.append(max(rated, key=lambda one: len(one.known)))
    return found


def _the_one(
    tables: list[_Candidate], usual_name: str, source: str, warnings: list[Fault]
) -> _Candidate | None:
    """The only table of its kind: the only one in sight, or the one of the usual name."""
    if len(tables) > 1:
        in_sight = [table for table in tables if not table.sheet.hidden]
        named = [table for table in tables if name_key(table.sheet.name) == usual_name]
        chosen = in_sight if len(in_sight) == 1 else named
        if len(chosen) != 1:
            names = ", ".join(f'"{table.sheet.name}"' for table in tables)
            raise unreadable(
                source,
                f"{len(tables)} sheets hold {usual_name}: {names}",
                f'name the one to be read "{usual_name.capitalize()}", or keep one',
            )
        warnings.extend(
            Fault(
                where=table.sheet.name,
                row=None,
                column="",
                value="",
                wrong=f"a second sheet with {usual_name}; not read",
                right=f'"{chosen[0].sheet.name}" is read',
            )
            for table in tables
            if table is not chosen[0]
        )
        return chosen[0]
    return tables[0] if tables else None


def _table(
    candidate: _Candidate,
    words: Vocabulary,
    columns: tuple[Column, ...],
    source: str,
    warnings: list[Fault],
) -> FoundTable:
    headings = words.match(candidate.cells)
    where, row = candidate.sheet.name, candidate.row
    faults = [
        Fault(where=where, row=row, column=fault.column, value=fault.text, wrong=fault.wrong,
              right=fault.right)
        for fault in headings.faults
    ]  # fmt: skip
    unread = ", ".join(f'"{text}"' for text in headings.unknown)
    faults.extend(
        Fault(
            where=where,
            row=row,
            column=column.heading,
            value="",
            wrong="no column has this heading" + (f" (not known: {unread})" if unread else ""),
            right="add it, or map the heading of your export in the mill file under [headings]",
        )
        for column in columns
        if column.required and column.key not in headings.known
    )
    if faults:
        # Every line would be wrong for it: the headings come first.
        raise OrderBookError(source, tuple(faults))
    warnings.extend(
        Fault(
            where=where,
            row=row,
            column=text,
            value="",
            wrong="no known heading; the column is not read",
            right="nothing to do, unless it was meant to be read",
        )
        for text in headings.unknown
    )
    warnings.extend(_odd_sheet(candidate, headings))
    return FoundTable(sheet=candidate.sheet, heading_row=row, headings=headings)


def _odd_sheet(candidate: _Candidate, headings: Headings) -> list[Fault]:
    """Hidden sheet, rows and columns: read all the same, and said."""
    sheet = candidate.sheet
    odd = []
    if sheet.hidden:
        odd.append(("", "the sheet is hidden; read all the same"))
    rows = [row for row in sheet.hidden_rows if row > candidate.row]
    if rows:
        many = "hidden rows" if len(rows) > 1 else "hidden row"
        odd.append(("", f"{many} {_spans(rows)}: read all the same"))
    odd.extend(
        (heading.text, "a hidden column; read all the same")
        for heading in headings.known.values()
        if heading.index in sheet.hidden_columns
    )
    return [
        Fault(
            where=sheet.name,
            row=None,
            column=column,
            value="",
            wrong=wrong,
            right="show them, or delete what is not meant",
        )
        for column, wrong in odd
    ]


def _spans(rows: Sequence[int]) -> str:
    """Row numbers as spans: 5, 7–9."""
    spans: list[list[int]] = []
    for row in rows:
        if spans and row == spans[-1][1] + 1:
            spans[-1][1] = row
        else:
            spans.append([row, row])
    shown = [str(a) if a == b else f"{a}–{b}" for a, b in spans[:20]]
    return ", ".join(shown) + (" …" if len(spans) > 20 else "")


def _no_headings(
    tops: Sequence[tuple[Sheet, list[tuple[int, Cells]]]], words: Vocabulary, source: str
) -> OrderBookError:
    """The error for a book without a heading row, with the row that comes nearest to one."""
    needed = ", ".join(column.heading for column in ORDER_COLUMNS if column.required)
    rated = [
        (len(words.known_in(cells)), sheet.name, row) for sheet, rows in tops for row, cells in rows
    ]
    most, where, row = max(rated, key=lambda one: (one[0], -one[2]))
    nearest = f'; row {row} of "{where}" has {most} of them' if most else ""
    return unreadable(
        source,
        f"no row with the headings of an order table in the first {_LOOKED_AT} rows{nearest}",
        f"a row with {needed}, Unit",
    )
