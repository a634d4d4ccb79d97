"""One figure of a plan is the same wherever it is printed."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from fractions import Fraction
from io import StringIO
from pathlib import Path
from unittest.mock import ANY

import pytest
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet
from rich.console import Console

from tests.fit.small_books import WORK
from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Unit
from trimopt.check import verify_plan
from trimopt.fit import Enquiry, EnquiryService
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url
from trimopt.ledger.trend_model import Asked
from trimopt.ledger.trend_sums import trend
from trimopt.mill.model import Mill
from trimopt.plan.codec import from_json, plan_json
from trimopt.plan.model import Effort, Plan, Request, RunPlan, UnusedJumbo
from trimopt.plan.planning.plan_book import make_plan
from trimopt.report.html.plan_page import page_html
from trimopt.report.terminal.plan_terminal import print_summary
from trimopt.report.words.fit_words import before_and_after
from trimopt.report.words.units import METRIC
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.whole_files import write_whole

WIDTHS = (1065, 830, 1495, 1235, 980)


@pytest.fixture(scope="module")
def mill() -> Mill:
    """The sample mill, free of limits on mass."""
    mill = sample_mill()
    winder = replace(mill.winder, max_edge_trim_mm=None, max_set_mass_kg=None)
    return replace(mill, winders=(winder,))


@pytest.fixture(scope="module")
def book() -> Book:
    """Orders that leave the winder room to move set lengths; one jumbo leaves a butt."""
    orders = tuple(
        board_reel(
            f"O{width}",
            width_mm=Fraction(width),
            quantity=Fraction(5),
            min_diameter_mm=1100.0,
            max_diameter_mm=1180.0,
        )
        for width in WIDTHS
    )
    return Book(
        source="s",
        fingerprint="f",
        as_of=date(2026, 3, 1),
        orders=orders,
        jumbos=(board_jumbo("K", 4000),),
    )


@pytest.fixture(scope="module")
def plan(book: Book, mill: Mill) -> Plan:
    """Its plan, which holds."""
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="one-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    return plan


def recounted(run: RunPlan) -> float:
    """The trim loss, from the sets as they are wound."""
    wound = useful = Fraction(0)
    for block in run.blocks:
        metres = sum(row.length_m for row in block.sets)
        wound += run.jumbo_width_mm * metres
        useful += metres * sum(p.width_mm for p in block.positions if p.kind != "broke")
    return float(1 - useful / wound)


def test_the_row_of_the_plan_is_the_plan(plan: Plan, mill: Mill) -> None:
    """The marked row has the plan's butts, trim and knife moves; others say they are estimates."""
    (run,) = plan.runs
    lengths = {row.length_m - block.length_m for block in run.blocks for row in block.sets}
    assert lengths != {0}, "the winder moved no set length"
    (chosen,) = (point for point in run.trade_off if point.chosen)
    balance, values = run.balance, mill.values
    assert balance.butts_kg > 0
    assert chosen.trim_loss == pytest.approx(recounted(run))
    assert chosen.with_butts_kg == pytest.approx(
        balance.edge_trim_kg
        + balance.pattern_trim_kg
        + balance.sheeter_kg
        + balance.surplus_kg
        + balance.butts_kg
        + float(values.under) * balance.under_kg
        + float(values.over) * balance.over_kg
    )
    patterns = {tuple(sorted(p.width_mm for p in block.positions)) for block in run.blocks}
    assert (chosen.patterns, chosen.knife_moves) == (len(patterns), run.knife_moves)
    assert (chosen.with_butts_estimate_kg, chosen.trim_loss_estimate) == (None, None)
    others = [point for point in run.trade_off if not point.chosen]
    assert others
    for point in others:
        assert (point.with_butts_kg, point.trim_loss, point.knife_moves) == (None, None, None)
        assert point.with_butts_estimate_kg is not None
        assert point.trim_loss_estimate is not None


