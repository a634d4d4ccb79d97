"""The rows of the sheet Sets, checked cell by cell, and the order in which they are to run."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from trimopt.book.model import Stretch
from trimopt.book.raw_tables import RawSheet, spans, unreadable
from trimopt.book.written_figures import NoValue, as_text, read_figure
from trimopt.book.xlsx_file import MAX_CELLS
from trimopt.errors import Fault
from trimopt.paper.typed import CellFaultError
from trimopt.plan.model import Block, Plan, Position, RunPlan, SetRow
from trimopt.report.read_back.edited_sets import WrittenSet
from trimopt.report.words.units import Units
from trimopt.report.xlsx.sets_sheet import (
    HEADING_ROW,
    MIXED,
    TITLE,
    SheetShape,
    set_columns,
    shape_of,
)
from trimopt.text import for_workbook

_MAX_FIGURE = 10**9  # mm or m
Grid = tuple[tuple[object, ...], ...]
"""The values of a sheet's cells, row by row."""


@dataclass(slots=True)
class _Page:
    """What is read so far: faults, and by run the rows with their figure under Runs as."""

    units: Units
    kinds: Mapping[str, str]  # of figure, by column
    titles: Mapping[str, str]  # as the columns are headed, in the units of the plan
    faults: list[Fault] = field(default_factory=list)
    rows: dict[str, list[tuple[WrittenSet, Fraction]]] = field(default_factory=dict)

    def fault(self, row: int, column: str, value: object, wrong: str, right: str) -> None:
        said = as_text(value)
        title = self.titles.get(column, column)
        self.faults.append(
            Fault(where=TITLE, row=row, column=title, value=said, wrong=wrong, right=right)
        )


def squared(rows: Iterable[Sequence[object]]) -> Grid:
    """Give rows of one length: without dimensions each ends where its own last cell does."""
    found = [tuple(row) for row in rows]
    widest = max((len(row) for row in found), default=0)
    if widest * len(found) > MAX_CELLS:
        wrong = f"more than {MAX_CELLS:,} cells in a sheet"
        raise unreadable("", wrong, "delete empty columns and rows")
    return tuple(row + (None,) * (widest - len(row)) for row in found)


def read_rows(sheet: RawSheet, plan: Plan) -> tuple[dict[str, tuple[WrittenSet, ...]], list[Fault]]:
    """Read the sheet's rows: by run its sets in the order they run in, and all faults."""
    grid = squared(cells for _, cells in sheet.rows())
    shape, units = shape_of(plan), Units(plan.written)
    page = _Page(
        units=units,
        kinds={column.heading: column.kind for column in set_columns(shape)},
        titles={column.heading: column.title(units) for column in set_columns(shape)},
        rows={run.name: [] for run in plan.runs},
    )
    headings, columns = _find_columns(grid, page)
    if page.faults:
        return {}, page.faults
    issued: dict[tuple[str, int | None], tuple[RunPlan, Block, SetRow]] = {
        (run.name, each.number): (run, block, each)
        for run in plan.runs
        for block, each in run.sets_in_blocks
    }
    filled = _filled_rows(page, grid, headings, columns, _names(plan))
    for at in filled:
        if not at.readable():
            continue
        cells = at.cells
        name, number = str(cells["Run"]), _whole(cells["Issued as"])
        known = issued.get((name, number))
        if name not in page.rows:
            wrong = "is no run of this plan" if cells["Run"] else "is empty, or merged with another"
            at.fault("Run", wrong, "copy the row of a set")
        elif known is None:
            wrong = "is no set of this run as issued"
            at.fault("Issued as", wrong, "leave it as the set was issued")
        else:
            _read(at, shape, *known)
    _note_doubtful(page, sheet, {at.row for at in filled})
    return {name: _ordered(page, rows) for name, rows in page.rows.items()}, page.faults


