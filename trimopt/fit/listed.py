"""A list of enquiries, from csv or xlsx: one a row under a row of headings.

Headings (in any order, a unit in brackets or behind is ignored): width, and one of reels, tonnes,
sheets; chop makes a row one for sheets; least diameter, diameter, core, grade, grammage, under %,
over %, name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from trimopt.book.figures import CellFaultError, read_figure, read_text
from trimopt.book.model import Unit
from trimopt.book.tables import BookFile, Cells
from trimopt.book.textfile import open_text_file
from trimopt.book.workbook import open_workbook
from trimopt.errors import Fault, OrderBookError
from trimopt.fit.enquiry import Enquiry

__all__ = ["Listed", "ListedRow", "read_list"]

_KEYS = {
    "width": ("width", "across", "reel width"),
    "chop": ("chop", "along"),
    "reels": ("reels",),
    "tonnes": ("tonnes", "t", "quantity t"),
    "sheets": ("sheets",),
    "diameter_least": ("least diameter", "diameter least"),
    "diameter": ("diameter", "greatest diameter", "diameter greatest"),
    "core": ("core",),
    "grade": ("grade",),
    "grammage": ("grammage",),
    "under": ("under",),
    "over": ("over",),
    "name": ("name", "customer", "enquiry"),
}
_UNIT = re.compile(r"[\s,]*(\(.*\)|\[.*\]|\bmm\b|\bt\b|\bg/m²|\bg/m2|\bgsm\b|%)\s*$", re.IGNORECASE)
_LOOKED_AT = 50  # rows at the top in which the headings must stand


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedRow:
    """One row: its cells as they stand, and the enquiry, or what is wrong with it."""

    row: int
    cells: Cells
    enquiry: Enquiry | None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A list as it was read."""

    source: str
    headings: tuple[str, ...]
    rows: tuple[ListedRow, ...]


