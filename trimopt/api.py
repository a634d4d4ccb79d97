"""What callers do with the packages together: plan, check, write, read back, ask, keep.

`import trimopt` gives these names and those of the model. The command line plans, checks and writes
by them alone; what it shows and asks on the way it takes from `report` and `book`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trimopt.errors import ReportError, RequestError, types_checked

if TYPE_CHECKING:
    from trimopt.book.model import Book, Order
    from trimopt.fit import Alternative, Answer, Enquiry, EnquiryService
    from trimopt.fit.enquiry_list import Listed
    from trimopt.fit.together import Together
    from trimopt.ledger.ledger import Ledger
    from trimopt.mill.model import Mill
    from trimopt.plan.model import Plan


@types_checked
def cannot_be_made(book: Book, mill: Mill) -> dict[str, str]:
    """Say which orders of a book the mill cannot make: by number, the limit and what would pass."""
    from trimopt.making import runs_of
    from trimopt.plan.planning.run_jumbos import jumbos_in_book, stopped_orders

    runs = runs_of(book, mill)
    return {
        order.number: why
        for run in runs
        for order, why in stopped_orders(run, jumbos_in_book(run, runs, book, mill))
    }


def is_workbook(path: Path) -> bool:
    """Whether a file is one of a spreadsheet program, by its name."""
    return path.suffix.lower() in (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")


def read_plan(path: str | os.PathLike[str]) -> Plan:
    """Read a plan back from its JSON file or its workbook.

    Raises
    ------
    ReportError
        The file is neither, or cannot be read; or a person changed the workbook's sets, and what
        follows from that is not worked out (`read_edited`, `revise_plan`).
    """
    from trimopt.plan.codec import from_json

    path = Path(path)
    if is_workbook(path):
        from trimopt.report.read_back.plan_from_workbook import read_back

        back = read_back(path)
        if back.changes:
            message = (
                f"{path}: its sheet Sets was changed since plan {back.issued.number} was issued; "
                f"issue it with: trimopt revise {path}, or name {back.issued.number}.json"
            )
            raise ReportError(message)
        return back.plan
    try:
        return from_json(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, ReportError) as error:
        reason = getattr(error, "strerror", None) or error
        message = f"{path}: {reason}; name the plan's .json file or its workbook"
        raise ReportError(message) from error


@types_checked
def newest_plan(
    book: str | os.PathLike[str], mill: Mill, folder: str | os.PathLike[str] = "reports"
) -> Path | None:
    """Find the JSON file of the newest plan of an order book; None where there is none.

    Where some were made from the book and the mill file as they are now, the newest of those.

    Parameters
    ----------
    book
        The order book's file, of whose name numbers of plans are made.
    mill
        The plan is of its winder.
    folder
        Where plans stand. Plans whose writing was cut short are finished first.
    """
    import hashlib

    from trimopt.plan.issue import finish, newest

    folder, winder = Path(folder), mill.winder.name
    finish(folder)
    book = Path(book)
    states = {"mill": mill.fingerprint}
    if book.is_file():
        states["book"] = hashlib.sha256(book.read_bytes()).hexdigest()

    def is_of_winder(plan: Mapping[str, Any]) -> bool:
        return bool(plan.get("winder", winder) == winder)

    def is_of_now(plan: Mapping[str, Any]) -> bool:
        made_from = {key: plan.get(key, {}).get("fingerprint") for key in states}
        return is_of_winder(plan) and made_from == states

    number = newest(folder, book.stem, is_of_now, states.values())
    number = number or newest(folder, book.stem, is_of_winder)
    return folder / f"{number}.json" if number else None


@types_checked
def answer_enquiry(
    enquiry: Enquiry,
    mill: Mill,
    book: Book | None = None,
    plan: Plan | None = None,
    *,
    seconds: float = 5.0,
    seed: int = 0,
    stock_widths_mm: Sequence[Fraction] = (),
    help_seconds: float = 0.0,
    observer: Callable[[Alternative], None] | None = None,
    leave_out_faulty: bool = False,
    held: Sequence[Order] = (),
) -> Answer:
    """Say whether an enquiry fits, with what, and what it costs in paper.

    For more than one, an `EnquiryService` keeps what it found out of each run.

    Parameters
    ----------
    enquiry
        What a customer asks for.
    mill, book, plan
        The mill, the order book that the enquiry would join, and the plan of that book. Without a
        book only what needs none is answered; a run without a plan is planned first.
    seconds
        The longest search with the enquiry in the run.
    seed
        The same again gives the same.
    stock_widths_mm
        Widths that may be made for stock beside it.
    help_seconds
        How long to look for what would help; 0: not at all.
    observer
        Told of each change that helps as it is solved.
    leave_out_faulty
        Answer on the lines of the book that have no fault.
    held
        Held enquiries, which go before this one.

    Raises
    ------
    OrderBookError
        The book has faults, or the enquiry has.
    """
    from trimopt.fit import EnquiryService

    service = EnquiryService(
        mill,
        book,
        plan,
        seconds=seconds,
        seed=seed,
        stock_widths_mm=tuple(stock_widths_mm),
        leave_out_faulty=leave_out_faulty,
        held=tuple(held),
    )
    return service.answer(enquiry, help_seconds=help_seconds, observer=observer)


@types_checked
def hold_enquiry(
    answer: Answer,
    mill: Mill,
    ledger: Ledger,
    until: date,
    *,
    on: date,
    counted: Sequence[str] = (),
) -> Order:
    """Hold what an answer says fits, and give it with its number; plans and answers count it then.

    Parameters
    ----------
    answer
        Of an `EnquiryService` that was given what is held already.
    mill, ledger
        Where it is to be made, and kept.
    until, on
        The last day of it, and today.
    counted
        Numbers of what was held when the answer was made.

    Raises
    ------
    RequestError
        The answer does not say that it fits, or the day is over.
    HeldMeanwhileError
        Something else was held since.
    LedgerError
        Just this is held already, or the ledger cannot be written.
    """
    from trimopt.fit import as_order
    from trimopt.paper import Measured

    if until < on:
        raise RequestError(f"{until} is over; name a day from {on} on")
    if answer.stop or answer.lacking is not None or answer.placement is None:
        raise RequestError("the answer does not say that it fits a run of the book")
    order = replace(as_order(answer.enquiry), number="", held_until=until)
    if not answer.written.metric:
        figure = answer.written.figure(Measured.WIDTH, order.width_mm)
        width = f"{figure} {answer.written.unit(Measured.WIDTH)}"
        order = replace(order, as_written=(("width", width),))
    return ledger.hold(order, mill.name, mill.winder.name, on=on, counted=counted)


@types_checked
def answer_list(
    path: str | os.PathLike[str],
    into: str | os.PathLike[str],
    service: EnquiryService,
    *,
    grade: str = "",
    grammage_gsm: float | None = None,
    help_seconds: float = 0.0,
    observer: Callable[[int, Answer, int, int], None] | None = None,
) -> tuple[Listed, tuple[Answer | None, ...], Together | None]:
    """Answer a list of enquiries one by one and together, and write it again with the answers.

    Parameters
    ----------
    path
        A csv or xlsx file with the headings of an order book.
    into
        The answered list, csv or xlsx.
    grade, grammage_gsm
        Of rows that name none; else that of the book's run that fits.
    help_seconds
        For each row, how long to look for what would help.
    observer
        Told of each answer as soon as it is known: the number of its row, the answer, how many
        there are by then, and of how many.

    Returns
    -------
    tuple
        The list as read; an answer for each row, None where the row has faults; and which rows
        can all be had, by their numbers, None where none joins a run of the book.

    Raises
    ------
    OrderBookError
        The list cannot be read.
    ReportError
        The answers cannot be written.
    """
    from trimopt.fit.enquiry_list import read_list
    from trimopt.report.answered_list import write_answered_list
    from trimopt.whole_files import require_writable

    require_writable(Path(into))
    listed = read_list(path, service.mill, service.book, grade=grade, grammage_gsm=grammage_gsm)
    answered: dict[int, Answer] = {}
    asked = {row.row: row.enquiry for row in listed.rows if row.enquiry is not None}
    for row, enquiry in asked.items():
        answered[row] = service.answer(enquiry, quick=True, help_seconds=help_seconds)
        if observer is not None:
            observer(row, answered[row], len(answered), len(asked))
    answers = tuple(answered.get(row.row) for row in listed.rows)
    prices = {row.row: row.price_per_t for row in listed.rows if row.price_per_t is not None}
    together = service.together(answered, prices)
    write_answered_list(listed, answers, together, service.written, Path(into))
    return listed, answers, together


def open_ledger(
    where: str | os.PathLike[str], *, beside: str | os.PathLike[str] | None = None
) -> Ledger:
    """Open the history of plans and of what was run.

    Parameters
    ----------
    where
        A file, made where there is none, or the URL of a database.
    beside
        A file that `where` is named by and stands beside: `open_ledger(mill.ledger,
        beside=mill.source)`.

    Raises
    ------
    LedgerError
        What is named is no ledger.
    """
    from trimopt.ledger.ledger import Ledger
    from trimopt.ledger.ledger_file import ledger_url

    folder = None if beside is None else Path(beside).parent
    return Ledger(ledger_url(os.fspath(where), folder))
