"""trimopt fit with a ledger: what is held counts, and one of two gets the last paper."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from tests.book.books import REEL, write_xlsx
from tests.cli.conftest import ROOT
from trimopt.cli import trimopt
from trimopt.errors import LedgerError

_TODAY = date(2026, 11, 23)
_MILL = str(ROOT / "orders" / "mill.toml")
_ASKED = ("book.xlsx", "--mill", _MILL, "--width", "820", "--diameter", "1250", "--core", "152")
_LEDGER = ("--ledger", "ledger.sqlite")


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book of twenty reels; its jumbo has paper for them and one set more, however short."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("trimopt.cli.ledger_options.today", lambda: _TODAY)
    path = write_xlsx(tmp_path / "book.xlsx", [REEL])
    workbook = load_workbook(path)
    sheet = workbook.create_sheet("Jumbos")
    sheet.append(["Only these jumbos", "yes"])
    sheet.append(["Jumbo", "Grade", "Grammage [g/m²]", "Width [mm]", "Length [m]"])
    sheet.append(["J1", "Folding boxboard", 250, 4680, 15900])
    workbook.save(path)
    return path


@pytest.fixture
def planned(book: Path) -> Path:
    """The folder of the book and its plan."""
    plan = ["plan", "book.xlsx", "--mill", _MILL, "--effort", "quick", "--quiet"]
    assert CliRunner().invoke(trimopt, plan).exit_code == 0
    return book.parent


def _fit(*words: str) -> tuple[int, dict[str, Any], str]:
    done = CliRunner().invoke(trimopt, ["fit", *_ASKED, "--time-limit", "15", "--json", *words])
    return done.exit_code, json.loads(done.stdout) if done.stdout else {}, done.stderr


def test_what_is_held_counts_in_the_next_answer(planned: Path) -> None:
    """Twice five reels do not fit; the first, held, goes before the second until it is over."""
    assert planned.is_dir()
    code, answer, _ = _fit("--reels", "5", "--hold", "3", "--for", "Wren", *_LEDGER)
    assert (code, answer["held_as"]) == (0, "HELD-1"), answer["answer"]
    code, answer, said = _fit("--reels", "5", "--hold", "2026-11-26", "--for", "Kelvane", *_LEDGER)
    assert (code, answer["verdict"]) == (10, "paper is short"), answer["answer"]
    assert answer["held_as"] is None
    assert "nothing is held" in said
    assert _fit("--reels", "5")[0] == 0  # without the ledger nobody knows
    CliRunner().invoke(trimopt, ["held", *_LEDGER, "--release", "HELD-1"], catch_exceptions=False)
    assert _fit("--reels", "5", *_LEDGER)[0] == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--hold", "3"), "no ledger is named; give --ledger URL"),
        (("--hold", "yesterday", *_LEDGER), "no day"),
        (("--hold", "2026-11-22", *_LEDGER), "name a day from today, 2026-11-23"),
        (("--hold", "2029-01-01", *_LEDGER), "name a day from today, 2026-11-23"),
        (("--hold", "999", *_LEDGER), "not more than 366 days on"),
    ],
)
def test_what_cannot_be_held_is_refused_first(
    book: Path, words: tuple[str, ...], said: str
) -> None:
    """Before anything is solved, and with what to do."""
    assert book.is_file()
    code, _, errors = _fit("--reels", "5", *words)
    assert code == 2
    assert said in " ".join(errors.split())
    assert not Path("ledger.sqlite").exists()


def test_of_two_desks_that_hold_the_last_paper_at_once_one_gets_it(planned: Path) -> None:
    """The other is told to ask again; asked again, there is no paper."""
    words = [sys.executable, "-m", "trimopt", "fit", *_ASKED, "--time-limit", "15", "--json",
             "--reels", "5", "--hold", "3", *_LEDGER]  # fmt: skip
    desks = [
        subprocess.Popen(
            [*words, "--for", name], cwd=planned, env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for name in ("Wren", "Kelvane")
    ]  # fmt: skip
    said = [desk.communicate(timeout=200) for desk in desks]
    assert sorted(desk.returncode for desk in desks) == [0, 10], said
    held = json.loads(CliRunner().invoke(trimopt, ["held", *_LEDGER, "--json"]).stdout)
    assert [row["number"] for row in held] == ["HELD-1"]
    (row,) = held
    assert date.fromisoformat(row["held_until"]) >= date(2026, 11, 23) + timedelta(days=3)


def test_where_the_ledger_fails_the_answer_is_shown_first(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Then what is wrong with the ledger; the seconds that the answer took are not lost."""
    assert book.is_file()

    def refuse(*_: object, **__: object) -> None:
        raise LedgerError

    monkeypatch.setattr("trimopt.hold_enquiry", refuse, raising=False)
    words = ["fit", *_ASKED, "--time-limit", "0.1", "--reels", "5", "--hold", "3", *_LEDGER]
    done = CliRunner().invoke(trimopt, words)
    assert isinstance(done.exception, LedgerError)  # the program says it and ends with its code
    assert "820 mm" in done.stdout
    assert "held as" not in done.stdout
