"""The sheeters' loads: what each crew unwinds together, when, and which loads are part loads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.plan.model import Load, Plan
from trimopt.plan.reel_rows import reels_of
from trimopt.report.words.plan_words import loads_by_sheeter, loads_text
from trimopt.report.xlsx.sheet_setup import Column, new_sheet, set_widths, table
from trimopt.report.xlsx.styles import Value, merge, put

if TYPE_CHECKING:
    from collections.abc import Sequence

    from openpyxl import Workbook

__all__ = ["LOAD_COLUMNS", "add_loads"]

LOAD_COLUMNS = (
    Column(heading="Sheeter", width=13, kind="strong"),
    Column(heading="Load", width=6, kind="count"),
    Column(heading="Start", width=14, kind="moment"),
    Column(heading="Finish", width=14, kind="moment"),
    Column(heading="Reels wound by", width=14, kind="moment"),
    Column(heading="Order", width=12, kind="strong"),
    Column(heading="Customer", width=22),
    Column(heading="Run", width=28),
    Column(heading="Reel width mm", width=9, kind="mm"),
    Column(heading="Length m", width=9, kind="m"),
    Column(heading="Ups", width=6, kind="count"),
    Column(heading="Chop mm", width=8, kind="mm"),
    Column(heading="Sheets", width=10, kind="count"),
    Column(heading="Reels on stands", width=19),
    Column(heading="Which reels", width=33),
    Column(heading="✓", width=5),
)


def add_loads(book: Workbook, plan: Plan) -> None:
    """Add the loads of every sheeter in the order in which it takes them, where there are any."""
    lines = {(run.name, line.number): line for run in plan.runs for line in run.orders}
    # A load of no order of the plan is for the check to say; a list of work holds what can be done.
    known = [load for load in plan.loads if (load.run, load.order) in lines]
    if not known:
        return
    sheet = new_sheet(book, plan, "Sheeter loads", wide=True)
    set_widths(sheet, LOAD_COLUMNS)
    names = {
        (run.name, reel.set_number, reel.position): reel.identity
        for run in plan.runs
        for reel in reels_of(run)
    }

    def row_of(load: Load) -> tuple[Value, ...]:
        line = lines[load.run, load.order]
        return (
            load.sheeter,
            load.number,
            load.start,
            load.finish,
            load.ready,
            load.order,
            line.customer,
            load.run,
            load.width_mm,
            load.length_m,
            load.ups,
            line.chop_mm,
            load.sheets,
            f"{len(load.reels)} of {load.stands}" + (" PART LOAD" if load.part else ""),
            _pairs([names[load.run, reel.set_number, reel.position] for reel in load.reels]),
            None,
        )

    row = 1
    for name, loads in loads_by_sheeter(plan):
        put(sheet, (row, 1), f"{name}: {loads_text(loads)}", "text", "plan section")
        merge(sheet, row, 1, len(LOAD_COLUMNS))
        sheet.row_dimensions[row].height = 24
        row += 1
    table(sheet, row, LOAD_COLUMNS, map(row_of, known))
    sheet.freeze_panes = f"C{row + 1}"
    sheet.print_title_rows = f"{row}:{row}"


def _pairs(names: Sequence[str]) -> str:
    """Two names a line, so that none is broken."""
    return "\n".join("   ".join(names[at : at + 2]) for at in range(0, len(names), 2))
