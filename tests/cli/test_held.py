"""trimopt held, and the held enquiries that trimopt plan takes along."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from sqlalchemy import create_engine, text

from tests.book.books import REEL, example_mill, write_xlsx
from tests.cli.conftest import ROOT
from trimopt import Ledger, LedgerError, Order, Request, read_book, read_plan
from trimopt.cli import trimopt
from trimopt.cli.plan_many import jobs_of
from trimopt.ledger.ledger_file import ledger_url
from trimopt.ledger.ledger_tables import PARTS
from trimopt.plan.mass_balance import Balance

_TODAY = date(2026, 11, 23)
_PARTS = set(PARTS) & set(Balance.PARTS)
_MILL = str(ROOT / "orders" / "mill.toml")


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ledger:
    """A folder with a book of one order, and a ledger in which one like it is held for Varnholt."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("trimopt.cli.ledger_options.today", lambda: _TODAY)
    write_xlsx(tmp_path / "book.xlsx", [REEL])
    ledger = Ledger(ledger_url("ledger.sqlite"))
    _hold(ledger, "Varnholt")
    return ledger


def _order(**more: object) -> Order:
    (order,) = read_book("book.xlsx", example_mill()).orders
    return replace(order, **more)  # type: ignore[arg-type]


def _hold(ledger: Ledger, customer: str, days: int = 3) -> None:
    mill = example_mill()
    order = _order(number="", customer=customer, width_mm=Fraction(735), quantity=Fraction(12),
                   held_until=_TODAY + timedelta(days=days))  # fmt: skip
    known = [each.order.number for each in ledger.holds()] if ledger.is_there() else []
    ledger.hold(order, mill.name, mill.winder.name, on=_TODAY, counted=known)


