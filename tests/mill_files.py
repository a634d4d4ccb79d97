"""Real orders of a paper mill as order books, for a winder and a sheeter that are stated here.

Data: M. H. Correia, J. F. Oliveira, J. S. Ferreira, "Reel and sheet cutting at a paper mill",
Computers & Operations Research 31 (2004) 1223-1243; ESICUP collection, CC0. The files give the
jumbo's width, grammage, thickness and the orders; they state no limits of winder or sheeter. Ours:
"""

from __future__ import annotations

import os
from collections import Counter
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from trimopt.book.model import Book, Order, Product, Unit
from trimopt.mill.model import Core, Grade, Jumbo, Mill, Sheeter, Values, Winder

STATED = (
    "edge trim 10 to 60 mm a side; reels 200 mm to the deckle wide, 600 to 1,700 mm in diameter, "
    "at most 10 in a set, broke reels 200 mm or more, at an edge; 13 knives at least 100 mm apart; "
    "cores 100 to 200 mm inside, 15 mm "
    "walls; sheeter web to 2,300 mm, 5 ups, 10 mm trim a side, reels to 1,300 mm on 150 mm cores, "
    "1 % waste; jumbo 15,000 m with 100 m lost at either end"
)


def mill_files() -> list[str]:
    """Names of the files, in order; empty where the folder is not there."""
    folder = os.environ.get("TRIMOPT_DATA")
    if folder is None:
        return []
    return sorted(path.stem for path in Path(folder, "mill").glob("*.dat"))


def _number(text: str) -> Fraction:
    return Fraction(text.replace(",", "."))


def mill_file(name: str) -> tuple[Book, Mill]:
    """One file as a book and a mill; skips the test where the data is not there."""
    folder = os.environ.get("TRIMOPT_DATA")
    if folder is None:
        pytest.skip("TRIMOPT_DATA names no folder of open data sets")
    path = Path(folder, "mill", f"{name}.dat")
    lines = [line.split() for line in path.read_text(encoding="latin-1").splitlines()]
    width, grammage, caliper = (_number(lines[k][0]) for k in (1, 3, 5))
    rows = [row for row in lines[7:] if row]
    numbers: Counter[str] = Counter()
    orders = tuple(_order(row, float(grammage), numbers) for row in rows)
    cores = sorted({150.0} | {order.core_mm for order in orders if order.core_mm})
    mill = Mill(
        name=f"Mill of {name}",
        winders=(
            Winder(
                name="Winder",
                kind="two-drum",
                max_web_mm=width,
                min_edge_trim_mm=Fraction(10),
                max_edge_trim_mm=Fraction(60),
                min_reel_width_mm=Fraction(200),
                max_reel_width_mm=width - 20,
                knives=13,
                min_knife_spacing_mm=Fraction(100),
                idle_knives="lifted",
                max_reels=10,
                max_reels_per_side=None,
                min_reel_diameter_mm=600.0,
                max_reel_diameter_mm=1700.0,
                cores=tuple(Core(inside_mm=core, wall_mm=15.0) for core in cores),
                max_reel_mass_kg=None,
                max_set_mass_kg=None,
                set_change_min=4.0,
                set_up_min=8.0,
                knife_move_min=0.5,
                jumbo_change_min=6.0,
                speed_m_min=900.0,
                acceleration_m_min_s=20.0,
            ),
        ),
        sheeters=(
            Sheeter(
                name="Sheeter",
                max_web_mm=Fraction(2300),
                max_ups=5,
                trim_per_side_mm=Fraction(10),
                min_chop_mm=Fraction(350),
                max_chop_mm=Fraction(1600),
                max_reel_diameter_mm=1300.0,
                core_inside_mm=150.0,
                waste_share=0.01,
                unwinds=4,
                speed_m_min=250.0,
                load_change_min=12.0,
            ),
        ),
        jumbo=Jumbo(width_mm=width, length_m=15_000, loss_start_m=100, loss_end_m=100),
        grades=(
            Grade(
                name="Paper",
                caliper_um=float(caliper),
                bulk_cm3_g=None,
                density_kg_m3=None,
                wound_factor=1.0,
            ),
        ),
        values=Values(),
        tolerances=(),
        source=f"{name}.dat",
        fingerprint="0" * 64,
    )
    book = Book(source=f"{name}.dat", fingerprint="0" * 64, as_of=date(2004, 1, 1), orders=orders)
    return book, mill


def _order(row: list[str], grammage: float, numbers: Counter[str]) -> Order:
    number, width, length, mass, tolerance, least, greatest, core = row[:8]
    sheet = int(length) > 0
    numbers[number] += 1
    if numbers[number] > 1:  # P4 uses some numbers twice, for different orders
        number = f"{number}/{numbers[number]}"
    return Order(
        number=number,
        customer="",
        grade="Paper",
        grammage_gsm=grammage,
        product=Product.SHEET if sheet else Product.REEL,
        width_mm=_number(width),
        chop_mm=_number(length) if sheet else None,
        min_diameter_mm=float(least) or None,
        max_diameter_mm=float(greatest) or None,
        core_mm=float(core) or None,
        quantity=_number(mass),
        unit=Unit.KG,
        under=_number(tolerance),
        over=_number(tolerance),
    )