def _filled_rows(
    page: _Page, grid: Grid, headings: int, columns: Mapping[str, int], names: Mapping[str, str]
) -> list[_SheetRow]:
    """The rows below the headings in which anything stands; `names` as the plan has them."""
    filled = []
    for row, values in enumerate(grid[headings:], start=headings + 1):
        cells = {column: values[at] for column, at in columns.items()}
        for column, value in cells.items():
            if isinstance(value, str):
                cells[column] = names.get(value.strip(), value.strip()) or None
        if any(value is not None for value in cells.values()):
            filled.append(_SheetRow(page, row, cells))
    return filled


def _note_doubtful(page: _Page, sheet: RawSheet, filled: Set[int]) -> None:
    """Rows that a person may have meant to take out: with a line through them, or hidden."""
    for row in sorted(filled & set(sheet.struck_rows)):
        wrong = "is struck out: is the set to be left out?"
        page.fault(row, "", None, wrong, "delete the row, or take the line off")
    if rows := sorted(filled & set(sheet.hidden_rows)):
        many = f"rows {spans(rows)} are" if len(rows) > 1 else "is"
        those = "their sets" if len(rows) > 1 else "its set"
        right = "show the rows, by clearing a filter too, or delete them"
        page.fault(rows[0], "", None, f"{many} hidden: are {those} to be left out?", right)


def _find_columns(grid: Sequence[Sequence[object]], page: _Page) -> tuple[int, dict[str, int]]:
    """The row of the headings, which rows put in or taken out above it moved, and its columns."""
    titles = {*page.titles.values()}
    named = [
        [value.strip() if isinstance(value, str) else "" for value in row]
        for row in grid[: 2 * HEADING_ROW]
    ]
    row = max(range(len(named)), key=lambda at: len(titles & {*named[at]}), default=None)
    found: dict[str, int] = {}
    for at, value in enumerate([] if row is None else named[row]):
        found.setdefault(value, at)
    row = HEADING_ROW if row is None or not titles & found.keys() else row + 1
    columns: dict[str, int] = {}
    for column, title in page.titles.items():
        if title in found:
            columns[column] = found[title]
        else:
            wrong = "is missing among the headings"
            page.fault(row, column, None, wrong, "write it back in this row")
    return row, columns


@dataclass(frozen=True, slots=True)
class _SheetRow:
    """A row of the sheet; what is wrong in a cell is kept with the page's faults."""

    page: _Page
    row: int
    cells: Mapping[str, object]

    def fault(self, column: str, wrong: str, right: str) -> None:
        self.page.fault(self.row, column, self.cells.get(column), wrong, right)

    def readable(self) -> bool:
        """Whether no cell shows an error, or a formula without a result; such are faults."""
        odd = {name: cell for name, cell in self.cells.items() if isinstance(cell, NoValue)}
        for column, cell in odd.items():
            self.fault(column, cell.wrong, cell.right)
        return not odd

    def figure(
        self,
        column: str,
        *,
        least: Fraction | None = None,
        above: bool = False,
        near: Fraction | float | None = None,
    ) -> Fraction | None:
        """Read a figure exactly as written; `near` is kept where its cell was not changed."""
        kind, value = self.page.kinds[column], self.cells[column]
        try:
            if value is None:
                raise CellFaultError("is empty", "write a figure, without its unit")
            written = read_figure(value, fractions=self.page.units.fractions)
        except CellFaultError as fault:
            self.fault(column, fault.wrong, fault.right.partition(", or state the book")[0])
            return None
        if abs(written) > _MAX_FIGURE:
            self.fault(column, "is of a size that no winder has", "write it in its unit")
            return None
        if near is not None:
            shown = float(self.page.units.cell(near, kind)[0])
            if math.isclose(shown, written, rel_tol=1e-9, abs_tol=1e-9):
                return Fraction(near)
        figure = self.page.units.kept(written, kind)
        if (above and figure <= 0) or (least is not None and figure < least):
            right = "write one above 0" if above else f"write {least} or more"
            self.fault(column, "is too small", right)
            return None
        return figure

    def core(self, column: str, near: float | None) -> float | None:
        """Read a core; None where a set mixes them."""
        if self.cells[column] == MIXED:
            return None
        figure = self.figure(column, above=True, near=near)
        return None if figure is None else float(figure)

    def metres(self, column: str, *, above: bool = False, near: int | None = None) -> int | None:
        """Read a length of web. A winder counts whole metres: one written in feet is rounded."""
        figure = self.figure(column, above=above, least=None if above else Fraction(0), near=near)
        if figure is None or figure.denominator == 1 or not self.page.units.written.metric:
            return None if figure is None else round(figure)
        self.fault(column, "is no whole number", "write whole metres")
        return None


