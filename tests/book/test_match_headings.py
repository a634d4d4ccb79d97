"""Headings are known by their words, and their units with them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trimopt.book.book_columns import name_key
from trimopt.book.match_headings import Vocabulary
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.book.table_kinds import JUMBO_COLUMNS
from trimopt.book.trade_words import heading_words


def words(mapped: dict[str, str] | None = None) -> Vocabulary:
    """The order table's vocabulary."""
    return Vocabulary(ORDER_COLUMNS, mapped or {})


@pytest.mark.parametrize(
    ("text", "key", "factor"),
    [
        ("Width across [mm]", "width", 1),
        ("WIDTH", "width", 1),
        ("  width   ACROSS the web (mm) ", "width", 1),
        ("Width, in", "width", Fraction(127, 5)),
        ("Width [in]", "width", Fraction(127, 5)),
        ("Width in inches", "width", Fraction(127, 5)),
        ("width_mm", "width", 1),
        ("Reel width (cm)", "width", 10),
        ("Cut-off [mm]", "chop", 1),
        ("Min. diameter", "min_diameter", 1),
        ("Diameter (max) [in]", "max_diameter", Fraction(127, 5)),
        ("Diameter [in]", "diameter", Fraction(127, 5)),
        ("Ø [mm]", "diameter", 1),
        ("Diameter max [in]", "max_diameter", Fraction(127, 5)),
        ("Diameter least [mm]", "min_diameter", 1),
        ("Diameter greatest [mm]", "max_diameter", 1),
        ("Min dia [mm]", "min_diameter", 1),
        ("Greatest reel mass [kg]", "max_reel_mass", 1),
        ("Core inside diameter", "core", 1),
        ("Basis weight [lb 24x36, 500 sheets]", "grammage", Fraction(45359237, 27870912)),
        ("Basis weight lb 24x36, 500 sheets", "grammage", Fraction(45359237, 27870912)),
        ("GSM", "grammage", 1),
        ("Max reel weight [lb]", "max_reel_mass", Fraction(45359237, 10**8)),
        ("Tolerance -", "under", Fraction(1, 100)),
        ("Tolerance + [%]", "over", Fraction(1, 100)),
        ("Tolerance ±", None, None),
    ],
)
def test_a_heading_in_many_spellings(text: str, key: str | None, factor: int | None) -> None:
    """Case, spaces, points, brackets and units are forgiven; what is left open names nothing."""
    headings = words().match([text])
    if key is None:
        assert headings.unknown == (text,)
        return
    assert not headings.faults
    measure = headings.known[key].measure
    assert measure is not None
    assert measure.factor == factor


@pytest.mark.parametrize("columns", [ORDER_COLUMNS, JUMBO_COLUMNS])
def test_every_name_of_every_column_is_its_own(columns: tuple[object, ...]) -> None:
    """No word names two columns, and each heading of the template names its own."""
    table = ORDER_COLUMNS if columns is ORDER_COLUMNS else JUMBO_COLUMNS
    seen: dict[str, str] = {}
    for column in table:
        for name in (column.key, *column.names):
            assert seen.setdefault(name_key(name), column.key) == column.key, name
    matched = Vocabulary(table, {}).match([column.heading for column in table])
    assert list(matched.known) == [column.key for column in table]
    assert not matched.faults


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("Width [furlongs]", "is not known here"),
        ("Width [mm] [in]", "two units"),
        ("Basis weight", "without its unit"),
        ("Basis weight [lb]", "size and count"),
        ("Basis weight [lb 25x38]", "count of its ream"),
        ("Core [kg]", "is not known here"),
    ],
)
def test_a_unit_that_is_not_clear_is_a_fault(text: str, wrong: str) -> None:
    """A heading whose unit cannot be told is never read as if it had none."""
    (fault,) = words().match([text]).faults
    assert wrong in fault.wrong


def test_two_columns_for_one_are_a_fault() -> None:
    """Two widths: nobody can say which is meant."""
    (fault,) = words().match(["Width", "Reel width"]).faults
    assert "second column" in fault.wrong


def test_the_mills_own_headings() -> None:
    """A mapped heading names our column; the usual word beside it then names nothing."""
    mapped = {"width": "Format 1", "Max. diameter": "OD"}
    headings = words(mapped).match(["Format 1 [in]", "Width", "od", "Order"])
    assert headings.known["width"].index == 0
    assert headings.known["max_diameter"].index == 2
    measure = headings.known["width"].measure
    assert measure is not None
    assert measure.factor == Fraction(127, 5)
    assert headings.unknown == ("Width",)
    without = words(mapped).match(["Width"])
    assert without.known["width"].index == 0


