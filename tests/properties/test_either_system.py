"""The same mill and book, written in inches and pounds or in metric, are one and give one plan."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from hypothesis import HealthCheck, given, settings, strategies as st

from trimopt import Book, Effort, Mill, Plan, Request, make_plan, read_book, read_mill
from trimopt.making import prepare, runs_of
from trimopt.paper import UnitSystem, basis_weight_unit

AS_OF = date(2026, 11, 23)
BASES = ("lb/1000 ft²", "lb 24x36, 500 sheets", "lb text")
_IN, _LB, _FT = Decimal("25.4"), Decimal("0.45359237"), Decimal("0.3048")


@dataclass(frozen=True)
class System:
    """How one system writes a figure that the other can write exactly too."""

    width: Callable[[int], str]  # quarters of an inch
    mass: Callable[[int], str]  # pounds
    length: Callable[[int], str]  # feet
    units: Mapping[str, str]


def _mixed(quarters: int) -> str:
    whole, rest = divmod(quarters, 4)
    return f"{whole} {rest}/4" if rest else f"{whole}"


INCH = System(_mixed, str, str, {"width": "in", "mass": "lb", "length": "ft"})
METRIC = System(
    lambda quarters: str(quarters * _IN / 4),
    lambda pounds: str(pounds * _LB),
    lambda feet: str(feet * _FT),
    {"width": "mm", "mass": "kg", "length": "m"},
)
SYSTEMS = (INCH, METRIC)


def mill_text(system: System, web: int, trim: int) -> str:
    """A small mill, its deckle in quarters of an inch."""
    unit = system.units

    def width(quarters: int) -> str:
        return f'"{system.width(quarters)} {unit["width"]}"'

    def length(feet: int) -> str:
        return f'"{system.length(feet)} {unit["length"]}"'

    def speed(feet: int) -> str:
        return f'"{system.length(feet)} {unit["length"]}/min"'

    def mass(pounds: int) -> str:
        return f'"{system.mass(pounds)} {unit["mass"]}"'

    return f"""
