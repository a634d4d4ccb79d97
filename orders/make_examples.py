"""Make the example order books beside this file: shift, week, faulty, and one in inches.

    python orders/make_examples.py [DIR]

Mill, customers and places are invented. The same mill file gives the same bytes every time, so the
books can be made again and compared.
"""

from __future__ import annotations

import csv
import math
import random
import sys
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from faulty_book import FAULTY_JUMBOS, FORMULAS, HIDDEN, MERGED, faulty_rows
from inch_book import inch_table

from trimopt import mill as mills
from trimopt.book.book_columns import DAY_FORMAT
from trimopt.book.book_template import ENTRY, template
from trimopt.book.table_kinds import JUMBOS, ORDERS, RUN_DAYS, STOCK, TableKind
from trimopt.paper import mass_kg, reel_length_m

if TYPE_CHECKING:
    from xlsxwriter import Workbook

HERE = Path(__file__).parent
AS_OF = date.fromisoformat("2026-11-23")  # a Monday
SAVED = datetime.fromisoformat("2026-11-23T05:40:00")

Row = Mapping[str, Any]

CUSTOMERS = (
    ("Wrenlow Cartons", "Marlhaven"),
    ("Dunmarrow Packaging", "Port Allard"),
    ("Kelvane Print", "Stonebrough"),
    ("Brackwater Boxes", "Inverlaw"),
    ("Merrowdale Folding", "Eastmere Quay"),
    ("Ousewick Converting", "Köhlmark"),
    ("Thistlecombe Cases", "Bruyère-le-Pont"),
    ("Varnholt Packs", "Veldhoek"),
    ("Lindquay Cartons", "Östravik"),
    ("Estrova Print", "Stonebrough"),
    ("Corvandale Boxes", "Port Allard"),
    ("Halberwyn Packaging", "Marlhaven"),
)
PACKING = ("stretch film", "kraft wrap, end discs", "kraft wrap", "film on pallet")


# ---------------------------------------------------------------------------------- the shift book


def shift_rows() -> list[Row]:
    """One run, folding boxboard 250 g/m²: eight reel lines and four sheet lines."""
    lines: tuple[Row, ...] = (
        {"width": 820, "min_diameter": 1150, "max_diameter": 1250, "core": 152,
         "quantity": 40, "unit": "reels", "under": 5, "over": 5, "due": "2026-11-23 22:00",
         "priority": 1, "winding_side": "coated side out"},
        {"width": 735, "min_diameter": 1150, "max_diameter": 1250, "core": 152,
         "quantity": 24, "unit": "reels", "under": 5, "over": 10, "due": "2026-11-24"},
        {"width": 612, "min_diameter": 1200, "max_diameter": 1300, "core": 152,
         "quantity": 18, "unit": "t", "under": 5, "over": 5, "due": "2026-11-24",
         "max_reel_mass": 650},
        {"width": 1040, "min_diameter": 1150, "max_diameter": 1270, "core": 152,
         "quantity": 22, "unit": "t", "due": "2026-11-25", "priority": 2},
        {"width": 905, "max_diameter": 1250, "core": 152,
         "quantity": 30, "unit": "reels", "under": 5, "over": 5, "due": "2026-11-24 14:00",
         "joins_allowed": 1},
        {"width": 558, "min_diameter": 1150, "max_diameter": 1250, "core": 152,
         "quantity": 16, "unit": "reels", "under": 0, "over": 10, "due": "2026-11-25",
         "no_edge": "yes", "remarks": "clean edges: window cartons"},
        {"width": 1180, "min_diameter": 1200, "max_diameter": 1300, "core": 152,
         "quantity": 12000, "unit": "kg", "due": "2026-11-25"},
        {"width": 468.5, "min_diameter": 1100, "max_diameter": 1250,
         "quantity": 14, "unit": "reels", "under": 8, "over": 8, "made": 2, "due": "2026-11-24"},
        {"width": 720, "chop": 1020, "quantity": 60000, "unit": "sheets", "under": 5, "over": 5,
         "due": "2026-11-24", "priority": 1, "sheets_a_ream": 150},
        {"width": 640, "chop": 900, "quantity": 300, "unit": "reams", "sheets_a_ream": 150,
         "due": "2026-11-25", "remarks": "- grain along 900"},
        {"width": 1020, "chop": 720, "quantity": 9, "unit": "t", "under": 7.5, "over": 7.5,
         "due": "2026-11-26"},
        {"width": 530, "chop": 750, "quantity": 80000, "unit": "sheets", "under": 5, "over": 5,
         "due": "2026-11-26"},
    )  # fmt: skip
    rows: list[Row] = []
    for index, line in enumerate(lines):
        customer, destination = CUSTOMERS[index]
        rows.append(
            {
                "number": f"4801-{index + 1:02d}",
                "customer": customer,
                "destination": destination,
                "grade": "Folding boxboard",
                "grammage": 250,
                "product": "sheet" if "chop" in line else "reel",
                "packing": PACKING[3 if "chop" in line else index % 3],
                **line,
            }
        )
    return rows


