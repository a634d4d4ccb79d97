"""One numbered case: a mill file, an order book, and what the command is told beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import Any

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.random_books.book import BEGINS, INSTRUCTION_SHEET, Row, random_rows
from tests.random_books.extras import random_extras
from tests.random_books.mill import RandomMill, random_mill
from tests.random_books.rare import RARE_FROM, rare_mill, rare_rows

_SIZES = ((1, 3), (1, 3), (4, 8), (4, 8), (4, 8), (6, 10), (11, 20), (15, 30), (31, 60), (61, 120))


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomCase:
    """A case as it lies on a desk."""

    number: int
    mill: RandomMill
    orders: tuple[Row, ...]
    jumbos: tuple[Row, ...]
    instructions: tuple[Row, ...]
    settings: dict[str, Any]
    flags: tuple[str, ...]  # of `trimopt plan`
    traits: frozenset[str]  # what is in it, to see that everything comes up
    defects: tuple[Row, ...] = ()
    metres_from: str = ""  # of defects
    stock: tuple[Row, ...] = ()
    run_days: tuple[Row, ...] = ()

    def write(self, folder: Path) -> tuple[Path, Path]:
        """Write the mill file and the order book, and give their paths."""
        mill, book = folder / "mill.toml", folder / "book.xlsx"
        mill.write_text(self.mill.text, encoding="utf-8")
        workbook = Workbook()
        first = workbook.worksheets[0]
        first.title = "Orders"
        for name, value in self.settings.items():
            first.append([name, value])
        _table(first, self.orders)
        for title, rows in (
            ("Jumbos", self.jumbos),
            (INSTRUCTION_SHEET, self.instructions),
            ("Defects", self.defects),
            ("Stock", self.stock),
            ("Run days", self.run_days),
        ):
            if rows:
                sheet = workbook.create_sheet(title)
                if title == "Defects":
                    sheet.append(["Metres counted from", self.metres_from])
                _table(sheet, rows)
        workbook.save(book)
        return mill, book


def _table(sheet: Worksheet, rows: Sequence[Row]) -> None:
    """Headings and rows; texts stay texts, whatever they begin with."""
    headings = list(dict.fromkeys(heading for row in rows for heading in row))
    sheet.append(headings)
    for row in rows:
        sheet.append([row.get(heading) for heading in headings])
    for cells in sheet.iter_rows():
        for cell in cells:
            if isinstance(cell.value, str):
                cell.data_type = "s"


def orders_of(number: int) -> tuple[int, int]:
    """Fewest and most orders that a case of that number has."""
    return _SIZES[number % 10]


def small_numbers(count: int) -> Iterator[int]:
    """The first numbers of cases with 10 orders or fewer."""
    number = 0
    while count:
        if orders_of(number)[1] <= 10:
            yield number
            count -= 1
        number += 1


def case_with_extras(number: int) -> RandomCase:
    """The case of a number, and beside it what `random_extras` draws."""
    case = random_case(number)
    draw = Random(f"beside a random book, {number}")
    extras = random_extras(draw, case.mill, case.orders, case.jumbos)
    return replace(
        case,
        mill=extras.mill,
        orders=extras.orders,
        jumbos=extras.jumbos,
        defects=extras.defects,
        metres_from=extras.metres_from,
        stock=extras.stock,
        run_days=extras.run_days,
        traits=case.traits | extras.traits,
    )


def random_case(number: int) -> RandomCase:
    """Give the case of a number."""
    draw = Random(f"a random mill and its book, {number}")
    mill = random_mill(draw)
    rare = Random(f"what is rare, {number}")
    if number >= RARE_FROM:
        mill = rare_mill(rare, mill)
    orders, jumbos, instructions, settings, traits = random_rows(
        draw, mill, draw.randint(*orders_of(number))
    )
    if number >= RARE_FROM:
        orders = rare_rows(rare, orders, BEGINS)
    flags: list[str] = []
    if "Shift ends" not in settings and draw.random() < 0.15:
        flags += ["--hours", str(draw.choice([1.5, 4, 8]))]
        traits.add("end of shift")
    if draw.random() < 0.12:
        flags += ["--set-ups", str(draw.randint(0, 5))]
        traits.add("cap on set-ups")
    elif draw.random() < 0.1:
        flags += ["--give-up", str(draw.choice([20, 200]))]
    return RandomCase(
        number=number,
        mill=mill,
        orders=tuple(orders),
        jumbos=tuple(jumbos),
        instructions=tuple(instructions),
        settings=settings,
        flags=tuple(flags),
        traits=mill.traits | traits,
    )
