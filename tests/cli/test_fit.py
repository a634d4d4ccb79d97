"""trimopt fit: the answer line, the exit codes, lists of enquiries."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import timedelta
from html import unescape
from pathlib import Path
from unittest.mock import Mock

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from tests.cli.conftest import NO_CLOCK, ROOT, Clone
from trimopt import interrupt
from trimopt.cli import fit, trimopt
from trimopt.errors import OrderBookError, PlanError
from trimopt.fit import Verdict
from trimopt.plan.codec import plan_json

pytestmark = pytest.mark.usefixtures("by_work")


def _fit(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(trimopt, ["fit", *words])
    return result.exit_code, result.output


def test_a_width_with_the_plan(clone: Clone, monkeypatch: pytest.MonkeyPatch) -> None:
    """The answer line comes first, and says what the width costs in paper.

    While the run is planned again an estimate is said: a verdict is said once, and stands.
    """
    monkeypatch.chdir(clone.folder)
    ask = ("fit", "orders/shift.xlsx", "--width", "735", "--reels", "12", *NO_CLOCK)
    result = CliRunner().invoke(trimopt, ask)
    assert result.exit_code == 0, result.output
    (quick,) = result.stderr.splitlines()
    assert quick.startswith("quick estimate: ")
    assert not any(verdict.value in quick.casefold() for verdict in Verdict)
    said = result.stdout
    first = next(line for line in said.splitlines() if line.strip())
    assert first.startswith(("Take it: ", "Neutral: "))
    assert "t per t sold, proven" in " ".join(said.split())
    assert len(said.splitlines()) <= 6


def test_ctrl_c_while_the_run_is_planned_again_keeps_the_answer(
    clone: Clone, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The quick answer is there already: the key ends the search for a better one."""
    monkeypatch.chdir(clone.folder)
    monkeypatch.setattr(interrupt, "_stage", interrupt.Stage.READING)
    monkeypatch.setattr(fit, "_say_estimate", lambda _: interrupt._pressed(2, None))
    try:
        code, said = _fit("orders/shift.xlsx", "--width", "741", "--reels", "9", "--details")
    finally:
        interrupt.ask_to_stop(yes=False)
    assert code in {0, 10}, said
    assert " 741 mm " in said
    assert "the time limit or Ctrl-C cut the search" in " ".join(said.split())


@pytest.mark.parametrize(("asked", "narrowed"), [("1600", True), ("1500", False)])
def test_a_diameter_beyond_the_winder_is_said(asked: str, narrowed: bool) -> None:
    """The customer hears that the largest reel is smaller than asked for."""
    mill = str(ROOT / "orders" / "mill.toml")
    paper = ("--mill", mill, "--grade", "Folding boxboard", "--grammage", "250")
    code, said = _fit("--width", "735", "--reels", "12", "--diameter", asked, *paper)
    assert code == 0
    limit = "the winder makes diameters of 600 to 1500 mm"
    assert (limit in " ".join(said.split())) is narrowed