# ----------------------------------------------------------------------------------- the week book


class Draw:
    """Draws that come out alike in every version of Python: all from `random.random`."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def between(self, least: float, greatest: float) -> float:
        """A number from `least` to below `greatest`."""
        return least + (greatest - least) * self._random.random()

    def one_of(self, choices: Iterable[Any]) -> Any:
        """One of the choices, each as likely."""
        pool = tuple(choices)
        return pool[int(self._random.random() * len(pool))]

    def happens(self, share: float) -> bool:
        """Whether something of that likelihood happens."""
        return self._random.random() < share


BOARD_SHEETS = (
    (720, 1020), (640, 900), (700, 1000), (530, 750), (610, 860), (570, 820), (650, 920),
    (480, 660), (1020, 720), (900, 640), (1000, 700), (760, 1060), (450, 640), (520, 740),
    (740, 520), (860, 610),
)  # fmt: skip
LINER_WIDTHS = (
    645, 720, 785, 830, 905, 960, 1015, 1080, 1120, 1175, 1240, 1310, 1385, 1450, 1525, 1560,
    1840, 2250,
)  # fmt: skip
# core, least and greatest diameter; None is left free in the book
BOARD_RANGES = (
    (152, 1150, 1250),
    (152, 1150, 1250),
    (152, 1200, 1300),
    (152, None, 1250),
    (None, 1150, 1250),
)
SMALL_CORE_RANGES = ((76, 1000, 1150), (76, 1050, 1200), (None, 1000, 1200), (152, 1150, 1250))
LINER_RANGES = ((305, 1250, 1350), (305, 1200, 1350), (152, 1200, 1300), (152, 1250, 1350))

# grade, grammage, reel lines, sheet lines, ranges, tonnes of a line, days until the first are due
WEEK_RUNS = (
    ("Folding boxboard", 250, 14, 12, BOARD_RANGES, (5, 28), 4),
    ("Folding boxboard", 300, 10, 8, BOARD_RANGES, (5, 30), 4),
    ("Coated boxboard", 230, 12, 12, SMALL_CORE_RANGES, (5, 28), 3),
    ("White-lined board", 350, 8, 12, BOARD_RANGES, (5, 30), 5),
    ("Kraft liner", 175, 18, 0, LINER_RANGES, (12, 60), 2),
    ("White-top liner", 140, 14, 0, LINER_RANGES, (12, 60), 1),
)


def week_rows(mill: mills.Mill) -> list[Row]:
    """Six runs, 120 lines, reels and sheets mixed, due over one week."""
    draw = Draw(48)
    rows: list[Row] = []
    for run, (grade, grammage, reels, sheets, ranges, tonnes, days) in enumerate(
        WEEK_RUNS, start=1
    ):
        for index in range(reels + sheets):
            customer, destination = draw.one_of(CUSTOMERS)
            min_t, max_t = tonnes
            mass_t = min_t * (max_t / min_t) ** draw.between(0, 1)
            row: dict[str, Any] = {
                "number": f"48{run}-{index + 1:02d}",
                "customer": customer,
                "destination": destination,
                "grade": grade,
                "grammage": grammage,
                **_tolerances(draw),
                **_due(draw, days),
            }
            if index < reels:
                row |= _week_reel(draw, mill, row, ranges, mass_t)
            else:
                row |= _week_sheet(draw, row, mass_t)
            rows.append(row)
    _week_oddities(rows)
    return rows


def _tolerances(draw: Draw) -> Row:
    if draw.happens(0.3):
        return {}  # the mill's custom
    under, over = draw.one_of(((5, 5), (5, 5), (10, 10), (3, 5), (0, 10), (7.5, 7.5)))
    return {"under": under, "over": over}


def _due(draw: Draw, days: int) -> Row:
    """Due after the run's turn in the week, from `days` on over three days."""
    due = (AS_OF + timedelta(days=days + int(draw.between(0, 3)))).isoformat()
    if draw.happens(0.4):
        due += draw.one_of((" 06:00", " 14:00", " 22:00"))
    priority = int(draw.between(1, 5)) if draw.happens(0.35) else None
    return {"due": due, "priority": priority}


