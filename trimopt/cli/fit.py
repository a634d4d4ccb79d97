"""`trimopt fit`."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trimopt.cli.options import (
    MAX_TIME_LIMIT_S,
    Figure,
    json_option,
    load_book,
    load_mill,
    mill_option,
    quiet_option,
)
from trimopt.cli.saying import say, say_json

if TYPE_CHECKING:
    from trimopt.book import Book
    from trimopt.fit import Answer, Desk, Enquiry, Helped
    from trimopt.mill import Mill
    from trimopt.plan.model import Plan

__all__ = ["command"]

_ASK_THE_PLANNER = 10  # exit code: hours or paper do not last, or nothing was found in time
_file = click.Path(exists=True, dir_okay=False, path_type=Path)
_new = click.Path(dir_okay=False, path_type=Path)


@click.command("fit")
@click.argument("book", type=_file, required=False)
@click.option("--width", metavar="MM", help="Reel width.")
@click.option("--across", metavar="MM", help="Sheets: dimension across the web.")
@click.option("--chop", metavar="MM", help="Sheets: dimension along the web.")
@click.option("--reels", metavar="N", help="Number of reels.")
@click.option("--tonnes", metavar="T", help="Mass, reels or sheets.")
@click.option("--sheets", metavar="N", help="Number of sheets.")
@click.option("--diameter", metavar="MM", help="Max. reel diameter.")
@click.option(
    "--min-diameter",
    metavar="MM",
    help="Min. reel diameter. Default, with --diameter: the mill's tolerance below it.",
)
@click.option("--core", metavar="MM", help="Core inside diameter. Default: any.")
@click.option("--grade", metavar="NAME", help="Default: the book's, where it has one run.")
@click.option("--grammage", metavar="GSM", help="Default: likewise.")
@click.option("--under", metavar="%", help="Under-delivery allowed. Default: the mill's custom.")
@click.option("--over", metavar="%", help="Over-delivery allowed. Default: the mill's custom.")
@mill_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("reports"),
    show_default=True,
    metavar="DIR",
    help="Where the book's plans stand; the newest is taken.",
)
@click.option("--plan", "plan_path", type=_file, metavar="FILE", help="The plan to ask instead.")
@click.option(
    "--alternatives",
    is_flag=True,
    help="Look for changes that bring the use of paper down, and solve each.",
)
@click.option(
    "--time-limit",
    type=Figure(0.1, MAX_TIME_LIMIT_S),
    default=5.0,
    show_default=True,
    metavar="SECONDS",
    help="Longest search with the enquiry in the run; planning the run, where it has no plan, and "
    "--alternatives take up to eight times as long.",
)
@click.option(
    "--stock-width",
    "stock_widths",
    multiple=True,
    metavar="MM",
    help="A width that may be made for stock beside it, for --alternatives; may be given again.",
)
@click.option("--list", "list_path", type=_file, metavar="FILE", help="Enquiries, csv or xlsx.")
@click.option("--into", type=_new, metavar="FILE", help="Where the answered list is written.")
@click.option(
    "--leave-out-faulty", is_flag=True, help="Answer on the valid lines of a book with faults."
)
@click.option("--page", type=_new, metavar="FILE", help="Write the answer as a page too.")
@json_option
@quiet_option
def command(
    book: Path | None,
    width: str | None,
    across: str | None,
    chop: str | None,
    reels: str | None,
    tonnes: str | None,
    sheets: str | None,
    diameter: str | None,
    min_diameter: str | None,
    core: str | None,
    grade: str | None,
    grammage: str | None,
    under: str | None,
    over: str | None,
    mill_path: Path | None,
    out: Path,
    plan_path: Path | None,
    alternatives: bool,
    time_limit: float,
    stock_widths: tuple[str, ...],
    list_path: Path | None,
    into: Path | None,
    leave_out_faulty: bool,
    page: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Sales: does a width fit, with what, and what does it cost in paper?

    With BOOK, the enquiry is put into the run that it would join, as planned. Without, only whether
    it can be made and how it fills the deckle alone. Exit code 5 when it cannot be made, 10 when
    hours or paper do not last or nothing was found in time, 3 when a row of the list is at fault.

    Example: trimopt fit orders/shift.xlsx --width 735 --reels 12 --diameter 1250
    """
    if width is not None and across is not None:
        raise click.UsageError("--width is for reels, --across for sheets; give one of them")
    if (list_path is None) != (into is None):
        raise click.UsageError("--list FILE and --into FILE go together")
    if list_path is not None and page is not None:
        raise click.UsageError("--page is for one enquiry, not for a list")
    paper = {"grade": ("--grade", grade), "grammage": ("--grammage", grammage)}
    asked = {
        "width": ("--across", across) if width is None else ("--width", width),
        "chop": ("--chop", chop),
        "reels": ("--reels", reels),
        "tonnes": ("--tonnes", tonnes),
        "sheets": ("--sheets", sheets),
        "max_diameter": ("--diameter", diameter),
        "min_diameter": ("--min-diameter", min_diameter),
        "core": ("--core", core),
        "under": ("--under", under),
        "over": ("--over", over),
    }
    if list_path is None:
        _require_whole({key for key, (_, text) in asked.items() if text is not None}, across)
    elif any(text is not None for _, text in asked.values()):
        raise click.UsageError("with --list, what is asked stands in the list")
    mill = load_mill(mill_path, book)
    orders = None if book is None else load_book(book, mill, None, quiet=True)
    plan = None if book is None else _plan_of(mill, book, out, plan_path, quiet=quiet or as_json)
    from trimopt.fit import Desk, Verdict

    stock = tuple(_measure("width", "--stock-width", text) for text in stock_widths)
    desk = Desk(
        mill,
        orders,
        plan,
        seconds=time_limit,
        stock_widths_mm=stock,
        leave_out_faulty=leave_out_faulty,
    )
    help_seconds = 8 * time_limit if alternatives else 0.0
    if list_path is not None and into is not None:
        gsm = None if grammage is None else float(_measure("grammage", "--grammage", grammage))
        _answer_list(
            desk, list_path, into, (grade, gsm), help_seconds, as_json=as_json, quiet=quiet
        )
        return
    answer = desk.answer(
        _enquiry(asked | paper, mill, orders),
        help_seconds=help_seconds,
        observer=None if quiet or as_json else _told,
    )
    if page is not None:
        from trimopt.report.html.fit_page import write_fit_page

        write_fit_page(answer, mill, page)
    _show(answer, page, as_json=as_json)
    if answer.stop:
        from trimopt.errors import InfeasibleError

        raise click.exceptions.Exit(InfeasibleError.exit_code)
    if answer.lacking is not None or answer.verdict is Verdict.NOT_ANSWERED:
        raise click.exceptions.Exit(_ASK_THE_PLANNER)


