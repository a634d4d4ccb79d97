"""A random order book for a random mill: rows as a person would write them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from fractions import Fraction
from random import Random
from typing import Any

from tests.random_books.mill import Paper, RandomMill, as_figure

Row = Mapping[str, Any]

AS_OF = date(2026, 11, 23)
_INCH = Fraction(254, 10)
BEGINS = datetime.fromisoformat("2026-11-23T06:00")
INSTRUCTION_SHEET, INSTRUCTION_HEADING = "Instructions", "Instruction"

_CUSTOMERS = (
    "Wrenlow Cartons",
    "Köhlmark & Söhne",
    "=Brackwater <Boxes>",
    "Thistlecombe Cases",
    "",
)
_WORDS = ("pin", "yes", "all", "Mixed", "free", "broke", "(Broke)")
_PLACES = ("Port Allard", "", "Östravik", "+Veldhoek")
_SHEETS = ((720, 1020), (640, 900), (530, 750), (450, 640), (1020, 720), (610.5, 860))


def random_rows(
    draw: Random, mill: RandomMill, orders: int
) -> tuple[list[Row], list[Row], list[Row], dict[str, Any], set[str]]:
    """Order lines, jumbos in stock, instructions, the book's settings, and what is in them."""
    book = _Book(draw, mill)
    rows = [book.order(number) for number in range(1, orders + 1)]
    jumbos = book.jumbos()
    instructions = book.instructions(rows)
    return rows, jumbos, instructions, book.settings(bool(jumbos)), book.traits


