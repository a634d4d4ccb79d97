"""What a mill file should say so that an order export is read: what is sure, and what is asked."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from os import PathLike
from pathlib import Path
from typing import Any

from trimopt.book.book_columns import columns_by_key
from trimopt.book.book_file import read_book
from trimopt.book.book_settings import BookSettings
from trimopt.book.dates_and_times import read_moment
from trimopt.book.fill_down import fill_down
from trimopt.book.locate_tables import FoundTable, likeliest_table
from trimopt.book.raw_tables import unreadable
from trimopt.book.row_reader import RowReader
from trimopt.book.table_kinds import ORDERS
from trimopt.book.table_rows import Lines, file_bytes, opened
from trimopt.book.trade_words import FLAGS, PRODUCTS, STATES, Words
from trimopt.book.units_of_measure import FIGURES, Dimension, quantity_unit_of
from trimopt.book.unlike_forms import shown_forms
from trimopt.book.written_figures import as_text, read_figure, read_flag
from trimopt.errors import OrderBookError, types_checked
from trimopt.mill import Mill
from trimopt.paper import INCH_MM
from trimopt.paper.typed import CellFaultError, split_figure_and_unit

_Test = Callable[[str], bool]

_ASKED_WORDS = {  # column -> where it is said, how, and what else it may be
    "product": ("words", "reel = [{}]", "or sheet"),
    "unit": ("words", "t = [{}]", "or kg, m, reel, sheet, ream"),
    "no_edge": ("words", "yes = [{}]", "or no"),
    "status": ("words", "cancelled = [{}]", "or open, or later"),
    "grade": ("[grade]", "name = {}", "no such grade in the mill file"),
}
_FILL_DOWN = re.compile(r"fill_down = \[[^\]]+\]")
_OPEN = ("can be read as", "a year of two")  # what may be read in two ways
_SHOWN = 6  # texts named of each kind
_MOST = 0.6  # share of a column's cells that say what it is


@dataclass(slots=True, kw_only=True)
class Proposal:
    """Lines of a mill file by section: those that are sure, and those that a person decides."""

    source: str
    place: str
    sure: dict[str, list[str]] = field(default_factory=dict)
    asked: dict[str, list[str]] = field(default_factory=dict)
    result: str = ""

    @property
    def questions(self) -> int:
        """How many things a person has to decide."""
        return sum(len(lines) for lines in self.asked.values())

    def text(self) -> str:
        """The lines as they may be copied into the mill file; what is asked is a comment."""
        lines = [f"# For {self.source}, {self.place}. What is asked begins with #: take the # off",
                 "# where it is right."]  # fmt: skip
        for section in dict.fromkeys(("headings", "words", "export", *self.asked)):
            own = [
                *self.sure.get(section, ()),
                *(f"# {one}" for one in self.asked.get(section, ())),
            ]
            if own:
                lines += ["", f"[{section}]" if section else "", *own]
        lines += ["", f"# {self.questions} asked. {self.result}"]
        return "\n".join(lines)


@types_checked
def proposal_for(path: str | PathLike[str], mill: Mill) -> Proposal:
    """What the mill file should say of the export at `path`.

    Raises
    ------
    OrderBookError
        Where it cannot be read, or no row looks like headings of orders.
    """
    path = Path(path)
    source = str(path)
    words = ORDERS.vocabulary(mill)
    file = opened(path, file_bytes(path, source), words, source)
    found = likeliest_table(file, mill)
    if found is None:
        raise unreadable(source, "no row looks like the headings of orders", ORDERS.right)
    return _Asking(path, found, mill).proposal


class _Asking:
    def __init__(self, path: Path, found: FoundTable, mill: Mill) -> None:
        self._found = found
        self._mill = mill
        self._words = Words(mill.export.words)
        place = f"row {found.heading_row} of {found.sheet.name}"
        self.proposal = Proposal(source=path.name, place=place)
        self._lines = Lines(found, BookSettings(words=self._words, fill_down=()))
        diameter_mm = min(each.min_reel_diameter_mm for each in mill.winders)
        self._min_mm = {
            "width": float(min(each.min_reel_width_mm for each in mill.winders)),
            **dict.fromkeys(("min_diameter", "diameter", "max_diameter"), diameter_mm),
            "core": min(core.inside_mm for each in mill.winders for core in each.cores),
            **({"chop": min(float(each.min_chop_mm) for each in mill.sheeters)}
               if mill.sheeters else {}),
        }  # fmt: skip
        self._headings()
        self._cells()
        export = replace(mill.export, **self._forms())
        self._blanks()
        self.proposal.result = _result(path, replace(mill, export=export, headings=self._map))

    def _sure(self, section: str, line: str) -> None:
        self.proposal.sure.setdefault(section, []).append(line)

    def _ask(self, section: str, line: str) -> None:
        self.proposal.asked.setdefault(section, []).append(line)

    def _headings(self) -> None:
        """Every heading: known, like one that is known, what its cells look like, or not read."""
        found, self._map = self._found.headings, dict(self._mill.headings)
        for key, one in found.known.items():
            bare = one.text.partition("[")[0].strip()
            self._map.setdefault(key, bare)
            if not one.unit_stated and self._in_inches(key):
                seen = "  # or another unit: no such figure can be in mm"
                self._ask("headings", f"{key} = {_quoted(f'{bare} [in]')}{seen}")
            else:
                self._sure("headings", f"{key} = {_quoted(self._map[key])}")
        for fault in found.faults:
            self._ask("headings", f"{_quoted(fault.value)}: {fault.wrong}; {fault.right}")
        looks = self._looks_like()
        ignored = []
        for text in found.unknown:
            column = found.alike.get(text)
            key = looks.get(text) or (column.key if column is not None else "")
            if key:
                seen = ", as its cells look" if text in looks else ""
                self._ask("headings", f"{key} = {_quoted(text)}  # or ignore it{seen}")
            else:
                ignored.append(text)
        asked = {*found.known, *looks.values(), *(one.key for one in found.alike.values())}
        lacking = [one for one in ORDERS.columns if one.required and one.key not in asked]
        for column in lacking:
            self._ask("headings", f'{column.key} = "?"  # no column for {column.heading}')
        if ignored:
            keep = self._ask if lacking else self._sure
            keep("headings", f"ignore = [{', '.join(map(_quoted, ignored))}]")

    def _in_inches(self, key: str) -> bool:
        """Whether a column's largest figure is below all that is made in mm, and not in inches."""
        figures = []
        for cell in (reader.raw(key) for reader in self._lines.readers):
            with suppress(CellFaultError):
                figures += [] if cell is None else [read_figure(cell, decimal_sign=".")]
        if not figures or key not in self._min_mm:
            return False
        return max(figures) < self._min_mm[key] <= INCH_MM * max(figures)

    def _too_wide(self, text: str) -> bool:
        return Fraction(re.sub(r"\D", "", text) or 0) > self._mill.jumbo.width_mm

    def _looks_like(self) -> dict[str, str]:
        """Unknown headings whose cells can only be those of one column that is still missing."""
        known = self._found.headings.known
        found: dict[str, str] = {}
        for index, cell in enumerate(self._found.heading_cells):
            text = as_text(cell)
            if text not in self._found.headings.unknown:
                continue
            cells = [as_text(r.cells[index]) for r in self._lines.readers if index < len(r.cells)]
            filled = [one for one in cells if one]
            for key, is_one in self._known_cells().items():
                fitting = sum(_passes(is_one, one) for one in filled)
                if key not in known and filled and fitting >= _MOST * len(filled):
                    found.setdefault(text, key)
        return {text: key for text, key in found.items() if list(found.values()).count(key) == 1}

    def _known_cells(self) -> dict[str, _Test]:
        """Whether a text is one that can stand in a column, by the column's key."""
        product = columns_by_key(ORDERS.columns)["product"]
        words = self._words
        return {
            "grade": lambda text: self._mill.grade(text) is not None,
            "product": lambda text: product.choice(words.meaning(text, PRODUCTS)) != "",
            "unit": lambda text: quantity_unit_of(words.unit(text)) is not None,
            "due": lambda text: read_moment(text, date_order="d/m/y") is not None,
            "no_edge": lambda text: read_flag(words.meaning(text, FLAGS)) in {True, False},
            "status": lambda text: words.state(text) in STATES,
        }

    def _cells(self) -> None:
        """Words that mean nothing here yet, each of them once."""
        tests = self._known_cells()
        for key, (section, line, others) in _ASKED_WORDS.items():
            first: dict[str, int] = {}
            for reader in self._lines.readers:
                value = reader.raw(key)
                if isinstance(value, str) and not _passes(tests[key], as_text(value)):
                    first.setdefault(as_text(value), reader.row)
            for text, row in list(first.items())[:_SHOWN]:
                self._ask(section, f"{line.format(_quoted(text))}  # {others}; row {row}")

    def _forms(self) -> dict[str, Any]:
        """Decimal sign and date order where the export shows one and only one."""
        settled: dict[str, Any] = {}
        readers = self._lines.readers
        for shown, (key, forms, dimensions, read) in zip(shown_forms(readers), _FORMS, strict=True):
            where = [
                f"{form} in row {places[0][0].row}, {as_text(places[0][0].raw(places[0][1]))}"
                for form, places in shown.items()
            ]
            if getattr(self._mill.export, key) is not None:
                continue
            if len(shown) == 1:
                (settled[key],) = shown
                self._sure("export", f'{key} = "{settled[key]}"  # {where[0]}')
            elif shown:
                self._ask("export", f"{key} differs: {'; '.join(where)}")
            elif (open_one := _first_open(readers, dimensions, read)) is not None:
                reader, column, text = open_one
                # Grouped by its sign a width may be none of the mill's: then it is for decimals.
                too_wide = column in self._min_mm and self._too_wide(text)
                first, other = sorted(forms, key=lambda form: too_wide and form not in text)
                place = f"row {reader.row}, {reader.table.headings[column].text}, {text}"
                self._ask("export", f'{key} = "{first}"  # or {other}: {place}')
        return settled

    def _blanks(self) -> None:
        lines = [(reader.row, reader.cells) for reader in self._lines.readers]
        table = self._lines.table
        for fault in fill_down(lines, table.headings, BookSettings(words=self._words), "").faults:
            found = _FILL_DOWN.search(fault.right)
            setting = found[0] if found else "fill_down = []"
            self._ask("export", f"{setting}  # or []: {fault.wrong}")


