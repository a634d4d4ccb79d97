"""Exports with furniture and slips, made at random, and the orders that were truly meant."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font

HEADINGS = (
    "Order", "Customer", "Grade", "Grammage", "Product", "Width", "Chop", "Max diameter", "Core",
    "Quantity", "Unit", "Due",
)  # fmt: skip
_AT = {heading: index for index, heading in enumerate(HEADINGS)}
_CUSTOMERS = ("Wrenlow Cartons", "Kelvane Print", "Lindquay Cartons")


@dataclass(slots=True)
class Export:
    """Rows as they are exported: titles, headings, then lines with furniture among them."""

    draw: Random
    titles: list[list[Any]] = field(default_factory=list)
    headings: list[Any] = field(default_factory=lambda: list(HEADINGS))
    rows: list[list[Any]] = field(default_factory=list)
    meant: dict[str, tuple[float, float, str | None, float | None]] = field(default_factory=dict)
    struck: set[int] = field(default_factory=set)  # indices of rows
    hidden: set[int] = field(default_factory=set)
    merged: list[tuple[int, int, int]] = field(default_factory=list)  # column, first row, last
    as_csv: bool = False
    done: list[str] = field(default_factory=list)

    def column(self, heading: str) -> int:
        """Where a column stands now."""
        return _AT[heading]

    def line(self, number: str) -> list[Any]:
        """The row of an order."""
        return next(row for row in self.rows if row and row[0] == number)

    def write(self, folder: Path) -> Path:
        """The export as a file."""
        rows = [*self.titles, self.headings, *self.rows]
        if self.as_csv:
            path = folder / "export.csv"
            stream = io.StringIO()
            csv.writer(stream, delimiter=";").writerows(
                ["" if cell is None else cell for cell in row] for row in rows
            )
            path.write_text(stream.getvalue(), encoding="utf-8")
            return path
        path = folder / "export.xlsx"
        workbook = Workbook()
        sheet = workbook.worksheets[0]
        for row in rows:
            sheet.append(row)
        first = len(self.titles) + 2
        for index in self.struck:
            for cell in sheet[first + index]:
                cell.font = Font(strike=True)
        for index in self.hidden:
            sheet.row_dimensions[first + index].hidden = True
        for column, top, bottom in self.merged:
            sheet.merge_cells(start_row=first + top, end_row=first + bottom,
                              start_column=column + 1, end_column=column + 1)  # fmt: skip
        workbook.save(path)
        return path


def _base(draw: Random) -> Export:
    export = Export(draw=draw, as_csv=draw.random() < 0.5)
    lines = [(group, line) for group in range(3) for line in range(draw.randint(3, 4))]
    for number, (group, _) in enumerate(lines, start=1):
        name = str(4700 + number)
        sheet = draw.random() < 0.25
        width = draw.choice([520, 640, 720, 810, 905])
        quantity = draw.randint(8, 30) * (1000 if sheet else 1)
        due = f"2026-12-{3 + group:02d}"
        export.rows.append([
            name, _CUSTOMERS[group], "Folding boxboard", 250, "sheet" if sheet else "reel", width,
            1020 if sheet else None, None if sheet else 1250, None if sheet else 152, quantity,
            "sheets" if sheet else "reels", due,
        ])  # fmt: skip
        export.meant[name] = (width, quantity, due, None if sheet else 152)
    return export


def _blank(**cells: Any) -> list[Any]:
    row: list[Any] = [None] * len(HEADINGS)
    for heading, cell in cells.items():
        row[_AT[heading]] = cell
    return row


def _insert(export: Export, row: list[Any], at: int | None = None) -> None:
    at = export.draw.randint(1, len(export.rows)) if at is None else at
    export.rows.insert(at, row)
    for name in ("struck", "hidden"):
        moved = {index + (index >= at) for index in getattr(export, name)}
        setattr(export, name, moved)
    export.merged = [(c, a + (a >= at), b + (b >= at)) for c, a, b in export.merged]


def _sum_so_far(export: Export) -> int:
    return sum(row[9] for row in export.rows if isinstance(row[9], int) and row[0] in export.meant)


FURNITURE: dict[str, Callable[[Export], None]] = {
    "titles": lambda e: e.titles.extend([["Order list"], ["Printed 26.11.2026"], []]),
    "total": lambda e: _insert(e, _blank(Order="Total", Quantity=_sum_so_far(e)), len(e.rows)),
    "total unlabelled": lambda e: _insert(e, _blank(Quantity=_sum_so_far(e)), len(e.rows)),
    "subtotal": lambda e: _insert(e, _blank(Customer="Wrenlow Cartons Total", Quantity=41)),
    "headings again": lambda e: _insert(e, list(e.headings)),
    "page": lambda e: _insert(e, _blank(Order="Page 2 of 3")),
    "ruled": lambda e: _insert(e, ["-----"] * len(HEADINGS)),
    "blank": lambda e: _insert(e, _blank()),
    "units": lambda e: _insert(e, _blank(Grammage="g/m²", Width="mm", Core="mm"), 0),
    "hidden": lambda e: e.hidden.add(e.draw.randrange(len(e.rows))),
}


def _one(export: Export) -> list[Any]:
    return export.line(export.draw.choice(sorted(export.meant)))


def _set(heading: str, make: Callable[[Any], Any], lines: int = 1) -> Callable[[Export], None]:
    def slip(export: Export) -> None:
        numbers = export.draw.sample(sorted(export.meant), min(lines, len(export.meant)))
        for number in numbers:
            row = export.line(number)
            row[_AT[heading]] = make(row[_AT[heading]])

    return slip


def _head(heading: str, written: str) -> Callable[[Export], None]:
    def slip(export: Export) -> None:
        export.headings[_AT[heading]] = written

    return slip


def _day(order: str) -> Callable[[Any], Any]:
    def make(due: Any) -> Any:
        parts = str(due).split("-")
        return order.format(*parts, parts[0][2:]) if len(parts) == 3 else due

    return make


def _comma_beside_point(export: Export) -> None:
    _set("Width", lambda width: f"{width},0")(export)
    _set("Grammage", lambda _: "250.0")(export)


def _core_on_the_first_line(export: Export) -> None:
    if export.rows[0][_AT["Core"]] is not None:  # else nothing of it would be left
        for row in export.rows[1:]:
            row[_AT["Core"]] = None


def _both_orders(export: Export) -> None:
    for written, due in (("13/12/2026", "2026-12-13"), ("12/14/2026", "2026-12-14")):
        number = export.draw.choice(sorted(export.meant))
        export.line(number)[_AT["Due"]] = written
        width, quantity, _, core = export.meant[number]
        export.meant[number] = (width, quantity, due, core)


def _pivot(export: Export) -> None:
    above = None
    for row in export.rows:
        if row[0] not in export.meant:
            continue
        same, above = row[1] == above, row[1]
        if same:
            for heading in ("Customer", "Max diameter", "Core", "Due"):
                row[_AT[heading]] = None


def _extra_column(heading: str, make: Callable[[Any], Any]) -> Callable[[Export], None]:
    def slip(export: Export) -> None:
        again = list(export.headings)
        export.headings.append(heading)
        for row in export.rows:
            if row == again:
                row.append(heading)
            elif row[0] in export.meant:
                row.extend([None] * (len(again) - len(row)) + [make(row)])

    return slip


def _status(export: Export) -> None:
    word = export.draw.choice(["cancelled", "held", "Storniert", "closed"])
    gone = export.draw.choice(sorted(export.meant))
    _extra_column("Status", lambda row: word if row[0] == gone else "open")(export)
    del export.meant[gone]


def _struck(export: Export) -> None:
    if export.as_csv:
        return
    gone = export.draw.choice(sorted(export.meant))
    export.struck.add(export.rows.index(export.line(gone)))
    del export.meant[gone]


def _turned(export: Export) -> None:
    at = max(index for index, row in enumerate(export.rows) if row[0] in export.meant)
    order = [0, 1, 2, 3, 4, 6, 5, 7, 8, 9, 10, 11]  # width and chop change places
    export.rows[at] = [export.rows[at][index] for index in order]
    _insert(export, [export.headings[index] for index in order], at)


def _merge(export: Export) -> None:
    if not export.as_csv:
        rows = [index for index, row in enumerate(export.rows) if row[0] in export.meant]
        if rows[1] == rows[0] + 1:
            export.merged.append((_AT["Due"], rows[0], rows[1]))


def _inches(export: Export) -> None:
    export.headings[_AT["Width"]] = "Width [in]"
    for number in export.meant:
        row = export.line(number)
        width = export.draw.choice([20, 24.5, 30])
        row[_AT["Width"]] = width
        export.meant[number] = (width * 25.4, *export.meant[number][1:])


SLIPS: dict[str, Callable[[Export], None]] = {
    "comma beside point": _comma_beside_point,
    "point of thousands": _set("Quantity", lambda q: f"{q + 1000:,}".replace(",", ".")),
    "comma of thousands": _set("Quantity", lambda q: f"{q + 1000:,}"),
    "day first": _set("Due", _day("{2}/{1}/{0}"), 2),
    "month first": _set("Due", _day("{1}/{2}/{0}"), 2),
    "year of two figures": _set("Due", _day("{2}/{1}/{3}"), 9),
    "both orders": _both_orders,
    "month by name": _set("Due", _day("{2}. Dezember {0}"), 9),
    "packed day": _set("Due", _day("{0}{1}{2}"), 9),
    "day as a serial": _set("Due", lambda _: 46359),
    "diameter alone": _head("Max diameter", "Diameter"),
    "diameter in short": _head("Max diameter", "Reel diam."),
    "diameter by sign": _head("Max diameter", "Ø"),
    "core misspelt": _head("Core", "Coer"),
    "due by another word": _head("Due", "Delivery wk/date"),
    "chop by another word": _head("Chop", "Length"),
    "open quantity beside": _extra_column("Open qty", lambda row: row[9] - 2),
    "weight beside": _extra_column("Net weight kg", lambda row: row[9] * 700),
    "pivot": _pivot,
    "core on the first line": _core_on_the_first_line,
    "merged dates": _merge,
    "inches in the heading": _inches,
    "unit behind the figure": _set("Width", lambda w: f"{w} mm", 3),
    "inches behind the figure": _set("Width", lambda w: f"{w / 25.4:.4f} in"),
    "pieces": _set("Unit", lambda _: "pcs"),
    "tons": _set("Unit", lambda _: "tons"),
    "status": _status,
    "struck out": _struck,
    "other headings on page 2": _turned,
    "spaces": _set("Grade", lambda g: f"\u00a0{g}  ", 3),
    "size in one cell": _set("Width", lambda w: f"{w} x 1020"),
    "note among the lines": lambda e: _insert(e, _blank(Order="Due week 50")),
    "credit": _set("Quantity", lambda q: f"({q})"),
    "heading of two lines": _head("Max diameter", "Max\ndiameter\n[mm]"),
}  # fmt: skip


def random_export(seed: int, slips: Sequence[str] | None = None) -> Export:
    """An export with one to three pieces of furniture, and these slips or one or two at random."""
    draw = Random(seed)
    export = _base(draw)
    if slips is None:
        slips = draw.sample(sorted(SLIPS), draw.choice([1, 1, 2]))
    furniture = draw.sample(sorted(FURNITURE), draw.choice([1, 2, 3]))
    for name in slips:  # first, so that a total sums what then stands there
        SLIPS[name](export)
    for name in furniture:
        FURNITURE[name](export)
    export.done = [*slips, *furniture]
    return export