def _told(helped: Helped) -> None:
    """A change that is solved, at once: Ctrl-C ends the look with what is known."""
    from trimopt.report.words.fit_words import helped_words

    say(f"solved: {helped_words(helped).strip()}", err=True)


def _require_whole(given: set[str], across: str | None) -> None:
    if "width" not in given:
        raise click.UsageError("which width? give --width MM, or --across MM and --chop MM")
    if (across is None) == ("chop" in given):
        raise click.UsageError("sheets need both: --across MM and --chop MM")
    quantities = given & {"reels", "tonnes", "sheets"}
    if len(quantities) != 1:
        raise click.UsageError("how much? give one of --reels N, --tonnes T and --sheets N")
    if across is None and "sheets" in quantities:
        raise click.UsageError("--sheets needs --across MM and --chop MM")
    if across is not None and "reels" in quantities:
        raise click.UsageError("sheets are asked by --sheets N or --tonnes T, not by --reels")


def paper_of(
    mill: Mill, book: Book | None, grade: str, grammage_gsm: float | None
) -> tuple[str, float]:
    """Grade and grammage, from what was said of them and the runs of the book.

    Raises
    ------
    ValueError
        Not said, and not the only one; the text names what there is.
    """
    if grade and grammage_gsm is not None:
        known = mill.grade(grade)
        if known is None:
            names = ", ".join(g.name for g in mill.grades)
            raise ValueError(f"the mill file has no grade {grade}; give one of: {names}")
        return known.name, grammage_gsm
    if book is None:
        names = ", ".join(g.name for g in mill.grades)
        message = f"without an order book, grade and grammage must be given; grades: {names}"
        raise ValueError(message)
    runs = dict.fromkeys((order.grade, order.grammage_gsm) for order in book.orders)
    fitting = [
        (name, gsm)
        for name, gsm in runs
        if (not grade or name.casefold() == grade.strip().casefold())
        and (grammage_gsm is None or gsm == grammage_gsm)
    ]
    if len(fitting) == 1:
        return fitting[0]
    names = ", ".join(f"{name} {gsm:g}" for name, gsm in fitting or runs)
    which = "several runs fit" if fitting else "no run of the book fits"
    raise ValueError(f"{which}; give grade and grammage of one of: {names}")


