"""`trimopt fit`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from trimopt.cli.fit_hold import hold_options, holding_of
from trimopt.cli.options import (
    BOOK,
    NEW_FILE,
    file_option,
    leave_out_faulty_option,
    load_book,
    load_mill,
    mill_option,
    output_options,
    plans_option,
    time_limit_option,
    together,
)
from trimopt.cli.output import say, say_fields
from trimopt.whole_files import write_whole

if TYPE_CHECKING:
    from trimopt import Alternative, Answer, EnquiryService, Fault, Mill, Order, Plan
    from trimopt.cli.fit_hold import Holding

_ASK_THE_PLANNER = 10  # exit code: it is dear, hours or paper do not last, or no time
_Value = TypeVar("_Value")

#: What is asked: option, the column of a list that it stands for, its unit, and help. All are
#: texts: they are read as the cells of an order book are.
_ASKED = (
    ("width", "width", "MM", "Reel width."),
    ("across", "width", "MM", "Sheets: dimension across the web."),
    ("chop", "chop", "MM", "Sheets: dimension along the web."),
    ("reels", "reels", "N", "Number of reels."),
    ("tonnes", "tonnes", "T", "Mass, reels or sheets."),
    ("sheets", "sheets", "N", "Number of sheets."),
    ("quantity", "quantity", "QTY", 'Any of them with its unit: "6500 kg", "9000 m", "20 reams".'),
    ("diameter", "max_diameter", "MM", "Max. reel diameter, or free. Default: the run's usual."),
    (
        "min-diameter",
        "min_diameter",
        "MM",
        "Min. reel diameter. Default, with --diameter: the mill's tolerance below it.",
    ),
    ("core", "core", "MM", "Core inside diameter, or free. Default: the run's usual."),
    ("under", "under", "%", "Under-delivery allowed. Default: the mill's tolerance."),
    ("over", "over", "%", "Over-delivery allowed. Default: the mill's tolerance."),
    ("for", "name", "NAME", "The customer."),
)


@click.command("fit")
@click.argument("book", type=BOOK, required=False)
@together(*(click.option(f"--{name}", metavar=unit, help=said) for name, _, unit, said in _ASKED))
@click.option("--grade", metavar="NAME", help="Default: the book's, where it has one run.")
@click.option("--grammage", metavar="GSM", help="Default: likewise.")
@mill_option
@plans_option
@file_option("--plan", "plan_path", words="The plan it joins. Default: the newest.")
@click.option(
    "--alternatives",
    is_flag=True,
    help="Look for changes that bring the use of paper down, and solve each.",
)
@click.option("--details", is_flag=True, help="Print everything, with the curve over all widths.")
@time_limit_option(
    5.0,
    "How long to plan the run again with the enquiry in it; --alternatives take up to eight times "
    "as long.",
)
@click.option(
    "--stock-width",
    "stock_widths",
    multiple=True,
    metavar="MM",
    help="A width that may be made for stock beside it, for --alternatives; repeatable.",
)
@file_option("--list", "list_path", words="Enquiries, csv or xlsx.")
@file_option("--into", kind=NEW_FILE, words="Where the answered list is written.")
@leave_out_faulty_option
@hold_options
@file_option("--page", kind=NEW_FILE, words="Write the answer as a page too.")
@output_options
def command(
    book: Path | None,
    grade: str | None,
    grammage: str | None,
    mill_path: Path | None,
    out: Path,
    plan_path: Path | None,
    alternatives: bool,
    details: bool,
    time_limit: float,
    stock_widths: tuple[str, ...],
    list_path: Path | None,
    into: Path | None,
    leave_out_faulty: bool,
    hold: str | None,
    ledger: str | None,
    page: Path | None,
    as_json: bool,
    quiet: bool,
    **asked: str | None,
) -> None:
    """Sales: does a width fit, with what, and what does it cost in paper?

    With BOOK, the enquiry is put into the run that it would join, as planned. Without, only whether
    it can be made and how it fills the deckle alone. Figures may state their unit, such as
    "29 1/16 in", "12 short tons" or "42 lb/1000 ft2". Exit code 5 when it cannot be made, 10 when
    the planner is to be asked: it is dear, no whole number of reels is inside the tolerance, hours
    or paper may not last, or nothing was found in time; 3 when a row of the list is at fault.
    A list ends with the code of its worst row, or with 10 when its rows cannot all be had together.

    Example: trimopt fit orders/shift.xlsx --width 735 --reels 12 --diameter 1250
    """
    given = {name: text for name, text in asked.items() if text is not None}
    _require_one_enquiry(given, list_path, into, page)
    if hold is not None and list_path is not None:
        raise click.UsageError("--hold is for one enquiry; hold those of a list one by one")
    mill = load_mill(mill_path, book)
    holding = holding_of(hold, ledger, mill, quiet=quiet or as_json)
    orders = None if book is None else load_book(book, mill, None, quiet=True)
    plan = None if book is None else _plan_of(mill, book, out, plan_path, quiet=quiet or as_json)
    from trimopt import EnquiryService, read_enquiry
    from trimopt.interrupt import Stage, begin

    service = EnquiryService(
        mill,
        orders,
        plan,
        seconds=time_limit,
        stock_widths_mm=tuple(_measure("width", "--stock-width", text) for text in stock_widths),
        leave_out_faulty=leave_out_faulty,
        held=holding.before(plan),
    )
    begin(Stage.SEEKING)
    help_seconds = 8 * time_limit if alternatives else 0.0
    if list_path is not None and into is not None:
        paper = grade, grammage
        _answer_list(service, list_path, into, paper, help_seconds, as_json=as_json, quiet=quiet)
        return
    answer = service.answer(
        _read(read_enquiry(_parts(given, grade, grammage), mill, orders)),
        first=None if quiet or as_json else _say_estimate,
        help_seconds=help_seconds,
        observer=None if quiet or as_json else partial(_solved, service),
    )
    if page is not None:
        from trimopt import fit_page_html

        write_whole(page, fit_page_html(answer, mill))
    show = partial(_show, answer, mill, page, as_json=as_json, details=details)
    _hold(holding, answer, mill, show)
    if alternatives and answer.placement is not None and not answer.alternatives and not as_json:
        _say_no_help()
    if code := _exit_code(answer):
        raise click.exceptions.Exit(code)


def _hold(
    holding: Holding, answer: Answer, mill: Mill, show: Callable[[Order | None], None]
) -> None:
    """Hold what was answered, where that is asked for, and show it, held or not."""
    from trimopt import TrimoptError

    try:
        held = holding.hold(answer, mill)
    except TrimoptError:
        show(None)
        raise
    show(held)


def _exit_code(answer: Answer) -> int:
    from trimopt import InfeasibleError

    if answer.stop:
        return InfeasibleError.exit_code
    return _ASK_THE_PLANNER if answer.verdict.for_planner else 0


def _require_one_enquiry(
    given: Mapping[str, str], list_path: Path | None, into: Path | None, page: Path | None
) -> None:
    """Refuse options that contradict each other, or leave the enquiry open."""
    quantities = given.keys() & {"reels", "tonnes", "sheets", "quantity"}
    reel, sheet = "width" in given, "across" in given
    rules = [
        (reel and sheet, "--width is for reels, --across for sheets; give one of them"),
        ((list_path is None) != (into is None), "--list FILE and --into FILE go together"),
    ]
    if list_path is not None:
        suffix = "" if into is None else into.suffix.casefold()
        rules += [
            (page is not None, "--page is for one enquiry, not for a list"),
            (suffix not in {".csv", ".xlsx"}, f"{into}: an answered list is a .csv or .xlsx file"),
            (bool(given), "with --list, what is asked stands in the list"),
        ]
    else:
        quantity = "how much? give one of --reels N, --tonnes T, --sheets N and --quantity"
        by_sheets = "sheets are asked by --sheets N or --tonnes T, not by --reels"
        rules += [
            (not (reel or sheet), "which width? give --width MM, or --across MM and --chop MM"),
            (sheet != ("chop" in given), "sheets need both: --across MM and --chop MM"),
            (len(quantities) != 1, quantity),
            (not sheet and "sheets" in quantities, "--sheets needs --across MM and --chop MM"),
            (sheet and "reels" in quantities, by_sheets),
        ]
    for broken, words in rules:
        if broken:
            raise click.UsageError(words)


def _say_estimate(answer: Answer) -> None:
    """Say what the quick answer estimates; the verdict waits until the run is planned again."""
    say(f"quick estimate: {answer.estimate}; planning the run again …", err=True)


def _solved(service: EnquiryService, alternative: Alternative) -> None:
    """Say a change as it is solved: Ctrl-C ends the look with what is known."""
    from trimopt.report.words.fit_words import alternative_words
    from trimopt.report.words.units import Units

    say(f"solved: {alternative_words(alternative, Units(service.written)).strip()}", err=True)


def _parts(
    given: Mapping[str, str], grade: str | None, grammage: str | None
) -> dict[str, tuple[str, str]]:
    """What is asked, by the column of a list that it stands for: the option, and its text."""
    asked = [(name, column, given.get(name.replace("-", "_"))) for name, column, _, _ in _ASKED]
    asked += [("grade", "grade", grade), ("grammage", "grammage", grammage)]
    return {column: (f"--{name}", text) for name, column, text in asked if text is not None}


def _read(found: tuple[_Value | None, tuple[Fault, ...]]) -> _Value:
    """What was read of options, or wrong usage with its faults."""
    read, faults = found
    if read is None:
        raise click.UsageError("\n".join(map(str, faults)))
    return read


def _measure(key: str, name: str, text: str) -> Fraction:
    """A width or grammage that is no part of one enquiry."""
    from trimopt import read_measure

    return _read(read_measure(key, name, text))


def _plan_of(mill: Mill, book: Path, out: Path, given: Path | None, *, quiet: bool) -> Plan | None:
    """The plan named, or the newest of the book."""
    from trimopt import ReportError, newest_plan, read_plan

    path = given or newest_plan(book, mill, out)
    if path is None:
        return None
    try:
        return read_plan(path)
    except ReportError as error:
        if given is not None:
            raise
        if not quiet:
            say(f"warning: {path} cannot be read ({error}); the run is solved now", err=True)
        return None


def _answer_list(
    service: EnquiryService,
    path: Path,
    into: Path,
    paper: tuple[str | None, str | None],
    help_seconds: float,
    *,
    as_json: bool,
    quiet: bool,
) -> None:
    from trimopt import OrderBookError, answer_list, list_fields

    gsm = None if paper[1] is None else float(_measure("grammage", "--grammage", paper[1]))
    listed, answers, together = answer_list(
        path,
        into,
        service,
        grade=paper[0] or "",
        grammage_gsm=gsm,
        help_seconds=help_seconds,
        observer=None if as_json else _say_answer,
    )
    if not quiet:
        for warning in listed.warnings:
            say(f"warning: {warning}", err=True)
    if as_json:
        say_fields(list_fields(listed, answers, together))
    else:
        if together is not None:
            from trimopt.report.words.fit_words import together_line
            from trimopt.report.words.units import Units

            say(together_line(together, Units(service.written)))
        say(f"written: {into}")
    faults = tuple(fault for row in listed.rows for fault in row.faults)
    if faults and as_json:
        raise click.exceptions.Exit(OrderBookError.exit_code)
    if faults:
        raise OrderBookError(listed.source, faults)
    codes = {_exit_code(answer) for answer in answers if answer is not None}
    if together is not None and together.declined:
        codes.add(_ASK_THE_PLANNER)
    # The worst row: what cannot be made is worse than what the planner may make possible.
    if code := min(codes - {0}, default=0):
        raise click.exceptions.Exit(code)


def _say_no_help() -> None:
    from trimopt.report.words.texts import text

    say(text("fit.no_help"))


def _say_answer(row: int, answer: Answer, number: int, of: int) -> None:
    say(f"row {row} ({number} of {of}): {answer.line}")
    for note in answer.notes:
        say(f"  note: {note}")


def _show(
    answer: Answer,
    mill: Mill,
    page: Path | None,
    held: Order | None,
    *,
    as_json: bool,
    details: bool,
) -> None:
    if as_json:
        from trimopt import answer_fields

        say_fields(answer_fields(answer) | {"held_as": None if held is None else held.number})
        return
    from trimopt.report.terminal.fit_terminal import print_answer

    print_answer(answer, details=details)
    if held is not None:
        from trimopt.report.words.held_words import held_as

        say(held_as(answer, held, mill))
    if page is not None:
        say(f"written: {page}")
