"""Reading a mill file: what it gives, and what it says of a file it cannot take."""

from __future__ import annotations

import hashlib
import pickle
from fractions import Fraction
from pathlib import Path

import pytest

from tests.mill.sample import faults_of, mill_text, read_text
from trimopt.errors import MillFileError, TrimoptError
from trimopt.mill import Values, Winder, read_mill


def test_a_good_file_gives_its_mill(tmp_path: Path) -> None:
    """Figures arrive in the model's units, and what the file leaves out has its default."""
    mill = read_text(tmp_path, mill_text())
    assert mill.name == "Test mill"
    assert mill.deckle_mm == 4000
    assert mill.width_step_mm == 1
    assert mill.values == Values(under=Fraction(1, 10), over=Fraction(1, 10))
    assert mill.tolerances == ()
    assert (mill.headings, mill.ledger, mill.trim_target_percent) == ({}, None, None)
    winder = mill.winder
    assert (winder.name, winder.kind, winder.max_reels) == ("Winder", "two-drum", 8)
    assert (winder.web_shift, winder.joins_allowed, winder.knives_at_mm) == (True, False, ())
    assert not winder.core_change_is_set_up
    assert not winder.length_change_is_set_up
    assert (winder.max_reel_mass_kg, winder.max_set_mass_kg) == (None, None)
    core = winder.core(76)
    assert core is not None
    assert core.outside_mm == 96
    (sheeter,) = mill.sheeters
    assert sheeter.trim_per_side_mm == Fraction(13, 2)
    assert (sheeter.waste_share, sheeter.unwinds) == (0, 1)
    assert (sheeter.max_length_difference_m, sheeter.max_cuts_per_min) == (0, None)
    grade = mill.grade(" BOARD ")
    assert grade is not None
    assert grade.wound_caliper_um(250) == pytest.approx(350)


def test_a_first_plan_needs_no_times(tmp_path: Path) -> None:
    """Speeds and times that are left out are typical ones, and the winder says which."""
    short = dict.fromkeys((f"winder.{name}" for name in Winder.TIMES), None)
    short |= dict.fromkeys(("winder.idle_knives", "winder.max_reel_width_mm"), None)
    short |= {"winder.min_knife_spacing_mm": None, "winder.min_reel_width_mm": "80"}
    winder = read_text(tmp_path, mill_text({**short, "winder.set_up_min": "3"})).winder
    assert winder.typical == tuple(name for name in Winder.TIMES if name != "set_up_min")
    assert (winder.speed_m_min, winder.set_up_min) == (1000, 3)
    assert winder.idle_knives == "lifted"
    assert winder.max_reel_width_mm == 4000
    assert winder.min_knife_spacing_mm == 80
    broke = {**short, "winder.min_broke_width_mm": "60"}
    assert read_text(tmp_path, mill_text(broke)).winder.min_knife_spacing_mm == 60
    assert read_text(tmp_path, mill_text()).winder.typical == ()