def read_list(path: Path, paper_of: Callable[[str, float | None], tuple[str, float]]) -> Listed:
    """Read a list of enquiries.

    Parameters
    ----------
    path
        A .csv, .txt or .xlsx file.
    paper_of
        Gives grade and grammage for what a row says of them ("" and None: nothing); a `ValueError`
        of it becomes the row's fault.

    Raises
    ------
    OrderBookError
        The file cannot be read, or has no headings.
    """
    source = str(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise _unreadable(source, f"cannot be opened ({error.strerror})") from error
    file: BookFile
    if path.suffix.casefold() == ".xlsx":
        file = open_workbook(path, data, source)
    else:
        file = open_text_file(path, data, lambda cells: len(_known(cells)), source)
    sheet = file.sheets[0]
    rows = sheet.rows()
    heading_row, headings, known = _headings(rows, source)
    listed = [
        _row(_Reader(sheet=sheet.name, row=number, cells=cells, known=known), paper_of)
        for number, cells in rows
        if number > heading_row and any(cell not in (None, "") for cell in cells)
    ]
    if not listed:
        raise _unreadable(source, "no enquiry under the headings")
    return Listed(source=source, headings=headings, rows=tuple(listed))


def _unreadable(source: str, wrong: str) -> OrderBookError:
    right = "a csv or xlsx file with the headings width, reels (or tonnes, sheets), grade, grammage"
    fault = Fault(where="", row=None, column="", value="", wrong=wrong, right=right)
    return OrderBookError(source, (fault,))


def _known(cells: Cells) -> dict[str, int]:
    found: dict[str, int] = {}
    for index, cell in enumerate(cells):
        if not isinstance(cell, str):
            continue
        text = " ".join(cell.split()).casefold()
        plain = _UNIT.sub("", text).strip() or text
        for key, names in _KEYS.items():
            if (text in names or plain in names) and key not in found:
                found[key] = index
    return found


def _headings(
    rows: Iterator[tuple[int, Cells]], source: str
) -> tuple[int, tuple[str, ...], dict[str, int]]:
    for number, cells in rows:
        known = _known(cells)
        if "width" in known and known.keys() & {"reels", "tonnes", "sheets"}:
            return number, tuple("" if c is None else str(c) for c in cells), known
        if number >= _LOOKED_AT:
            break
    raise _unreadable(source, "no row of headings with width and reels, tonnes or sheets")


@dataclass(slots=True, kw_only=True)
class _Reader:
    """The cells of one row by key, and the faults found."""

    sheet: str
    row: int
    cells: Cells
    known: dict[str, int]
    faults: tuple[Fault, ...] = ()

    def raw(self, key: str) -> object:
        index = self.known.get(key)
        return self.cells[index] if index is not None and index < len(self.cells) else None

    def note(self, key: str, wrong: str, right: str) -> None:
        value = self.raw(key)
        fault = Fault(
            where=self.sheet,
            row=self.row,
            column=key.replace("_", " "),
            value="" if value is None else str(value),
            wrong=wrong,
            right=right,
        )
        self.faults = (*self.faults, fault)

    def text(self, key: str) -> str:
        try:
            return read_text(self.raw(key)) if self.raw(key) is not None else ""
        except CellFaultError as fault:
            self.note(key, fault.wrong, fault.right)
            return ""

    def figure(self, key: str, *, zero: bool = False) -> Fraction | None:
        value = self.raw(key)
        if value is None or (isinstance(value, str) and not value.strip()):
            return None
        try:
            figure = read_figure(value)
        except CellFaultError as fault:
            self.note(key, fault.wrong, fault.right)
            return None
        if figure < 0 or (figure == 0 and not zero):
            self.note(key, "no size or quantity", "write a number above 0")
            return None
        return figure


def _row(reader: _Reader, paper_of: Callable[[str, float | None], tuple[str, float]]) -> ListedRow:
    width = reader.figure("width")
    if width is None and not reader.faults:
        reader.note("width", "blank", "write the width in mm")
    asked = {key: reader.figure(key) for key in ("reels", "tonnes", "sheets")}
    given = [key for key, figure in asked.items() if figure is not None]
    if len(given) != 1 and not reader.faults:
        wrong = "no quantity" if not given else f"both {' and '.join(given)}"
        reader.note(given[0] if given else "reels", wrong, "write one of reels, tonnes or sheets")
    figures = {key: reader.figure(key) for key in ("chop", "diameter_least", "diameter", "core")}
    gsm = reader.figure("grammage")
    shares = {key: reader.figure(key, zero=True) or Fraction(0) for key in ("under", "over")}
    paper = "", 0.0
    grade = reader.text("grade")
    try:
        paper = paper_of(grade, None if gsm is None else float(gsm))
    except ValueError as error:
        wrong, _, right = str(error).partition("; ")
        reader.note("grade", wrong, right)
    if given == ["sheets"] and figures["chop"] is None and not reader.faults:
        reader.note("chop", "sheets without a chop", "write the dimension along the web in mm")
    name = reader.text("name")
    enquiry = None
    if not reader.faults and width is not None:
        key = given[0]
        quantity = asked[key]
        assert quantity is not None
        enquiry = Enquiry(
            grade=paper[0],
            grammage_gsm=paper[1],
            width_mm=width,
            quantity=quantity * 1000 if key == "tonnes" else quantity,
            unit={"reels": Unit.REELS, "tonnes": Unit.KG, "sheets": Unit.SHEETS}[key],
            chop_mm=figures["chop"],
            diameter_least_mm=_float(figures["diameter_least"]),
            diameter_greatest_mm=_float(figures["diameter"]),
            core_mm=_float(figures["core"]),
            under=shares["under"] / 100,
            over=shares["over"] / 100,
            name=name,
        )
    return ListedRow(row=reader.row, cells=reader.cells, enquiry=enquiry, faults=reader.faults)


def _float(figure: Fraction | None) -> float | None:
    return None if figure is None else float(figure)
