"""What a book or the name of a file says never drives the terminal, whatever command shows it."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.cli.conftest import ROOT
from tests.test_text import HOSTILE, hidden
from trimopt.cli import main

_EVIL = "\x1b]0;owned\x07\u202e＝1+1" + HOSTILE.replace("\x00", "")[:-1]
_HEAD = (
    "Order,Customer,Grade,Grammage,Reel or sheet,Width,Min. diameter,Max. diameter,Core,"
    "Quantity,Unit\n"
)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder with a mill file, a hostile book, and one of many faults."""
    mill = (ROOT / "orders" / "mill.toml").read_text(encoding="utf-8")
    (tmp_path / "mill.toml").write_text(mill, encoding="utf-8")
    grade = "Folding boxboard,250,reel"
    good = f"G1{_EVIL},C{_EVIL},{grade},1160,1140,1250,152,8,reels\n"
    stopped = f"S1{_EVIL},C,{grade},1160,1900,1910,152,8,reels\n"
    faulty = f"F1{_EVIL},C,{grade},{_EVIL},1140,1250,152,{_EVIL},reels\n"
    (tmp_path / "b.csv").write_text(_HEAD + good + stopped + faulty, encoding="utf-8")
    many = "".join(f"M{n},C,{grade},wide,1140,1250,152,{-n},reels\n" for n in range(1, 301))
    (tmp_path / "many.csv").write_text(_HEAD + many, encoding="utf-8")
    monkeypatch.chdir(tmp_path)


def _said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["trimopt", *words])
        with pytest.raises(SystemExit) as stop:
            main()
    out, err = capsys.readouterr()
    assert isinstance(stop.value.code, int)
    return stop.value.code, out, err


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["check", "b.csv"], 3),
        (["check", "b.csv", "--json"], 3),
        (["plan", "b.csv"], 3),
        (["plan", "b.csv", "--leave-out-faulty"], 0),
        (["plan", "b.csv", "--leave-out-faulty", "--json"], 0),
        (["plan", f"no{_EVIL}.csv"], 2),
        (["record", f"no{_EVIL}", "b.csv", "--ledger", "l.sqlite"], 9),
        (["trend", "--ledger", f"no{_EVIL}"], 9),
    ],
)
def test_no_command_is_driven(
    capsys: pytest.CaptureFixture[str], words: list[str], code: int
) -> None:
    """Messages, results and JSON hold nothing that is not seen."""
    ended, out, err = _said(capsys, *words)
    assert ended == code, err
    assert out + err
    assert not hidden(out + err)


def test_the_labels_of_a_hostile_book_are_plain(capsys: pytest.CaptureFixture[str]) -> None:
    """No formula, nothing hidden, in what label programs and spreadsheets read."""
    assert _said(capsys, "plan", "b.csv", "--leave-out-faulty", "--quiet")[0] == 0
    text = Path("reports/b-1-labels.csv").read_text(encoding="utf-8-sig")
    assert not hidden(text)
    orders = {row["order"] for row in csv.DictReader(text.splitlines())}
    assert all(order.startswith("G1�") for order in orders)


def test_many_faults_are_cut_and_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """The first 200 in words, the other 400 by kind, summing up; JSON has them all."""
    _, _, err = _said(capsys, "check", "many.csv", "--as-of", "2026-11-23")
    lines = err.splitlines()
    assert lines[0] == "trimopt: many.csv: 600 faults"
    assert len([line for line in lines if " row " in line]) == 200
    assert lines[201] == "  and 400 more (--json lists all):"
    counted = [int(line.split("×")[0]) for line in lines[202:]]
    assert len(lines) == 204
    assert sum(counted) == 400
    for command in ("check", "plan"):
        _, out, _ = _said(capsys, command, "many.csv", "--as-of", "2026-11-23", "--json")
        assert len(json.loads(out)["faults"]) == 600
