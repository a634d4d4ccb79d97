"""The mill file and the order book, read plainly: what was asked, and what the mill can do."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from fractions import Fraction
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook

from tests.printed.figures import exact

_INCH, _POUND = Fraction(254, 10), Fraction(45359237, 100000000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A line of the order book. Quantities in `unit`: reels, kg, m or sheets."""

    number: str
    customer: str
    grade: str
    gsm: Fraction
    sheet: bool
    width_mm: Fraction
    chop_mm: Fraction | None
    min_mm: Fraction | None
    min_free: bool
    max_mm: Fraction | None
    core_mm: float | None
    unit: str
    quantity: Fraction
    made: Fraction
    ream: Fraction | None  # sheets of one, where the order is in reams
    under: Fraction | None  # None: the mill's custom
    over: Fraction | None
    due: datetime | None
    priority: int | None
    no_edge: bool
    reel_kg: Fraction | None
    joins: int
    destination: str
    seconds: bool = False  # takes reels with a defect
    in_stock: Fraction = Fraction(0)  # what comes from stock
    share: Fraction | None = None  # a stock width of the mill file, and no order: its value

    @property
    def sheet_kg(self) -> Fraction:
        """Mass of a sheet."""
        return self.width_mm * (self.chop_mm or 0) * self.gsm / 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A defect: metres from the outside of its jumbo, mm from the front side."""

    from_m: int
    to_m: int
    from_mm: Fraction
    to_mm: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class InStock:
    """A reel in stock: its length or its diameter is told."""

    name: str
    grade: str
    gsm: Fraction
    width_mm: Fraction
    core_mm: float
    length_m: int | None
    diameter_mm: float | None
    joins: int
    reserved: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A jumbo of the book."""

    name: str
    grade: str
    gsm: Fraction
    width_mm: Fraction
    length_m: int
    lost_m: int
    end_m: int
    bands: tuple[Band, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What there is to go by."""

    mill: Mapping[str, Any]
    asked: Mapping[str, Asked]
    listed: tuple[Listed, ...]
    only_listed: bool = False
    stock: Mapping[str, InStock] = field(default_factory=dict)
    faulty: frozenset[str] = frozenset()  # jumbos of rows that are left out

    def usable_m(self, order: Asked) -> int:
        """Metres of the longest jumbo that there is for an order, ends taken off."""
        jumbo = self.mill["jumbo"]
        lost = int(jumbo.get("loss_start_m", 0) + jumbo.get("loss_end_m", 0))
        own = [
            each.length_m - each.lost_m
            for each in self.listed
            if each.grade == order.grade
            and each.gsm == order.gsm
            # Odd ones are wound for orders that the others take, too.
            and (self.only_listed or self._like_others(each))
        ]
        caliper = self.caliper_um(order.grade, order.gsm)
        if self.only_listed:
            return max(own, default=0)
        if "usable_length_m" in jumbo:
            return max(int(jumbo["usable_length_m"]), *own, 0)
        metres = float(jumbo.get("length_m", 0))
        if "mass_t" in jumbo:
            metres = float(jumbo["mass_t"]) * 1e9 / float(mm(jumbo["width_mm"]) * order.gsm)
        elif "diameter_mm" in jumbo:
            ring = float(mm(jumbo["diameter_mm"]) ** 2 - mm(jumbo["spool_mm"]) ** 2)
            metres = math.pi * ring / (4 * caliper)
        return max(math.floor(metres + 1e-9) - lost, *own, 0)

    def _like_others(self, jumbo: Listed) -> bool:
        return not jumbo.bands and jumbo.width_mm == mm(self.mill["jumbo"]["width_mm"])

    @property
    def winder(self) -> Mapping[str, Any]:
        """The winder's section of the mill file."""
        section: Mapping[str, Any] = self.mill["winder"][0]
        return section

    def winder_mm(self, key: str, default: object = None) -> Fraction | None:
        """A width of the winder's section, exact."""
        value = self.winder.get(key, default)
        return None if value is None else mm(value)

    def sheeter(self, name: str) -> Mapping[str, Any]:
        """The section of a sheeter."""
        return next(each for each in self.mill.get("sheeter", ()) if each["name"] == name)

    def caliper_um(self, grade: str, gsm: Fraction) -> float:
        """Caliper on the reel."""
        own = next(g for g in self.mill["grade"] if g["name"].casefold() == grade.casefold())
        factor = own.get("wound_factor", 1)
        if "caliper_um" in own:
            return float(own["caliper_um"] * factor)
        if "bulk_cm3_g" in own:
            return float(own["bulk_cm3_g"] * float(gsm) * factor)
        return 1000 * float(gsm) / float(own["density_kg_m3"]) * float(factor)

    def core_outside_mm(self, inside_mm: float) -> float:
        """Outside diameter of a core."""
        for core in self.winder["core"]:
            if abs(float(mm(core["inside_mm"])) - inside_mm) < 0.05:
                return float(mm(core["inside_mm"]) + 2 * mm(core["wall_mm"]))
        raise LookupError(f"the mill file has no core of {inside_mm} mm")

    def diameter_mm(self, length_m: float, core_mm: float, caliper_um: float) -> float:
        """Diameter of a reel: its ring of paper is as large as the web's edge."""
        outside = self.core_outside_mm(core_mm)
        return math.sqrt(outside**2 + 4 * caliper_um * length_m / math.pi)

    def tolerance(self, order: Asked) -> tuple[Fraction, Fraction]:
        """Under and over: the line's, else the mill's custom by tonnage."""
        if order.under is not None and order.over is not None:
            return order.under, order.over
        tonnes = self._ordered_kg(order) / 1000
        for step in self.mill.get("tolerance", ()):
            light = order.gsm <= exact(step.get("grammage_to_gsm", 10**6))
            if light and tonnes < step.get("below_t", math.inf):
                under, over = (
                    exact(step["under_percent"]) / 100,
                    exact(step["over_percent"]) / 100,
                )
                return (
                    under if order.under is None else order.under,
                    over if order.over is None else order.over,
                )
        raise LookupError(f"no tolerance for order {order.number}")

    def _ordered_kg(self, order: Asked) -> float:
        amount = float(order.quantity)
        if order.unit == "kg":
            return amount
        if order.unit == "m":
            return amount * float(order.width_mm * order.gsm) / 1e6
        if order.unit == "sheets":
            return amount * float(order.sheet_kg)
        return amount * self.full_reel_kg(order)

    def min_diameter_mm(self, order: Asked, core_mm: float) -> float:
        """The book's least diameter, else the mill's tolerance below the greatest that is allowed.

        The greatest that order and winder allow, and the masses of the reel and of the lightest
        set that holds it.
        """
        smallest = float(mm(self.winder["min_reel_diameter_mm"]))
        if order.min_mm is not None or order.min_free:
            return max(smallest, float(order.min_mm or 0))
        caliper = self.caliper_um(order.grade, order.gsm)
        target = float(mm(self.winder["max_reel_diameter_mm"]))
        target = min(target, float(order.max_mm or target))
        widest = self.winder_mm("max_edge_trim_mm")
        web = order.width_mm
        if widest is not None:
            web = max(web, mm(self.mill["jumbo"]["width_mm"]) - 2 * widest)
        for limit, width in (
            (order.reel_kg, order.width_mm),
            (self.winder.get("max_reel_mass_kg"), order.width_mm),
            (self.winder.get("max_set_mass_kg"), web),
        ):
            if limit is not None:
                metres = math.floor(float(exact(limit) * 1_000_000 / (width * order.gsm)) + 1e-9)
                heaviest = self.diameter_mm(metres, core_mm, caliper)
                target = math.floor(heaviest) if heaviest < target else target
        share = self.mill["mill"].get("diameter_tolerance_percent")
        if share is not None:
            return max(smallest, target * (1 - float(share) / 100))
        below = float(mm(self.mill["mill"].get("diameter_tolerance_mm", 50)))
        return max(smallest, target - below)

    def full_reel_kg(self, order: Asked) -> float:
        """A reel at the greatest diameter that order, winder and lifting limits allow."""
        core = order.core_mm
        if core is None:
            core = float(mm(self.winder["core"][0]["inside_mm"]))
        greatest = float(mm(self.winder["max_reel_diameter_mm"]))
        if order.max_mm is not None:
            greatest = min(greatest, float(order.max_mm))
        outside = self.core_outside_mm(core)
        caliper = self.caliper_um(order.grade, order.gsm)
        metres = math.floor(math.pi * (greatest**2 - outside**2) / (4 * caliper) + 1e-9)
        a_metre = float(order.width_mm * order.gsm) / 1e6
        for limit in (order.reel_kg, self.winder.get("max_reel_mass_kg")):
            if limit is not None:
                metres = min(metres, math.floor(float(limit) / a_metre + 1e-9))
        return metres * a_metre


def mm(value: object) -> Fraction:
    """A width of the mill file: 1500, "1500 mm" or "59 1/16 in"."""
    if not isinstance(value, str):
        return exact(value)
    figure, unit = value.rsplit(" ", 1)
    return exact(figure) * (_INCH if unit == "in" else 1)


def read_inputs(mill: Path, book: Path) -> Inputs:
    """Read both files."""
    workbook = load_workbook(book)
    told = tomllib.loads(mill.read_text(encoding="utf-8"))
    jumbo = told["jumbo"]
    rows = _rows(workbook["Orders"].iter_rows(values_only=True), "Order")
    listed: tuple[Listed, ...] = ()
    if "Jumbos" in workbook.sheetnames:
        found = _rows(workbook["Jumbos"].iter_rows(values_only=True), "Jumbo")
        listed = tuple(
            Listed(
                name=str(row["Jumbo"][0]),
                grade=row["Grade"][0],
                gsm=exact(row["Grammage"][0]),
                width_mm=exact(row["Width"][0]),
                length_m=int(row["Length"][0]),
                lost_m=sum(
                    int(row[f"{end} loss"][0]) if f"{end} loss" in row else jumbo.get(key, 0)
                    for end, key in (("Start", "loss_start_m"), ("End", "loss_end_m"))
                ),
                end_m=int(row["End loss"][0]) if "End loss" in row else jumbo.get("loss_end_m", 0),
                bands=tuple(_bands(workbook, row)),
            )
            for row in found
        )
    asked = [_asked(row) for row in rows]
    return Inputs(
        mill=told,
        asked={order.number: order for order in (*asked, *_stock_widths(told))},
        listed=listed,
        only_listed=any(
            row[:2] == ("Only these jumbos", "yes")
            for row in workbook["Orders"].iter_rows(max_row=10, values_only=True)
        ),
        stock=_stock(workbook),
    )


_Cells = Mapping[str, tuple[Any, str]]  # by heading without its unit: value and unit


def _rows(rows: Iterable[Sequence[Any]], first: str) -> list[_Cells]:
    """The rows under the headings of a table, that begin with `first`."""
    headings: list[tuple[str, str]] = []
    found: list[_Cells] = []
    for row in rows:
        if headings and row[0] is not None:
            cells = zip(headings, row, strict=False)
            found.append(
                {name: (value, unit) for (name, unit), value in cells if value is not None}
            )
        elif row and row[0] == first:
            for value in row:
                parts = re.fullmatch(r"(.*?)(?: \[(.*)\])?", str(value or ""))
                assert parts is not None
                headings.append((parts[1], parts[2] or ""))
    return found


def _width(cells: _Cells, name: str) -> Fraction | None:
    if name not in cells:
        return None
    value, unit = cells[name]
    return exact(value) * (_INCH if unit == "in" else 1)


def _asked(cells: _Cells) -> Asked:
    def text(name: str) -> str:
        return " ".join(str(cells[name][0]).split()) if name in cells else ""

    def share(name: str) -> Fraction | None:
        return exact(cells[name][0]) / 100 if name in cells else None

    unit, factor = text("Unit"), Fraction(1)
    reams = unit == "reams"
    if unit in ("t", "lb"):
        factor, unit = {"t": Fraction(1000), "lb": _POUND}[unit], "kg"
    elif reams:
        factor, unit = exact(cells["Sheets per ream"][0]), "sheets"
    width, core = _width(cells, "Width across"), _width(cells, "Core")
    assert width is not None
    min_free = cells.get("Min. diameter", ("", ""))[0] == "free"
    due = cells.get("Due", (None, ""))[0]
    if isinstance(due, date) and not isinstance(due, datetime):
        due = datetime.combine(due, time(23, 59))
    elif isinstance(due, datetime) and due.time() == time(0):
        due = due.replace(hour=23, minute=59)
    return Asked(
        number=text("Order"),
        customer=text("Customer"),
        grade=text("Grade"),
        gsm=exact(cells["Grammage"][0]),
        sheet=text("Product") == "sheet",
        width_mm=width,
        chop_mm=_width(cells, "Chop"),
        min_mm=None if min_free else _width(cells, "Min. diameter"),
        min_free=min_free,
        max_mm=_width(cells, "Max. diameter"),
        core_mm=None if core is None else float(core),
        unit=unit,
        quantity=exact(cells["Quantity"][0]) * factor,
        made=exact(cells["Already made"][0]) * factor if "Already made" in cells else Fraction(0),
        ream=factor if reams else None,
        under=share("Under tolerance"),
        over=share("Over tolerance"),
        due=due,
        priority=cells.get("Priority", (None, ""))[0],
        no_edge=text("Keep off edge") == "yes",
        reel_kg=exact(cells["Max. reel mass"][0]) if "Max. reel mass" in cells else None,
        joins=int(text("Joins allowed") or 0),
        destination=text("Destination"),
        seconds=text("Takes seconds") == "yes",
    )


def _bands(workbook: Workbook, jumbo: _Cells) -> Iterator[Band]:
    """The defects of a jumbo; metres may be counted from either end."""
    if "Defects" not in workbook.sheetnames:
        return
    rows = list(workbook["Defects"].iter_rows(values_only=True))
    length = int(jumbo["Length"][0])
    for row in _rows(rows, "Jumbo"):
        if row["Jumbo"][0] != jumbo["Jumbo"][0]:
            continue
        start, end = int(row["From length"][0]), int(row["To length"][0])
        if rows[0][1] == "spool":
            start, end = length - end, length - start
        across = [_width(row, "From width"), _width(row, "To width")]
        width = _width(jumbo, "Width")
        assert width is not None
        yield Band(
            from_m=start,
            to_m=end,
            from_mm=across[0] or Fraction(0),
            to_mm=width if across[1] is None else across[1],
        )


def _stock(workbook: Workbook) -> dict[str, InStock]:
    if "Stock" not in workbook.sheetnames:
        return {}
    found = {}
    for row in _rows(workbook["Stock"].iter_rows(values_only=True), "Reel"):
        width, core, size = (_width(row, name) for name in ("Width", "Core", "Diameter"))
        assert width is not None
        assert core is not None
        found[row["Reel"][0]] = InStock(
            name=row["Reel"][0],
            grade=row["Grade"][0],
            gsm=exact(row["Grammage"][0]),
            width_mm=width,
            core_mm=float(core),
            length_m=int(row["Length"][0]) if "Length" in row else None,
            diameter_mm=None if size is None else float(size),
            joins=int(row.get("Joins", (0, ""))[0]),
            reserved=str(row.get("Reserved for", ("", ""))[0]).strip(),
        )
    return found


def _stock_widths(mill: Mapping[str, Any]) -> Iterator[Asked]:
    """What the mill gladly makes for stock, as orders of nothing."""
    for each in mill.get("stock_width", ()):
        yield Asked(
            number=each["name"], customer="", grade=each["grade"],
            gsm=exact(each["grammage_gsm"]), sheet=False, width_mm=mm(each["width_mm"]),
            chop_mm=None, min_mm=mm(each["min_diameter_mm"]) if "min_diameter_mm" in each else None,
            min_free=False, max_mm=mm(each["max_diameter_mm"]), core_mm=float(mm(each["core_mm"])),
            unit="reels", quantity=Fraction(0), made=Fraction(0), ream=None, under=Fraction(0),
            over=Fraction(0), due=None, priority=None, no_edge=False, reel_kg=None,
            joins=int(each.get("joins_allowed", 0)), destination="",
            share=exact(each["value_share"]),
        )  # fmt: skip
