"""What cannot be made, from the command line: the limit by name, and what would pass.

Every figure in a message that says what would pass is tried: with it the order can be made.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest

from tests.cli.conftest import ROOT
from trimopt.book import read_book
from trimopt.cli import main
from trimopt.making import prepare_placeable, runs_of
from trimopt.mill import read_mill

_HEAD = (
    "Order,Customer,Grade,Grammage,Reel or sheet,Width,Chop,Min. diameter,Max. diameter,Core,"
    "Quantity,Unit,Max. reel mass,Keep off edge\n"
)
_GOOD = "G1,Estrova Print,Folding boxboard,250,reel,1160,,1140,1250,152,8,reels,,\n"
_SHEET = "X1,Wrenlow Cartons,Folding boxboard,250,sheet,720,1020,,,,4000,sheets,,\n"

_JUMBO = "diameter_mm = 2950\nspool_mm = 610"
_REEL_MASS, _SET_MASS = "max_reel_mass_kg = 3500", "max_set_mass_kg = 8000"
_WALL = "inside_mm = 305\nwall_mm = 15"


def _bad(
    *,
    width: int = 1150,
    least: float | None = 1300,
    greatest: float | None = 1400,
    mass: int | None = None,
    no_edge: str = "",
) -> str:
    figures = [width, "", least or "", greatest or "", 152, 6, "reels", mass or "", no_edge]
    return f"X1,Wrenlow Cartons,Folding boxboard,250,reel,{','.join(map(str, figures))}\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the command said: exit code, both streams on one line each, the plan where there is."""

    code: int
    out: str
    err: str
    left_out: dict[str, str] | None  # None: nothing was written


