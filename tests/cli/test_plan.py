"""The main job from the command line: order book in, checked plan out."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from tests.cli.conftest import ROOT, Made
from trimopt.book import read_book
from trimopt.budget import Budget
from trimopt.cli import main, trimopt
from trimopt.cutting import SCALE, solve
from trimopt.making import prepare, runs_of
from trimopt.mill import read_mill
from trimopt.plan.codec import from_json
from trimopt.plan.issue import newest
from trimopt.plan.model import SCHEMA


def _run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "trimopt", *words],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_readme_names_the_command_that_was_run() -> None:
    """What the fixture runs is what the README tells a newcomer to run."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "pip install . && trimopt plan orders/shift.xlsx" in readme


def test_a_plan_is_written_whole_and_said_where(made: Made) -> None:
    """Workbook, page, labels and JSON stand under reports/, and stdout names them."""
    names = sorted(path.name for path in (made.folder / "reports").iterdir())
    assert names == ["shift-1-labels.csv", "shift-1.html", "shift-1.json", "shift-1.xlsx"]
    assert all(f"reports/{name}" in made.stdout for name in names)


def test_the_pipe_gets_plain_text(made: Made) -> None:
    """No escape codes where stdout is no terminal; the caution is there."""
    assert "\x1b" not in made.stdout
    assert "Planning document" in made.stdout
    assert made.plan.caution.split(".", maxsplit=1)[0] in made.stdout


def test_the_gap_is_small_and_stated(made: Made) -> None:
    """Jumbo metres, width and length together, are within 1 % of what is proven to be needed.

    Across the width alone the plan gives paper for set lengths that leave no butt, so its gap there
    is stated but wider; what the engine closes by itself is tested below.
    """
    (run,) = made.plan.runs
    assert run.proof.bound_kg <= run.proof.loss_kg
    assert run.proof.status in {"optimal", "feasible"}
    assert run.proof.metres_bound is not None
    assert run.proof.metres_used is not None
    assert run.proof.metres_bound >= 0.99 * run.proof.metres_used


def test_the_engine_closes_the_example_shift() -> None:
    """Least loss across the width is within 0.3 % of the paper used of the proven bound."""
    mill = read_mill(ROOT / "orders" / "mill.toml")
    (run,) = runs_of(read_book(ROOT / "orders" / "shift.xlsx", mill), mill)
    grade = mill.grade(run.grade)
    assert grade is not None
    instance = prepare(run, mill.for_paper(grade, run.grammage_gsm)).instance
    outcome = solve(instance, budget=Budget.lasting(60))
    assert outcome.loss is not None
    paper = sum(
        SCALE * instance.classes[c.pattern.winding_class].cost * c.sets for c in outcome.cuts
    )
    assert outcome.loss - outcome.bound <= 0.003 * paper


def test_planning_again_replaces_the_plan(made: Made, tmp_path: Path) -> None:
    """The second plan of a book carries the next number and the one it replaces."""
    assert newest(made.folder / "reports", "shift") == "shift-1"
    assert newest(tmp_path, "shift") == ""


def test_faults_stop_the_plan_and_nothing_is_written(tmp_path: Path) -> None:
    """A faulty book exits with 3, lists its faults and leaves no file behind."""
    done = _run(ROOT, "plan", "orders/faulty.xlsx", "--out", str(tmp_path / "out"))
    assert done.returncode == 3
    assert "row" in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_missing_mill_file_is_said_with_the_cure(tmp_path: Path) -> None:
    """Wrong usage: exit code 2, and how to lay one down."""
    book = tmp_path / "book.csv"
    book.write_text("order\n", encoding="utf-8")
    result = CliRunner().invoke(trimopt, ["plan", str(book)])
    assert result.exit_code == 2
    assert "trimopt start" in result.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--hours", "8", "--until", "2026-11-23T14:00"), "give one of them"),
        (("--until", "2026-11-23T05:00"), "no later than the shift's beginning, 2026-11-23 06:00"),
        (("--from", "2026-11-23T14:00", "--until", "2026-11-23T14:00"), "give a later end"),
        (("--hours", "0"), "0.0 is not in the range"),
    ],
)
def test_a_shift_that_ends_before_it_begins_is_refused(
    words: tuple[str, ...],
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Two ends, an end before the beginning, no hours at all: exit code 2 and what would do."""
    book = str(ROOT / "orders" / "shift.xlsx")
    monkeypatch.setattr("sys.argv", ["trimopt", "plan", book, *words])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    assert said in " ".join(capsys.readouterr().err.split())


_AS_OF = ("--as-of", "2026-11-23")


def _two_orders(folder: Path, head: str = "") -> Path:
    """A book of two orders, and the mill file beside it."""
    (folder / "mill.toml").write_bytes((ROOT / "orders" / "mill.toml").read_bytes())
    book = folder / "two.csv"
    book.write_text(
        f"{head}Order,Customer,Grade,Grammage,Reel or sheet,Width,Min. diameter,"
        "Max. diameter,Core,"
        "Quantity,Unit,Priority\n"
        "E1,Estrova Print,Folding boxboard,250,reel,1160,1240,1250,152,4,reels,1\n"
        "E2,Wrenlow Cartons,Folding boxboard,250,reel,1150,1140,1150,152,40,reels,2\n",
        encoding="utf-8",
    )
    return book


@pytest.mark.parametrize(
    ("told", "head"),
    [
        (("--hours", "1"), ""),
        (("--until", "2026-11-23T07:00"), "Shift ends,2026-11-23 14:00\n\n"),
        ((), "Shift ends,2026-11-23 07:00\n\n"),
    ],
)
def test_a_shift_that_ends_too_early_is_said_everywhere(
    tmp_path: Path, told: tuple[str, ...], head: str
) -> None:
    """An hour for two orders: terminal, JSON, page and workbook name what is carried over.

    The end comes from an option, or from the book, which the option overrules.
    """
    book = _two_orders(tmp_path, head)
    out = tmp_path / "out"
    words = ["plan", str(book), "--out", str(out), "--effort", "quick", *_AS_OF, *told]
    result = CliRunner().invoke(trimopt, words)
    assert result.exit_code == 0, result.output
    assert "the shift ends 2026-11-23 07:00" in result.stdout
    plan = from_json((out / "two-1.json").read_text(encoding="utf-8"))
    lines = {line.number: line for run in plan.runs for line in run.orders}
    assert (lines["E1"].state, lines["E2"].state) == ("met", "carried over")
    why = lines["E2"].text
    assert "of 40 reels" in why
    assert f"CARRIED OVER E2 Wrenlow Cartons {why}" in " ".join(result.stdout.split())
    assert why in (out / "two-1.html").read_text(encoding="utf-8")
    sheets = load_workbook(out / "two-1.xlsx", read_only=True)
    cells = {cell.value for row in sheets["Summary"].iter_rows() for cell in row}
    assert {"CARRIED OVER", why} <= cells
    cells = {cell.value for row in sheets["Orders"].iter_rows() for cell in row}
    assert {"CARRIED OVER", why} <= cells


def test_json_on_stdout_is_the_plan(tmp_path: Path) -> None:
    """--json prints what the JSON file holds, and nothing else."""
    words = ("--json", "--out", "out", "--effort", "quick", *_AS_OF)
    done = _run(tmp_path, "plan", str(_two_orders(tmp_path)), *words)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["schema"] == SCHEMA
    written = from_json((tmp_path / "out" / "two-1.json").read_text(encoding="utf-8"))
    assert from_json(done.stdout) == written
