"""Which sheet is the order table, which the jumbo table, and what the book states about itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice

from trimopt.book.book_columns import name_key
from trimopt.book.book_settings import BookSettings, read_settings, settings_in
from trimopt.book.match_headings import Headings, Vocabulary
from trimopt.book.raw_tables import BookFile, Cells, RawSheet, unreadable
from trimopt.book.table_kinds import INSTRUCTIONS, KINDS, ORDERS, TableKind, unknown_mappings
from trimopt.errors import Fault, OrderBookError
from trimopt.mill import Mill
from trimopt.paper.typed import split_figure_and_unit

_LOOKED_AT = 50  # rows at the top of a sheet in which the headings must stand
_SETTINGS_SHEET = "settings"
_MAP_IT = "map the heading of your export in the mill file under [headings]"


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTable:
    """A table: its kind, its sheet, the row of its headings, and what they say."""

    kind: TableKind
    sheet: RawSheet
    heading_row: int
    heading_cells: Cells
    last_heading_row: int  # below `heading_row` where a row of units stands there
    headings: Headings
    vocabulary: Vocabulary


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTables:
    """The tables of a book by kind, and its settings, with what was wrong or odd on the way."""

    by_kind: Mapping[str, FoundTable]  # name of the kind; that of orders is there
    settings: BookSettings
    faults: tuple[Fault, ...]
    warnings: tuple[Fault, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    sheet: RawSheet
    row: int
    cells: Cells
    known: frozenset[str]


_Tops = Sequence[tuple[RawSheet, list[tuple[int, Cells]]]]
"""Every sheet with its first rows."""


def find_table(
    file: BookFile, kind: TableKind, mill: Mill, source: str
) -> tuple[FoundTable, BookSettings, tuple[Fault, ...], tuple[Fault, ...]]:
    """The table of a file that holds one kind alone, its settings, faults and warnings.

    Raises
    ------
    OrderBookError
        Where no row has the headings of one.
    """
    tops = _tops(file)
    warnings: list[Fault] = []
    found = _found(tops, kind, mill, source, warnings)
    if found is None:
        raise _no_headings(tops, kind, mill, source)
    settings, faults = _settings(tops, (found,), mill)
    return found, settings, faults, tuple(warnings)


def find_tables(file: BookFile, mill: Mill, source: str) -> FoundTables:
    """The order table, those of jumbos, stock, instructions and run days if any, settings.

    Raises
    ------
    OrderBookError
        Where the book is empty, has no row of headings, lacks a column that every line needs, or
        has two order tables.
    """
    tops = _tops(file)
    if not any(cell is not None for _, rows in tops for _, cells in rows for cell in cells):
        raise unreadable(source, "the book is empty", "a table with headings and order lines")
    warnings: list[Fault] = []
    found: dict[str, FoundTable] = {}
    left = tops
    for kind in KINDS:
        table = _found(tops if kind is INSTRUCTIONS else left, kind, mill, source, warnings)
        if table is not None:
            found[kind.name] = table
            left = [top for top in left if not kind.alone or top[0] is not table.sheet]
        elif kind is ORDERS:
            raise _no_headings(tops, kind, mill, source)
    settings, faults = _settings(tops, tuple(found.values()), mill)
    for kind in KINDS:
        if kind is INSTRUCTIONS and kind.name not in found:  # prose may be called so
            warnings += _without_headings(left, kind)
        elif kind.name not in found:
            faults += tuple(_without_headings(left, kind))
    return FoundTables(
        by_kind=found,
        settings=settings,
        faults=faults,
        warnings=(*warnings, *unknown_mappings(mill)),
    )


def _without_headings(tops: _Tops, kind: TableKind) -> Iterator[Fault]:
    """A sheet that bears the kind's name and holds something else is no sheet to pass over."""
    for sheet, rows in tops:
        if name_key(sheet.name) == kind.name and any(any(cells) for _, cells in rows):
            yield sheet.fault(f"no row with the headings of {kind.name}", kind.right)


def likeliest_table(file: BookFile, mill: Mill) -> FoundTable | None:
    """The row that looks most like headings of orders, however much of it is not known yet."""
    words = ORDERS.vocabulary(mill)
    rated = []
    for sheet, rows in _tops(file):
        for row, cells in rows:
            matched = words.match(cells)
            texts = sum(isinstance(cell, str) for cell in cells)
            rating = 2 * len(matched.known) + len(matched.alike)
            if rating > 2 and texts == sum(cell is not None for cell in cells):
                candidate = _Candidate(
                    sheet=sheet, row=row, cells=cells, known=frozenset(matched.known)
                )
                rated.append((rating, -row, candidate))
    if not rated:
        return None
    best = max(rated, key=lambda one: one[:2])[2]
    return _table_at(_tops(file), ORDERS, best, words)


def _tops(file: BookFile) -> _Tops:
    return [(sheet, list(islice(sheet.rows(), _LOOKED_AT))) for sheet in file.sheets]


def _settings(
    tops: _Tops, tables: Sequence[FoundTable], mill: Mill
) -> tuple[BookSettings, tuple[Fault, ...]]:
    """What stands above the tables, or on a sheet of settings, or in the mill file."""
    above: Mapping[str, int] = {one.sheet.name: one.heading_row for one in tables}
    stated = [
        setting
        for sheet, rows in tops
        if sheet.name in above or name_key(sheet.name) == _SETTINGS_SHEET
        for setting in settings_in(
            sheet.name, [pair for pair in rows if pair[0] < above.get(sheet.name, _LOOKED_AT + 1)]
        )
    ]
    return read_settings(stated, mill.export)