@pytest.mark.parametrize("name", ["with_butts_kg", "trim_loss", "patterns", "knife_moves"])
def test_the_check_recomputes_the_row(plan: Plan, book: Book, mill: Mill, name: str) -> None:
    """A row that says another figure than the sets come to is found."""
    (run,) = plan.runs
    rows = tuple(
        replace(point, **{name: getattr(point, name) * 1.01 + 1}) if point.chosen else point
        for point in run.trade_off
    )
    said = verify_plan(replace(plan, runs=(replace(run, trade_off=rows),)), book, mill)
    assert {finding.where for finding in said} == {"trade-off, chosen point"}


def test_trim_loss_is_one_figure(plan: Plan, book: Book, mill: Mill, tmp_path: Path) -> None:
    """Terminal, page, workbook, JSON, the sales check and the trend say the same."""
    (run,) = plan.runs
    share = recounted(run)
    shown = f"{100 * share:.2f} %"
    out = StringIO()
    print_summary(plan, Console(file=out, width=100))
    said = " ".join(out.getvalue().split())
    assert f"trim loss {shown} (" in said
    assert f"{shown} {run.knife_moves} ◄ this plan" in said
    write_whole(tmp_path / "p.html", page_html(plan))
    page = (tmp_path / "p.html").read_text(encoding="utf-8")
    assert page.count(shown) == 3, "runs, run and trade-off"
    write_whole(tmp_path / "p.xlsx", plan_workbook(plan, mill))
    workbook = load_workbook(tmp_path / "p.xlsx", read_only=True)
    assert under(workbook["Summary"], "Trim loss", run.name) == pytest.approx(share)
    assert under(workbook["Trade-off"], "Trim loss", "◄ this plan, as wound") == pytest.approx(
        share
    )
    data = json.loads(plan_json(plan))["runs"][0]
    assert [p["trim_loss"] for p in data["trade_off"] if p["chosen"]] == [pytest.approx(share)]
    again = EnquiryService(mill, book, plan, **WORK).answer(enquiry(run)).planned
    assert again is not None
    assert before_and_after(again, METRIC)[2] == ("trim loss", shown, ANY)
    url = ledger_url(str(tmp_path / "ledger.sqlite"))
    Ledger(url).keep(plan)
    planned = trend(url, Asked(), by="day").whole.planned
    assert planned.trim_loss.share == pytest.approx(share)


def test_a_jumbo_that_no_run_takes_is_named_everywhere(plan: Plan, tmp_path: Path) -> None:
    """Terminal, page and workbook have its name and the reason; JSON has both as data."""
    unused = UnusedJumbo(
        name="M-9",
        grade="Folding board",
        grammage_gsm=255.0,
        width_mm=Fraction(3600),
        length_m=9000,
        why="no order is for it",
    )
    with_it = replace(plan, unused_jumbos=(unused,))
    words = "M-9, Folding board 255 g/m², 3,600 mm, 9,000 m: no order is for it"
    out = StringIO()
    print_summary(with_it, Console(file=out, width=100))
    assert words in out.getvalue()
    write_whole(tmp_path / "p.html", page_html(with_it))
    assert words in (tmp_path / "p.html").read_text(encoding="utf-8")
    write_whole(tmp_path / "p.xlsx", plan_workbook(with_it, sample_mill()))
    sheet = load_workbook(tmp_path / "p.xlsx", read_only=True)["Jumbos"]
    assert words in [cell.value for row in sheet.iter_rows() for cell in row]
    assert from_json(plan_json(with_it)).unused_jumbos == (unused,)


def under(sheet: Worksheet, heading: str, row_with: str) -> object:
    """The cell under a heading, in the first row below it that holds such a text."""
    head = next(cell for row in sheet.iter_rows() for cell in row if cell.value == heading)
    for row in sheet.iter_rows(min_row=head.row + 1):
        if row_with in [cell.value for cell in row]:
            return row[head.column - 1].value
    return None


def enquiry(run: RunPlan) -> Enquiry:
    """A few reels of the run's paper."""
    return Enquiry(
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        width_mm=Fraction(735),
        quantity=Fraction(2),
        unit=Unit.REELS,
        under=Fraction(0),
        over=Fraction(0),
    )