def _enquiry(
    asked: Mapping[str, tuple[str, str | None]], mill: Mill, orders: Book | None
) -> Enquiry:
    """The enquiry of the options, read as the cells of an order book are."""
    from trimopt.fit.enquiry_list import read_parts

    parts = {key: (name, text) for key, (name, text) in asked.items() if text is not None}
    enquiry, faults = read_parts(parts, mill, partial(paper_of, mill, orders))
    if enquiry is None:
        raise click.UsageError("\n".join(str(fault) for fault in faults))
    return enquiry


def _measure(key: str, name: str, text: str) -> Fraction:
    """A width or grammage that is no part of one enquiry."""
    from trimopt.fit.enquiry_list import read_measure

    figure, faults = read_measure(key, name, text)
    if figure is None:
        raise click.UsageError("\n".join(str(fault) for fault in faults))
    return figure


def _plan_of(mill: Mill, book: Path, out: Path, given: Path | None, *, quiet: bool) -> Plan | None:
    """The plan named, or the newest of the book."""
    from trimopt.cli.verify import read_plan
    from trimopt.errors import ReportError
    from trimopt.plan.issue import finish, newest

    path = given
    if path is None:
        finish(out)
        winder = mill.winder.name
        number = newest(out, book.stem, lambda plan: plan.get("winder", winder) == winder)
        if not number:
            return None
        path = out / f"{number}.json"
    try:
        plan, _ = read_plan(path)
    except ReportError as error:
        if given is not None:
            raise
        if not quiet:
            say(f"warning: {path} cannot be read ({error}); the run is solved now", err=True)
        return None
    return plan


def _answer_list(
    desk: Desk,
    path: Path,
    into: Path,
    paper: tuple[str | None, float | None],
    help_seconds: float,
    *,
    as_json: bool,
    quiet: bool,
) -> None:
    import json

    from trimopt.errors import OrderBookError
    from trimopt.fit.enquiry_list import read_list
    from trimopt.report.answered_list import write_answered_list
    from trimopt.report.json.fit_json import SCHEMA, answer_fields

    kinds = {".csv", ".xlsx"}
    if into.suffix.casefold() not in kinds:
        raise click.UsageError(f"{into}: an answered list is a .csv or an .xlsx file")

    def paper_in_row(grade: str, gsm: float | None) -> tuple[str, float]:
        return paper_of(
            desk.mill, desk.book, grade or paper[0] or "", paper[1] if gsm is None else gsm
        )

    listed = read_list(path, desk.mill, paper_in_row)
    if not quiet:
        for warning in listed.warnings:
            say(f"warning: {warning}", err=True)
    answers: list[Answer | None] = []
    for row in listed.rows:
        found = None
        if row.enquiry is not None:
            found = desk.answer(row.enquiry, help_seconds=help_seconds)
        answers.append(found)
    write_answered_list(listed, tuple(answers), into)
    if as_json:
        rows = [
            {
                "row": row.row,
                "faults": [str(fault) for fault in row.faults],
                "answer": None if answer is None else answer_fields(answer),
            }
            for row, answer in zip(listed.rows, answers, strict=True)
        ]
        say_json(json.dumps({"schema": SCHEMA, "rows": rows}, ensure_ascii=False, indent=1))
    else:
        for row, answer in zip(listed.rows, answers, strict=True):
            if answer is not None:
                say(f"row {row.row}: {answer.line}")
                for note in answer.notes:
                    say(f"  note: {note}")
        say(f"written: {into}")
    faults = tuple(fault for row in listed.rows for fault in row.faults)
    if faults and as_json:
        raise click.exceptions.Exit(OrderBookError.exit_code)
    if faults:
        raise OrderBookError(listed.source, faults)


def _show(answer: Answer, page: Path | None, *, as_json: bool) -> None:
    if as_json:
        import json

        from trimopt.report.json.fit_json import answer_fields

        say_json(json.dumps(answer_fields(answer), ensure_ascii=False, indent=1))
        return
    from rich.console import Console

    from trimopt.report.terminal.fit_terminal import print_answer

    print_answer(answer, Console())
    if page is not None:
        say(f"written: {page}")