def test_every_optional_key_arrives(tmp_path: Path) -> None:
    """Each optional key, once given, stands in the mill that is read."""
    changes: dict[str, str | None] = {
        "mill.width_step_mm": "0.5",
        "mill.trim_target_percent": "2.5",
        "winder.name": '"West"',
        "winder.kind": '"single-drum"',
        "winder.max_reels": "6",
        "winder.max_reels_per_side": "3",
        "winder.web_shift": "false",
        "winder.core_change_is_set_up": "true",
        "winder.length_change_is_set_up": "true",
        "winder.joins_allowed": "true",
        "winder.min_join_part_m": "300",
        "winder.knives_at_mm": '[15, 1000.5, "59 1/16 in"]',
        "winder.max_reel_mass_kg": "3000",
        "winder.max_set_mass_kg": "7000",
        "winder.idle_knives": '"parked"',
        "sheeter.waste_percent": "1.2",
        "sheeter.unwinds": "4",
        "sheeter.max_length_difference_m": "12",
        "sheeter.max_cuts_per_min": "300",
        "jumbo.loss_start_m": "120",
        "jumbo.loss_end_m": "80",
        "grade.wound_factor": "0.98",
    }
    more = """
    [values]
    under_delivery_penalty = 0.2
    over_delivery_penalty = 0
    trim_cost_per_t = 420
    set_up = 35
    knife_move = 2
    split_blocks = true
    currency = "EUR"
    [[tolerance]]
    under_percent = 7.5
    over_percent = 5
    [headings]
    customer = "Sold to"
    [ledger]
    url = "sqlite:///plans.sqlite"
    """
    mill = read_text(tmp_path, mill_text(changes, more))
    winder = mill.winder
    assert (mill.width_step_mm, mill.trim_target_percent) == (Fraction(1, 2), 2.5)
    assert (winder.name, winder.kind, winder.idle_knives) == ("West", "single-drum", "parked")
    assert (winder.max_reels, winder.max_reels_per_side) == (6, 3)
    assert (winder.web_shift, winder.joins_allowed) == (False, True)
    assert winder.min_join_part_m == 300
    assert (winder.core_change_is_set_up, winder.length_change_is_set_up) == (True, True)
    assert winder.knives_at_mm == (
        Fraction(15),
        Fraction(2001, 2),
        Fraction(945, 16) * Fraction(254, 10),
    )
    assert (winder.max_reel_mass_kg, winder.max_set_mass_kg) == (3000, 7000)
    assert mill.sheeters[0].waste_share == pytest.approx(0.012)
    assert mill.sheeters[0].unwinds == 4
    assert mill.sheeters[0].max_length_difference_m == 12
    assert mill.sheeters[0].max_cuts_per_min == 300
    assert (mill.jumbo.length_m, mill.jumbo.usable_m) == (9200, 9000)
    assert mill.grades[0].wound_caliper_um(100) == pytest.approx(137.2)
    assert mill.values == Values(
        under=Fraction(1, 5),
        over=Fraction(0),
        trim_cost_per_t=420,
        set_up=35,
        knife_move=2,
        split_blocks=True,
        currency="EUR",
    )
    (step,) = mill.tolerances
    assert (step.under, step.over) == (Fraction(3, 40), Fraction(1, 20))
    assert (step.grammage_to_gsm, step.below_t) == (None, None)
    assert mill.headings == {"customer": "Sold to"}
    assert mill.ledger == "sqlite:///plans.sqlite"


def test_widths_stay_exact(tmp_path: Path) -> None:
    """A tenth of a millimetre and a sixteenth of an inch are no floats."""
    mill = read_text(
        tmp_path,
        mill_text({"winder.min_edge_trim_mm": "15.1", "winder.min_reel_width_mm": '"12 1/16 in"'}),
    )
    assert mill.winder.min_edge_trim_mm == Fraction(151, 10)
    assert mill.winder.min_reel_width_mm == Fraction(193, 16) * Fraction(254, 10)


def test_the_fingerprint_is_the_file_s(tmp_path: Path) -> None:
    """The sha256 of the bytes and the path as given come with the mill."""
    path = tmp_path / "mill.toml"
    path.write_text(mill_text(), encoding="utf-8")
    mill = read_mill(path)
    assert mill.fingerprint == hashlib.sha256(path.read_bytes()).hexdigest()
    assert mill.source == str(path)


def test_the_mill_travels_to_another_process(tmp_path: Path) -> None:
    """A mill, and the error of a bad one, survive pickling."""
    mill = read_text(tmp_path, mill_text())
    assert pickle.loads(pickle.dumps(mill)) == mill
    with pytest.raises(MillFileError) as caught:
        read_text(tmp_path, mill_text({"winder.knives": "1"}))
    assert pickle.loads(pickle.dumps(caught.value)).faults == caught.value.faults


def test_a_mark_before_the_first_letter_is_no_fault(tmp_path: Path) -> None:
    """A file saved by an editor that begins UTF-8 with a byte order mark is read."""
    path = tmp_path / "mill.toml"
    path.write_text(mill_text(), encoding="utf-8-sig")
    assert read_mill(path).name == "Test mill"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "[mill]"),
        ("[mill]\nname = 'ü'".encode("utf-16"), "not a UTF-8 text"),
        ("[mill]\nname = 'ü'".encode("latin-1"), "not a UTF-8 text"),
        (b"[mill]\nname = Test mill", "line 2"),
        (b"[[winder]]\nknives = 14,5", "line 2"),
        (b"[[winder]]\nknives = 9\nknives = 9", "no TOML file"),
        (b"[mill]\nname = " + b"9" * 5000, "[mill], name"),
        (b"[mill]\nname = " + b"[" * 5000, "brackets"),
        (b"#" * 1_000_001, "larger than any mill file"),
    ],
)
def test_files_that_are_no_mill_file(tmp_path: Path, content: bytes, said: str) -> None:
    """Whatever the bytes, the answer is one error with a text, never a traceback of a parser."""
    path = tmp_path / "mill.toml"
    path.write_bytes(content)
    with pytest.raises(MillFileError) as caught:
        read_mill(path)
    assert said in str(caught.value)
    assert caught.value.exit_code == 4


