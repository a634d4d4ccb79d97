"""What `trimopt plan` leaves behind: numbers, files and the ledger's plan, taken together."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.cli.conftest import ROOT
from trimopt.cli import trimopt
from trimopt.errors import LedgerError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url

_BOOK = (
    "Order,Customer,Grade,Grammage,Reel or sheet,Width,Min. diameter,Max. diameter,Core,"
    "Quantity,Unit\nG1,Estrova Print,Folding boxboard,250,reel,1160,1140,1250,152,8,reels\n"
)
_KINDS = ("-labels.csv", ".html", ".json", ".xlsx")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a mill file and a book of one order, to work in."""
    mill = (ROOT / "orders" / "mill.toml").read_text(encoding="utf-8")
    (tmp_path / "mill.toml").write_text(mill, encoding="utf-8")
    (tmp_path / "b.csv").write_text(_BOOK, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _plan(*words: str, out: str = "out") -> Result:
    words = ("plan", "b.csv", "--as-of", "2026-11-23", "--quiet", "--out", out, *words)
    words += ("--effort", "quick")
    return CliRunner().invoke(trimopt, words)


def _standing(out: str = "out") -> list[str]:
    return sorted(path.name for path in Path(out).iterdir())


def test_a_filled_in_workbook_is_never_written_over() -> None:
    """Where only the workbook of a number is left, the next plan takes another."""
    assert _plan().exit_code == 0
    for kind in ("-labels.csv", ".html", ".json"):
        Path(f"out/b-1{kind}").unlink()
    filled = Path("out/b-1.xlsx").read_bytes() + b"filled in"
    Path("out/b-1.xlsx").write_bytes(filled)
    assert _plan().exit_code == 0
    assert _standing() == sorted(["b-1.xlsx", *(f"b-2{kind}" for kind in _KINDS)])
    assert Path("out/b-1.xlsx").read_bytes() == filled


def test_numbers_go_on_from_the_ledger() -> None:
    """In a folder that was emptied, or another desk's, no number is issued again."""
    assert _plan("--ledger", "l.sqlite").exit_code == 0
    assert _plan("--ledger", "l.sqlite", out="other desk").exit_code == 0
    assert _standing("other desk") == [f"b-2{kind}" for kind in _KINDS]
    assert sorted(Ledger(ledger_url("l.sqlite")).numbers()) == ["b-1", "b-2"]


def test_a_ledger_that_cannot_be_written_is_said_before_planning(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nobody waits for a plan only to hear that."""
    monkeypatch.setattr("trimopt.make_plan", lambda *_, **__: pytest.fail("planned"), raising=False)
    Path("l.sqlite").write_text("no ledger at all " * 100, encoding="utf-8")
    said = _plan("--ledger", "l.sqlite")
    assert isinstance(said.exception, LedgerError)
    assert not Path("out").exists()


def test_a_ledger_that_fails_at_the_end_costs_no_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """The files stand, under a number that the ledger did not have, and the command says why."""
    assert _plan("--ledger", "l.sqlite", out="other desk").exit_code == 0

    def failing(*_: object) -> None:
        raise LedgerError("l.sqlite: the disk is full")

    monkeypatch.setattr("trimopt.ledger.ledger.keep_in", failing)
    said = _plan("--ledger", "l.sqlite")
    assert str(said.exception) == "l.sqlite: the disk is full"
    assert _standing() == [f"b-2{kind}" for kind in _KINDS]
    assert "written: out/b-2.json" in said.stdout


def test_a_plan_that_was_cut_short_is_finished(monkeypatch: pytest.MonkeyPatch) -> None:
    """The next command that looks into the folder puts its files in place and says so."""
    with monkeypatch.context() as patch:
        patch.setattr("trimopt.plan.issue._moved", lambda *_: ())
        assert _plan().exit_code == 0
    assert _standing() == [".b-1.issue"]
    assert "plan b-1, whose writing was cut short, is whole now" in _plan().stderr
    assert _standing() == sorted(f"b-{n}{kind}" for n in (1, 2) for kind in _KINDS)