def _read(at: _SheetRow, shape: SheetShape, run: RunPlan, block: Block, each: SetRow) -> None:
    """Read the row of a set that was issued in a run and block."""
    before = len(at.page.faults)
    if _whole(at.cells["Block"]) != block.number:
        wrong = f"set {each.number} was issued in block {block.number}"
        at.fault("Block", wrong, "leave it as the set was issued")
    runs_as = at.figure("Runs as", least=Fraction(0))
    core = at.core("Core mm", block.core_mm)
    length = at.metres("Length m", above=True, near=each.length_m)
    edge = at.figure("Edge front mm", least=Fraction(0), near=block.edge_front_mm)
    stretches = _stretches(at, shape, each)
    strips = _strips(at, shape, run, block)
    if core is not None:
        strips = tuple(replace(strip, core_mm=core) for strip in strips)
    if len(at.page.faults) > before or length is None or edge is None or runs_as is None:
        return
    row = replace(each, length_m=length, stretches=stretches)
    written = replace(block, core_mm=core, edge_front_mm=edge, positions=strips, sets=(row,))
    found = WrittenSet(row=at.row, was=block, issued=each, block=written)
    at.page.rows[run.name].append((found, runs_as))


def _stretches(at: _SheetRow, shape: SheetShape, each: SetRow) -> tuple[Stretch, ...]:
    """Give the written pieces of jumbo; of a set on one jumbo the metres follow."""
    if at.cells["Jumbo"] is None:
        at.fault("Jumbo", "is empty", "name the jumbo that the set is wound from")
        return each.stretches
    found: list[Stretch] = []
    for piece in range(1, shape.stretches + 1):
        which = "" if piece == 1 else f" {piece}"
        names = (f"Jumbo{which}", f"From{which} m", f"To{which} m")
        jumbo, start, end = (at.cells[name] for name in names)
        if jumbo is None and start is None and end is None:
            continue
        if jumbo is None:
            at.fault(names[0], "is empty", "name the jumbo, or empty its metres too")
            continue
        if start is None and end is None and piece == 1:
            found.append(replace(each.stretches[0], jumbo=str(jumbo)))
            continue
        first, last = at.metres(names[1]), at.metres(names[2], above=True)
        if first is None or last is None:
            continue
        if last <= first:
            at.fault(names[2], "are no piece of a jumbo", "write To above From")
            continue
        found.append(Stretch(jumbo=str(jumbo), from_m=first, to_m=last))
    return tuple(found)


def _strips(at: _SheetRow, shape: SheetShape, run: RunPlan, block: Block) -> tuple[Position, ...]:
    strips: list[Position] = []
    gap = False
    for place in range(1, shape.places + 1):
        if all(at.cells[f"{place} {what}"] is None for what in ("order", "width mm", "ups")):
            gap = True
            continue
        if gap:
            wrong = "stands after an empty place"
            at.fault(f"{place} order", wrong, "fill the places from the front side")
            gap = False
        strip = _strip(at, place, run, block, shape.broke)
        if strip is not None:
            strips.append(replace(strip, number=len(strips) + 1))
    if not strips:
        at.fault("1 order", "has no reels", "fill a place, or delete the row")
    return tuple(strips)


