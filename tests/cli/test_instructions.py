"""Instructions from the command line: a file of them, answers, a plan's workbook filled in."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from tests.book.books import REEL, write_csv
from tests.cli.conftest import ROOT
from trimopt.cli import trimopt
from trimopt.plan.codec import from_json
from trimopt.plan.model import Plan

#: Six sets that fill the deckle, so that a plan is soon there. Of fewest set-ups is one with A-2
#: and A-3 in every set of either, and twice 2 × A-4 + 3 × A-5: not what is asked.
NARROW = {"Min. diameter [mm]": 1240, "Under tolerance [%]": 0, "Over tolerance [%]": 0}
ROWS = (
    {**REEL, **NARROW, "Order": "A-1", "Width across [mm]": 1000, "Quantity": 8},
    {**REEL, **NARROW, "Order": "A-2", "Width across [mm]": 1310, "Quantity": 4},
    {**REEL, **NARROW, "Order": "A-3", "Width across [mm]": 1310, "Quantity": 4},
    {**REEL, **NARROW, "Order": "A-4", "Width across [mm]": 920, "Quantity": 4},
    {**REEL, **NARROW, "Order": "A-5", "Width across [mm]": 920, "Quantity": 6},
)
INSTRUCTIONS = """Instruction;Run;Orders;Pattern;Core [mm];Set length [m];Number
pin;;;4 × A-4 + 1 × A-5;;;1
apart;;A-2, A-3;;;;
forbid;;;5 × A-1;;;
pin;;;4 × A-2;152;;1
"""


def _folder(tmp_path: Path) -> Path:
    shutil.copy(ROOT / "orders" / "mill.toml", tmp_path / "mill.toml")
    write_csv(tmp_path / "book.csv", ROWS, settings={"As of": "2026-11-23"})
    (tmp_path / "instructions.csv").write_text(INSTRUCTIONS, encoding="utf-8")
    return tmp_path


def _plan(folder: Path, *words: str) -> tuple[str, Plan]:
    command = ["plan", "book.csv", "--out", "out", "--processes", "1", "--quiet", *words]
    command += ["--effort", "quick"]
    result = CliRunner().invoke(trimopt, command, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    newest = max((folder / "out").glob("*.json"), key=lambda path: path.stem)
    return result.output, from_json(newest.read_text(encoding="utf-8"))


def test_instructions_are_answered_and_a_workbook_can_be_filled_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Instructions of a csv are kept or named; a set of that plan is pinned in its own workbook.

    The workbook given back keeps what was asked before and the set that is pinned now; both plans
    verify, and neither does where the file of instructions has changed since.
    """
    monkeypatch.chdir(_folder(tmp_path))
    said, plan = _plan(tmp_path, "--instructions", "instructions.csv")
    (run,) = plan.runs
    assert [each.kept for each in run.instructions] == [True, True, True, False]
    assert "Instructions: 3 kept, 1 left out" in said
    assert "the deckle is 4,640 mm" in " ".join(said.split())
    page = (tmp_path / "out" / "book-1.html").read_text(encoding="utf-8")
    assert "Instructions: 3 kept, 1 left out" in page
    assert "pin 1 set: 4 × A-4 + 1 × A-5" in page
    for name in ("out/book-1.json", "out/book-1.xlsx"):
        result = CliRunner().invoke(trimopt, ["verify", name])
        assert result.exit_code == 0, result.output

    workbook = load_workbook("out/book-1.xlsx")
    sheet = workbook["Instructions"]
    rows = dict(enumerate(sheet.iter_rows(min_row=8, values_only=True), start=8))
    assert [values[0] for values in rows.values()][:4] == ["pin", "apart", "forbid", "pin"]
    place, chosen = next(
        (row, values)
        for row, values in rows.items()
        if values[0] == "free" and "A-3" in str(values[3])
    )
    sheet.cell(place, 1).value = "pin"
    workbook.save("ours.xlsx")
    _, again = _plan(tmp_path, "--instructions", "ours.xlsx")
    assert again.instructions_from is not None
    assert again.instructions_from.name == "ours.xlsx"
    (run,) = again.runs
    pinned = next(each for each in run.instructions if each.instruction.row == place)
    assert pinned.kept
    assert pinned.instruction.length_m == chosen[5]
    assert sum(each.kept for each in run.instructions) == 4
    assert CliRunner().invoke(trimopt, ["verify", "out/book-2.json"]).exit_code == 0

    (tmp_path / "instructions.csv").write_text(
        INSTRUCTIONS.replace("5 × A-1", "4 × A-1"), encoding="utf-8"
    )
    result = CliRunner().invoke(trimopt, ["verify", "out/book-1.json"])
    assert result.exit_code == 7
    assert "instructions: fingerprint of their file" in result.output


def test_a_faulty_instruction_stops_the_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`check` and `plan` list the fault with its row, exit code 3, and nothing is written."""
    monkeypatch.chdir(_folder(tmp_path))
    (tmp_path / "instructions.csv").write_text("Instruction;Orders\napart;A-1\n", encoding="utf-8")
    for words in (["check", "book.csv"], ["plan", "book.csv", "--out", "out"]):
        result = CliRunner().invoke(trimopt, [*words, "--instructions", "instructions.csv"])
        assert result.exit_code == 1
        assert 'instructions.csv, row 2, Orders: "A-1" fewer than two orders' in str(
            result.exception
        )
    assert not (tmp_path / "out").exists()


def test_what_is_asked_is_answered_or_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cap from the command line is answered; an order that was cancelled stops nothing."""
    monkeypatch.chdir(_folder(tmp_path))
    (tmp_path / "instructions.csv").write_text(
        "Instruction;Orders;Number\napart;A-1, A-9;\nset-ups;;30\n", encoding="utf-8"
    )
    said, plan = _plan(tmp_path, "--instructions", "instructions.csv", "--set-ups", "0")
    (run,) = plan.runs
    assert [(each.instruction.number, each.kept) for each in run.instructions] == [
        (30, True),
        (0, False),
    ]
    said = " ".join(said.split())
    assert "at most 0 set-ups: left out:" in said
    assert f"Nearest: {run.set_ups} set-ups, as planned" in said
    assert 'instruction in row 2 "A-9" is no order of the book that can be planned' in said
    (left,) = plan.left_out
    assert left.order == "instruction in row 2"
    warned = CliRunner().invoke(
        trimopt, ["check", "book.csv", "--instructions", "instructions.csv"]
    )
    assert warned.exit_code == 0
    assert '"A-9" is no order of the book' in warned.stderr
    assert CliRunner().invoke(trimopt, ["verify", "out/book-1.json"]).exit_code == 0
