"""`trimopt fit`."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trimopt.cli.options import json_option, load_book, load_mill, mill_option, quiet_option
from trimopt.cli.saying import say, say_json

if TYPE_CHECKING:
    from trimopt.book import Book
    from trimopt.fit import Answer, Desk, Enquiry, Helped
    from trimopt.mill import Mill
    from trimopt.plan.model import Plan

__all__ = ["command"]

_file = click.Path(exists=True, dir_okay=False, path_type=Path)
_new = click.Path(dir_okay=False, path_type=Path)


def _figure(ctx: click.Context, param: click.Parameter, value: str | None) -> Fraction | None:
    """A number above 0, exact: 735, 1066.8, 29 1/2."""
    from trimopt.book.figures import CellFaultError, read_figure

    if value is None:
        return None
    try:
        figure = read_figure(value, decimal_sign=".", fractions=True)
    except CellFaultError as fault:
        message = f"{value!r} is no number; write one such as 735 or 1066.8"
        raise click.BadParameter(message, ctx, param) from fault
    if figure <= 0:
        raise click.BadParameter(f"{value!r} is not above 0", ctx, param)
    return figure


def _figures(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[Fraction, ...]:
    found = (_figure(ctx, param, value) for value in values)
    return tuple(figure for figure in found if figure is not None)


_share = click.FloatRange(min=0, max=100)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """The options that describe an enquiry, as given."""

    width: Fraction | None
    chop: Fraction | None
    reels: int | None
    tonnes: Fraction | None
    sheets: int | None
    diameter: Fraction | None
    diameter_least: Fraction | None
    core: Fraction | None
    under: float
    over: float


@click.command("fit")
@click.argument("book", type=_file, required=False)
@click.option("--width", callback=_figure, metavar="MM", help="Reel width.")
@click.option("--across", callback=_figure, metavar="MM", help="Sheets: dimension across the web.")
@click.option("--chop", callback=_figure, metavar="MM", help="Sheets: dimension along the web.")
@click.option("--reels", type=click.IntRange(min=1), metavar="N", help="Number of reels.")
@click.option("--tonnes", callback=_figure, metavar="T", help="Mass, reels or sheets.")
@click.option("--sheets", type=click.IntRange(min=1), metavar="N", help="Number of sheets.")
@click.option("--diameter", callback=_figure, metavar="MM", help="Greatest reel diameter.")
@click.option("--diameter-least", callback=_figure, metavar="MM", help="Least reel diameter.")
@click.option("--core", callback=_figure, metavar="MM", help="Core inside diameter. Default: any.")
@click.option("--grade", metavar="NAME", help="Default: the book's, where it has one run.")
@click.option("--grammage", callback=_figure, metavar="GSM", help="Default: likewise.")
@click.option("--under", type=_share, default=0.0, metavar="%", help="Under-delivery allowed.")
@click.option("--over", type=_share, default=0.0, metavar="%", help="Over-delivery allowed.")
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
    type=click.FloatRange(min=0.1),
    default=5.0,
    show_default=True,
    metavar="SECONDS",
    help="Longest search with the enquiry in the run; planning the run, where it has no plan, and "
    "--alternatives take up to eight times as long.",
)
@click.option(
    "--stock-width",
    "stock_widths",
    callback=_figures,
    multiple=True,
    metavar="MM",
    help="A width that may be made for stock beside it, for --alternatives; may be given again.",
)
@click.option("--list", "list_path", type=_file, metavar="FILE", help="Enquiries, csv or xlsx.")
@click.option("--into", type=_new, metavar="FILE", help="Where the answered list is written.")
@click.option("--page", type=_new, metavar="FILE", help="Write the answer as a page too.")
@json_option
@quiet_option
def command(
    book: Path | None,
    width: Fraction | None,
    across: Fraction | None,
    chop: Fraction | None,
    reels: int | None,
    tonnes: Fraction | None,
    sheets: int | None,
    diameter: Fraction | None,
    diameter_least: Fraction | None,
    core: Fraction | None,
    grade: str | None,
    grammage: Fraction | None,
    under: float,
    over: float,
    mill_path: Path | None,
    out: Path,
    plan_path: Path | None,
    alternatives: bool,
    time_limit: float,
    stock_widths: tuple[Fraction, ...],
    list_path: Path | None,
    into: Path | None,
    page: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Sales: does a width fit, with what, and what does it cost in paper?

    With BOOK, the enquiry is put into the run that it would join, as planned. Without, only whether
    it can be made and how it fills the deckle alone. Exit code 5 when it cannot be made, 3 when a
    row of the list is at fault.

    Example: trimopt fit orders/shift.xlsx --width 735 --reels 12 --diameter 1250
    """
    if width is not None and across is not None:
        raise click.UsageError("--width is for reels, --across for sheets; give one of them")
    if (list_path is None) != (into is None):
        raise click.UsageError("--list FILE and --into FILE go together")
    asked = _Asked(
        width=width if width is not None else across,
        chop=chop,
        reels=reels,
        tonnes=tonnes,
        sheets=sheets,
        diameter=diameter,
        diameter_least=diameter_least,
        core=core,
        under=under,
        over=over,
    )
    if list_path is None:
        _require_whole(asked, across)
    elif page is not None:
        raise click.UsageError("--page is for one enquiry, not for a list")
    elif any((asked.width, chop, reels, tonnes, sheets)):
        raise click.UsageError("with --list, widths and quantities stand in the list")
    mill = load_mill(mill_path, book)
    orders = None if book is None else load_book(book, mill, None, quiet=True)
    plan = None
    if orders is not None and book is not None:
        plan = _plan_of(orders, mill, book, out, plan_path, quiet=quiet or as_json)
    from trimopt.fit import Desk

    desk = Desk(mill, orders, plan, seconds=time_limit, stock_widths_mm=stock_widths)
    help_seconds = 8 * time_limit if alternatives else 0.0
    if list_path is not None and into is not None:
        _answer_list(desk, list_path, into, (grade, grammage), help_seconds, as_json=as_json)
        return
    try:
        name, gsm = paper_of(
            mill, orders, grade or "", None if grammage is None else float(grammage)
        )
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    answer = desk.answer(
        _enquiry(asked, name, gsm),
        help_seconds=help_seconds,
        observer=None if quiet or as_json else _told,
    )
    if page is not None:
        from trimopt.report.fit_page import write_fit_page

        write_fit_page(answer, mill, page)
    _show(answer, page, as_json=as_json)
    if answer.stop:
        from trimopt.errors import InfeasibleError

        raise click.exceptions.Exit(InfeasibleError.exit_code)