[mill]
name = "Either"
[[winder]]
max_web_mm = {width(web)}
min_edge_trim_mm = {width(trim)}
max_edge_trim_mm = {width(trim + 16)}
min_reel_width_mm = {width(48)}
knives = 12
min_reel_diameter_mm = {width(80)}
max_reel_diameter_mm = {width(240)}
max_reel_mass_kg = {mass(7700)}
speed_m_min = {speed(3600)}
[[winder.core]]
inside_mm = {width(12)}
wall_mm = {width(2)}
[[sheeter]]
name = "Sheeter"
max_web_mm = {width(336)}
max_ups = 4
trim_per_side_mm = {width(1)}
min_chop_mm = {width(60)}
max_chop_mm = {width(260)}
max_reel_diameter_mm = {width(232)}
core_inside_mm = {width(12)}
speed_m_min = {speed(800)}
load_change_min = 12
[jumbo]
width_mm = {width(web + 2 * trim)}
usable_length_m = {length(50_000)}
loss_start_m = {length(1250)}
[[grade]]
name = "Board"
bulk_cm3_g = 1.4
[[tolerance]]
under_percent = 5
over_percent = 5
"""


@dataclass(frozen=True)
class Asked:
    """An order line in quarters of an inch, and pounds, feet or a count."""

    width: int
    chop: int  # 0: reels
    diameter: int
    quantity: int
    unit: str


LINES = st.builds(
    Asked,
    width=st.integers(60, 260),
    chop=st.one_of(st.just(0), st.integers(70, 250)),
    diameter=st.integers(190, 230),
    quantity=st.integers(8, 30),
    unit=st.sampled_from(("count", "mass", "length")),
)


def book_rows(
    system: System, lines: list[Asked], pounds: int, basis: str
) -> list[list[str | int | float]]:
    """The book as the system writes it, its grammage too."""
    unit = system.units
    factor = basis_weight_unit(basis)
    assert factor is not None
    weight = f"{pounds} {basis}" if system is INCH else repr(float(pounds * factor.factor))
    rows: list[list[str | int | float]] = [
        ["Order", "Grade", "Grammage", "Product", f"Width [{unit['width']}]",
         f"Chop [{unit['width']}]", f"Max. diameter [{unit['width']}]", f"Core [{unit['width']}]",
         f"Max. reel mass [{unit['mass']}]", "Quantity", "Unit"],
    ]  # fmt: skip
    for number, line in enumerate(lines):
        reels = line.chop == 0
        kind = line.unit if reels or line.unit != "length" else "mass"
        quantity, shown = {
            "count": (str(line.quantity * (1 if reels else 5000)), "reels" if reels else "sheets"),
            "mass": (system.mass(line.quantity * 3000), unit["mass"]),
            "length": (system.length(line.quantity * 10_000), unit["length"]),
        }[kind]
        rows.append(
            [f"A{number}", "Board", weight, "reel" if reels else "sheet",
             system.width(line.width), "" if reels else system.width(line.chop),
             system.width(line.diameter) if reels else "", system.width(12) if reels else "",
             system.mass(5000) if reels else "", quantity, shown]
        )  # fmt: skip
    return rows


def read_both(
    folder: Path, web: int, trim: int, lines: list[Asked], pounds: int, basis: str
) -> list[tuple[Mill, Book]]:
    """Mill and book as they are read from either writing."""
    read = []
    for system in SYSTEMS:
        mill_path, path = folder / "mill.toml", folder / "book.csv"
        mill_path.write_text(mill_text(system, web, trim), encoding="utf-8")
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, delimiter=";")
            writer.writerow(["Decimal sign", "point"])
            writer.writerows(book_rows(system, lines, pounds, basis))
        mill = replace(read_mill(mill_path), source="", fingerprint="")
        read.append((mill, read_book(path, mill, as_of=AS_OF).require_clean()))
    return read


def _bare(book: Book) -> list[object]:
    return [replace(order, as_written=()) for order in book.orders]


DRAWN = (
    st.integers(600, 760),
    st.integers(1, 4),
    st.lists(LINES, min_size=1, max_size=4),
    st.integers(30, 60),
    st.sampled_from(BASES),
)


@given(*DRAWN)
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_either_system_is_the_same_instance(
    tmp_path: Path, web: int, trim: int, lines: list[Asked], pounds: int, basis: str
) -> None:
    """Mill, orders and what may be cut are equal to the last fraction."""
    (mill, inch), (metric_mill, metric) = read_both(tmp_path, web, trim, lines, pounds, basis)
    assert mill == metric_mill
    assert _bare(inch) == _bare(metric)
    assert (inch.unit_system, metric.unit_system) == (UnitSystem.INCH_POUND, UnitSystem.METRIC)
    assert all(order.width_mm * 4 / Fraction("25.4") in range(1000) for order in inch.orders)
    prepared = [
        [prepare(run, mill).instance for run in runs_of(book, mill)] for book in (inch, metric)
    ]
    assert prepared[0] == prepared[1]


def _plan(mill: Mill, book: Book) -> object:
    plan: Plan = make_plan(book, mill, Request(effort=Effort.QUICK))
    return [
        replace(  # all but the words, which are in the units of the book
            run,
            name="",
            orders=tuple(replace(line, as_written=(), text="") for line in run.orders),
            proof=replace(run.proof, seconds=0),
        )
        for run in plan.runs
    ]


def test_either_system_gives_the_same_plan(tmp_path: Path) -> None:
    """Patterns, sets, knives, metres and proof are the same."""
    lines = [
        Asked(257, 0, 230, 24, "count"),
        Asked(174, 0, 230, 20, "length"),
        Asked(100, 152, 190, 10, "mass"),
    ]
    (mill, inch), (_, metric) = read_both(tmp_path, 730, 2, lines, 42, BASES[0])
    assert _plan(mill, inch) == _plan(mill, metric)