def _laid_down(folder: Path, lines: str, changes: tuple[tuple[str, str], ...]) -> tuple[Path, Path]:
    text = (ROOT / "orders" / "mill.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    folder.mkdir(exist_ok=True)
    (folder / "mill.toml").write_text(text, encoding="utf-8")
    (folder / "b.csv").write_text(_HEAD + lines, encoding="utf-8")
    return folder / "b.csv", folder / "mill.toml"


def _planned(
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    lines: str,
    *changes: tuple[str, str],
) -> Said:
    book, _ = _laid_down(folder, lines, changes)
    out = folder / "out"
    with pytest.MonkeyPatch.context() as patch:
        words = ["trimopt", "plan", str(book), "--out", str(out), "--as-of", "2026-11-23"]
        words += ["--effort", "quick"]
        patch.setattr("sys.argv", words)
        with pytest.raises(SystemExit) as stop:
            main()
    shown = capsys.readouterr()
    plan = out / "b-1.json"
    left_out = None
    if plan.is_file():
        rows = json.loads(plan.read_text(encoding="utf-8"))["left_out"]
        left_out = {row["order"]: row["why"] for row in rows}
    return Said(
        code=int(stop.value.code or 0),
        out=" ".join(shown.out.split()),
        err=" ".join(shown.err.split()),
        left_out=left_out,
    )


def _passes(folder: Path, lines: str, *changes: tuple[str, str]) -> bool:
    """Whether every line can be made: no fault in the book, no order stopped."""
    book_path, mill_path = _laid_down(folder, lines, changes)
    mill = read_mill(mill_path)
    book = read_book(book_path, mill, as_of=date(2026, 11, 23))
    for run in runs_of(book, mill):
        grade = mill.grade(run.grade)
        assert grade is not None
        of_paper = mill.for_paper(grade, run.grammage_gsm)
        usable_m = of_paper.jumbo.usable_m
        if prepare_placeable(run, of_paper, usable_m=(usable_m,)).stopped:
            return False
    return not book.faults


@pytest.mark.parametrize(
    ("line", "said", "cure"),
    [
        (
            _bad(least=1510, greatest=1600),
            "makes diameters of 600 to 1500 mm; a min. of 1500 mm would pass",
            {"least": 1500, "greatest": 1600},
        ),
        (
            _bad(least=None, greatest=590),
            "makes diameters of 600 to 1500 mm; a max. of 600 mm would pass",
            {"least": None, "greatest": 600},
        ),
        (_bad(mass=700), "weighs 954 kg, above the order's max. reel mass 700 kg", {"mass": 955}),
        (_bad(mass=700), "reel mass of 955 kg, a width of 843 mm", {"mass": 700, "width": 843}),
        (_bad(mass=700), "or a min. diameter of 1116 mm", {"mass": 700, "least": 1116}),
    ],
)
def test_an_order_line_that_no_reel_can_meet(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    line: str,
    said: str,
    cure: dict[str, int | None],
) -> None:
    """A fault of the book: its row and column, the limit, and a figure with which it is planned."""
    found = _planned(tmp_path / "bad", capsys, _GOOD + line)
    assert (found.code, found.left_out) == (3, None)
    assert "b.csv, row 3, " in found.err
    assert said in found.err
    assert _passes(tmp_path, _GOOD + _bad(**cure))  # type: ignore[arg-type]  # its own keywords


def test_a_diameter_between_two_whole_metres(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of a board of 4 mm a metre is nearly 3 mm of diameter; the next ones on both sides pass."""
    thick = ("bulk_cm3_g = 1.60", "caliper_um = 4000")
    found = _planned(tmp_path / "bad", capsys, _GOOD + _bad(least=901, greatest=901), thick)
    assert (found.code, found.left_out) == (3, None)
    assert 'b.csv, row 3, Max. diameter: "901" no whole metre of length gives' in found.err
    assert "a max. diameter of 903 mm, a range with 900.2 or 902.9 mm in it" in found.err
    assert "(156 or 157 m on the 152 mm core) or a min. diameter of 900 mm" in found.err
    for low, high in ((900.2, 900.2), (902.9, 902.9), (901, 903), (900, 901)):
        assert _passes(tmp_path, _GOOD + _bad(least=low, greatest=high), thick)


@pytest.mark.parametrize(
    ("change", "said", "cures"),
    [
        (
            (_JUMBO, "usable_length_m = 3000"),
            (
                "the shortest reel in the diameter range is 3320 m, above the jumbo's usable "
                "length 3000 m; a usable length of 3320 m or a min. diameter of 1236 mm (3000 m on "
                "the 152 mm core) would pass"
            ),
            (
                ((_JUMBO, "usable_length_m = 3320"), 1300),
                ((_JUMBO, "usable_length_m = 3000"), 1236),
            ),
        ),
        (
            (_SET_MASS, "max_set_mass_kg = 3200"),
            (
                "the lightest set with it weighs 3785 kg, above the winder's max. set mass 3200 "
                "kg; the winder's max. set mass of 3785 kg or a min. diameter of 1196 mm (2807 m "
                "on the 152 mm core) would pass"
            ),
            (
                ((_SET_MASS, "max_set_mass_kg = 3785"), 1300),
                ((_SET_MASS, "max_set_mass_kg = 3200"), 1196),
            ),
        ),
    ],
)
def test_an_order_that_jumbo_or_set_mass_stops_is_left_out_and_the_rest_planned(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    change: tuple[str, str],
    said: str,
    cures: tuple[tuple[tuple[str, str], int], ...],
) -> None:
    """The other order is planned; this one is named first, and each cure that is named works."""
    found = _planned(tmp_path / "bad", capsys, _GOOD + _bad(), change)
    assert found.code == 0
    assert found.left_out is not None
    assert list(found.left_out) == ["X1"]
    assert said in found.left_out["X1"]
    assert f"LEFT OUT X1 {found.left_out['X1']}" in found.out
    for mill, least in cures:
        assert _passes(tmp_path, _GOOD + _bad(least=least), mill)


@pytest.mark.parametrize(
    ("change", "said", "cure"),
    [
        (
            (_JUMBO, "usable_length_m = 400"),
            (
                "the shortest reel in the diameter range is 2539 m, above the jumbo's usable "
                "length 400 m; a usable length of 2539 m would pass"
            ),
            (_JUMBO, "usable_length_m = 2539"),
        ),
        (
            (_SET_MASS, "max_set_mass_kg = 1500"),
            (
                "the lightest set with it weighs 2894 kg, above the winder's max. set mass 1500 "
                "kg; the winder's max. set mass of 2895 kg"
            ),
            (_SET_MASS, "max_set_mass_kg = 2895"),
        ),
    ],
)
def test_a_jumbo_or_a_mass_that_stops_every_set(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    change: tuple[str, str],
    said: str,
    cure: tuple[str, str],
) -> None:
    """With nothing to plan nothing is written; every order is named with what would pass."""
    found = _planned(tmp_path / "bad", capsys, _GOOD + _bad(), change)
    assert (found.code, found.left_out) == (5, None)
    assert "no order of" in found.err
    assert f"X1: {said[:20]}" in found.err
    assert f"G1: {said}" in found.err
    assert _passes(tmp_path, _GOOD, cure)


def test_a_mass_limit_that_stops_every_sheeter_reel(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A sheet line has no mass of its own: the winder's limit is named, and its nearest value."""
    found = _planned(tmp_path / "bad", capsys, _SHEET, (_REEL_MASS, "max_reel_mass_kg = 60"))
    assert (found.code, found.left_out) == (5, None)
    cure = (
        "above the winder's max. reel mass 60 kg; the winder's max. reel mass of 121 kg would pass"
    )
    assert "X1: the lightest reel in the diameter range weighs 120 kg" in found.err
    assert cure in found.err
    change = (_REEL_MASS, "max_reel_mass_kg = 121")
    assert _passes(tmp_path, _SHEET, change)


def test_core_walls_that_leave_no_room_for_paper(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A fault of the mill file: the core's outside, the smallest reel, the wall that would do."""
    thick = "inside_mm = 305\nwall_mm = 160"
    found = _planned(tmp_path / "bad", capsys, _GOOD, (_WALL, thick))
    assert (found.code, found.left_out) == (4, None)
    assert '[[winder.core]] 3, inside_mm: "305" and two walls make a core of 625 mm' in found.err
    assert "wider than the smallest reel (600 mm); write a wall_mm below 147.5" in found.err
    assert "raise [[winder]] min_reel_diameter_mm above 625" in found.err
    thin = (_WALL, "inside_mm = 305\nwall_mm = 147")
    assert _passes(tmp_path, _GOOD, thin)


@pytest.mark.parametrize(
    ("line", "changes", "said", "cure"),
    [
        (
            _bad(width=2500, no_edge="yes"),
            (),
            (
                "it may not lie at an edge, and no set has a reel, or a broke reel that the "
                "edge strips call for, on both sides of it; a width of 1940 mm by itself would pass"
            ),
            _bad(width=1940, no_edge="yes"),
        ),
        (
            _bad(width=4540, least=1140, greatest=1250),
            (("max_reel_width_mm = 2600", "max_reel_width_mm = 4640"),),
            (
                "what the set leaves beside it is too wide for edge trim (60 mm a side) and too "
                "narrow for a broke reel (300 mm); a width of 4560 mm by itself would pass"
            ),
            _bad(width=4560, least=1140, greatest=1250),
        ),
        (
            _bad(width=2500),
            (("max_reels = 12", "max_reels = 1"),),
            "with the broke reels beside it it needs more than 1 strip in a set",
            None,
        ),
    ],
)
def test_an_order_that_no_pattern_can_hold(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    line: str,
    changes: tuple[tuple[str, str], ...],
    said: str,
    cure: str | None,
) -> None:
    """It is left out with the limit that stops it; alone in its book, nothing is written."""
    found = _planned(tmp_path / "bad", capsys, line, *changes)
    assert (found.code, found.left_out) == (5, None)
    assert f"X1: no pattern can hold it: {said}" in found.err
    if cure is not None:
        good = _GOOD.replace("1140,1250,152", "1140,1250,305")
        assert not _passes(tmp_path, good + line, *changes)
        assert _passes(tmp_path, good + cure, *changes)


def test_the_rest_is_planned_without_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One order that no pattern can hold costs nobody else the plan."""
    other = _GOOD.replace("1140,1250,152", "1140,1250,305")
    found = _planned(tmp_path, capsys, other + _bad(width=2500, no_edge="yes"))
    assert found.code == 0
    assert list(found.left_out or {}) == ["X1"]
    assert "LEFT OUT X1 no pattern can hold it: it may not lie at an edge" in found.out
