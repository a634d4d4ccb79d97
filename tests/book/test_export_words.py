"""Words in the cells of exports: other languages, the mill's own, one stated diameter."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.book.books import AS_OF, REEL, SHEET, example_mill, one_fault, read_rows, write_csv
from trimopt.book import Product, Unit, read_book
from trimopt.errors import OrderBookError
from trimopt.mill import Export, Mill


def mill_with(**export: object) -> Mill:
    """The example mill with something said of its exports."""
    return replace(example_mill(), export=Export(**export))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("product", "unit"),
    [
        ("Rolle", "Rollen"), ("bobina", "bobinas"), ("Bobine", "bobines"), ("rulla", "rullaa"),
        ("rulle", "rullar"), ("Rolo", "rolos"), ("rotolo", "rotoli"), ("rol", "rollen"),
        ("Rola", "zwojów"),
    ],
)  # fmt: skip
def test_reel_and_its_unit_in_nine_languages(tmp_path: Path, product: str, unit: str) -> None:
    """The word for a reel, as product and as unit."""
    book = read_rows(tmp_path, {**REEL, "Product": product, "Unit": unit})
    (order,) = book.require_clean().orders
    assert (order.product, order.unit) == (Product.REEL, Unit.REELS)
    assert order.quantity == 20


@pytest.mark.parametrize(
    ("product", "unit"),
    [
        ("Bogen", "Ries à 500"), ("hoja", "resmas de 500"), ("Feuilles", "rames de 500"),
        ("arkki", "riisi 500"), ("ark", "ris om 500"), ("folhas", "resma de 500"),
        ("foglio", "risme da 500 fogli"), ("vel", "riem van 500 vellen"),
        ("Arkusze", "ryzy po 500 arkuszy"),
    ],
)  # fmt: skip
def test_sheet_and_ream_in_nine_languages(tmp_path: Path, product: str, unit: str) -> None:
    """The word for a sheet, and reams with their count."""
    book = read_rows(tmp_path, {**SHEET, "Product": product, "Quantity": 80, "Unit": unit})
    (order,) = book.require_clean().orders
    assert (order.product, order.sheets_a_ream) == (Product.SHEET, 500)
    assert order.quantity == 40_000


@pytest.mark.parametrize("word", ["ja", "sí", "SI", "oui", "kyllä", "Ja", "sim", "sì", "tak"])
def test_yes(tmp_path: Path, word: str) -> None:
    """Yes in nine languages."""
    (order,) = read_rows(tmp_path, {**REEL, "Keep off edge": word}).require_clean().orders
    assert order.no_edge


@pytest.mark.parametrize("word", ["nein", "no", "non", "ei", "nej", "não", "nee", "nie"])
def test_no(tmp_path: Path, word: str) -> None:
    """No in nine languages."""
    (order,) = read_rows(tmp_path, {**REEL, "Keep off edge": word}).require_clean().orders
    assert not order.no_edge


def test_the_mills_own_words(tmp_path: Path) -> None:
    """A code of the mill's system, and a ton that is of one size in this mill."""
    row = {**REEL, "Product": "RO", "Quantity": 9, "Unit": "ton", "Keep off edge": "K"}
    assert len(read_rows(tmp_path, row).faults) == 3
    mill = mill_with(words={"reel": ("RO",), "t": ("Ton",), "yes": ("K",)})
    (order,) = read_rows(tmp_path, row, mill=mill).require_clean().orders
    assert (order.product, order.no_edge) == (Product.REEL, True)
    assert order.quantity == 9000


def test_a_word_list_for_no_word_is_said(tmp_path: Path) -> None:
    """A slip in the mill file's words or columns to fill does not pass unseen."""
    mill = mill_with(words={"rell": ("RO",)}, fill_down=("customr",))
    wrong = [warning.column for warning in read_rows(tmp_path, REEL, mill=mill).warnings]
    assert {"rell", "customr"} <= set(wrong)


def test_one_stated_diameter_is_the_ordered_one(tmp_path: Path) -> None:
    """None is larger, and the mill's tolerance is below it."""
    row = {key: cell for key, cell in REEL.items() if "diameter" not in key}
    (order,) = read_rows(tmp_path, {**row, "Diameter [mm]": 1200}).require_clean().orders
    assert (order.min_diameter_mm, order.max_diameter_mm) == (1150, 1200)
    assert order.diameter_by_custom


def test_two_diameters_that_differ(tmp_path: Path) -> None:
    """Ordered and largest diameter: the same figure, or a fault."""
    read_rows(tmp_path, {**REEL, "Diameter": 1250}).require_clean()
    assert one_fault(read_rows(tmp_path, {**REEL, "Diameter": 1200})).column == "Diameter"
    assert read_rows(tmp_path, {**SHEET, "Diameter": 1200}).faults


def test_a_column_that_looks_like_one_stops_the_book(tmp_path: Path) -> None:
    """The message names the two ways out, and each of them is one."""
    path = write_csv(tmp_path / "b.csv", [{**REEL, "Dia. tolerance": 20}])
    with pytest.raises(OrderBookError) as caught:
        read_book(path, example_mill(), as_of=AS_OF)
    (fault,) = caught.value.faults
    assert 'ignore = ["Dia. tolerance"]' in fault.right
    mill = mill_with(ignored=("Dia. tolerance",))
    assert not read_book(path, mill, as_of=AS_OF).require_clean().warnings


def test_signs_and_date_order_once_for_all(tmp_path: Path) -> None:
    """What the mill file says of its exports; what the book says goes before."""
    row = {
        **REEL,
        "Width across [mm]": "1.250",
        "Due": "03/12/2026",
        "Quantity": "1,5",
        "Unit": "t",
    }
    mill = mill_with(thousands_sign=".", date_order="d/m/y")
    (order,) = read_rows(tmp_path, row, mill=mill).require_clean().orders
    assert order.width_mm == 1250
    assert order.quantity == 1500
    assert order.due is not None
    assert order.due.month == 12
    said = {"Date order": "m/d/y"}
    (order,) = read_rows(tmp_path, row, mill=mill, settings=said).require_clean().orders
    assert order.due is not None
    assert order.due.month == 3


def test_the_other_sign_is_quoted_from_its_own_column(tmp_path: Path) -> None:
    """Signs that differ in two columns: the cell that is named is the cell that is quoted."""
    rows = (
        {**REEL, "Width across [mm]": "820,5"},
        {**REEL, "Order": "2", "Width across [mm]": 900, "Quantity": "9.5", "Unit": "t"},
    )
    wrong = one_fault(read_rows(tmp_path, *rows)).wrong
    assert 'Width across [mm], "820,5" shows ,' in wrong


def test_another_sign_of_thousands_is_a_fault(tmp_path: Path) -> None:
    """A point among figures of which neither sign is a point."""
    mill = mill_with(thousands_sign=" ", decimal_sign=",")
    row = {**REEL, "Width across [mm]": "1 250,0"}
    read_rows(tmp_path, row, mill=mill).require_clean()
    row["Width across [mm]"] = "1.250"
    assert "neither" in one_fault(read_rows(tmp_path, row, mill=mill)).wrong