def _figure(value: str) -> object:
    return read_figure(split_figure_and_unit(value)[0])


_FORMS: tuple[tuple[str, tuple[str, str], frozenset[Dimension], Callable[[str], object]], ...] = (
    ("decimal_sign", (",", "."), FIGURES, _figure),
    ("date_order", ("d/m/y", "m/d/y or y/m/d"), frozenset({Dimension.MOMENT}), read_moment),
)


def _first_open(
    readers: Sequence[RowReader],
    dimensions: frozenset[Dimension],
    read: Callable[[str], object],
) -> tuple[RowReader, str, str] | None:
    """The first text that may be read in two ways, with its row and column."""
    for reader in readers:
        for key in reader.table.headings:
            value = reader.raw(key)
            if not isinstance(value, str) or reader.table.columns[key].dimension not in dimensions:
                continue
            try:
                read(value)
            except CellFaultError as fault:
                if fault.wrong.startswith(_OPEN):
                    return reader, key, as_text(value)
    return None


def _passes(test: _Test, text: str) -> bool:
    try:
        return test(text)
    except CellFaultError:
        return False


def _result(path: Path, mill: Mill) -> str:
    """What is read once the sure lines stand in the mill file."""
    try:
        book = read_book(path, mill)
    except OrderBookError as error:
        many = "s" if len(error.faults) > 1 else ""
        return f"Without them no line is read: {len(error.faults)} fault{many} of the headings."
    return (
        f"Without them {len(book.orders)} order lines are read, "
        f"{len(book.faults)} faults are left (trimopt check shows them)."
    )


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
