"""trimopt: reel trim and slitting plans of a paper or board mill's finishing department.

Orders and a mill file in, a checked slitter plan out::

    import trimopt

    mill = trimopt.read_mill("orders/mill.toml")
    book = trimopt.read_book("orders/shift.xlsx", mill)
    plan = trimopt.make_plan(book, mill)
    assert not trimopt.verify_plan(plan, book, mill)
    written = trimopt.write_plan(plan, book, mill, "reports")

Names are loaded when they are first used, so that importing the package costs next to nothing.
`trimopt guide python` shows more.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trimopt.api import (
        WrittenPlan,
        answer_enquiry,
        answer_list,
        cannot_be_made,
        hold_enquiry,
        newest_plan,
        open_ledger,
        read_plan,
        write_plan,
    )
    from trimopt.book import (
        Book,
        Instruction,
        JumboInStock,
        Order,
        Product,
        RunDay,
        StockReel,
        Unit,
        read_book,
    )
    from trimopt.budget import Budget
    from trimopt.check import Finding, verify_plan
    from trimopt.edited_plans import read_edited, revise_plan
    from trimopt.errors import (
        FailedCheckError,
        Fault,
        HeldMeanwhileError,
        InfeasibleError,
        LedgerError,
        MillFileError,
        OrderBookError,
        OutOfTimeError,
        PlanError,
        ReportError,
        RequestError,
        TrimoptError,
    )
    from trimopt.fit import Answer, Enquiry, EnquiryService
    from trimopt.ledger.ledger import Ledger
    from trimopt.many_books import PlanJob, PlannedBook, make_plans
    from trimopt.mill import Mill, read_mill
    from trimopt.plan.difference import PlanDifference
    from trimopt.plan.model import Effort, Plan, Request, RunPlan
    from trimopt.plan.planning.plan_book import make_plan
    from trimopt.plan.replan import DoneSet, Replan, WhatRan
    from trimopt.plan.revision import EditedPlan, EditFault, Revision
    from trimopt.progress import RunProgress
    from trimopt.replans import replan, what_ran

    __version__: str

__all__ = [
    "Answer",
    "Book",
    "Budget",
    "DoneSet",
    "EditFault",
    "EditedPlan",
    "Effort",
    "Enquiry",
    "EnquiryService",
    "FailedCheckError",
    "Fault",
    "Finding",
    "HeldMeanwhileError",
    "InfeasibleError",
    "Instruction",
    "JumboInStock",
    "Ledger",
    "LedgerError",
    "Mill",
    "MillFileError",
    "Order",
    "OrderBookError",
    "OutOfTimeError",
    "Plan",
    "PlanDifference",
    "PlanError",
    "PlanJob",
    "PlannedBook",
    "Product",
    "Replan",
    "ReportError",
    "Request",
    "RequestError",
    "Revision",
    "RunDay",
    "RunPlan",
    "RunProgress",
    "StockReel",
    "TrimoptError",
    "Unit",
    "WhatRan",
    "WrittenPlan",
    "__version__",
    "answer_enquiry",
    "answer_list",
    "cannot_be_made",
    "hold_enquiry",
    "make_plan",
    "make_plans",
    "newest_plan",
    "open_ledger",
    "read_book",
    "read_edited",
    "read_mill",
    "read_plan",
    "replan",
    "revise_plan",
    "verify_plan",
    "what_ran",
    "write_plan",
]

_HOMES = {
    "trimopt.api": (
        "WrittenPlan", "answer_enquiry", "answer_list", "cannot_be_made", "hold_enquiry",
        "newest_plan",
        "open_ledger", "read_plan", "write_plan",
    ),
    "trimopt.book": (
        "Book", "Instruction", "JumboInStock", "Order", "Product", "RunDay", "StockReel",
        "Unit", "read_book",
    ),
    "trimopt.budget": ("Budget",),
    "trimopt.edited_plans": ("read_edited", "revise_plan"),
    "trimopt.errors": (
        "FailedCheckError", "Fault", "HeldMeanwhileError", "InfeasibleError", "LedgerError",
        "MillFileError",
        "OrderBookError", "OutOfTimeError", "PlanError", "ReportError", "RequestError",
        "TrimoptError",
    ),
    "trimopt.fit": ("Answer", "Enquiry", "EnquiryService"),
    "trimopt.ledger.ledger": ("Ledger",),
    "trimopt.many_books": ("PlanJob", "PlannedBook", "make_plans"),
    "trimopt.mill": ("Mill", "read_mill"),
    "trimopt.plan.planning.plan_book": ("make_plan",),
    "trimopt.plan.difference": ("PlanDifference",),
    "trimopt.plan.model": ("Effort", "Plan", "Request", "RunPlan"),
    "trimopt.plan.replan": ("DoneSet", "Replan", "WhatRan"),
    "trimopt.plan.revision": ("EditFault", "EditedPlan", "Revision"),
    "trimopt.progress": ("RunProgress",),
    "trimopt.check": ("Finding", "verify_plan"),
    "trimopt.replans": ("replan", "what_ran"),
}  # fmt: skip
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("trimopt")
    if name not in _HOME_OF:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    value = getattr(importlib.import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
