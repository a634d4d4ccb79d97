"""Reading one row of a table: typed values out, every fault noted, nothing coerced."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, time
from difflib import get_close_matches
from fractions import Fraction
from typing import Generic, TypeVar

from trimopt.book.book_columns import FREE, BookColumn
from trimopt.book.book_settings import BookSettings
from trimopt.book.dates_and_times import END_OF_DAY, read_moment
from trimopt.book.makeable import mm
from trimopt.book.match_headings import Heading
from trimopt.book.raw_tables import Cells
from trimopt.book.sheet_sizes import ACROSS_FIRST, ALONG_FIRST, dimensions_in
from trimopt.book.trade_words import FLAGS
from trimopt.book.units_of_measure import Dimension, measure_of, pounds_alone
from trimopt.book.written_figures import Percent, as_text, read_figure, read_flag, read_text
from trimopt.errors import Fault
from trimopt.mill import Core, Grade, Mill, Winder
from trimopt.paper.measures import Measure
from trimopt.paper.typed import CellFaultError, is_fraction, split_figure_and_unit

_Value = TypeVar("_Value")
_Item = TypeVar("_Item")
BLANK = "blank"
"""What is wrong with a cell that each row must fill in and does not."""
_ONE_DIMENSION = (
    f'one figure, or in the mill file under [export]: size_order = "{ACROSS_FIRST}" or '
    f'"{ALONG_FIRST}"'
)
MAY_BE_FREE = ("min_diameter", "max_diameter", "core")
"""Columns of sizes in which the word free leaves them open."""
_MAX_GSM = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class BookTable:
    """A table of the book: its sheet, its columns as found, the book's settings."""

    where: str
    columns: Mapping[str, BookColumn]
    headings: Mapping[str, Heading]
    settings: BookSettings

    def heading(self, key: str) -> str:
        """What a column is headed; without it in the book, its name, of no unit."""
        heading = self.headings.get(key)
        return self.columns[key].heading.partition(" [")[0] if heading is None else heading.text

    def fault(
        self, row: int | None, wrong: str, right: str, *, key: str = "", value: object = None
    ) -> Fault:
        """Something wrong with a row, or with all of them, in a column where that is named."""
        return Fault(
            where=self.where, row=row, column=self.heading(key) if key else "",
            value=as_text(value), wrong=wrong, right=right,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TableLine(Generic[_Item]):
    """A row of a table: the order, jumbo or instruction, where nothing is wrong with it."""

    row: int
    name: str  # empty where it could not be read
    item: _Item | None
    faults: tuple[Fault, ...]
    warnings: tuple[Fault, ...]


def needed(value: _Value | None) -> _Value:
    """What was read of a cell that every row needs: in a row without a fault it is there."""
    assert value is not None
    return value


def grade_suggestion(mill: Mill, name: str) -> str:
    """What would be right in place of a grade that the mill file lacks."""
    names = [grade.name for grade in mill.grades]
    by_folded = {known.casefold(): known for known in names}
    close = get_close_matches(name.strip().casefold(), list(by_folded), n=1, cutoff=0.5)
    if close:
        return f'"{by_folded[close[0]]}" is the nearest'
    return f"one of {', '.join(names)}"


class RowReader:
    """One row. Every method gives the value of a column, or None when blank or at fault.

    Faults are kept in `faults`; `at_fault` holds the keys of columns that could not be read, so
    that a blank and a fault stay apart.
    """

    __slots__ = ("as_written", "at_fault", "basis", "cells", "faults", "row", "table", "warnings")

    def __init__(self, table: BookTable, row: int, cells: Cells) -> None:
        self.table = table
        self.row = row
        self.cells = cells
        self.faults: list[Fault] = []
        self.warnings: list[Fault] = []
        self.at_fault: set[str] = set()
        self.as_written: list[tuple[str, str]] = []
        self.basis: Measure | None = None  # what the pounds of its grade are for

    def raw(self, key: str) -> object:
        """What the cell holds; None where it is blank or the book has no such column."""
        heading = self.table.headings.get(key)
        if heading is None or heading.index >= len(self.cells):
            return None
        return self.cells[heading.index]

    def note(self, key: str, wrong: str, right: str, *, warning: bool = False) -> None:
        """Keep a fault, or a warning, about a column of this row."""
        fault = self.table.fault(self.row, wrong, right, key=key, value=self.raw(key))
        if warning:
            self.warnings.append(fault)
        else:
            self.at_fault.add(key)
            self.faults.append(fault)

    def note_blanks(self) -> None:
        """Keep a fault for every blank in a column that each row must fill in."""
        for key, column in self.table.columns.items():
            if column.required and self.raw(key) is None:
                self.note(key, BLANK, column.required)

    def line(self, name: str, item: _Item | None) -> TableLine[_Item]:
        """What the row says, or nothing where it has a fault."""
        return TableLine(
            row=self.row,
            name=name,
            item=None if self.faults else item,
            faults=self.faults_in_order(),
            warnings=tuple(self.warnings),
        )

    def faults_in_order(self) -> tuple[Fault, ...]:
        """The faults as the eye meets them, from the first column to the last."""
        places = {one.text: one.index for one in self.table.headings.values()}
        return tuple(sorted(self.faults, key=lambda fault: places.get(fault.column, len(places))))

    def text(self, key: str) -> str:
        """The cell as text; empty where blank."""
        return self.read(key, read_text) or ""

    def flag(self, key: str) -> bool:
        """A yes or a no; blank is no."""
        words = self.table.settings.words
        return self.read(key, lambda value: read_flag(words.cell(value, FLAGS))) or False

    def moment(self, key: str, at: time = END_OF_DAY) -> datetime | None:
        """A date with its time, or at that time of its day."""
        order = self.table.settings.date_order
        return self.read(key, lambda value: read_moment(value, date_order=order, at=at))

    def is_free(self, key: str) -> bool:
        """Whether the word free stands there, in any language."""
        value = self.raw(key)
        if not isinstance(value, str):
            return False
        return self.table.settings.words.meaning(value.strip().casefold(), (FREE,)) == FREE

    def choice(self, key: str) -> str | None:
        """The word of the column's choices that the cell means."""
        column, words = self.table.columns[key], self.table.settings.words
        return self.read(key, lambda value: column.choice(words.cell(value, column.choices)))

    def grade(self, mill: Mill) -> Grade | None:
        """The grade of the mill file that the cell names."""
        name = self.text("grade")
        grade = mill.grade(name) if name else None
        self.basis = None if grade is None else grade.basis_weight
        if name and grade is None:
            self.note("grade", "the mill file has no such grade", grade_suggestion(mill, name))
        return grade

    def core(self, winder: Winder, *, or_else: str = "") -> Core | None:
        """The core of the winder that the cell names by its inside diameter."""
        inside_mm = self.measure("core")
        core = None if inside_mm is None else winder.core(float(inside_mm))
        if inside_mm is not None and core is None:
            cores = ", ".join(mm(each.inside_mm) for each in winder.cores)
            self.note("core", "the winder has no such core", f"one of {cores} mm{or_else}")
        return core

    def count(self, key: str) -> int | None:
        """A whole number, no smaller than the column allows."""
        min_count = self.table.columns[key].min_count or 0
        right = f"a whole number from {min_count} up"

        def read(value: object) -> int:
            figure = self.figure(value)
            if figure < min_count:
                raise CellFaultError(f"below {min_count}", right)
            if figure.denominator != 1:
                raise CellFaultError("not a whole number", right)
            return int(figure)

        return self.read(key, read)

    def measure(self, key: str) -> Fraction | None:
        """A figure with a unit, in the unit that trimopt keeps."""
        column = self.table.columns[key]

        def read(value: object) -> Fraction:
            if column.dimension is Dimension.WIDTH and dimensions_in(value) is not None:
                raise CellFaultError("two dimensions in one cell", _ONE_DIMENSION)
            figure_part, unit = self._measure_of(key, column, value)
            figure = self.figure(figure_part, fractions=column.dimension is Dimension.WIDTH)
            if unit.factor == 1 and figure_part is value and is_fraction(as_text(value)):
                raise CellFaultError(
                    "a fraction, as inches are written, where millimetres are read",
                    f"write {as_text(value)} in, or the millimetres as a decimal",
                )
            if figure < 0:
                raise CellFaultError("negative", "a figure above 0")
            if figure == 0 and not column.zero:
                raise CellFaultError("zero", "a figure above 0, or a blank where it is left free")
            if unit.factor != 1:
                self.as_written.append((key, f"{as_text(figure_part)} {unit.shown}"))
            kept = figure if unit.factor == 1 else figure * unit.factor
            if column.dimension is Dimension.WIDTH and not (_fine(figure) or _fine(kept)):
                raise CellFaultError(
                    "finer than any knife is set",
                    "hundredths of a millimetre, or 128ths of an inch, at the finest",
                )
            if column.dimension is Dimension.GRAMMAGE and not 1 <= kept <= _MAX_GSM:
                raise CellFaultError(
                    "not the grammage of any paper", f"from 1 to {_MAX_GSM:,} g/m²"
                )
            return kept

        return self.read(key, read)

    def size(self, key: str) -> float | None:
        """A size that enters formulae; None, too, where the word free may stand and does."""
        figure = None if key in MAY_BE_FREE and self.is_free(key) else self.measure(key)
        return None if figure is None else float(figure)

    def share(self, key: str) -> Fraction | None:
        """A tolerance as a share: 5, 5 % and a percentage of the spreadsheet are all 1/20."""

        def read(value: object) -> Fraction:
            if isinstance(value, Percent):
                figure, said = read_figure(value.share) * 100, True
            else:
                if isinstance(value, str):
                    value = value.strip().removeprefix("±").removeprefix("+/-")
                part, unit = split_figure_and_unit(value)
                if unit and measure_of(Dimension.SHARE, unit) is None:
                    raise CellFaultError("not a percentage", "write it like 5 or 5 %")
                figure, said = self.figure(part), bool(unit)
            if figure < 0:
                raise CellFaultError("negative", "write it without a sign, like 5")
            if 0 < figure < 1 and not said:
                raise CellFaultError(
                    f"may mean {float(figure):g} % or {float(figure * 100):g} %",
                    f"write {float(figure):g} % or {float(figure * 100):g} % with its sign",
                )
            if figure >= 100:
                raise CellFaultError("100 % or more", "a tolerance below 100 %")
            return figure / 100

        return self.read(key, read)

    def figure(self, value: object, *, fractions: bool = False) -> Fraction:
        """A bare figure by the book's decimal sign; with `fractions`, 29 1/2 is one.

        Raises
        ------
        CellFaultError
            Where it is none.
        """
        settings = self.table.settings
        sign, group = settings.decimal_sign, settings.thousands_sign
        if sign and group and isinstance(value, str):
            strange = next((one for one in ",." if one in value and one not in (sign, group)), None)
            if strange is not None:
                raise CellFaultError(
                    f"{strange} is neither the decimal sign nor the sign of thousands here",
                    f"write it with {sign} as its only sign",
                )
        return read_figure(value, decimal_sign=sign, fractions=fractions)

    def metres(self, key: str, *, from_feet: Callable[[Fraction], int]) -> int | None:
        """Whole metres; what is written in feet is made so by `from_feet`."""
        figure = self.measure(key)
        if figure is None or figure.denominator == 1:
            return None if figure is None else int(figure)
        if dict(self.as_written).get(key, "").endswith(" ft"):
            return from_feet(figure)
        self.note(key, "not whole metres", "whole metres")
        return None

    def _measure_of(self, key: str, column: BookColumn, value: object) -> tuple[object, Measure]:
        heading = self.table.headings[key]
        assumed = heading.measure or measure_of(column.dimension)
        assert assumed is not None  # every measured dimension has a unit that is assumed
        figure_part, text = split_figure_and_unit(value)
        if column.dimension is Dimension.GRAMMAGE:
            return (figure_part if text else value), self._basis_of(heading, text, assumed)
        if not text:
            return value, assumed
        stated = measure_of(column.dimension, text)
        if stated is None:
            raise CellFaultError(
                "text where a number belongs", f"the number alone, in {assumed.shown}"
            )
        if heading.unit_stated and stated.factor != assumed.factor:
            raise CellFaultError(
                f"its unit is {stated.shown}, its heading's {assumed.shown}",
                f"write the figure in {assumed.shown}",
            )
        return figure_part, stated

    def _basis_of(self, heading: Heading, behind: str, assumed: Measure) -> Measure:
        """The unit of a mass per area: of cell, unit column and heading, or else the grade's."""
        texts = [behind, self.text("grammage_unit")]
        stated = [self._basis_named(text) for text in texts if text]
        if heading.unit_stated:
            stated.append(assumed)
        if not stated and heading.left_open is not None:
            if self.basis is None:
                raise heading.left_open
            return self.basis
        unit = stated[0] if stated else assumed
        for other in stated[1:]:
            if other.factor != unit.factor:
                raise CellFaultError(
                    f"in {unit.shown} beside {other.shown}", "state one unit for the line"
                )
        return unit

    def _basis_named(self, text: str) -> Measure:
        if pounds_alone(text) and self.basis is not None:
            return self.basis
        stated = measure_of(Dimension.GRAMMAGE, text)
        if stated is None:
            raise CellFaultError("text where a number belongs", "the number alone, or its unit too")
        return stated

    def read(self, key: str, reader: Callable[[object], _Value]) -> _Value | None:
        """What `reader` makes of the cell; what it finds wrong is kept as the cell's fault."""
        value = self.raw(key)
        if value is None:
            return None
        try:
            return reader(value)
        except CellFaultError as fault:
            self.note(key, fault.wrong, fault.right)
            return None


def _fine(figure: Fraction) -> bool:
    return 100 % figure.denominator == 0 or 128 % figure.denominator == 0
