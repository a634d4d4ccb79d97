"""Reading enquiries: lists and options are read as the cells of an order book are."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.book.books import REEL, example_mill, read_rows
from trimopt.book import Unit, read_book
from trimopt.errors import OrderBookError
from trimopt.fit import Enquiry
from trimopt.fit.enquiry_list import Listed, read_enquiry, read_list, read_measure
from trimopt.mill import read_mill

_MM = Fraction(1)
_INCH = Fraction(254, 10)
_LB = Fraction("0.45359237")
_PAPER: dict[str, Any] = {"grade": "Folding boxboard", "grammage_gsm": 250.0}


def _read(folder: Path, text: str) -> Listed:
    path = folder / "list.csv"
    path.write_text(text, encoding="utf-8")
    return read_list(path, example_mill(), **_PAPER)


def _only(folder: Path, text: str) -> Enquiry:
    listed = _read(folder, text)
    assert [row.faults for row in listed.rows] == [()]
    enquiry = listed.rows[0].enquiry
    assert enquiry is not None
    return enquiry


@pytest.mark.parametrize(
    ("heading", "cell", "width_mm"),
    [
        ("width", "735", 735 * _MM),
        ("Width [mm]", "735", 735 * _MM),
        ("reel width cm", "73.5", 735 * _MM),
        ("width (in)", "29 1/2", Fraction(59, 2) * _INCH),
        ("width", "29.5 in", Fraction(59, 2) * _INCH),
        ("across the web", "735 mm", 735 * _MM),
    ],
)
def test_the_unit_of_a_heading_is_obeyed(
    tmp_path: Path, heading: str, cell: str, width_mm: Fraction
) -> None:
    """A width under inches is inches, in a cell or in the heading."""
    assert _only(tmp_path, f"{heading};reels\n{cell};12\n").width_mm == width_mm


@pytest.mark.parametrize(
    ("headings", "cells", "quantity", "unit"),
    [
        ("Reels", "12", 12, Unit.REELS),
        ("t", "12.5", 12_500, Unit.KG),
        ("tonnes [t]", "12", 12_000, Unit.KG),
        ("quantity [kg]", "12000", 12_000, Unit.KG),
        ("quantity;unit", "9;reels", 9, Unit.REELS),
        ("chop;sheets", "700;40 000", 40_000, Unit.SHEETS),
        ("chop;quantity", "700;80 reams of 500", 40_000, Unit.SHEETS),
        ("chop;tonnes", "700;3", 3_000, Unit.KG),
        ("tonnes [lb]", "20000", 20_000 * _LB, Unit.KG),
        ("tonnes", "20000 lb", 20_000 * _LB, Unit.KG),
        ("tonnes", "12 short tons", 24_000 * _LB, Unit.KG),
        ("quantity [cwt]", "12", 1_200 * _LB, Unit.KG),
        ("quantity", "12 MT", 12_000, Unit.KG),
        ("quantity", "12000 lf", 12_000 * Fraction("0.3048"), Unit.METRES),
        ("chop;quantity", "700;40 M sheets", 40_000, Unit.SHEETS),
        ("grammage [lb/MSF];quantity", "42;100 MSF", 4_200 * _LB, Unit.KG),
        ("quantity", "12 ea", 12, Unit.REELS),
    ],
)
def test_quantities(
    tmp_path: Path, headings: str, cells: str, quantity: Fraction, unit: Unit
) -> None:
    """Reels, tonnes and sheets in columns of their own, or a quantity with its unit."""
    enquiry = _only(tmp_path, f"width;{headings}\n600;{cells}\n")
    assert enquiry.quantity == quantity
    assert enquiry.unit is unit


@pytest.mark.parametrize(
    ("headings", "words"),
    [
        ("width [furlongs];reels", 'the unit "furlongs" is not known here'),
        ("width;tonnes [m]", "another unit in a column of tonnes; head it Tonnes alone"),
        ("width;tonnes [tons]", "a ton may be 1000 kg, 2000 lb or 2240 lb"),
        ("width;quantity [rm]", "rm may be running metres or reams"),
        ("width;reels (t)", "another unit in a column of reels"),
        ("width;tonnes [stones]", "another unit in a column of tonnes"),
        ("width;quantity [tons]", "a ton may be 1000 kg, 2000 lb or 2240 lb"),
        ("width;core [stones];reels", 'the unit "stones" is not known here'),
        ("width;colour", "no row with the headings of enquiries"),
    ],
)
def test_a_unit_that_is_not_understood_is_refused(
    tmp_path: Path, headings: str, words: str
) -> None:
    """No unit of a heading is passed over."""
    with pytest.raises(OrderBookError, match=words.replace("(", r"\(")):
        _read(tmp_path, f"{headings}\n735;4;5\n")


@pytest.mark.parametrize(
    ("headings", "cells", "words"),
    [
        ("width;reels", "1,250;12", "can be read as 1.250 or as 1250"),
        ("width;reels", "735;1,250", "can be read as 1.250 or as 1250"),
        ("width;tonnes", "735;1.250", "can be read as 1.250 or as 1250"),
        ("width;tonnes", "735;12 m", "in m under tonnes; write it in t"),
        ("width;tonnes [t]", "735;12 kg", "in kg on a line in t; write it in t"),
        ("width;tonnes", "735;12 tons", "a ton may be 1000 kg, 2000 lb or 2240 lb"),
        ("width [in];quantity", "29;12 T", "T may be 2000 lb or 1000 kg"),
        ("width;reels", "735;2.5", "not a whole number of reels"),
        ("width;reels", "0;12", "zero; a figure above 0"),
        ("width;reels", ";12", "blank; the dimension across the web"),
        ("width;reels;tonnes", "735;12;4", "both reels and tonnes"),
        ("width;reels;chop", "735;12;700", "reels of sheets"),
        ("width;sheets", "735;1000", "a sheet line without its chop"),
        ("width;sheets;chop;core", "735;1000;700;76", "a core on a sheet line"),
        ("width;reels;under", "735;12;0.5", "may mean 0.5 % or 50 %"),
        ("width;reels;core", "735;12;1,524", "can be read as 1.524 or as 1524"),
        ("width;reels;grade", "735;12;Newsprint", "the mill file has no such grade"),
    ],
)
def test_a_cell_at_fault_is_named(tmp_path: Path, headings: str, cells: str, words: str) -> None:
    """Row, column, what is wrong and what would be right; the other rows are read."""
    listed = _read(tmp_path, f"{headings}\n{cells}\n")
    bad = listed.rows[0]
    assert bad.enquiry is None
    assert any(words in str(fault) and fault.row == 2 for fault in bad.faults), bad.faults


def test_a_row_that_is_split_wrongly_leaves_the_others(tmp_path: Path) -> None:
    """A decimal comma in a file with commas is named with its row; the other row is read."""
    torn, fine = _read(tmp_path, "width,reels\n73,5,12\n735,12\n").rows
    assert "more cells than there are headings" in str(torn.faults[0])
    assert torn.enquiry is None
    assert fine.enquiry is not None


@pytest.mark.parametrize(
    "headings",
    [
        "Kunde;Breite;Durchmesser;Hülse;Rollen",
        "Client;Largeur;Diamètre;Mandrin;Bobines",
        "Kund;Bredd;Diameter;Hylsa;Rullar",
        "Asiakas;Leveys;Halkaisija;Hylsy;Rullat",
        "Cliente;Ancho;Diámetro;Mandril;Bobinas",
    ],
)
def test_headings_are_those_of_the_order_book_in_any_language(
    tmp_path: Path, headings: str
) -> None:
    """Whoever writes orders in German writes enquiries in German."""
    enquiry = _only(tmp_path, f"{headings}\nHolm;735;1250;152;12\n")
    assert (enquiry.name, float(enquiry.width_mm), int(enquiry.quantity)) == ("Holm", 735, 12)
    assert (enquiry.max_diameter_mm, enquiry.core_mm) == (1250, 152)


def test_a_stated_decimal_sign_settles_it(tmp_path: Path) -> None:
    """As above the table of an order book."""
    enquiry = _only(tmp_path, "Decimal sign;,\n\nwidth;tonnes\n735;1,250\n")
    assert enquiry.quantity == 1250


def test_a_blank_tolerance_is_the_custom_of_an_order_line(tmp_path: Path) -> None:
    """What an order line of the same width and tonnage gets in a plan."""
    for tonnes in (3, 12, 60):
        line = {
            **REEL, "Width across [mm]": 735, "Quantity": tonnes, "Unit": "t",
            "Under tolerance [%]": None, "Over tolerance [%]": None,
        }  # fmt: skip
        order = read_rows(tmp_path, line).orders[0]
        enquiry = _only(tmp_path, f"width;tonnes\n735;{tonnes}\n")
        assert (enquiry.under, enquiry.over) == (order.under, order.over)
        assert enquiry.tolerance_by_custom
    assert _only(tmp_path, "width;tonnes;under;over\n735;12;0;2\n").over == Fraction(1, 50)


def test_without_a_custom_a_tolerance_must_be_stated(tmp_path: Path) -> None:
    """As in the order book."""
    mill = replace(example_mill(), tolerances=())
    path = tmp_path / "list.csv"
    path.write_text("width;reels\n735;12\n", encoding="utf-8")
    faults = read_list(path, mill, **_PAPER).rows[0].faults
    assert "no default tolerance for its tonnage; a percentage, 0 among them" in str(faults[0])


@pytest.mark.parametrize(
    ("heading", "cell", "price_per_t"),
    [
        ("Price per tonne", "812.50", Fraction(1625, 2)),
        ("price [EUR/t]", "800", Fraction(800)),
        ("Price per short ton", "907.18474", Fraction(1000)),
        ("price [per lb]", "0.45359237", Fraction(1000)),
        ("price", "800", None),
        ("price [per ton]", "800", None),
        ("price [/t]", "0", None),
        ("price [/t]", "eight", None),
        ("price [/t]", "1,250", None),
    ],
)
def test_a_price_is_for_a_mass_that_is_named(
    tmp_path: Path, heading: str, cell: str, price_per_t: Fraction | None
) -> None:
    """Kept per tonne; without its mass, or of a ton that may be three, it is a fault."""
    (row,) = _read(tmp_path, f"width;reels;{heading}\n735;12;{cell}\n").rows
    assert row.price_per_t == price_per_t
    assert bool(row.faults) == (price_per_t is None)
    (blank,) = _read(tmp_path, f"width;reels;{heading}\n735;12;\n").rows
    assert blank.price_per_t is None
    assert not blank.faults


def test_options_are_read_alike() -> None:
    """The same figures, and the option in the place of the column."""
    paper = {"grade": ("--grade", "Folding boxboard"), "grammage": ("--grammage", "250")}
    parts = paper | {"width": ("--width", "29 1/2 in"), "reels": ("--reels", "12")}
    enquiry, faults = read_enquiry(parts, example_mill())
    assert faults == ()
    assert enquiry is not None
    assert enquiry.width_mm == Fraction(59, 2) * _INCH
    wrong = {"width": ("--width", "1,250"), "reels": ("--reels", "x")}
    _, faults = read_enquiry(paper | wrong, example_mill())
    assert [str(fault) for fault in faults] == [
        '--width: "1,250" can be read as 1.250 or as 1250; write 1250 or 1.25',
        '--reels: "x" text where a number belongs; write the number alone',
    ]
    assert read_measure("width", "--stock-width", "600")[0] == 600


def test_the_papers_that_are_named_can_be_asked_for() -> None:
    """A book in basis weights: they are named as it writes them, and read as its own."""
    inches = Path(__file__).parents[2] / "orders" / "inches"
    mill = read_mill(inches / "mill.toml")
    book = read_book(inches / "shift.csv", mill)
    asked = {"width": ("--width", "36 in"), "reels": ("--reels", "3")}
    _, (fault,) = read_enquiry(asked, mill, book)
    named = fault.right.partition(" one of: ")[2].split(", ")
    assert len(named) == 3
    for each in named:
        grade = next(grade.name for grade in mill.grades if each.startswith(grade.name))
        weight = each.removeprefix(grade).strip()
        paper = {"grade": ("--grade", grade), "grammage": ("--grammage", weight)}
        enquiry, faults = read_enquiry({**asked, **paper}, mill, book)
        assert enquiry is not None, faults
        papers = {(order.grade, order.grammage_gsm) for order in book.orders}
        assert (enquiry.grade, enquiry.grammage_gsm) in papers
