"""`trimopt replan`: times as a person says them, and the number of the next plan."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click import UsageError
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from tests.cli.conftest import Clone
from tests.ledger.filling import write_csv
from trimopt import read_book, read_mill, read_plan
from trimopt.book.model import LeftOut
from trimopt.cli import trimopt
from trimopt.cli.replan import _require_its_book, _time_limit_s
from trimopt.errors import FilledSheetError, OrderBookError, RequestError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url
from trimopt.plan.codec import plan_json

pytestmark = pytest.mark.usefixtures("folder")

LIMIT = ("--time-limit", "1")


@pytest.fixture
def folder(clone: Clone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the plan's folder, to be worked in."""
    shutil.copytree(clone.folder, tmp_path / "mill")
    monkeypatch.chdir(tmp_path / "mill")
    return tmp_path / "mill"


def _replan(*words: str) -> Result:
    return CliRunner().invoke(trimopt, ["replan", "reports/shift-1.json", *LIMIT, *words])


def test_each_new_line_has_time_of_its_own() -> None:
    """Ten seconds for what the plan has, and half a second for each line that it has not."""
    plan = read_plan("reports/shift-1.json")
    book = read_book("orders/shift.xlsx", read_mill("orders/mill.toml"))
    assert _time_limit_s(plan, book) == 10
    more = tuple(replace(each, number=f"{each.number} new") for each in book.orders)
    grown = replace(book, orders=(*book.orders, *more))
    assert _time_limit_s(plan, grown) == 10 + 0.5 * len(more)


def test_lines_that_the_plan_left_out_are_its_orders_too() -> None:
    """All that it made is cancelled, and a line that it left out still stands in its book."""
    plan = read_plan("reports/shift-1.json")
    book = read_book("orders/shift.xlsx", read_mill("orders/mill.toml"))
    other = replace(book, orders=(replace(book.orders[0], number="left"),), left_out=())
    _require_its_book(replace(plan, left_out=(LeftOut(order="left", why="no jumbo"),)), other)
    with pytest.raises(UsageError, match="has none of the orders of plan shift-1"):
        _require_its_book(plan, other)


def test_the_next_plan_is_numbered_after_the_one_it_goes_on_from() -> None:
    """Also in a folder that has no plan; an hour is one of the day of the last set that was run.

    What is odd about the book as it is now is said as `plan` says it. Who had it planned again, and
    why, stands on the plan.
    """
    workbook = load_workbook("orders/shift.xlsx")
    row = next(row for row in workbook["Orders"] if row[0].value == "Order")
    workbook["Orders"].cell(row[0].row or 1, len(row) + 1, "Shade")
    workbook.save("orders/shift.xlsx")
    issue = ("--issue", "--by", "R. Larch", "--why", "a rush line", "--out", "r2")
    result = _replan("--done", "1", *issue, "--now", "09:00", "--json")
    assert result.exit_code == 0, result.output
    assert "warning: " in result.stderr
    assert "Shade" in result.stderr
    found = json.loads(result.stdout)
    plan = read_plan("r2/shift-2.json")
    assert (plan.number, plan.replaces) == ("shift-2", "shift-1")
    assert (plan.revised_by, plan.revised_why) == ("R. Larch", "a rush line")
    page = Path("r2/shift-2.html").read_text(encoding="utf-8")
    assert "Replaces plan shift-1, its rest planned again by R. Larch: a rush line." in page
    first = read_plan("reports/shift-1.json").runs[0].blocks[0].sets[0]
    assert first.start is not None
    assert found["now"] == f"{first.start:%Y-%m-%d}T09:00:00"


def test_a_plan_that_does_not_stand_as_said_is_warned_of(tmp_path: Path) -> None:
    """Nothing recorded, more recorded than said, a newer plan: each before a plan comes of it."""
    ledger = ("--ledger", str(tmp_path / "l.sqlite"))
    plan = read_plan("reports/shift-1.json")
    Ledger(ledger_url(ledger[1])).keep(plan)
    nothing = _replan("--recorded", "--issue", *ledger)
    assert nothing.exit_code == 2
    assert "nothing is recorded of plan shift-1" in nothing.output
    write_csv(Path("ran.csv"), plan, {(1, n): {"Done": "yes"} for n in (1, 2)})
    words = ["record", "reports/shift-1.json", "ran.csv", *ledger]
    assert CliRunner().invoke(trimopt, words).exit_code == 0
    edited = CliRunner().invoke(trimopt, ["revise", "reports/shift-1.xlsx", *ledger])
    assert "2 sets of shift-1 recorded as run, to run here" in edited.stderr
    refused = ("--now", "09:00", "--keep-until", "08:00")  # what is said stands before the plan
    less = _replan("--done", "1", *refused, *ledger)
    assert "1 set of shift-1 recorded as run, to run here" in less.stderr
    newer = replace(plan, number="shift-2", replaces="shift-1")
    Ledger(ledger_url(ledger[1])).keep(newer)
    again = _replan("--recorded", *refused, *ledger)
    assert "plan shift-2 stands in place of shift-1 by now" in again.stderr
    assert "to run here" not in again.stderr
    Path("reports/shift-2.json").write_text(plan_json(newer), encoding="utf-8")
    again = _replan("--done", "1", *refused)
    assert "plan shift-2 stands in place of shift-1 by now" in again.stderr


