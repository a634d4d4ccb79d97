"""Single keys: unknown, missing, of the wrong kind, out of range."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mill.sample import faults_of, mill_text
from trimopt.errors import Fault
from trimopt.mill.mill_keys import SECTIONS


def only_fault(folder: Path, text: str) -> Fault:
    """The one fault of a text."""
    (fault,) = faults_of(folder, text)
    return fault


NEEDED = [
    f"{table.name}.{key.name}"
    for table in SECTIONS
    for key in table.keys
    if key.needed and table.name not in ("tolerance", "ledger")
]


@pytest.mark.parametrize("address", NEEDED)
def test_a_missing_key_is_named(tmp_path: Path, address: str) -> None:
    """Each needed key, taken out, is told with its section and what to write."""
    section, _, key = address.rpartition(".")
    fault = only_fault(tmp_path, mill_text({address: None}))
    assert section in fault.where
    assert fault.column == key
    assert fault.wrong == "is missing"
    assert fault.right.startswith("write ")


@pytest.mark.parametrize("section", ["mill", "winder", "winder.core", "jumbo", "grade"])
def test_a_missing_section_is_one_fault(tmp_path: Path, section: str) -> None:
    """A needed section that is not there is told once, not key by key."""
    changes: dict[str, str | None] = {section: None}
    if section == "winder":
        changes["winder.core"] = None
    fault = only_fault(tmp_path, mill_text(changes))
    assert fault.where.strip("[]") == section


def test_a_mill_without_sheeters_is_a_mill(tmp_path: Path) -> None:
    """A mill that sells reels only has no sheeter section."""
    assert faults_of(tmp_path, mill_text({"sheeter": None})) == ()


@pytest.mark.parametrize(
    ("changes", "right"),
    [
        ({"winder.knives": None, "winder.knive": "9"}, "write knives"),
        ({"winder.Knives": "9", "winder.knives": None}, "write knives"),
        (
            {"winder.max_web_mm": None, "winder.max_web_cm": "400"},
            "write max_web_mm",
        ),
        ({"jumbo.usable_length": "9000", "jumbo.usable_length_m": None}, "write usable_length_m"),
        ({"winder.max_ups": "4"}, "move it to [[sheeter]]"),
        ({"winder.cores": "[76]"}, "write [[winder.core]] as a section of its own"),
        ({"grade.qqq": "1"}, "leave it out; the keys are name, caliper_um"),
    ],
)
def test_an_unknown_key_gets_the_likely_one(
    tmp_path: Path, changes: dict[str, str | None], right: str
) -> None:
    """A misspelt key is told once with the spelling meant; a stray one with where it belongs."""
    faults = [fault for fault in faults_of(tmp_path, mill_text(changes)) if "no key" in fault.wrong]
    assert len(faults) == 1
    assert right in faults[0].right
    # The key that it stands for is not reported missing as well.
    missing = {f.column for f in faults_of(tmp_path, mill_text(changes)) if f.wrong == "is missing"}
    assert not missing & {"knives", "max_web_mm"}


@pytest.mark.parametrize(
    ("more", "right"),
    [
        ("[value]\nset_up = 3", "write [values]"),
        ("[[sheeters]]\nname = 'x'", "write [[sheeter]]"),
        ("[pulper]\nsize = 3", "the sections are [mill], [[winder]]"),
    ],
)
def test_an_unknown_section_gets_the_likely_one(tmp_path: Path, more: str, right: str) -> None:
    """A misspelt section is told with its right name; a strange one with the list."""
    fault = only_fault(tmp_path, mill_text(more=more))
    assert fault.wrong == "is no section of a mill file"
    assert right in fault.right


def test_a_misspelt_needed_section_is_told_once(tmp_path: Path) -> None:
    """[jumbos] for [jumbo] is one fault, not an unknown section and a missing one."""
    fault = only_fault(tmp_path, mill_text().replace("[jumbo]", "[jumbos]"))
    assert (fault.column, fault.right) == ("[jumbos]", "write [jumbo]")


def test_a_key_above_all_sections(tmp_path: Path) -> None:
    """A key before the first section is told with the section that it belongs to."""
    fault = only_fault(tmp_path, "knives = 9\n" + mill_text())
    assert (fault.column, fault.wrong) == ("knives", "stands in no section")
    assert fault.right == "move it to [[winder]]"


@pytest.mark.parametrize(
    ("before", "after", "where"),
    [
        ("[[grade]]", "[grade]", "[[grade]]"),
        ("[[winder.core]]", "[winder.core]", "[[winder.core]]"),
        ("[jumbo]", "[[jumbo]]", "[jumbo]"),
    ],
)
def test_single_and_double_brackets(tmp_path: Path, before: str, after: str, where: str) -> None:
    """A section in the wrong brackets is told with the right ones."""
    faults = faults_of(tmp_path, mill_text().replace(before, after))
    assert [fault.where for fault in faults] == [where]


@pytest.mark.parametrize(
    ("address", "value", "wrong"),
    [
        ("winder.knives", '"9"', "is a text where a number belongs"),
        ("winder.knives", "9.5", "is not a whole number"),
        ("winder.knives", "true", "is not a number"),
        ("winder.knives", "1", "is below 2"),
        ("winder.knives", "201", "is above 200"),
        ("winder.speed_m_min", "0", "is below 1"),
        ("winder.speed_m_min", "nan", "is out of all range"),
        ("winder.speed_m_min", "inf", "is out of all range"),
        ("winder.speed_m_min", "1e400000000", "is out of all range"),
        ("winder.speed_m_min", "1e-400000000", "is out of all range"),
        ("winder.speed_m_min", "9" * 400, "is out of all range"),
        ("winder.set_up_min", "-1", "is below 0"),
        ("winder.max_web_mm", '"4,000"', "is no width that can be read"),
        ("winder.max_web_mm", '"4 kg"', "is no width that can be read"),
        ("winder.max_reel_mass_kg", '"3 in"', "is no figure with a unit that can be read"),
        (
            "winder.max_reel_mass_kg",
            '"2 tons"',
            "is not clear: a ton may be 1000 kg, 2000 lb or 2240 lb",
        ),
        (
            "winder.max_web_mm",
            '"182.001 in"',
            "is finer than hundredths of a millimetre or 128ths of an inch",
        ),
        ("grade.basis_weight", '"42 pounds"', "is no basis weight"),
        ("winder.max_web_mm", '"1/0 in"', "is no width that can be read"),
        ("winder.max_web_mm", "-4000", "is not above 0"),
        ("winder.max_web_mm", "40000", "is above 20000"),
        ("winder.max_web_mm", "[4000]", "is not a number"),
        ("winder.max_web_mm", "1979-05-27", "is not a number"),
        ("winder.web_shift", '"yes"', "is neither true nor false"),
        ("winder.idle_knives", '"left"', "is none of the choices"),
        ("winder.name", "3", "is not a text"),
        ("winder.name", '"  "', "is empty"),
        ("winder.knives_at_mm", "3", "is not a list"),
        ("winder.knives_at_mm", '[0, "here"]', 'holds "here", which is no width that can be read'),
        ("winder.knives_at_mm", "[-1, 500]", "holds -1, which is below 0"),
        ("grade.wound_factor", "98", "is above 2"),
    ],
)
def test_a_value_of_the_wrong_kind(tmp_path: Path, address: str, value: str, wrong: str) -> None:
    """A value that cannot be meant is told as it stands, with what would be right, and not bent."""
    fault = only_fault(tmp_path, mill_text({address: value}))
    section, _, key = address.rpartition(".")
    assert section in fault.where
    assert fault.column == key
    assert fault.wrong == wrong
    assert fault.right.startswith("write ")
    assert fault.value


def test_headings_must_be_texts(tmp_path: Path) -> None:
    """A heading is a text that says something."""
    faults = faults_of(tmp_path, mill_text(more='[headings]\ncustomer = 3\nnumber = ""'))
    assert {(f.where, f.column) for f in faults} == {
        ("[headings]", "customer"),
        ("[headings]", "number"),
    }
