"""The workbook of a plan: its sheets in order; and that of the crew."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trimopt.errors import types_checked
from trimopt.ledger.as_run_file import TITLE as AS_RUN
from trimopt.mill.model import Mill
from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import Plan
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units
from trimopt.report.xlsx import balance_sheets, list_sheets
from trimopt.report.xlsx.fit_sheet import FitCurve, add_fit
from trimopt.report.xlsx.form_sheets import TITLE as INSTRUCTIONS, add_as_run, add_instructions
from trimopt.report.xlsx.sets_sheet import TITLE as SETS, add_carried, add_sets
from trimopt.report.xlsx.slitter_sheet import add_slitter_plans
from trimopt.report.xlsx.styles import INK, RULE
from trimopt.report.xlsx.summary_sheet import add_summary
from trimopt.report.xlsx.workbook_writer import Workbook
from trimopt.text import for_workbook


@types_checked
def crew_workbook(plan: Plan) -> bytes:
    """Give what the crew prints, and nothing else: slitter plans, cores, loads, and As run."""
    book = Workbook(Units(plan.written))
    add_slitter_plans(book, plan)
    list_sheets.add_cores(book, plan)
    list_sheets.add_loads(book, plan)
    add_as_run(book, plan)
    return book.saved()


def plan_workbook(
    plan: Plan,
    mill: Mill,
    *,
    fit: Callable[[], Sequence[FitCurve]] = tuple,
    changes: PlanDifference | None = None,
) -> bytes:
    """Give the workbook of `plan` as a file's bytes.

    Parameters
    ----------
    fit
        Gives what each width costs in paper, for the sheet that sales asks; none: no such sheet.
        Called last, when all other sheets are made.
    changes : PlanDifference
        Against the plan that it goes on from; None: no such sheet.
    """
    book = Workbook(Units(plan.written))
    add_summary(book, plan)
    if changes is not None:
        list_sheets.add_changes(book, plan, changes)
    add_slitter_plans(book, plan)
    list_sheets.add_jumbos(book, plan)
    list_sheets.add_stock(book, plan)
    list_sheets.add_reels(book, plan)
    list_sheets.add_cores(book, plan)
    list_sheets.add_sheeters(book, plan, mill)
    list_sheets.add_loads(book, plan)
    list_sheets.add_orders(book, plan)
    balance_sheets.add_balance(book, plan)
    balance_sheets.add_trade_off(book, plan)
    list_sheets.add_ways_out(book, plan)
    balance_sheets.add_timetable(book, plan)
    balance_sheets.add_basis(book, plan)
    printed = tuple(book.sheets)
    add_as_run(book, plan)
    add_sets(book, plan)
    add_instructions(book, plan)
    add_carried(book, plan, printed)
    add_fit(book, plan, mill, fit())
    for title, colour in ((AS_RUN, RULE), (SETS, INK), (INSTRUCTIONS, INK)):
        book.sheets[title].sheet.set_tab_color(colour)
    book.book.set_properties(
        {
            "title": for_workbook(f"Slitter plan {plan.number}"),
            "author": for_workbook(f"trimopt {plan.made_with}"),
            "comments": for_workbook(text("plan.caution")),
            "created": plan.made_at.replace(tzinfo=None),
        }
    )
    return book.saved()
