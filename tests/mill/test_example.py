"""The mill files that come with the project."""

from __future__ import annotations

import re
from pathlib import Path

from tests.mill.sample import read_text
from trimopt.mill import example_mill_text, read_mill
from trimopt.mill.mill_keys import SECTIONS
from trimopt.paper import mass_kg, reel_length_m

ORDERS = Path(__file__).parents[2] / "orders"


def test_the_example_is_a_good_mill_file(tmp_path: Path) -> None:
    """The example file reads without a fault as it stands."""
    mill = read_text(tmp_path, example_mill_text())
    assert mill.deckle_mm == 4640


def test_the_example_shows_every_key() -> None:
    """Each section and each key of the reader's table stands in the example, if only commented."""
    text = example_mill_text()
    for table in SECTIONS:
        assert table.title in text
        for key in table.keys:
            assert re.search(rf"^(# )?{key.name} = ", text, re.MULTILINE), key.name


def test_the_example_s_commented_keys_are_good_ones(tmp_path: Path) -> None:
    """The optional keys of the example, once uncommented, are known and in range."""
    text = re.sub(r"^# (?=(\w+ = |\[))", "", example_mill_text(), flags=re.MULTILINE)
    other_ways = r"^(length_m|diameter_mm|spool_mm|mass_t|diameter_tolerance_percent) = .*$"
    text = re.sub(other_ways, "", text, flags=re.MULTILINE)
    text = text.replace('kind = "two-drum"', 'kind = "single-drum"')
    mill = read_text(tmp_path, text)
    assert mill.winder.max_reels_per_side == 6
    assert len(mill.winder.knives_at_mm) == 3
    assert mill.ledger == "sqlite:///ledger.sqlite"
    assert mill.values.currency == "EUR"
    assert mill.headings == {"customer": "Sold to", "width": "Reel width"}


def test_the_invented_mill_is_one_that_could_be() -> None:
    """The example orders' mill makes reels and jumbos of a size that a board mill lifts."""
    mill = read_mill(ORDERS / "mill.toml")
    winder = mill.winder
    assert winder.max_reel_mass_kg is not None
    assert winder.max_set_mass_kg is not None
    core = winder.core(152)
    assert core is not None
    for grade in mill.grades:
        for grammage in (150, 250, 350):
            caliper = grade.wound_caliper_um(grammage)
            longest_m = reel_length_m(winder.max_reel_diameter_mm, core.outside_mm, caliper)
            heaviest_kg = mass_kg(winder.max_reel_width_mm, longest_m, grammage)
            assert heaviest_kg < 1.1 * winder.max_reel_mass_kg
            assert mass_kg(mill.deckle_mm, longest_m, grammage) < winder.max_set_mass_kg
            jumbo = mill.jumbo_for(grade, grammage)
            assert longest_m < jumbo.usable_m
            assert 10 < mass_kg(jumbo.width_mm, jumbo.length_m, grammage) / 1000 < 30


def test_the_invented_mill_keeps_its_widths_in_half_millimetres() -> None:
    """Deckle, trims and limits of the example lie on a step that the engine's units divide."""
    mill = read_mill(ORDERS / "mill.toml")
    widths = [mill.deckle_mm, mill.jumbo.width_mm, mill.winder.min_reel_width_mm]
    widths += [sheeter.trim_per_side_mm for sheeter in mill.sheeters]
    assert all((2 * width).denominator == 1 for width in widths)