def test_as_json(clone: Clone, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program reads the same, with a schema version and the proven bounds."""
    monkeypatch.chdir(clone.folder)
    ask = ("--width", "735", "--reels", "12", "--json", "--quiet", *NO_CLOCK)
    result = CliRunner().invoke(trimopt, ["fit", "orders/shift.xlsx", *ask])
    assert result.exit_code == 0
    answer = json.loads(result.stdout)
    assert answer["schema"] == 3
    assert answer["verdict"] in ("take it", "neutral")
    assert answer["extra_paper"]["proven_min"] <= answer["extra_paper"]["planned"]


def test_every_place_says_the_same(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """List and JSON: one estimate and bound; the workbook's box and JSON: one curve."""
    monkeypatch.chdir(clone.folder)
    asked, answered, page = (tmp_path / name for name in ("a.csv", "b.csv", "p.html"))
    asked.write_text("width;reels\n735;12\n", encoding="utf-8")
    ask = ("orders/shift.xlsx", "--quiet", *NO_CLOCK)
    one = ("--width", "735", "--reels", "12", "--page", str(page), "--json")
    told = json.loads(CliRunner().invoke(trimopt, ["fit", *ask, *one]).stdout)
    code, listed = _fit(*ask, "--list", str(asked), "--into", str(answered))
    assert code == 0, listed
    assert f'<p class="answer">{told["answer"]}</p>' in unescape(page.read_text(encoding="utf-8"))
    with answered.open(encoding="utf-8-sig", newline="") as file:
        row = next(csv.DictReader(file))
    extra = told["extra_paper"]
    assert float(row["sets held t/t"]) == pytest.approx(extra["sets_held"], abs=1e-4)
    assert float(row["extra paper min. t/t"]) <= extra["proven_min"] + 1e-4
    assert "put into the planned sets" in row["answer"]
    box = load_workbook(clone.folder / "reports" / "shift-1.xlsx", read_only=True)["Fit widths"]
    widths = {cells[0]: cells[4] for cells in box.iter_rows(min_row=3, values_only=True)}
    # The curve needs no plan made with it.
    monkeypatch.setattr("trimopt.fit.enquiry_service.replan_with", Mock(side_effect=PlanError))
    free = ("--core", "free", "--diameter", "free")
    told = json.loads(CliRunner().invoke(trimopt, ["fit", *ask, *one, *free]).stdout)
    assert widths[735] == pytest.approx(told["asked"]["estimate"], abs=1e-4)


def test_a_faulty_book_is_refused() -> None:
    """As for a plan; told to leave faulty lines out, the answer names them."""
    book = str(ROOT / "orders" / "faulty.xlsx")
    words = ("--grade", "Folding boxboard", "--grammage", "250", "--width", "735", "--reels", "12")
    result = CliRunner().invoke(trimopt, ["fit", book, *words])
    assert isinstance(result.exception, OrderBookError)
    assert len(result.exception.faults) > 10
    code, said = _fit(book, *words, "--leave-out-faulty", "--quiet", *NO_CLOCK)
    assert code == 0, said
    assert " lines of the book left out" in " ".join(said.split())


def test_hours_that_do_not_last_have_an_exit_code(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A plan that ends just before its shift does, and a thousand tonnes: ask the planner."""
    monkeypatch.chdir(clone.folder)
    finish = max(run.finish for run in clone.plan.runs if run.finish is not None)
    settings = replace(clone.plan.settings, until=finish + timedelta(minutes=44))
    path = tmp_path / "plan.json"
    path.write_text(plan_json(replace(clone.plan, settings=settings)), encoding="utf-8")
    ask = ("orders/shift.xlsx", "--plan", str(path), "--quiet", "--width", "735", *NO_CLOCK)
    code, said = _fit(*ask, "--tonnes", "1000")
    assert code == 10
    assert said.startswith("No hours left for ")
    result = CliRunner().invoke(trimopt, ["fit", *ask, "--tonnes", "1000", "--json"])
    told = json.loads(result.stdout)
    assert result.exit_code == 10
    assert told["verdict"] == "hours are short"
    assert told["lacking"]["what"] == "hours"


def test_without_a_book_the_limit_is_named() -> None:
    """Too narrow: exit code 5, the limit by name and what would pass."""
    code, said = _fit(
        "--mill", str(ROOT / "orders" / "mill.toml"), "--grade", "Folding boxboard",
        "--grammage", "250", "--width", "250", "--reels", "4",
    )  # fmt: skip
    assert code == 5
    assert "narrowest reel" in said
    assert "300 mm would pass" in " ".join(said.split())


def test_which_run_must_be_clear() -> None:
    """A book of six runs needs grade and grammage: wrong usage names the runs."""
    code, said = _fit(str(ROOT / "orders" / "week.xlsx"), "--width", "735", "--reels", "12")
    assert code == 2
    assert "Kraft liner" in said


def test_a_list_is_answered_in_the_same_kind_of_file(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """One answer a row; a bad row is a fault with its row and column."""
    monkeypatch.chdir(clone.folder)
    asked, answered = tmp_path / "asked.csv", tmp_path / "answered.csv"
    asked.write_text("width,reels\n735,12\n250,4\n", encoding="utf-8")
    ask = ("orders/shift.xlsx", "--quiet", *NO_CLOCK)
    code, said = _fit(*ask, "--list", str(asked), "--into", str(answered))
    assert code == 5, said  # as the worst row
    told = [line.partition(":")[0] for line in said.splitlines() if line.startswith("row ")]
    assert told == ["row 2 (1 of 2)", "row 3 (2 of 2)"]
    together = next(line for line in said.splitlines() if line.startswith("Together: all 1 "))
    with answered.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert [len(row) for row in rows[3:]] == [0, 1]
    assert rows[4] == [together]
    assert any("Cannot be made" in cell for cell in rows[2])
    beside = rows[0].index("together")
    assert [row[beside] for row in rows[1:3]] == ["yes", ""]


def test_an_option_that_can_be_read_two_ways_is_refused() -> None:
    """As in the order book; the remedy stands beside it."""
    code, said = _fit(str(ROOT / "orders" / "shift.xlsx"), "--width", "1,250", "--reels", "12")
    assert code == 2
    assert '--width: "1,250" can be read as 1.250 or as 1250; write 1250 or 1.25' in said
