"""The workbook of a plan: its sheets in order, written whole or not at all."""

from __future__ import annotations

import gc
import re
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from trimopt.ledger.as_run_columns import TITLE as AS_RUN
from trimopt.mill.model import Mill
from trimopt.plan.codec import write_whole
from trimopt.plan.model import Plan
from trimopt.report.xlsx.as_run_sheet import add_as_run
from trimopt.report.xlsx.balance_sheets import (
    add_assumed,
    add_balance,
    add_timetable,
    add_trade_off,
)
from trimopt.report.xlsx.fit_sheet import FitCurve, add_fit
from trimopt.report.xlsx.instructions_sheet import TITLE as INSTRUCTIONS
from trimopt.report.xlsx.instructions_sheet import add_instructions
from trimopt.report.xlsx.jumbos_sheet import add_jumbos
from trimopt.report.xlsx.list_sheets import add_cores, add_reels, add_sheeters
from trimopt.report.xlsx.loads_sheet import add_loads
from trimopt.report.xlsx.orders_sheet import add_orders
from trimopt.report.xlsx.sets_sheet import TITLE as SETS
from trimopt.report.xlsx.sets_sheet import add_carried, add_sets
from trimopt.report.xlsx.slitter_sheet import add_slitter_plan
from trimopt.report.xlsx.styles import add_styles
from trimopt.report.xlsx.summary_sheet import add_summary
from trimopt.text import for_workbook

__all__ = ["build_workbook", "write_workbook"]

_MAX_TITLE = 31  # characters that a sheet's name may have


def write_workbook(plan: Plan, path: Path, mill: Mill, *, fit: Sequence[FitCurve] = ()) -> None:
    """Write the workbook of `plan`.

    Parameters
    ----------
    plan : Plan
        A plan that was checked.
    path : Path
        Where to; an older file there is replaced in one step.
    mill : Mill
        The mill that the plan was made for.
    fit : sequence of FitCurve
        What each width costs in paper, for the sheet that sales asks; none: no such sheet.

    Raises
    ------
    ReportError
        When the file cannot be written, with the reason.
    """
    # Saved to memory first: a file that is cut short is then never seen under its name.
    whole = BytesIO()
    # Cells make many objects and no waste: to look for it would take a quarter of the time.
    collecting = gc.isenabled()
    gc.disable()
    try:
        build_workbook(plan, mill, fit=fit).save(whole)
    finally:
        if collecting:
            gc.enable()
    write_whole(path, whole.getvalue())


def build_workbook(plan: Plan, mill: Mill, *, fit: Sequence[FitCurve] = ()) -> Workbook:
    """Lay the sheets of `plan` out and give the workbook."""
    book = Workbook()
    first = book.active
    assert isinstance(first, Worksheet)
    book.remove(first)
    add_styles(book)
    add_summary(book, plan)
    for index, run in enumerate(plan.runs, start=1):
        if not run.blocks:
            continue  # all of it is carried over, or short of paper
        add_slitter_plan(book, plan, run, _slitter_title(index, run.name, len(plan.runs)))
    add_jumbos(book, plan)
    add_reels(book, plan)
    add_cores(book, plan)
    add_sheeters(book, plan, mill)
    add_loads(book, plan)
    add_orders(book, plan)
    add_balance(book, plan)
    add_trade_off(book, plan)
    add_timetable(book, plan)
    add_assumed(book, plan)
    printed = tuple(book.sheetnames)
    add_as_run(book, plan)
    add_sets(book, plan)
    add_instructions(book, plan)
    add_carried(book, plan, printed)
    add_fit(book, plan, mill, fit)
    for sheet in book.worksheets:
        tab = {AS_RUN: "8A8A8A", SETS: "1C1C1C", INSTRUCTIONS: "1C1C1C"}.get(sheet.title)
        if tab:
            sheet.sheet_properties.tabColor = tab
    properties = book.properties
    properties.title = for_workbook(f"Slitter plan {plan.number}")
    properties.creator = for_workbook(f"trimopt {plan.made_with}")
    properties.description = for_workbook(plan.caution)
    properties.created = properties.modified = plan.made_at.replace(tzinfo=None)
    return book


def _slitter_title(index: int, run: str, runs: int) -> str:
    """Name a slitter plan's sheet: by its number and run where there are several."""
    if runs == 1:
        return "Slitter plan"
    name = re.sub(r"[^\w .,()-]+", " ", run.replace("g/m²", "")).strip()
    return f"Slitter {index} {name}"[:_MAX_TITLE].rstrip()