def _run(*words: str) -> str:
    done = CliRunner().invoke(trimopt, list(words), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def _plan(*words: str) -> str:
    ledger = ("--ledger", "ledger.sqlite")
    return _run("plan", "book.xlsx", "--mill", _MILL, *ledger, "--effort", "quick", *words)


def test_it_is_listed_and_released(desk: Ledger) -> None:
    """For people and for programs; what is no longer held only where all is asked for."""
    ledger = ("--ledger", "ledger.sqlite")
    _hold(desk, "Kelvane", days=0)
    lines = _run("held", *ledger).splitlines()
    offered = "12 reels of 735 mm, Folding boxboard 250 g/m²  Winder 1"
    assert lines == [
        f"HELD-1  until 2026-11-26  Varnholt  {offered}",
        f"HELD-2  until 2026-11-23  Kelvane  {offered}",
    ]
    assert _run("held", *ledger, "--release", "HELD-1").startswith("HELD-1 is no longer held\n")
    (row,) = json.loads(_run("held", *ledger, "--json"))
    assert (row["number"], row["held_until"], row["width_mm"]) == ("HELD-2", "2026-11-23", 735)
    assert (row["mill"], row["winder"]) == (example_mill().name, "Winder 1")
    assert "HELD-1  released  Varnholt" in _run("held", *ledger, "--all")
    with pytest.raises(LedgerError, match="not held any more: released"):
        _run("held", *ledger, "--release", "HELD-1")


def test_a_plan_takes_it_along_until_it_is_ordered(desk: Ledger) -> None:
    """Held, not ordered, in front of terminal, workbook and page; then in its order's place."""
    said = _plan()
    assert "HELD, NOT ORDERED" in said
    assert "held until 2026-11-26" in said
    plan = read_plan("reports/book-1.json")
    assert [order.number for order in plan.request.held] == ["HELD-1"]
    summary = load_workbook("reports/book-1.xlsx", read_only=True)["Summary"]
    cells = [cell.value for row in summary for cell in row]
    assert "HELD, NOT ORDERED" in cells
    page = Path("reports/book-1.html").read_text(encoding="utf-8")
    assert "held, not ordered" in page
    assert _run("verify", "reports/book-1.json", "--mill", _MILL)
    assert "HELD" not in _plan("--without-held")
    write_xlsx(Path("book.xlsx"), [REEL, {**REEL, "Order": "R2", "Held enquiry": "HELD-1"}])
    assert "HELD, NOT ORDERED" not in _plan()
    plan = read_plan("reports/book-3.json")
    assert [line.number for run in plan.runs for line in run.orders] == ["R1", "R2"]
    assert desk.holds()[0].ended == "order R2 in plan book-3"
    write_xlsx(Path("book.xlsx"), [REEL])
    assert "HELD" not in _plan()


def test_the_rest_is_planned_with_what_is_held_by_then(
    desk: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was offered since the plan was issued joins it. What is over leaves it, run or not."""
    _plan()
    _hold(desk, "Kelvane", days=30)
    words = ("--mill", _MILL, "--ledger", "ledger.sqlite", "--issue", "--quiet", "--done")
    _run("replan", "reports/book-1.json", *words, "1")
    plan = read_plan("reports/book-2.json")
    assert [line.number for run in plan.runs for line in run.orders] == ["R1", "HELD-1", "HELD-2"]
    monkeypatch.setattr("trimopt.cli.ledger_options.today", lambda: _TODAY + timedelta(days=4))
    _run("replan", "reports/book-2.json", *words, "1-4")
    (run,) = read_plan("reports/book-3.json").runs
    assert [line.number for line in run.orders] == ["R1", "HELD-2"]
    assert run.balance.culls_kg > 0
    url = "sqlite:///ledger.sqlite"
    with create_engine(url).connect() as connection:
        named = " + ".join(f"s.{name}" for name in _PARTS)
        (lacking,) = connection.execute(text(
            f"SELECT SUM(s.used_kg - ({named})) FROM sets s JOIN plans p ON p.id = s.plan_id "
            "WHERE p.number = 'book-3'"
        )).one()  # fmt: skip
    assert lacking == pytest.approx(run.balance.culls_kg, abs=0.1)


def test_reels_that_were_run_for_it_are_those_of_its_order(desk: Ledger) -> None:
    """Ordered since, they are not made again; the order has what was run."""
    assert desk.holds()
    _plan()
    issued = read_plan("reports/book-1.json")
    ran = [block.sets[0].number for run in issued.runs for block in run.blocks
           if "HELD-1" in {position.order for position in block.positions}][:1]  # fmt: skip
    order = {**REEL, "Order": "R2", "Width across [mm]": 735, "Quantity": 12,
             "Held enquiry": "HELD-1"}  # fmt: skip
    write_xlsx(Path("book.xlsx"), [REEL, order])
    _run("replan", "reports/book-1.json", "--mill", _MILL, "--ledger", "ledger.sqlite",
         "--done", f"1-{ran[0]}", "--issue", "--quiet")  # fmt: skip
    plan = read_plan("reports/book-2.json")
    (run,) = plan.runs
    done = [row for block in run.blocks for row in block.sets if row.done]
    assert done
    assert not any(row.spoiled for row in done)
    made = {line.number: line.planned for line in run.orders}
    assert made.keys() == {"R1", "R2"}
    assert made["R2"] <= 13
    assert desk.holds()[0].ended == "order R2 in plan book-2"


def test_many_books_do_not_take_it_along(desk: Ledger, capsys: pytest.CaptureFixture[str]) -> None:
    """Each would make it; that it is left out is said."""
    jobs = jobs_of([Path("book.xlsx")] * 2, Path(_MILL), Request(), out=Path("reports"),
                   as_of=None, ledger="ledger.sqlite", far=False)  # fmt: skip
    assert not any(job.request.held for job in jobs)
    assert capsys.readouterr().err.count("held enquiries are left out") == 1
    desk.release("HELD-1", on=_TODAY)
    jobs_of([Path("book.xlsx")], Path(_MILL), Request(), out=Path("reports"), as_of=None,
            ledger="ledger.sqlite", far=False)  # fmt: skip
    assert "left out" not in capsys.readouterr().err


def test_it_is_not_planned_after_its_day(desk: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor with a ledger that nobody has made yet."""
    over = _TODAY + timedelta(days=4)
    monkeypatch.setattr("trimopt.cli.ledger_options.today", lambda: over)
    assert "HELD" not in _plan()
    assert not read_plan("reports/book-1.json").request.held
    assert desk.holds()[0].ended == ""