def _week_reel(
    draw: Draw, mill: mills.Mill, row: Row, ranges: tuple[Any, ...], mass_t: float
) -> Row:
    liner = row["grammage"] < 200
    width = draw.one_of(LINER_WIDTHS) if liner else round(draw.between(420, 1260))
    core, least, greatest = draw.one_of(ranges)
    grade = mill.grade(row["grade"])
    winder_core = mill.winder.core(core or 152)
    assert grade is not None
    assert winder_core is not None
    caliper_um = grade.wound_caliper_um(row["grammage"])
    reel_m = math.floor(reel_length_m(greatest, winder_core.outside_mm, caliper_um))
    reel_t = mass_kg(width, reel_m, row["grammage"]) / 1000
    unit = draw.one_of(("reels", "reels", "t", "t", "kg", "m"))
    reels = max(2, round(mass_t / reel_t))
    quantity: Any = {
        "reels": reels,
        "t": max(1, round(2 * mass_t) / 2),
        "kg": round(mass_t * 1000, -2),
        "m": reels * round(reel_m, -2),
    }[unit]
    return {
        "product": "reel",
        "width": width,
        "min_diameter": least,
        "max_diameter": greatest,
        "core": core,
        "quantity": quantity,
        "unit": unit,
        "no_edge": "yes" if draw.happens(0.1) else None,
        "joins_allowed": draw.one_of((None, None, 0, 1)),
        "winding_side": draw.one_of(("", "", "coated side out", "coated side in")),
        "packing": draw.one_of(PACKING[:3]),
    }


def _week_sheet(draw: Draw, row: Row, mass_t: float) -> Row:
    across, chop = draw.one_of(BOARD_SHEETS)
    sheet_t = across * chop * row["grammage"] / 1e12
    unit = draw.one_of(("sheets", "sheets", "reams", "t"))
    count = draw.one_of((100, 150, 200, 250))
    quantity: Any = {
        "sheets": round(mass_t / sheet_t, -3),
        "reams": round(mass_t / sheet_t / count),
        "t": max(1, round(2 * mass_t) / 2),
    }[unit]
    return {
        "product": "sheet",
        "width": across,
        "chop": chop,
        "quantity": int(quantity) if unit != "t" else quantity,
        "unit": unit,
        "sheets_a_ream": count if unit == "reams" else None,
        "packing": PACKING[3],
    }


