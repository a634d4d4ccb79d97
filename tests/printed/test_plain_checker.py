"""The plain checker itself: one figure changed in one output is found, whichever it is."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.printed import findings
from tests.random_books import random_case
from tests.random_books.case import case_with_extras
from tests.random_books.made import Made, make


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """A small plan of a single-drum winder."""
    case = random_case(4)
    assert "single-drum" in case.traits
    found = make(case, tmp_path_factory.mktemp("checked"), time_limit_s=5)
    assert findings(found) == ()
    return found


@pytest.fixture
def copied(made: Made, tmp_path: Path) -> Made:
    """The same in a folder of its own, to be changed."""
    shutil.copytree(made.folder, tmp_path / "reports")
    return replace(made, folder=tmp_path / "reports")


def kinds(made: Made) -> set[str]:
    """Of what is found."""
    return {found.kind for found in findings(made)}


def changed(made: Made, ending: str, pattern: str, change: Callable[[re.Match[str]], str]) -> Made:
    """A file with the first match of a pattern changed."""
    path = made.file(ending)
    text, times = re.subn(pattern, change, path.read_text(encoding="utf-8"), count=1)
    assert times == 1
    path.write_text(text, encoding="utf-8")
    return made


def more(figure: str) -> str:
    """A figure with another last digit."""
    return figure[:-1] + str((int(figure[-1]) + 3) % 10)


@pytest.mark.parametrize(
    ("ending", "pattern", "kind"),
    [
        ("-labels.csv", r"(,[\d.]+,)(\d+)(,\d+,\d+,\d+\.\d,)", "diameter of a reel"),
        (".html", r"(Trim loss )([\d.]+)( %)", "sums of a run"),
        (".html", r"(edge trim front )([\d.,]+)(,)", "edge trim of a block"),
        (".html", r"(, diameter )([\d,]+)((?:–[\d,]+)? mm)", "diameter of a block"),
        (".json", r'("knives_mm": \[)(\d+)([,.])', "knife positions"),
        (".json", r'("to_m": )(\d+)(})', "metres on jumbos"),
        (".json", r'("planned": )(\d+)(,)', "planned of an order"),
        (".json", r'("butts_kg": )(\d+)([.,])', "balance"),
        (".json", r'("set_ups": )(\d+)(,)', "set-ups"),
    ],
)
def test_a_changed_figure_is_found(copied: Made, ending: str, pattern: str, kind: str) -> None:
    """One digit, in labels, page or JSON."""
    one = changed(copied, ending, pattern, lambda m: f"{m[1]}{more(m[2])}{m[3]}")
    assert kind in kinds(one)


@pytest.mark.parametrize(
    ("sheet", "heading", "kind"),
    [
        ("Reels", "Diameter mm", "diameter of a reel"),
        ("Reels", "Mass kg", "mass of a reel"),
        ("Jumbos", "Wound m", "Wound m of a jumbo"),
        ("Cores to cut", "Pieces", "cores to cut"),
        ("Timetable", "Minutes", "timetable"),
        ("Sets", "Length m", "sheet Sets"),
    ],
)
def test_a_changed_cell_is_found(copied: Made, sheet: str, heading: str, kind: str) -> None:
    """One cell of the workbook."""
    path = copied.file(".xlsx")
    book = load_workbook(path)
    rows = list(book[sheet].iter_rows())
    head = next(at for at, row in enumerate(rows) if any(cell.value == heading for cell in row))
    column = next(at for at, cell in enumerate(rows[head]) if cell.value == heading)
    cell = rows[head + 1][column]
    assert isinstance(cell.value, (int, float))
    cell.value = cell.value + 2
    book.save(path)
    assert kind in kinds(copied)


def test_a_changed_line_of_the_terminal_is_found(made: Made) -> None:
    """Sets counted otherwise than everywhere else."""
    said = re.sub(r"(\d+) sets?, ", lambda m: f"{int(m[1]) + 1} sets, ", made.stdout, count=1)
    assert "sums of a run" in kinds(replace(made, stdout=said))


def test_a_set_that_ran_and_is_printed_as_waiting_is_found(copied: Made) -> None:
    """Its labels, its cores and its row to fill in."""
    done = changed(copied, ".json", r'"done": false', lambda _: '"done": true')
    assert {"reels", "cores to cut", "sheet As run"} <= kinds(done)


@pytest.fixture(scope="module")
def beside(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """A small plan with a hole in a jumbo, reels from stock, and sheets cut of them."""
    found = make(case_with_extras(3_600_003), tmp_path_factory.mktemp("beside"), time_limit_s=2)
    assert findings(found) == ()
    return found


@pytest.mark.parametrize(
    ("pattern", "kind"),
    [
        (r'("defect_m": )(300)(,)', "metres cut out"),
        (r'("from_m": )(2469)(,)', "defects of a jumbo"),
        (r'("seconds": \[)()(\])', "reels with a defect, as seconds"),
        (r'("spoiled": \[)()(\])', "reels with a defect, lost"),
        (r'("stock_used_kg": )(\d+)(\.)', "balance"),
        (r'("defects_kg": )(\d+)(\.)', "balance"),
        (r'("name": "F)(\d)(")', "stock"),
        (r'("sheets": )(\d+)(,)', "sheets of a stock reel"),
    ],
)
def test_a_figure_of_what_lies_beside_is_found(
    beside: Made, tmp_path: Path, pattern: str, kind: str
) -> None:
    """Of defects, of reels from stock and of the sheets that are cut of them."""
    shutil.copytree(beside.folder, tmp_path / "reports")
    copy = replace(beside, folder=tmp_path / "reports")
    one = changed(copy, ".json", pattern, lambda m: f"{m[1]}{more(m[2]) if m[2] else 1}{m[3]}")
    assert kind in kinds(one)


def test_metres_that_the_crew_would_cut_out_are_found(beside: Made, tmp_path: Path) -> None:
    """As the heading of a block says them."""
    shutil.copytree(beside.folder, tmp_path / "reports")
    copy = replace(beside, folder=tmp_path / "reports")
    one = changed(copy, ".html", r"(cut out )(\d+)( m)", lambda m: f"{m[1]}{more(m[2])}{m[3]}")
    assert "metres cut out of a block" in kinds(one)


def test_a_mark_that_the_crew_would_trust_is_found(copied: Made) -> None:
    """All sets as the crew hold them, and no output says so; nor of a reel that is no good."""
    path = copied.file(".json")
    plan = path.read_text(encoding="utf-8")
    path.write_text(plan.replace('"issued": ""', '"issued": "book-0"'), encoding="utf-8")
    assert "mark of a block" in kinds(copied)
    path.write_text(plan.replace('"spoiled": []', '"spoiled": [1]', 1), encoding="utf-8")
    assert {"reels", "balance"} <= kinds(copied)
