"""Names of files, mills and orders in one form, on whatever system a plan is made."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.conftest import ROOT
from trimopt.book import read_book
from trimopt.cli import trimopt
from trimopt.mill import read_mill

_APART, _ONE = "fru\u0308h", "früh"
_BOOK = (
    "Order,Customer,Grade,Grammage,Reel or sheet,Width,Min. diameter,Max. diameter,Core,"
    f"Quantity,Unit\n{_APART}1,K,Folding boxboard,250,reel,1160,1140,1250,152,8,reels\n"
)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mill and a book whose names hold a letter and its accent apart, as a Mac writes them."""
    (tmp_path / "orders").mkdir()
    mill = (ROOT / "orders" / "mill.toml").read_text(encoding="utf-8")
    mill = mill.replace('name = "', f'name = "{_APART} ', 1)
    (tmp_path / "orders" / "mill.toml").write_text(mill, encoding="utf-8")
    (tmp_path / "orders" / f"{_APART}.csv").write_text(_BOOK, encoding="utf-8")
    monkeypatch.chdir(tmp_path)


def test_a_plan_carries_names_in_one_form() -> None:
    """Of mill, order and files; the check finds the files again, and the book by its twin."""
    book = Path("orders", f"{_APART}.csv")
    words = ["--as-of", "2026-11-23", "--quiet"]
    result = CliRunner().invoke(trimopt, ["plan", str(book), *words])
    assert result.exit_code == 0, result.output
    text = Path("reports", f"{_ONE}-1.json").read_text(encoding="utf-8")
    assert "\u0308" not in text
    plan = json.loads(text)
    assert plan["number"] == f"{_ONE}-1"
    assert plan["book"]["name"] == f"orders/{_ONE}.csv"
    assert plan["mill_name"].startswith(_ONE)
    assert plan["runs"][0]["orders"][0]["number"] == f"{_ONE}1"
    checked = CliRunner().invoke(trimopt, ["verify", f"reports/{_ONE}-1.json"])
    assert checked.exit_code == 0, checked.output


def test_a_plan_made_on_windows_finds_its_files() -> None:
    """Older plans name them with the separators of that system."""
    words = ["--as-of", "2026-11-23", "--quiet"]
    assert CliRunner().invoke(trimopt, ["plan", f"orders/{_APART}.csv", *words]).exit_code == 0
    path = Path("reports", f"{_ONE}-1.json")
    text = path.read_text(encoding="utf-8").replace('"orders/', '"orders\\\\')
    path.write_text(text, encoding="utf-8")
    assert json.loads(text)["book"]["name"] == f"orders\\{_ONE}.csv"
    checked = CliRunner().invoke(trimopt, ["verify", str(path)])
    assert checked.exit_code == 0, checked.output


def test_orders_of_one_name_in_two_forms_are_twins() -> None:
    """They look alike on every sheet, so they are one number that stands twice."""
    twin = _BOOK + _BOOK.splitlines()[1].replace(_APART, _ONE) + "\n"
    Path("b.csv").write_text(twin, encoding="utf-8")
    book = read_book(Path("b.csv"), read_mill(Path("orders", "mill.toml")))
    assert [fault.wrong for fault in book.faults] == [
        "also used in row 3",
        "also used in row 2",
    ]