def test_paths_that_cannot_be_read(tmp_path: Path) -> None:
    """A missing file and a folder are named, with the way to get a mill file."""
    for path, said in ((tmp_path / "none.toml", "no such file"), (tmp_path, "is a folder")):
        with pytest.raises(TrimoptError) as caught:
            read_mill(path)
        assert said in str(caught.value)
        assert str(path) in str(caught.value)
        assert "trimopt start" in str(caught.value)


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    """A missing key, an unknown one, a wrong type and a contradiction are told in one go."""
    text = mill_text(
        {
            "mill.name": None,
            "winder.colour": '"red"',
            "winder.speed_m_min": '"fast"',
            "winder.min_reel_width_mm": "2600",
            "grade.density_kg_m3": "700",
        },
        more="[pulper]\nsize = 3",
    )
    assert {(f.where, f.column) for f in faults_of(tmp_path, text)} == {
        ("[mill]", "name"),
        ("[[winder]] 1", "colour"),
        ("[[winder]] 1", "speed_m_min"),
        ("[[winder]] 1", "min_reel_width_mm"),
        ("[[grade]] 1 (Board)", "density_kg_m3"),
        ("[[sheeter]] 1 (Sheeter 1)", "max_web_mm"),
        ("", "[pulper]"),
    }


def _second_winder(name: str) -> str:
    first = mill_text().split("[[winder]]")[1].split("[[winder.core]]")[0]
    return f"[[winder]]\n{name}{first}[[winder.core]]\ninside_mm = 76\nwall_mm = 10"


def test_a_mill_may_have_several_winders(tmp_path: Path) -> None:
    """Each is read with its own cores; which of them is meant, planning does not guess."""
    text = mill_text({"winder.name": '"West"'}, more=_second_winder('name = "East"'))
    mill = read_text(tmp_path, text)
    assert [(each.name, len(each.cores)) for each in mill.winders] == [("West", 1), ("East", 1)]
    with pytest.raises(MillFileError, match=r"stands there 2 times.*keep one \[\[winder\]\]"):
        _ = mill.winder


def test_of_several_winders_each_has_its_own_name(tmp_path: Path) -> None:
    """Plans and the ledger name their winder."""
    (fault,) = faults_of(tmp_path, mill_text({"winder.name": '"W"'}, more=_second_winder("")))
    assert (fault.where, fault.column) == ("[[winder]] 2", "name")
    text = mill_text({"winder.name": '"W"'}, more=_second_winder('name = "w"'))
    (fault,) = faults_of(tmp_path, text)
    assert fault.wrong == "is the name of [[winder]] 1 (W) too"


def test_one_winder_that_serves_a_sheeter_is_enough(tmp_path: Path) -> None:
    """A core that a sheeter needs may be on one of the winders alone."""
    other = _second_winder('name = "East"').replace("inside_mm = 76", "inside_mm = 152")
    assert faults_of(tmp_path, mill_text({"winder.name": '"West"'}, more=other)) == ()
    cores = {"winder.core.inside_mm": "100", "stock_width.core_mm": "100"}
    none = mill_text({"winder.name": '"West"', **cores}, more=other)
    (fault,) = faults_of(tmp_path, none)
    assert (fault.where, fault.column) == ("[[sheeter]] 1 (Sheeter 1)", "core_inside_mm")


def test_every_fault_says_what_would_be_right(tmp_path: Path) -> None:
    """No fault of an empty file or of a file of wrong types goes without its cure."""
    wrong = {f"winder.{key}": "true" for key in ("name", "knives", "knives_at_mm", "speed_m_min")}
    for text in ("", mill_text({**wrong, "winder.web_shift": "1", "jumbo.width_mm": "{ a = 1 }"})):
        faults = faults_of(tmp_path, text)
        assert len(faults) >= 4
        assert all(fault.wrong and fault.right for fault in faults)
