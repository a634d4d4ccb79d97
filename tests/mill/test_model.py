"""The jumbo's length, the deckle, and the grade's caliper."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from tests.mill.sample import mill_text, read_text
from trimopt.errors import MillFileError
from trimopt.mill import Grade, Jumbo
from trimopt.paper import mass_kg, reel_diameter_mm

GRADE = Grade(name="Board", caliper_um=None, bulk_cm3_g=1.4, density_kg_m3=None, wound_factor=1.0)
JUMBO = Jumbo(width_mm=Fraction(4030), length_m=0, loss_start_m=100, loss_end_m=50)


def test_a_stated_length_holds_for_every_paper(tmp_path: Path) -> None:
    """A jumbo stated by length is the same for each grade and grammage."""
    mill = read_text(tmp_path, mill_text({"jumbo.loss_end_m": "50"}))
    assert mill.jumbo.length_m == 9050
    assert mill.jumbo_for(mill.grades[0], 200) == mill.jumbo
    assert mill.jumbo_for(mill.grades[0], 400).usable_m == 9000


def test_a_length_with_losses_in_it(tmp_path: Path) -> None:
    """length_m holds start and end loss; usable_m is what they leave."""
    changes: dict[str, str | None] = {
        "jumbo.usable_length_m": None,
        "jumbo.length_m": "9000",
        "jumbo.loss_start_m": "100",
    }
    assert read_text(tmp_path, mill_text(changes)).jumbo.usable_m == 8900


def test_diameter_and_mass_from_the_file(tmp_path: Path) -> None:
    """A jumbo stated by diameter or mass arrives as stated, in mm and kg, without a length."""
    by_size: dict[str, str | None] = {
        "jumbo.usable_length_m": None,
        "jumbo.diameter_mm": "2500",
        "jumbo.spool_mm": '"24 in"',
    }
    jumbo = read_text(tmp_path, mill_text(by_size)).jumbo
    assert (jumbo.length_m, jumbo.diameter_mm, jumbo.spool_mm) == (0, 2500, 609.6)
    by_mass: dict[str, str | None] = {"jumbo.usable_length_m": None, "jumbo.mass_t": "18.5"}
    jumbo = read_text(tmp_path, mill_text(by_mass)).jumbo
    assert (jumbo.length_m, jumbo.mass_kg) == (0, 18_500)


@given(diameter=st.floats(1000, 4000), spool=st.floats(200, 900), grammage=st.floats(150, 600))
def test_a_diameter_gives_the_length_that_fills_it(
    diameter: float, spool: float, grammage: float
) -> None:
    """The whole metres found fit on the spool, and one metre more would not."""
    jumbo = replace(JUMBO, loss_start_m=0, loss_end_m=0, diameter_mm=diameter, spool_mm=spool)
    caliper = GRADE.wound_caliper_um(grammage)
    length = jumbo.for_paper(grammage, caliper).length_m
    assert reel_diameter_mm(length, spool, caliper) <= diameter * (1 + 1e-12)
    assert reel_diameter_mm(length + 1, spool, caliper) > diameter


@given(mass=st.floats(2000, 100_000), grammage=st.floats(150, 600))
def test_a_mass_gives_the_length_that_weighs_it(mass: float, grammage: float) -> None:
    """The whole metres found weigh no more than stated, and one metre more would."""
    jumbo = replace(JUMBO, mass_kg=mass)
    length = jumbo.for_paper(grammage, GRADE.wound_caliper_um(grammage)).length_m
    assert mass_kg(JUMBO.width_mm, length, grammage) <= mass * (1 + 1e-12)
    assert mass_kg(JUMBO.width_mm, length + 1, grammage) > mass


def test_a_jumbo_without_a_length_gives_none(tmp_path: Path) -> None:
    """Asking the mill file's jumbo for a length that depends on the paper is an error, not 0."""
    mill = read_text(tmp_path, mill_text({"jumbo.usable_length_m": None, "jumbo.mass_t": "18"}))
    with pytest.raises(ValueError, match="for_paper"):
        _ = mill.jumbo.usable_m
    assert mill.jumbo_for(mill.grades[0], 250).usable_m == 17_866
    assert mill.for_paper(mill.grades[0], 250).jumbo.usable_m == 17_866
    with pytest.raises(ValueError, match="needs a length"):
        JUMBO.for_paper(250, 350)


def test_losses_larger_than_a_jumbo_of_that_paper() -> None:
    """A jumbo that start and end loss use up at some grammage is told with its figures."""
    with pytest.raises(MillFileError, match=r'mass_t.*"0.1".*gives 99 m at 250 g/m².*150 m'):
        replace(JUMBO, mass_kg=100).for_paper(250, 350)


def test_the_mill_names_its_file_for_such_a_jumbo(tmp_path: Path) -> None:
    """The same error, asked of the mill, says which file is to be mended."""
    changes: dict[str, str | None] = {
        "jumbo.usable_length_m": None,
        "jumbo.mass_t": "0.1",
        "jumbo.loss_end_m": "99",
    }
    mill = read_text(tmp_path, mill_text(changes))
    with pytest.raises(MillFileError, match=r"mill\.toml"):
        mill.for_paper(mill.grades[0], 250)


def test_the_deckle_is_no_more_than_the_winder_takes(tmp_path: Path) -> None:
    """The deckle is the jumbo less the least edge trim, or the winder's web where that is less."""
    narrow = read_text(tmp_path, mill_text({"jumbo.width_mm": "4029.5"}))
    wide = read_text(tmp_path, mill_text({"jumbo.width_mm": "4090"}))
    assert narrow.deckle_mm == Fraction(7999, 2)
    assert wide.deckle_mm == 4000


@pytest.mark.parametrize(
    ("caliper", "bulk", "density"),
    [(350.0, None, None), (None, 1.4, None), (None, None, 1000 / 1.4)],
)
def test_three_ways_to_say_one_caliper(
    caliper: float | None, bulk: float | None, density: float | None
) -> None:
    """Caliper, bulk and density of one board give one caliper on the reel, with its factor."""
    grade = Grade(
        name="Board",
        caliper_um=caliper,
        bulk_cm3_g=bulk,
        density_kg_m3=density,
        wound_factor=0.98,
    )
    assert grade.wound_caliper_um(250) == pytest.approx(343)


def test_the_largest_reel_of_a_set_is_on_the_largest_core(tmp_path: Path) -> None:
    """Of reels so long the one on the widest core; a core that the winder lacks counts as none."""
    winder = read_text(tmp_path, mill_text({})).winder
    core = max(winder.cores, key=lambda each: each.outside_mm)
    cores_mm = [*(each.inside_mm for each in winder.cores), 999.0]
    assert winder.reel_mm(4000, cores_mm, 350) == reel_diameter_mm(4000, core.outside_mm, 350)
    assert winder.reel_mm(4000, [999.0], 350) == 0
