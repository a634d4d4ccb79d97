"""A plan checked, numbered and written, by workers beside where there are some."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, closing
from dataclasses import dataclass, replace
from functools import partial
from importlib import import_module
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.errors import FailedCheckError, LedgerError, types_checked
from trimopt.whole_files import write_whole
from trimopt.workers import Workers, done_beside, own_processes

if TYPE_CHECKING:
    from trimopt.book.model import Book
    from trimopt.budget import Budget
    from trimopt.ledger.kept_plans import KeptPlan
    from trimopt.ledger.ledger import Ledger
    from trimopt.mill.model import Mill
    from trimopt.plan.difference import PlanDifference
    from trimopt.plan.issue import Issued
    from trimopt.plan.model import Plan, Request
    from trimopt.progress import RunProgress
    from trimopt.report.xlsx.fit_sheet import FitCurve

    Numbering = AbstractContextManager[tuple[tuple[str, ...], str, Callable[[Plan], KeptPlan]]]

_CHECK_AT, _FIT_AT, _FILES_AT = (0.9, 0.92), (0.92, 0.94), (0.94, 1.0)  # of all work for a plan
_CHECKS_WITH = ("trimopt.check", "trimopt.fit.curve", "trimopt.report.html.plan_page")
_WRITES_WITH = ("trimopt.report.xlsx.plan_workbook",)


@types_checked
def plan_workers(book: Book, processes: int | None) -> AbstractContextManager[Workers | None]:
    """Give processes for `make_plan` and `write_plan`: one for each run, two at least.

    Parameters
    ----------
    processes
        No more than so many; None: than there are processors. With 1 there are none.
    """
    # Slow to import: the workbook is made here, all else by workers.
    meanwhile = partial(_load, _WRITES_WITH), partial(_load, _CHECKS_WITH)
    return own_processes(processes, max(2, len(book.papers)), meanwhile=meanwhile)


def _load(names: Sequence[str]) -> None:
    for name in names:
        import_module(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPlan:
    """A plan under its number, and what became of it.

    `files` are its files, the JSON last. `kept` says how the ledger took it; where it did not,
    `ledger_error` has what it said, and the files stand all the same. `finished` are the numbers of
    plans whose writing was cut short and that are whole now.
    """

    plan: Plan
    files: tuple[Path, ...]
    kept: KeptPlan | None = None
    ledger_error: LedgerError | None = None
    finished: tuple[str, ...] = ()


@types_checked
def write_plan(
    plan: Plan,
    book: Book,
    mill: Mill,
    folder: str | os.PathLike[str] = "reports",
    *,
    request: Request | None = None,
    ledger: Ledger | None = None,
    taken: Sequence[str] = (),
    budget: Budget | None = None,
    observer: Callable[[RunProgress], None] | None = None,
    changes: PlanDifference | None = None,
    workers: Workers | None = None,
) -> WrittenPlan:
    """Check a plan, number it and write it: workbook, page, labels and JSON, all or none of them.

    Parameters
    ----------
    plan
        As `make_plan` gives it.
    book, mill, request
        What it was made from.
    folder
        Where plans stand; numbers go on from those that are there.
    ledger
        Keeps the plan, and keeps its number apart from those of other desks. Where it fails, the
        files are written all the same, and the answer has what it said.
    taken
        Numbers that are not given, as those of a ledger that may be out of reach by now.
    budget
        Bounds the time for the sales check's widths in the workbook.
    observer
        Told of check and files, as `make_plan` tells of what comes before them.
    changes
        Against the plan that it goes on from, for page and workbook (`Replan.difference`).
    workers
        Check and make the files beside this process.

    Raises
    ------
    FailedCheckError
        Something does not hold; nothing is written.
    ReportError
        The files cannot be written; none of them stands.
    """
    from trimopt.budget import Budget
    from trimopt.plan.issue import issue
    from trimopt.progress import Watch

    budget = (budget or Budget()).watched(Watch(observer) if observer else None)

    def write(numbered: Plan, into: Path) -> None:
        files = _files(
            numbered, book, mill, request, budget=budget, changes=changes, workers=workers
        )
        with closing(files):
            for ending, content in files:
                write_whole(into / (numbered.number + ending), content)

    stem = Path(plan.book.name).stem
    if plan.replanned is not None:  # it goes on from another, whatever its book is called by now
        stem = plan.replaces.rpartition("-")[0] or stem
    put = partial(issue, plan, folder=Path(folder), stem=stem, write=write)
    numbering = None if ledger is None else ledger.numbering(plan, stem)
    return _issued(put, numbering, taken)


def _files(
    plan: Plan,
    book: Book,
    mill: Mill,
    request: Request | None,
    *,
    budget: Budget,
    changes: PlanDifference | None,
    workers: Workers | None,
) -> Generator[tuple[str, bytes | str]]:
    """Ends of the names of a plan's files, and what is in them; nothing before the check is done.

    The workbook takes longest. Where there are workers, they do all else meanwhile.
    """
    from trimopt.check import verify_plan
    from trimopt.fit.curve import curves_of_plan
    from trimopt.report.html.plan_page import page_html
    from trimopt.report.labels import labels_csv
    from trimopt.report.xlsx.plan_workbook import plan_workbook

    beside = partial(done_beside, look=budget.over)
    checked = beside(workers, partial(verify_plan, plan, book, mill, request))
    curves = [
        beside(workers, partial(curves_of_plan, replace(plan, runs=(run,)), book, mill, budget))
        for run in plan.runs
    ]
    page = beside(workers, partial(page_html, plan, changes))
    labels = beside(workers, partial(labels_csv, plan))
    fit: Future[tuple[FitCurve, ...]] = Future()
    work = partial(plan_workbook, plan, mill, fit=fit.result, changes=changes)
    with ThreadPoolExecutor(1) as thread:
        workbook = beside(workers and Workers(executor=thread, count=1), work)
        try:
            budget.enter("check", *_CHECK_AT)
            if findings := checked():
                raise FailedCheckError.of(findings, "; nothing was written")
            budget.enter("widths for sales", *_FIT_AT)
            fit.set_result(tuple(chain.from_iterable(curve() for curve in curves)))
            budget.enter("files", *_FILES_AT)
            yield ".html", page()
            yield "-labels.csv", labels()
            yield ".xlsx", workbook()
        finally:
            fit.cancel()


def _issued(
    put: Callable[..., Issued], numbering: Numbering | None, taken: Sequence[str]
) -> WrittenPlan:
    """The plan as it was put into its folder, numbered by folder and ledger, and kept in this."""
    issued, kept, failed = None, None, None
    if numbering is not None:
        try:
            with numbering as (numbers, standing, keep):
                issued = put(kept=(*taken, *numbers), standing=standing)
                kept = keep(issued.plan)
        except LedgerError as error:
            failed = error
    issued = issued or put(kept=taken)
    return WrittenPlan(
        plan=issued.plan,
        files=issued.files,
        kept=kept,
        ledger_error=failed,
        finished=issued.finished,
    )