def test_a_mapped_basis_weight_needs_no_unit() -> None:
    """What the mill file maps to grammage is in g/m² where its heading says no unit."""
    headings = words({"grammage": "Basis"}).match(["Basis"])
    assert not headings.faults
    measure = headings.known["grammage"].measure
    assert measure is not None
    assert measure.factor == 1


def of_orders(mapped: dict[str, str] | None = None, ignored: tuple[str, ...] = ()) -> Vocabulary:
    """The vocabulary that reads order tables: other languages, and what looks like a column."""
    return Vocabulary(ORDER_COLUMNS, mapped or {}, ignored=ignored, of_orders=True)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Breite (mm)", "width"),
        ("LAIZE [cm]", "width"),
        ("szerokość", "width"),
        ("Durchmesser", "diameter"),
        ("Rollen-Ø", "diameter"),
        ("Ø max.", "max_diameter"),
        ("Diamètre (max)", "max_diameter"),
        ("Qté", "quantity"),
        ("Hülse [Zoll]", "core"),
        ("Toimituspäivä", "due"),
        ("Auftrags-Nr.", "number"),
        ("Grammatura [g/mq]", "grammage"),
        ("Flächengewicht (g/qm)", "grammage"),
        ("g/m2", "grammage"),
        ('Basis weight [lb 24" x 36", 500 sheets]', "grammage"),
    ],
)
def test_headings_in_other_languages(text: str, key: str) -> None:
    """Case, accents and points are forgiven there too."""
    headings = of_orders().match([text])
    assert list(headings.known) == [key]
    assert not headings.faults


def test_a_word_of_any_language_names_one_column() -> None:
    """No heading of one column is another's in another language."""
    seen: dict[str, str] = {}
    for column in ORDER_COLUMNS:
        for name in (column.key, *column.names, *heading_words(column.key)):
            assert seen.setdefault(name_key(name), column.key) == column.key, name


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Reel dia. tol.", "diameter"),
        ("Open quantity", "quantity"),
        ("Bogen Länge", "chop"),
        ("Min", "diameter"),
        ("Prioritty", "priority"),
        ("Kernhülse", "core"),
        ("Ship window", "due"),
        ("Gewicht (g/m²)", "grammage"),
        ("g/qm", "grammage"),
    ],
)
def test_what_looks_like_a_column_is_asked_about(text: str, key: str) -> None:
    """Never left out with a shrug, until the mill file maps it or leaves it out on purpose."""
    assert [column.key for column in of_orders().match([text]).alike.values()] == [key]
    assert not of_orders(ignored=(text.upper(),)).match([text]).alike
    assert not of_orders(ignored=(text,)).match([text]).unknown
    mapped = of_orders({key: text}).match([text])
    assert list(mapped.known) == [key]
    assert not mapped.alike


@pytest.mark.parametrize("text", ["Sales person", "Colour", "Plant", "Bearbeiter"])
def test_what_looks_like_none_is_not_asked_about(text: str) -> None:
    """It is not read, and that is said."""
    headings = of_orders().match([text])
    assert headings.unknown == (text,)
    assert not headings.alike


def test_a_mapped_column_answers_for_those_like_it() -> None:
    """Quantity is what the mill says it is; two others like it are then no question."""
    row = ["Quantity", "Open quantity", "Delivered quantity"]
    assert len(of_orders().match(row).alike) == 2
    headings = of_orders({"quantity": "Open quantity"}).match(row)
    assert headings.known["quantity"].index == 1
    assert not headings.alike


def test_a_mapping_of_no_column_is_kept_for_a_warning() -> None:
    """A slip in the mill file's mapping does not pass unseen."""
    assert words({"witdh": "Format 1"}).unknown_mappings == ["witdh"]


@pytest.mark.parametrize(
    ("text", "key"),
    [("No edge", "no_edge"), ("Sheets a ream", "sheets_a_ream"), ("Made before", "made")],
)
def test_earlier_headings_name_what_they_named(text: str, key: str) -> None:
    """Exports that were made for an earlier template are read as before."""
    assert list(words().match([text]).known) == [key]
