"""The public names, each from the module that it stands in: `__init__.py` has them from here."""

from trimopt.api import (
    answer_enquiry as answer_enquiry,
    answer_list as answer_list,
    cannot_be_made as cannot_be_made,
    hold_enquiry as hold_enquiry,
    newest_plan as newest_plan,
    open_ledger as open_ledger,
    read_plan as read_plan,
)
from trimopt.book import (
    Book as Book,
    Instruction as Instruction,
    JumboInStock as JumboInStock,
    Order as Order,
    Product as Product,
    RunDay as RunDay,
    StockReel as StockReel,
    Unit as Unit,
    read_book as read_book,
    write_template as write_template,
)
from trimopt.book.propose_export import proposal_for as proposal_for
from trimopt.budget import Budget as Budget
from trimopt.check import Finding as Finding, verify_plan as verify_plan
from trimopt.edited_plans import read_edited as read_edited, revise_plan as revise_plan
from trimopt.errors import (
    FailedCheckError as FailedCheckError,
    Fault as Fault,
    HeldMeanwhileError as HeldMeanwhileError,
    InfeasibleError as InfeasibleError,
    LedgerError as LedgerError,
    MillFileError as MillFileError,
    OrderBookError as OrderBookError,
    OutOfTimeError as OutOfTimeError,
    PlanError as PlanError,
    ReportError as ReportError,
    RequestError as RequestError,
    TrimoptError as TrimoptError,
    WrongTypeError as WrongTypeError,
)
from trimopt.fit import (
    Alternative as Alternative,
    Answer as Answer,
    Enquiry as Enquiry,
    EnquiryService as EnquiryService,
)
from trimopt.fit.enquiry_list import read_enquiry as read_enquiry, read_measure as read_measure
from trimopt.lay_down import lay_down as lay_down
from trimopt.ledger.ledger import Ledger as Ledger
from trimopt.ledger.recorded_sets import Recorded as Recorded
from trimopt.many_books import (
    PlanJob as PlanJob,
    PlannedBook as PlannedBook,
    make_plans as make_plans,
)
from trimopt.mill import (
    Mill as Mill,
    example_mill_text as example_mill_text,
    read_mill as read_mill,
    read_mill_text as read_mill_text,
)
from trimopt.mill.first_mill import (
    MILL_QUESTIONS as MILL_QUESTIONS,
    first_mill_text as first_mill_text,
)
from trimopt.plan.codec import plan_json as plan_json, plan_schema as plan_schema
from trimopt.plan.difference import (
    PlanDifference as PlanDifference,
    difference_json as difference_json,
)
from trimopt.plan.issue import newest_after as newest_after
from trimopt.plan.model import (
    Effort as Effort,
    Plan as Plan,
    Request as Request,
    RunPlan as RunPlan,
)
from trimopt.plan.planning.plan_book import make_plan as make_plan
from trimopt.plan.planning.run_workers import WORKER_BROKE as WORKER_BROKE
from trimopt.plan.replan import DoneSet as DoneSet, Replan as Replan, WhatRan as WhatRan
from trimopt.plan.revision import (
    EditedPlan as EditedPlan,
    EditFault as EditFault,
    Revision as Revision,
)
from trimopt.progress import RunProgress as RunProgress
from trimopt.replans import replan as replan, what_ran as what_ran
from trimopt.report.html.fit_page import fit_page_html as fit_page_html
from trimopt.report.json.fit_json import answer_fields as answer_fields, list_fields as list_fields
from trimopt.report.json.trend_json import trend_json as trend_json
from trimopt.report.xlsx.plan_workbook import crew_workbook as crew_workbook
from trimopt.report.xlsx.trend_workbook import trend_workbook as trend_workbook
from trimopt.written_plans import (
    WrittenPlan as WrittenPlan,
    plan_workers as plan_workers,
    write_plan as write_plan,
)

__all__: list[str]
__version__: str
