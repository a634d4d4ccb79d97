"""trimopt fit: the answer line, the exit codes, lists of enquiries."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.conftest import ROOT, Made
from trimopt.cli import trimopt


def _fit(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(trimopt, ["fit", *words])
    return result.exit_code, result.output


def test_a_width_with_the_plan(made: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    """The answer line comes first, and says what the width costs in paper."""
    monkeypatch.chdir(made.folder)
    code, said = _fit("orders/shift.xlsx", "--width", "735", "--reels", "12", "--quiet")
    assert code == 0, said
    first = next(line for line in said.splitlines() if line.strip())
    assert first.startswith("Fits:")
    assert "t of paper per t" in first


def test_as_json(made: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program reads the same, with a schema version and the proven bounds."""
    monkeypatch.chdir(made.folder)
    result = CliRunner().invoke(
        trimopt,
        ["fit", "orders/shift.xlsx", "--width", "735", "--reels", "12", "--json", "--quiet"],
    )
    assert result.exit_code == 0
    answer = json.loads(result.stdout)
    assert answer["schema"] == 1


def test_without_a_book_the_limit_is_named() -> None:
    """Too narrow: exit code 5, the limit by name and what would pass."""
    code, said = _fit(
        "--mill", str(ROOT / "orders" / "mill.toml"), "--grade", "Folding boxboard",
        "--grammage", "250", "--width", "250", "--reels", "4",
    )  # fmt: skip
    assert code == 5
    assert "least reel width" in said
    assert "300 mm would pass" in " ".join(said.split())


def test_which_run_must_be_clear() -> None:
    """A book of six runs needs grade and grammage: wrong usage names the runs."""
    code, said = _fit(str(ROOT / "orders" / "week.xlsx"), "--width", "735", "--reels", "12")
    assert code == 2
    assert "Kraft liner" in said


def test_a_list_is_answered_in_the_same_kind_of_file(
    made: Made, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """One answer a row; a bad row is a fault with its row and column."""
    monkeypatch.chdir(made.folder)
    asked, answered = tmp_path / "asked.csv", tmp_path / "answered.csv"
    asked.write_text("width,reels\n735,12\n250,4\n", encoding="utf-8")
    code, said = _fit("orders/shift.xlsx", "--list", str(asked), "--into", str(answered), "--quiet")
    assert code == 0, said
    with answered.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert len(rows) == 3
    assert any("Cannot be made" in cell for cell in rows[2])


def test_an_option_that_can_be_read_two_ways_is_refused() -> None:
    """As in the order book; the remedy stands beside it."""
    code, said = _fit(str(ROOT / "orders" / "shift.xlsx"), "--width", "1,250", "--reels", "12")
    assert code == 2
    assert "--width: «1,250» can be read as 1.250 or as 1250; write 1250 or 1.25" in said