class _Book:
    def __init__(self, draw: Random, mill: RandomMill) -> None:
        self.draw = draw
        self.mill = mill
        self.traits: set[str] = set()
        self.step = draw.choice([5, 1, 1, 0.5, 0.1])
        if self.step == 0.1:
            self.traits.add("tenths")
        self.numbers = draw.choice(["4801-{:02d}", "{:04d}", "A{}", "=O{}", "7{:03d}"])
        # Words that the sheets use themselves, drawn apart so that all else stays as it was.
        self.words = Random(repr(draw.getstate()))
        self.free_words = self.words.sample(_WORDS, len(_WORDS))
        self.worded = self.words.random() < 0.25
        self.tolerances = draw.choice(["any", "any", "zero", "blank"])
        if self.tolerances == "zero":
            self.traits.add("zero tolerance")
        self.reels_an_order = draw.choice([3, 8, 20])

    def order(self, number: int) -> Row:
        """One line: a reel, or at times a sheet where the mill has a sheeter."""
        draw = self.draw
        paper = draw.choice(self.mill.papers)
        sheets = self.mill.sections["sheeter"]
        row: dict[str, Any] = {
            "Order": self.numbers.format(number),
            "Customer": draw.choice(_CUSTOMERS),
            "Grade": paper.grade,
            "Grammage [g/m²]": paper.grammage_gsm,
        }
        if self.numbers.startswith("7"):
            row["Order"] = int(row["Order"])
        if self.worded and self.words.random() < 0.5 and len(self.free_words):
            row["Order"] = self.free_words.pop()
        row |= self._sheet(paper) if sheets and draw.random() < 0.35 else self._reel(paper)
        row |= self._tolerance()
        if draw.random() < 0.15 and row["Quantity"] > 4:
            row["Already made"] = math.floor(row["Quantity"] * draw.uniform(0.1, 0.6))
            self.traits.add("made before")
        if draw.random() < 0.6:
            due = BEGINS + timedelta(hours=draw.choice([1, 4, 8, 20, 40, 100]))
            row["Due"] = due.date() if draw.random() < 0.4 else due
            self.traits.add("due")
        if draw.random() < 0.3:
            row["Priority"] = draw.randint(1, 3)
            self.traits.add("priority")
        if draw.random() < 0.08:
            row["Keep off edge"] = "yes"
            self.traits.add("no edge")
        if self.mill.winder["joins_allowed"]:
            row["Joins allowed"] = draw.choice([0, 1, 1, 2])
        if draw.random() < 0.2:
            row["Destination"] = draw.choice(_PLACES)
            row["Remarks"] = draw.choice(["- clean edges", "@dock 3", "ring <first> & wait"])
        return row

    def _reel(self, paper: Paper) -> dict[str, Any]:
        draw, winder = self.draw, self.mill.winder
        least = winder["min_reel_width_mm"]
        greatest = min(winder["max_reel_width_mm"], self.mill.deckle_mm)
        width = self._width(least, least + (greatest - least) * draw.choice([0.35, 0.6, 1]))
        row: dict[str, Any] = {"Product": "reel", **self._across(width)}
        smallest, largest = winder["min_reel_diameter_mm"], winder["max_reel_diameter_mm"]
        core = draw.choice([*self.mill.sections["winder.core"], None])
        top = draw.choice([largest, round(draw.uniform(0.6, 1) * largest, -1)])
        if draw.random() < 0.9:
            row |= self._length("Max. diameter", top)
        if draw.random() < 0.7:
            row |= self._length(
                "Min. diameter", max(smallest, top - draw.choice([0, 10, 50, 150, 300]))
            )
        elif draw.random() < 0.4:
            row["Min. diameter [in]" if self.mill.inches else "Min. diameter [mm]"] = "free"
            self.traits.add("free diameter")
        if core is not None:
            row[f"Core [{'in' if self.mill.inches else 'mm'}]"] = as_figure(core["inside_mm"])
        else:
            self.traits.add("free core")
        metres = math.pi * (top**2 - 150**2) / (4 * paper.caliper_um)
        metres = min(metres, self.mill.usable_m)
        reel_kg = float(width) * metres * paper.grammage_gsm / 1e6
        reels = draw.randint(1, self.reels_an_order)
        unit = draw.choice(["reels", "reels", "t", "kg", "m", "lb" if self.mill.inches else "kg"])
        row |= {"Unit": unit, "Quantity": _quantity(unit, reels, reel_kg, metres)}
        if draw.random() < 0.1:
            row["Max. reel mass [kg]"] = round(reel_kg * draw.uniform(0.6, 1.2)) + 1
            self.traits.add("order's reel mass")
        return row

    def _sheet(self, paper: Paper) -> dict[str, Any]:
        draw = self.draw
        across, chop = draw.choice(_SHEETS)
        row: dict[str, Any] = {"Product": "sheet", **self._across(Fraction(str(across)))}
        row |= self._length("Chop", chop)
        sheet_kg = across * chop * paper.grammage_gsm / 1e9
        about_kg = draw.uniform(300, 6000)
        unit = draw.choice(["sheets", "reams", "t", "kg"])
        self.traits.add("sheets")
        count = round(about_kg / sheet_kg, -2)
        if unit == "reams":
            row["Sheets per ream"] = draw.choice([100, 250])
            return {**row, "Unit": unit, "Quantity": max(1, round(count / row["Sheets per ream"]))}
        amount = {"sheets": max(1.0, count), "t": round(about_kg / 1000, 2), "kg": round(about_kg)}
        return {**row, "Unit": unit, "Quantity": amount[unit]}

    def _width(self, least: float, greatest: float) -> Fraction:
        """A width in mm on the book's step; of an inch book on a sixteenth of one."""
        step = _INCH / 16 if self.mill.inches else Fraction(str(self.step))
        return step * self.draw.randint(math.ceil(least / step), max(1, int(greatest / step)))

    def _across(self, width: Fraction) -> dict[str, Any]:
        if self.mill.inches:
            sixteenths = round(width / _INCH * 16)
            return {"Width across [in]": _inches(Fraction(sixteenths, 16))}
        return {"Width across [mm]": float(width)}

    def _length(self, name: str, figure: float) -> dict[str, Any]:
        if self.mill.inches:
            return {f"{name} [in]": math.floor(figure / 25.4 * 4) / 4}
        return {f"{name} [mm]": figure}

    def _tolerance(self) -> dict[str, Any]:
        if self.tolerances == "blank" and self.draw.random() < 0.7:
            return {}
        if self.tolerances == "zero":
            return {"Under tolerance [%]": 0, "Over tolerance [%]": 0}
        return {
            "Under tolerance [%]": self.draw.choice([0, 3, 5, 7.5, 10]),
            "Over tolerance [%]": self.draw.choice([0, 3, 5, 10]),
        }

    def jumbos(self) -> list[Row]:
        """Jumbos in stock, in a third of the books: short, narrow and ordinary ones."""
        draw = self.draw
        if draw.random() > 0.35:
            return []
        self.traits.add("stock")
        nominal = self.mill.sections["jumbo"]["width_mm"]
        rows: list[Row] = []
        for number in range(1, draw.randint(1, 6) + 1):
            paper = draw.choice(self.mill.papers)
            share = draw.choice([0.2, 0.6, 0.9, 1, 1.1])
            width = nominal
            if draw.random() < 0.15:
                width = nominal - draw.choice([0.5, 37, 300])
                self.traits.add("narrow jumbo")
            row: dict[str, Any] = {
                "Jumbo": draw.choice([f"K-{number}", f"M {number}", f"{880 + number}"]),
                "Grade": paper.grade,
                "Grammage [g/m²]": paper.grammage_gsm + draw.choice([0, 0, 0, 0, 0.06]),
                "Width [mm]": width,
                "Length [m]": round(self.mill.usable_m * share) + 220,
            }
            if draw.random() < 0.5:
                row |= {
                    "Start loss [m]": draw.choice([0, 60]),
                    "End loss [m]": draw.choice([0, 90]),
                }
            rows.append(row)
        return rows

    def instructions(self, rows: Sequence[Row]) -> list[Row]:
        """In a fifth of the books: pins, forbidden patterns, together, apart, a cap on set-ups."""
        draw = self.draw
        if draw.random() > 0.2:
            return []
        self.traits.add("instructions")
        paper = draw.choice(self.mill.papers)
        own = [
            str(row["Order"])
            for row in rows
            if (row["Grade"], row["Grammage [g/m²]"]) == (paper.grade, paper.grammage_gsm)
            and row["Product"] == "reel"
        ]
        found: list[Row] = []
        for _ in range(draw.randint(1, 3)):
            what = draw.choice(["pin", "forbid", "together", "apart", "set-ups"])
            if what == "set-ups":
                found.append({INSTRUCTION_HEADING: what, "Number": draw.randint(0, 6)})
            elif len(own) < 2:
                continue
            elif what in ("together", "apart"):
                pair = ", ".join(draw.sample(own, 2))
                found.append({INSTRUCTION_HEADING: what, "Orders": pair})
            else:
                one, other = draw.sample(own, 2)
                pattern = draw.choice([f"1 × {one} + 1 × {other}", f"2 × {one}"])
                row = {INSTRUCTION_HEADING: what, "Pattern": pattern}
                found.append({**row, "Number": 1} if what == "pin" else row)
        return found

    def settings(self, listed: bool) -> dict[str, Any]:
        """What the book says of itself above its lines."""
        draw = self.draw
        said: dict[str, Any] = {"As of": AS_OF}
        if listed and draw.random() < 0.25:
            said["Only these jumbos"] = "yes"
            self.traits.add("only listed jumbos")
        if listed and draw.random() < 0.3:
            said["Keep this order"] = "yes"
            self.traits.add("jumbos in order")
        if draw.random() < 0.15:
            said["Shift ends"] = BEGINS + timedelta(hours=draw.choice([2, 5, 8]))
            self.traits.add("end of shift")
        return said


def _quantity(unit: str, reels: int, reel_kg: float, metres: float) -> float:
    """So many reels, in a unit, as somebody would write it."""
    return {
        "reels": reels,
        "kg": max(1, round(reels * reel_kg, -1)),
        "t": max(0.1, round(reels * reel_kg / 1000, 1)),
        "m": max(1, round(reels * metres, -2)),
        "lb": max(1, round(reels * reel_kg * 2.2, -1)),
    }[unit]


def _inches(width: Fraction) -> str:
    """A width as the inch books write it: 29 1/2.

    >>> _inches(Fraction(59, 2)), _inches(Fraction(30))
    ('29 1/2', '30')
    """
    whole, rest = divmod(width, 1)
    return f"{whole} {rest}" if rest else f"{whole}"