def test_who_and_why_go_together_and_with_issuing() -> None:
    """Either alone, or both where nothing is written, is wrong usage."""
    for said, words in (
        ("go together", ("--issue", "--by", "R. Larch")),
        ("go together", ("--issue", "--by", " ", "--why", "a rush line")),
        ("go with --issue", ("--by", "R. Larch", "--why", "a rush line")),
    ):
        result = _replan("--done", "1", *words)
        assert result.exit_code == 2, words
        assert said in result.output, words


def test_a_faulty_line_may_be_left_out_of_the_rest() -> None:
    """Of a plan whose book had none when it was made: the line is named, and why."""
    workbook = load_workbook("orders/shift.xlsx")
    sheet = workbook["Orders"]
    rows = list(sheet.iter_rows(values_only=True))
    headings = next(row for row in rows if row[0] == "Order")
    sheet.append([*rows[-1]])
    sheet.cell(sheet.max_row, 1, "RUSH")
    sheet.cell(sheet.max_row, headings.index("Width across [mm]") + 1, "wide")
    workbook.save("orders/shift.xlsx")
    with pytest.raises(OrderBookError, match="1 fault"):
        trimopt.main(["replan", "reports/shift-1.json", "--done", "1"], standalone_mode=False)
    result = _replan("--done", "1", "--leave-out-faulty")
    assert result.exit_code == 0, result.output
    said = " ".join(result.stdout.split())
    assert "- RUSH: left out: its line has faults: Width across [mm]" in said
    found = json.loads(_replan("--done", "1", "--leave-out-faulty", "--json").stdout)
    assert [each["order"] for each in found["difference"]["left_out"]] == ["RUSH"]


def test_times_that_cannot_be_are_wrong_usage() -> None:
    """Before now, or not written as a time: said at once, with what would be right."""
    result = _replan("--done", "1", "--now", "09:00", "--keep-until", "08:00")
    assert isinstance(result.exception, RequestError)
    assert "08:00, which is before now" in str(result.exception)
    result = _replan("--done", "1", "--now", "2026-11-22 09:00")
    assert isinstance(result.exception, RequestError)
    assert "no later than what was run began as planned, 2026-11-23 06:00" in str(result.exception)
    result = _replan("--done", "5-3")
    assert '"5-3": 5 to 3 is no set: write 3-5' in str(result.exception)
    result = _replan("--done", "1", "--book", "orders/week.xlsx")
    assert "has none of the orders of plan shift-1" in result.output
    result = _replan("--done", "1", "--now", "9 am")
    assert result.exit_code == 2
    assert "%Y" not in result.output
    assert "2026-11-23 09:00" in result.output


def test_a_sheet_beside_the_ledger_counts_a_set_once(tmp_path: Path) -> None:
    """Minutes that both have are one stop; two lengths of a jumbo are a fault, as in `record`."""
    ledger = ("--ledger", str(tmp_path / "l.sqlite"))
    plan = read_plan("reports/shift-1.json")
    filled = {(1, 1): {"Done": "yes", "Minutes stopped": 20}}
    write_csv(Path("ran.csv"), plan, filled)
    words = ["record", "reports/shift-1.json", "ran.csv", *ledger]
    assert CliRunner().invoke(trimopt, words).exit_code == 0
    alone = _replan("--as-run", "ran.csv", "--json")
    both = _replan("--as-run", "ran.csv", "--recorded", "--json", *ledger)
    assert json.loads(both.stdout)["now"] == json.loads(alone.stdout)["now"]
    jumbo = plan.runs[0].jumbos[0]
    for number, length_m in ((1, jumbo.length_m), (2, jumbo.length_m - 100)):
        filled[1, number] = {"Done": "yes", "Jumbo length m": length_m}
    write_csv(Path("ran.csv"), plan, filled)
    with pytest.raises(FilledSheetError, match="beside set 1; one length a jumbo"):
        raise _replan("--as-run", "ran.csv").exception or AssertionError


def test_a_jumbo_that_was_measured_narrower_is_said() -> None:
    """While sets are left on it; a few millimetres are the tape's."""
    plan = read_plan("reports/shift-1.json")
    said = {}
    for width_mm in (4672, 4660):
        write_csv(Path("ran.csv"), plan, {(1, 1): {"Done": "yes", "Jumbo width mm": width_mm}})
        refused = ("--now", "09:00", "--keep-until", "08:00")  # what is said stands before the plan
        said[width_mm] = _replan("--as-run", "ran.csv", *refused).stderr
    assert "was measured 4660 mm wide, planned 4680: list it in the order book" in said[4660]
    assert "measured" not in said[4672]