def _told(helped: Helped) -> None:
    """A change that is solved, at once: Ctrl-C ends the look with what is known."""
    from trimopt.report.fit_words import helped_words

    say(f"solved: {helped_words(helped).strip()}", err=True)


def _require_whole(asked: _Asked, across: Fraction | None) -> None:
    if asked.width is None:
        raise click.UsageError("which width? give --width MM, or --across MM and --chop MM")
    if (across is None) != (asked.chop is None):
        raise click.UsageError("sheets need both: --across MM and --chop MM")
    given = [v for v in (asked.reels, asked.tonnes, asked.sheets) if v is not None]
    if len(given) != 1:
        raise click.UsageError("how much? give one of --reels N, --tonnes T and --sheets N")
    if asked.chop is None and asked.sheets is not None:
        raise click.UsageError("--sheets needs --across MM and --chop MM")
    if asked.chop is not None and asked.reels is not None:
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


def _enquiry(asked: _Asked, grade: str, grammage_gsm: float) -> Enquiry:
    from trimopt.book import Unit
    from trimopt.fit import Enquiry

    assert asked.width is not None
    quantity, unit = Fraction(asked.reels or 0), Unit.REELS
    if asked.tonnes is not None:
        quantity, unit = asked.tonnes * 1000, Unit.KG
    elif asked.sheets is not None:
        quantity, unit = Fraction(asked.sheets), Unit.SHEETS
    return Enquiry(
        grade=grade,
        grammage_gsm=grammage_gsm,
        width_mm=asked.width,
        quantity=quantity,
        unit=unit,
        chop_mm=asked.chop,
        diameter_least_mm=None if asked.diameter_least is None else float(asked.diameter_least),
        diameter_greatest_mm=None if asked.diameter is None else float(asked.diameter),
        core_mm=None if asked.core is None else float(asked.core),
        under=Fraction(str(asked.under)) / 100,
        over=Fraction(str(asked.over)) / 100,
    )


def _plan_of(
    orders: Book, mill: Mill, book: Path, out: Path, given: Path | None, *, quiet: bool
) -> Plan | None:
    """The plan named, or the newest of the book; none where it is of another book or mill file."""
    from trimopt.cli.verify import read_plan
    from trimopt.errors import ReportError
    from trimopt.plan.issue import finish, newest

    path = given
    if path is None:
        finish(out)
        number = newest(out, book.stem)
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
    for kind, then, now in (
        ("order book", plan.book.fingerprint, orders.fingerprint),
        ("mill file", plan.mill.fingerprint, mill.fingerprint),
    ):
        if then != now:
            if not quiet:
                say(
                    f"warning: plan {plan.number} was made from another state of the {kind}; the "
                    f"run is solved now (for a new plan: trimopt plan {book})",
                    err=True,
                )
            return None
    return plan


def _answer_list(
    desk: Desk,
    path: Path,
    into: Path,
    paper: tuple[str | None, Fraction | None],
    help_seconds: float,
    *,
    as_json: bool,
) -> None:
    import json

    from trimopt.errors import OrderBookError
    from trimopt.fit.listed import read_list
    from trimopt.report.fit_json import answer_fields
    from trimopt.report.fit_list import write_answered_list

    def paper_in_row(grade: str, gsm: float | None) -> tuple[str, float]:
        if gsm is None and paper[1] is not None:
            gsm = float(paper[1])
        return paper_of(desk.mill, desk.book, grade or paper[0] or "", gsm)

    kinds = {".csv", ".xlsx"}
    if into.suffix.casefold() not in kinds:
        raise click.UsageError(f"{into}: an answered list is a .csv or an .xlsx file")
    listed = read_list(path, paper_in_row)
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
        say_json(json.dumps({"schema": 1, "rows": rows}, ensure_ascii=False, indent=1))
    else:
        for row, answer in zip(listed.rows, answers, strict=True):
            if answer is not None:
                say(f"row {row.row}: {answer.line}")
        say(f"written: {into}")
    faults = tuple(fault for row in listed.rows for fault in row.faults)
    if faults:
        raise OrderBookError(listed.source, faults)


def _show(answer: Answer, page: Path | None, *, as_json: bool) -> None:
    if as_json:
        import json

        from trimopt.report.fit_json import answer_fields

        say_json(json.dumps(answer_fields(answer), ensure_ascii=False, indent=1))
        return
    from rich.console import Console

    from trimopt.report.fit_terminal import print_answer

    print_answer(answer, Console())
    if page is not None:
        say(f"written: {page}")
