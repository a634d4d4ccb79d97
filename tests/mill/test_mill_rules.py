"""Combinations that no mill can have."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mill.sample import faults_of, mill_text

# What is changed; the section and key that is told; a piece of what is wrong; a piece of the cure.
# Each cure is a figure on the very edge of what passes.
CASES: dict[str, tuple[dict[str, str | None], str, str, str]] = {
    "edge trim": (
        {"winder.min_edge_trim_mm": "51"},
        "[[winder]] 1 min_edge_trim_mm",
        "is above max_edge_trim_mm (50)",
        "write 50 or less",
    ),
    "reel width": (
        {"winder.max_reel_width_mm": "250.5"},
        "[[winder]] 1 min_reel_width_mm",
        "is above max_reel_width_mm (250.5)",
        "write 250.5 or less",
    ),
    "diameter": (
        {"winder.max_reel_diameter_mm": "400"},
        "[[winder]] 1 min_reel_diameter_mm",
        "is above max_reel_diameter_mm (400)",
        "write 400 or less",
    ),
    "knives closer than a reel": (
        {"winder.min_knife_spacing_mm": "301"},
        "[[winder]] 1 min_knife_spacing_mm",
        "is above min_reel_width_mm (300)",
        "write 300 or less",
    ),
    "two tolerances of diameter": (
        {"mill.diameter_tolerance_mm": "40", "mill.diameter_tolerance_percent": "4"},
        "[mill] diameter_tolerance_percent",
        "stands beside diameter_tolerance_mm",
        "keep one of diameter_tolerance_mm and diameter_tolerance_percent",
    ),
    "knives closer than a broke reel": (
        {"winder.min_broke_width_mm": "99"},
        "[[winder]] 1 min_knife_spacing_mm",
        "is above min_broke_width_mm (99)",
        "write 99 or less",
    ),
    "broke reels wider than any reel": (
        {"winder.min_broke_width_mm": "2501"},
        "[[winder]] 1 min_broke_width_mm",
        "is above max_reel_width_mm (2500)",
        "write 2500 or less",
    ),
    "reels without knives": (
        {"winder.max_reels": "9"},
        "[[winder]] 1 max_reels",
        "needs 10 knives, and knives is 9",
        "write 8 or less",
    ),
    "sides of a two-drum winder": (
        {"winder.max_reels_per_side": "3"},
        "[[winder]] 1 max_reels_per_side",
        "single-drum winder only",
        "leave it out",
    ),
    "more than both sides": (
        {"winder.kind": '"single-drum"', "winder.max_reels_per_side": "3", "winder.max_reels": "7"},
        "[[winder]] 1 max_reels",
        "more than two sides of 3 reels hold",
        "write 6 or less",
    ),
    "core wider than the reel": (
        {"winder.core.wall_mm": "212"},
        "[[winder.core]] 1 inside_mm",
        "a core of 500 mm outside, wider than the smallest reel (500 mm)",
        "above 500",
    ),
    "knives beyond number": (
        {"winder.knives": "3", "winder.knives_at_mm": "[0, 500, 1000, 1500]"},
        "[[winder]] 1 knives_at_mm",
        "has 4 places for 3 knives",
        "3 places or fewer",
    ),
    "knives out of order": (
        {"winder.knives_at_mm": "[0, 1000, 500]"},
        "[[winder]] 1 knives_at_mm",
        "goes from 1000 to 500",
        "front side",
    ),
    "knives too close": (
        {"winder.knives_at_mm": "[0, 99.5]"},
        "[[winder]] 1 knives_at_mm",
        "closer than min_knife_spacing_mm (100)",
        "write 100 or more after 0",
    ),
    "knife beside the web": (
        {"winder.knives_at_mm": "[0, 4031]"},
        "[[winder]] 1 knives_at_mm",
        "beyond the web",
        "write 4030 or less",
    ),
    "jumbo too wide": (
        {"jumbo.width_mm": "4100.5"},
        "[jumbo] width_mm",
        "wider than the winder's web (4000 mm)",
        "write 4100 or less",
    ),
    "deckle too narrow": (
        {"jumbo.width_mm": "329"},
        "[jumbo] width_mm",
        "leaves a deckle of 299 mm, less than the narrowest reel (300 mm)",
        "write 330 or more",
    ),
    "no length": (
        {"jumbo.usable_length_m": None},
        "[jumbo] usable_length_m",
        "is missing",
        "give one of usable_length_m, length_m, diameter_mm or mass_t",
    ),
    "length twice": (
        {"jumbo.mass_t": "20"},
        "[jumbo] mass_t",
        "stands beside usable_length_m",
        "keep one of usable_length_m and mass_t",
    ),
    "losses": (
        {
            "jumbo.usable_length_m": None,
            "jumbo.length_m": "200",
            "jumbo.loss_start_m": "120",
            "jumbo.loss_end_m": "80",
        },
        "[jumbo] length_m",
        "no more than start and end loss together (200 m)",
        "write more than 200",
    ),
    "diameter without spool": (
        {"jumbo.usable_length_m": None, "jumbo.diameter_mm": "2500"},
        "[jumbo] spool_mm",
        "is missing",
        "outside diameter of the spool",
    ),
    "spool without diameter": (
        {"jumbo.spool_mm": "600"},
        "[jumbo] spool_mm",
        "used with diameter_mm only",
        "leave it out",
    ),
    "spool beyond the jumbo": (
        {"jumbo.usable_length_m": None, "jumbo.diameter_mm": "600", "jumbo.spool_mm": "600"},
        "[jumbo] spool_mm",
        "no less than diameter_mm (600)",
        "write less than 600",
    ),
    "chop": (
        {"sheeter.min_chop_mm": "1501"},
        "[[sheeter]] 1 (Sheeter 1) min_chop_mm",
        "is above max_chop_mm (1500)",
        "write 1500 or less",
    ),
    "not one up": (
        {"sheeter.max_web_mm": "299"},
        "[[sheeter]] 1 (Sheeter 1) max_web_mm",
        "not one up is possible",
        "write 300 or more",
    ),
    "all of it trim": (
        {"sheeter.trim_per_side_mm": "1000"},
        "[[sheeter]] 1 (Sheeter 1) trim_per_side_mm",
        "leaves nothing of max_web_mm (2000)",
        "write less than 1000",
    ),
    "stands too small": (
        {"sheeter.max_reel_diameter_mm": "499"},
        "[[sheeter]] 1 (Sheeter 1) max_reel_diameter_mm",
        "below the smallest reel that the winder makes (500 mm)",
        "write 500 or more",
    ),
    "core that is not there": (
        {"sheeter.core_inside_mm": "152"},
        "[[sheeter]] 1 (Sheeter 1) core_inside_mm",
        "a core that the winder does not have",
        "write 76, or add it",
    ),
    "no thickness": (
        {"grade.bulk_cm3_g": None},
        "[[grade]] 1 (Board) bulk_cm3_g",
        "is missing",
        "give one of caliper_um, bulk_cm3_g, density_kg_m3",
    ),
    "thickness twice": (
        {"grade.density_kg_m3": "700"},
        "[[grade]] 1 (Board) density_kg_m3",
        "stands beside bulk_cm3_g",
        "keep one of",
    ),
}


@pytest.mark.parametrize("name", sorted(CASES))
def test_a_contradiction_is_told_with_its_cure(tmp_path: Path, name: str) -> None:
    """Each impossible combination names its key, what it contradicts, and what would pass."""
    changes, where, wrong, right = CASES[name]
    faults = faults_of(tmp_path, mill_text(changes))
    told = [fault for fault in faults if f"{fault.where} {fault.column}" == where]
    assert len(told) == 1, faults
    assert wrong in told[0].wrong
    assert right in told[0].right


@pytest.mark.parametrize(
    "changes",
    [
        {"winder.min_edge_trim_mm": "50"},
        {"winder.min_knife_spacing_mm": "300"},
        {"winder.max_reels": "8"},
        {"winder.core.wall_mm": "211.9"},
        {"winder.knives_at_mm": "[0, 100, 4030]"},
        {"jumbo.width_mm": "4100"},
        {"jumbo.width_mm": "330"},
        {"winder.max_edge_trim_mm": None, "jumbo.width_mm": "5000"},
        {"sheeter.max_web_mm": "300"},
        {"sheeter.core_inside_mm": "76.04"},
        {"jumbo.usable_length_m": None, "jumbo.mass_t": "20"},
        {"jumbo.usable_length_m": None, "jumbo.length_m": "9000"},
        {"jumbo.usable_length_m": None, "jumbo.diameter_mm": "2500", "jumbo.spool_mm": "600"},
    ],
)
def test_the_nearest_that_passes_does_pass(tmp_path: Path, changes: dict[str, str | None]) -> None:
    """A figure on the edge of what is possible is no fault."""
    assert faults_of(tmp_path, mill_text(changes)) == ()


def test_a_faulty_figure_raises_no_second_fault(tmp_path: Path) -> None:
    """A figure that could not be read is told once, and nothing is compared with it."""
    for address in ("winder.max_web_mm", "winder.min_reel_width_mm", "winder.knives"):
        assert len(faults_of(tmp_path, mill_text({address: '"wide"'}))) == 1


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ('[[grade]]\nname = "BOARD"\nbulk_cm3_g = 1', "[[grade]] 2 (BOARD)"),
        ("[[winder.core]]\ninside_mm = 76.05\nwall_mm = 5", "[[winder.core]] 2"),
        ('[headings]\ncustomer = "Kd"\nnumber = "KD"', "[headings]"),
    ],
)
def test_nothing_stands_there_twice(tmp_path: Path, more: str, where: str) -> None:
    """Two grades, cores or headings that a look-up could not tell apart are a fault."""
    (fault,) = faults_of(tmp_path, mill_text(more=more))
    assert fault.where == where


@pytest.mark.parametrize("key", ["set_up", "knife_move"])
def test_a_price_needs_the_price_of_trim(tmp_path: Path, key: str) -> None:
    """A set-up or a knife move in money has nothing to be weighed against without trim in money."""
    (fault,) = faults_of(tmp_path, mill_text(more=f"[values]\n{key} = 5"))
    assert fault.column == key
    assert faults_of(tmp_path, mill_text(more=f"[values]\n{key} = 5\ntrim_cost_per_t = 1")) == ()


@pytest.mark.parametrize(
    "given", ["", "trim_cost_per_t = 400", "trim_cost_per_t = 400\nset_up = 30"]
)
def test_splitting_blocks_needs_both_prices(tmp_path: Path, given: str) -> None:
    """What a split saves is weighed in money, so trim and set-up must both have a price."""
    faults = faults_of(tmp_path, mill_text(more=f"[values]\nsplit_blocks = true\n{given}"))
    assert [fault.column for fault in faults] == ["split_blocks"] * ("set_up" not in given)


def steps(*ends: tuple[float | None, float | None]) -> str:
    """A tolerance table from (grammage_to_gsm, below_t) pairs."""
    lines = []
    for grammage, below in ends:
        lines += ["[[tolerance]]", "under_percent = 5", "over_percent = 5"]
        lines += [f"grammage_to_gsm = {grammage}"] if grammage is not None else []
        lines += [f"below_t = {below}"] if below is not None else []
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("ends", "column"),
    [
        (((None, 10), (None, 5), (None, None)), "below_t"),
        (((None, 5), (None, 5), (None, None)), "below_t"),
        (((None, None), (None, 5)), "below_t"),
        (((300, None), (180, None), (None, None)), "grammage_to_gsm"),
        (((None, None), (180, None)), "grammage_to_gsm"),
        (((180, 5), (None, None)), "below_t"),
        (((None, 5),), "below_t"),
        (((180, None),), "grammage_to_gsm"),
    ],
)
def test_tolerance_steps_stand_in_order_and_end_open(
    tmp_path: Path, ends: tuple[tuple[float | None, float | None], ...], column: str
) -> None:
    """Steps that could never hold, or that leave orders without a custom, are a fault."""
    faults = faults_of(tmp_path, mill_text(more=steps(*ends)))
    assert column in {fault.column for fault in faults}


def test_a_tolerance_table_in_order_passes(tmp_path: Path) -> None:
    """Rising grammages, rising tonnages within each, and open ends are no fault."""
    table = steps((180, 1), (180, 5.5), (180, None), (300, None), (None, 5), (None, None))
    assert faults_of(tmp_path, mill_text(more=table)) == ()