def _week_oddities(rows: list[Row]) -> None:
    """What a real book has a little of: halves of a millimetre, started and hard lines."""
    changes: dict[str, Row] = {
        "481-03": {"width": 749.5},
        "481-05": {"remarks": "@ dock 3, ring before loading"},
        "482-02": {"width": 611.5, "remarks": "=same reels as last month"},
        "483-04": {"max_reel_mass": 600},
        # Wanted before its run comes round: late in any order of the runs but its own first.
        "482-05": {"due": "2026-11-25 14:00", "priority": 1},
        "484-10": {"remarks": "- do not stack pallets"},
        # No whole number of reels comes inside its tolerance: a question for sales.
        "484-02": {"width": 760, "min_diameter": 1200, "max_diameter": 1300, "core": 152,
                   "quantity": 1.75, "unit": "t", "under": 3, "over": 3},
    }  # fmt: skip
    for index, row in enumerate(rows):
        rows[index] = {**row, **changes.get(row["number"], {})}
        if index % 29 == 4 and row["unit"] in {"reels", "sheets"}:
            rows[index] = {**rows[index], "made": row["quantity"] // 4}


# ----------------------------------------------------------------------------------------- writing


def fill_orders(workbook: Workbook, rows: Iterable[Row]) -> None:
    """Write order lines under the headings; texts stay texts, whatever they begin with."""
    sheet = workbook.get_worksheet_by_name("Orders")
    sheet.write("B2", AS_OF, workbook.add_format({**ENTRY, "num_format": DAY_FORMAT}))
    day = workbook.add_format({"num_format": DAY_FORMAT})
    columns = [column.key for column in ORDERS.offered]
    for number, row in enumerate(rows, start=ORDERS.heading_row):
        assert set(row) <= set(columns), set(row) - set(columns)
        for index, key in enumerate(columns):
            value = row.get(key)
            if key == "due" and value and value[:4] == "2026":
                shape = (day,) if len(value) == 10 else ()
                sheet.write_datetime(number, index, datetime.fromisoformat(value), *shape)
            elif key == "quantity" and row.get("number") in FORMULAS:
                sheet.write_formula(number, index, value, value="")
            else:
                sheet.write(number, index, value)


def fill(workbook: Workbook, kind: TableKind, rows: Iterable[Sequence[Any]]) -> None:
    """Write rows under the headings of a sheet."""
    sheet = workbook.get_worksheet_by_name(kind.tab)
    for number, row in enumerate(rows, start=kind.heading_row):
        sheet.write_row(number, 0, row)


def fill_run_days(workbook: Workbook) -> None:
    """Write under the headings when the paper of the shift is run."""
    days = (("2026-11-23T06:00", "2026-11-24T06:00"), ("2026-11-26T06:00", "2026-11-27T06:00"))
    rows = (("Folding boxboard", 250, *map(datetime.fromisoformat, hours)) for hours in days)
    fill(workbook, RUN_DAYS, rows)


def fill_stock(workbook: Workbook) -> None:
    """Write reels in stock under the headings: most meet an order of the shift, two meet none."""
    board = ("Folding boxboard", 250)
    rows = (
        ("S-1107", *board, 820, 3067, None, None, 152, "Bay 3", "2026-10-02", None, None),
        ("S-1108", *board, 820, None, 622, None, 152, "Bay 3", "2026-09-14", None, None),
        ("S-1121", *board, 820, None, None, 1240, 152, "Bay 4", None, None, "Kelvane Print"),
        ("S-1130", *board, 905, 3000, None, None, 152, "Bay 4", "2026-10-20", 1, None),
        ("S-1131", *board, 905, 3010, None, None, 152, "Bay 4", "2026-10-20", 2, None),
        ("S-1140", *board, 612, 2900, None, None, 152, "Bay 5", "2026-11-01", None, "4801-03"),
        ("S-1141", *board, 612, 3100, None, None, 152, "Bay 5", "2026-11-01", None, None),
        ("S-1150", *board, 733, 3100, None, None, 152, "Bay 5", "2026-11-01", None, None),
    )
    fill(workbook, STOCK, ([_day(value) for value in row] for row in rows))


def _day(value: Any) -> Any:
    moment = isinstance(value, str) and value.startswith("2026")
    return datetime.fromisoformat(value) if moment else value


def fill_faulty(workbook: Workbook) -> None:
    """Write the lines of the faulty book, with its merged cells and its hidden row."""
    rows = faulty_rows()
    fill_orders(workbook, rows)
    at = {row["number"]: ORDERS.heading_row + index for index, row in enumerate(rows)}
    sheet = workbook.get_worksheet_by_name("Orders")
    first, last = (at[number] for number in MERGED)
    customer = rows[first - ORDERS.heading_row]["customer"]
    sheet.merge_range(first, 1, last, 1, customer)
    sheet.set_row(at[HIDDEN], options={"hidden": True})
    keys = ("name", "grade", "grammage", "width", "length", "loss_start", "loss_end")
    fill(workbook, JUMBOS, ([row.get(key) for key in keys] for row in FAULTY_JUMBOS))


def make(folder: Path) -> None:
    """Write the books into `folder`."""
    mill = mills.read_mill(HERE / "mill.toml")

    def shift(workbook: Workbook) -> None:
        fill_orders(workbook, shift_rows())
        fill_run_days(workbook)

    def stock(workbook: Workbook) -> None:
        fill_orders(workbook, shift_rows())
        fill_stock(workbook)

    def week(workbook: Workbook) -> None:
        fill_orders(workbook, week_rows(mill))

    for fill_in in (shift, stock, week, fill_faulty):
        name = fill_in.__name__.removeprefix("fill_")
        (folder / f"{name}.xlsx").write_bytes(template(mill, SAVED, fill_in))
    (folder / "inches").mkdir(exist_ok=True)
    with (folder / "inches" / "shift.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(inch_table(AS_OF))


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
