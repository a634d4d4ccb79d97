"""Lists to work from: reels to be made, cores to cut, the sheeters' work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.mill.model import Mill
from trimopt.plan.model import Plan
from trimopt.plan.reel_rows import cores_to_cut, reels_of, sheeter_list
from trimopt.report.words.plan_words import number
from trimopt.report.xlsx.sheet_setup import Column, new_sheet, set_widths, table
from trimopt.report.xlsx.styles import Value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from openpyxl import Workbook

__all__ = [
    "CORE_COLUMNS",
    "REEL_COLUMNS",
    "SHEETER_COLUMNS",
    "add_cores",
    "add_reels",
    "add_sheeters",
]

REEL_COLUMNS = (
    Column(heading="Reel", width=18, kind="strong"),
    Column(heading="Run", width=28),
    Column(heading="Jumbo", width=9),
    Column(heading="Set", width=6, kind="count"),
    Column(heading="Place", width=7, kind="count"),
    Column(heading="Order", width=12),
    Column(heading="Customer", width=22),
    Column(heading="Destination", width=16),
    Column(heading="For", width=17),
    Column(heading="Width mm", width=10, kind="mm"),
    Column(heading="Core mm", width=8, kind="mm"),
    Column(heading="Length m", width=9, kind="m"),
    Column(heading="Diameter mm", width=10, kind="kg"),
    Column(heading="Mass kg", width=9, kind="kg"),
    Column(heading="Joins", width=7, kind="count"),
)

CORE_COLUMNS = (
    Column(heading="Run", width=34),
    Column(heading="Core inside mm", width=14, kind="mm"),
    Column(heading="Cut to mm", width=14, kind="mm"),
    Column(heading="Pieces", width=12, kind="count"),
    Column(heading="of them for broke reels", width=16, kind="count"),
    Column(heading="✓", width=6),
)

SHEETER_COLUMNS = (
    Column(heading="Sheeter", width=15, kind="strong"),
    Column(heading="Run", width=28),
    Column(heading="Order", width=12),
    Column(heading="Customer", width=22),
    Column(heading="Reels", width=8, kind="count"),
    Column(heading="Reel width mm", width=11, kind="mm"),
    Column(heading="Reel length m", width=16),
    Column(heading="Ups", width=6, kind="count"),
    Column(heading="Across mm", width=10, kind="mm"),
    Column(heading="Chop mm", width=10, kind="mm"),
    Column(heading="Edge trim a side mm", width=11, kind="mm"),
    Column(heading="Sheets", width=10, kind="count"),
    Column(heading="Reams", width=9, kind="count"),
    Column(heading="In kg", width=9, kind="kg"),
    Column(heading="Out kg", width=9, kind="kg"),
)


def add_reels(book: Workbook, plan: Plan) -> None:
    """Add one row a reel, in order of making."""
    rows: list[tuple[Value, ...]] = []
    for run in plan.runs:
        for reel in reels_of(run):
            use = f"{reel.sheeter}, {reel.ups} ups" if reel.kind == "sheeter" else "customer"
            rows.append(
                (
                    reel.identity,
                    reel.run,
                    reel.jumbo,
                    reel.set_number,
                    reel.position,
                    reel.order,
                    reel.customer,
                    reel.destination,
                    "STOCK, surplus" if reel.surplus else use,
                    reel.width_mm,
                    reel.core_mm,
                    reel.length_m,
                    reel.diameter_mm,
                    reel.mass_kg,
                    reel.joins,
                )
            )
    _list(book, plan, "Reels", REEL_COLUMNS, rows)


def add_cores(book: Workbook, plan: Plan) -> None:
    """Add the cores to cut, by run, inside diameter and length."""
    rows = [
        (run.name, core.core_mm, core.width_mm, core.pieces, core.for_broke or None, None)
        for run in plan.runs
        for core in cores_to_cut(run)
    ]
    _list(book, plan, "Cores to cut", CORE_COLUMNS, rows, wide=False)


def add_sheeters(book: Workbook, plan: Plan, mill: Mill) -> None:
    """Add the sheeters' work list, sheeter by sheeter, where there is any."""
    work = [(run.name, row) for run in plan.runs for row in sheeter_list(run, mill)]
    work.sort(key=lambda pair: pair[1].sheeter)
    rows: list[tuple[Value, ...]] = [
        (
            row.sheeter,
            run,
            row.order,
            row.customer,
            row.reels,
            row.reel_width_mm,
            ", ".join(number(length) for length in row.set_lengths_m),
            row.ups,
            row.across_mm,
            row.chop_mm,
            row.edge_trim_mm,
            row.sheets,
            row.reams,
            row.kg_in,
            row.kg_out,
        )
        for run, row in work
    ]
    if rows:
        _list(book, plan, "Sheeters", SHEETER_COLUMNS, rows)


def _list(
    book: Workbook,
    plan: Plan,
    title: str,
    columns: Sequence[Column],
    rows: Sequence[Sequence[Value]],
    *,
    wide: bool = True,
) -> None:
    sheet = new_sheet(book, plan, title, wide=wide)
    set_widths(sheet, columns)
    table(sheet, 1, columns, rows)
    sheet.freeze_panes = "B2"
    sheet.print_title_rows = "1:1"
    sheet.auto_filter.ref = f"A1:{sheet.cell(1, len(columns)).coordinate}"
