"""The sample plan, enlarged by what it lacks, and its workbook, written once for all tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_mill
from trimopt.plan.model import Plan
from trimopt.plan.proof_data import TradePoint
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.whole_files import write_whole


def trade_points() -> tuple[TradePoint, ...]:
    """A trade-off of three points; the second is the plan's."""
    return (
        TradePoint(
            patterns=2,
            loss_kg=5200.0,
            loss_bound_kg=3000.0,
            chosen=False,
            with_butts_estimate_kg=5400.0,
            trim_loss_estimate=0.183,
        ),
        TradePoint(
            patterns=3,
            loss_kg=1226.0,
            loss_bound_kg=305.0,
            chosen=True,
            with_butts_kg=1230.0,
            trim_loss=0.0432,
            knife_moves=4,
        ),
        TradePoint(
            patterns=5,
            loss_kg=1000.0,
            loss_bound_kg=305.0,
            chosen=False,
            with_butts_estimate_kg=1100.0,
            trim_loss_estimate=0.0353,
        ),
    )


def trade_off_plan() -> Plan:
    """The sample plan with a trade-off for its first run."""
    plan = sample_plan()
    first, *rest = plan.runs
    return replace(plan, runs=(replace(first, trade_off=trade_points()), *rest))


def opened(plan: Plan) -> Workbook:
    """Write the workbook of a plan and open it again."""
    return load_workbook(BytesIO(plan_workbook(plan, sample_mill())))


@pytest.fixture(scope="session")
def plan() -> Plan:
    """A plan with every sheet."""
    return trade_off_plan()


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory, plan: Plan) -> Path:
    """Its workbook."""
    path = tmp_path_factory.mktemp("report") / "plan.xlsx"
    write_whole(path, plan_workbook(plan, sample_mill()))
    return path


@pytest.fixture(scope="session")
def book(written: Path) -> Workbook:
    """Its workbook, opened again; for looking only."""
    return load_workbook(written)


@pytest.fixture(scope="session")
def slim(written: Path) -> Path:
    """The workbook without its slitter plans, whose merged cells take long to open."""
    book = load_workbook(written)
    for title in [name for name in book.sheetnames if name.startswith("Slitter")]:
        del book[title]
    path = written.with_name("slim.xlsx")
    book.save(path)
    return path


@pytest.fixture
def edited(slim: Path, tmp_path: Path) -> Callable[[Callable[[Workbook], None]], Path]:
    """Give the workbook after a person's changes, as a file."""

    def edit(change: Callable[[Workbook], None]) -> Path:
        copy = load_workbook(slim)
        change(copy)
        path = tmp_path / "edited.xlsx"
        copy.save(path)
        return path

    return edit