def _strip(
    at: _SheetRow, place: int, run: RunPlan, block: Block, broke_word: str
) -> Position | None:
    """Give what is written in a place across; None where its width cannot be read."""
    name = _name(at.cells[f"{place} order"])
    was = block.positions[place - 1] if place <= len(block.positions) else None
    line = next((line for line in run.orders if line.number == name), None)
    # Reels that were wound before their order left the book keep its number.
    left = was if line is None and was is not None and name == was.order != "" else None
    broke = line is None and left is None and name.casefold() == broke_word
    if line is None and left is None and not broke:
        right = f"write one of its order numbers, or {broke_word} for a broke reel"
        at.fault(f"{place} order", f"is no order of the run {run.name}", right)
    width = at.figure(f"{place} width mm", above=True, near=None if was is None else was.width_mm)
    ups = at.cells[f"{place} ups"]
    count = None if ups is None else _whole(ups)
    sheets = line.product == "sheet" if line else left is not None and left.kind == "sheeter"
    if sheets != (count is not None and count > 0):
        right = "write how many sheets lie side by side" if sheets else "empty it"
        wrong = "the order is cut to sheets" if sheets else "is only for sheet orders"
        at.fault(f"{place} ups", wrong, right)
    core_mm = None if was is None else was.core_mm
    if isinstance(at.cells.get(f"{place} core mm"), (int, float)):
        core_mm = at.core(f"{place} core mm", core_mm)
    sheeter = _sheeter(at, f"{place} sheeter", run, name) if sheets else ""
    if width is None:
        return None
    return Position(
        number=place,
        kind="broke" if broke else "sheeter" if sheets else "reel",
        order="" if broke else name,
        width_mm=width,
        ups=count,
        core_mm=core_mm,
        sheeter=sheeter,
    )


def _sheeter(at: _SheetRow, column: str, run: RunPlan, order: str) -> str:
    """The sheeter written in a cell, else the only one that the order's reels go to."""
    written = at.cells.get(column)
    if written is not None:
        return str(written)
    used = {p.sheeter for block in run.blocks for p in block.positions if p.order == order}
    if len(used) != 1:
        at.fault(column, "is empty", f"name the sheeter that cuts order {order}")
        return ""
    return used.pop()


def _ordered(page: _Page, rows: Sequence[tuple[WrittenSet, Fraction]]) -> tuple[WrittenSet, ...]:
    """Put sets in the order that is meant: rows as they stand, or by a changed figure.

    Rows moved and figures left alone: the rows say it. Figures changed and rows left alone: the
    figures say it; one figure for sets of a block moves them together. Both: they must agree, or
    it can be meant in two ways.
    """
    stand = [each for each, _ in rows]
    figures = [figure for _, figure in rows]
    if all(figure == each.number for each, figure in rows):
        return tuple(stand)
    rising = all(a < b for a, b in pairwise(figures))
    unmoved = all(a.number <= b.number for a, b in pairwise(stand))
    if rising or unmoved:
        by_figure = sorted(rows, key=lambda row: row[1])
        for (first, figure), (second, other) in pairwise(by_figure):
            block_moved = first.was is second.was and figure not in (first.number, second.number)
            if figure == other and first.number != second.number and not block_moved:
                wrong = f"stands in row {first.row} too"
                right = f"write {float(figure) + 0.5:g} to run after it"
                page.fault(second.row, "Runs as", f"{float(other):g}", wrong, right)
        return tuple(each for each, _ in by_figure)
    for (_, figure), (each, other) in pairwise(rows):
        if other <= figure:
            page.fault(
                each.row, "Runs as", f"{float(other):g}",
                "stands below a higher or equal figure, though rows were moved as well",
                "let the figures rise from top to bottom, or only move rows",
            )  # fmt: skip
            break
    return tuple(stand)


def _names(plan: Plan) -> dict[str, str]:
    """Names of runs, orders and jumbos by what a workbook shows of them."""
    names: list[str] = []
    for run in plan.runs:
        names += [run.name, *(line.number for line in run.orders)]
        names += [s.jumbo for each in run.sets for s in each.stretches]
        strips = [position for block in run.blocks for position in block.positions]
        names += [name for strip in strips for name in (strip.order, strip.sheeter) if name]
    return {for_workbook(name).strip(): name for name in names}


def _name(value: object) -> str:
    """Give an order number as text, also where a spreadsheet made a number of it."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return value if isinstance(value, str) else as_text(value, max_characters=1000)


def _whole(value: object) -> int | None:
    if isinstance(value, str) and value.isdecimal():  # as other programs save a figure
        return int(value)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or float(value) % 1:
        return None
    return int(value)