def _found(
    tops: _Tops, kind: TableKind, mill: Mill, source: str, warnings: list[Fault]
) -> FoundTable | None:
    """The one table of that kind, or None; what is odd about it joins `warnings`."""
    words = kind.vocabulary(mill)
    candidate = _the_one(_candidates(tops, kind, words), kind.name, source, warnings)
    if candidate is None:
        return None
    found = _table_at(tops, kind, candidate, words)
    _refuse_faulty(candidate, kind, found.headings, source, mill)
    if found.last_heading_row > found.heading_row:
        wrong = "units under the headings: read as if they stood in them"
        row = found.last_heading_row
        warnings.append(candidate.sheet.fault(wrong, "nothing to do", row=row))
    wrong = "no known heading; the column is not read"
    right = f"nothing to do, unless it was meant to be read: then {_MAP_IT}"
    warnings.extend(
        candidate.sheet.fault(wrong, right, row=candidate.row, column=text)
        for text in found.headings.unknown
    )
    rows = [row for row in candidate.sheet.hidden_rows if row > candidate.row]
    columns = {heading.index: heading.text for heading in found.headings.known.values()}
    warnings.extend(candidate.sheet.out_of_sight(rows, columns))
    return found


def _table_at(tops: _Tops, kind: TableKind, candidate: _Candidate, words: Vocabulary) -> FoundTable:
    """The table under a row of headings, units that stand below them taken into them."""
    last_row, cells = candidate.row, candidate.cells
    rows = next(rows for sheet, rows in tops if sheet is candidate.sheet)
    filled = (one for one in rows if one[0] > last_row and any(c is not None for c in one[1]))
    row, below = next(filled, (last_row, ()))
    if (joined := words.with_units(cells, below)) is not None:
        last_row, cells = row, joined
    return FoundTable(
        kind=kind,
        sheet=candidate.sheet,
        heading_row=candidate.row,
        heading_cells=candidate.cells,
        last_heading_row=last_row,
        headings=words.match(cells),
        vocabulary=words,
    )


def _candidates(tops: _Tops, kind: TableKind, words: Vocabulary) -> list[_Candidate]:
    """The heading row of every sheet that has one."""
    found = []
    for sheet, rows in tops:
        rated = [
            _Candidate(sheet=sheet, row=row, cells=cells, known=known)
            for row, cells in rows
            if all((known := words.known_in(cells)) & mark for mark in kind.marks)
        ]
        able = [one for one in rated if len(one.known) >= kind.min_known]
        if kind.fills_down:  # whatever headings stand below, no line above them is passed over
            found.extend(able[:1])
        elif able:
            found.append(max(able, key=lambda one: len(one.known)))
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
        wrong, right = (
            f"a second sheet with {usual_name}; not read",
            f'"{chosen[0].sheet.name}" is read',
        )
        others = (table.sheet for table in tables if table is not chosen[0])
        warnings.extend(sheet.fault(wrong, right) for sheet in others)
        return chosen[0]
    return tables[0] if tables else None


def _lines_say_basis(candidate: _Candidate, headings: Headings, mill: Mill) -> bool:
    """Whether lines may say what their basis weights are for: by column, by cell or by grade."""
    if "grammage_unit" in headings.known or any(grade.basis_weight for grade in mill.grades):
        return True
    index = headings.known["grammage"].index
    return any(
        row > candidate.row and index < len(cells) and split_figure_and_unit(cells[index])[1]
        for row, cells in candidate.sheet.rows()
    )


def _refuse_faulty(
    candidate: _Candidate, kind: TableKind, headings: Headings, source: str, mill: Mill
) -> None:
    """Every line would be wrong for what is wrong with a heading: that comes first."""
    fault_of = partial(candidate.sheet.fault, row=candidate.row)
    faults = [
        replace(fault, where=candidate.sheet.name, row=candidate.row)
        for fault in headings.faults
        if fault is not headings.left_open or not _lines_say_basis(candidate, headings, mill)
    ]
    faults.extend(
        fault_of(
            f"not known, and may be {column.heading}",
            f'head it "{column.heading}", or say in the mill file under [headings]: '
            f'{column.key} = "{text}", or ignore = ["{text}"]',
            column=text,
        )
        for text, column in headings.alike.items()
    )
    unread = ", ".join(f'"{text}"' for text in headings.unknown)
    wrong = "no column has this heading" + (f" (not known: {unread})" if unread else "")
    faults.extend(
        fault_of(wrong, f"add it, or {_MAP_IT}", column=column.heading)
        for column in kind.columns
        if column.required and column.key not in headings.known
    )
    if faults:
        raise OrderBookError(source, tuple(faults))


def _no_headings(tops: _Tops, kind: TableKind, mill: Mill, source: str) -> OrderBookError:
    """The error for a book without a heading row, with the row that comes nearest to one."""
    words = kind.vocabulary(mill)
    rated = [
        (len(words.known_in(cells)), -row, sheet.name, cells)
        for sheet, rows in tops
        for row, cells in rows
    ]
    known, row, where, cells = max(rated, key=lambda one: one[:2], default=(0, 0, "", ()))
    wrong, right = f"no row with the headings of {kind.name} in the first {_LOOKED_AT} rows", ""
    if known:
        wrong += f'; row {-row} of "{where}" has {known} of them'
        found = words.match(cells)
        for mark in kind.marks:
            if known >= kind.min_known and not mark & found.known.keys():
                names = " or ".join(each.heading for each in kind.columns if each.key in mark)
                alike = [f'"{text}"' for text, each in found.alike.items() if each.key in mark]
                may_be = "".join(f", which {one} may be" for one in alike)
                wrong += f", and none is {names}{may_be}"
                right = f", or {_MAP_IT}"
    return unreadable(source, wrong, f"{kind.right}{right}")
