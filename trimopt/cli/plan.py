"""`trimopt plan`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trimopt.cli.ledger_options import find_ledger, ledger_option
from trimopt.cli.options import (
    Figure,
    Moment,
    as_of_option,
    book_argument,
    instructions_option,
    json_option,
    load_book,
    load_mill,
    mill_option,
    quiet_option,
    search_options,
)
from trimopt.cli.saying import say, say_json

if TYPE_CHECKING:
    from sqlalchemy import URL

    from trimopt.book import Book
    from trimopt.budget import Budget
    from trimopt.mill import Mill
    from trimopt.plan.model import Plan, Request
    from trimopt.plan.run import RunProgress

__all__ = ["command"]

#: Kept of the time limit for check and files: seconds a line, and the most of it.
_WRITING_S, _WRITING_MOST = 0.01, 0.5
_WINDOWS_WORKERS = 61  # so many processes it can wait for


@click.command("plan")
@book_argument
@mill_option
@instructions_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("reports"),
    show_default=True,
    metavar="DIR",
    help="Where the plan is written.",
)
@as_of_option
@click.option(
    "--from",
    "start",
    type=Moment(["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"]),
    metavar="TIME",
    help="When the first set may begin. Default: 06:00 on the day the book carries.",
)
@click.option(
    "--until",
    type=Moment(["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"]),
    metavar="TIME",
    help="When the shift ends: what is not finished by then is carried over. Default: what the "
    "book says, else no end.",
)
@click.option(
    "--hours",
    type=Figure(min=0, min_open=True, max=744),
    metavar="H",
    help="The same in hours from the beginning.",
)
@click.option(
    "--set-ups",
    type=click.IntRange(0, 1_000_000),
    metavar="N",
    help="At most so many set-ups in each run: an instruction like those of the book.",
)
@click.option(
    "--give-up",
    type=Figure(0, 1e9),
    metavar="KG",
    help="Kilograms of paper given for each set-up saved.",
)
@click.option(
    "--leave-out-faulty",
    is_flag=True,
    help="Plan the valid lines; the plan names those left out.",
)
@search_options
@ledger_option
@click.option(
    "--processes",
    type=click.IntRange(1, 10_000),
    metavar="N",
    help="Runs planned at the same time. Default: one for each processor.",
)
@json_option
@quiet_option
def command(
    book: Path,
    mill_path: Path | None,
    instructions: Path | None,
    out: Path,
    as_of: date | None,
    start: datetime | None,
    until: datetime | None,
    hours: float | None,
    set_ups: int | None,
    give_up: float | None,
    leave_out_faulty: bool,
    seed: int,
    effort: int,
    time_limit: float,
    ledger: str | None,
    processes: int | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Make the slitter plan of an order book: workbook, page, JSON and labels under DIR.

    Nothing is written unless the independent check finds that everything holds.

    Example: trimopt plan orders/shift.xlsx --hours 8
    """
    # Slow to import; the time limit is for reading and searching.
    from trimopt.book import Instruction
    from trimopt.budget import Budget
    from trimopt.errors import PlanError
    from trimopt.interrupt import Stage, begin
    from trimopt.plan import build
    from trimopt.plan.model import Request

    limit = Budget.lasting(time_limit)
    mill = load_mill(mill_path, book)
    url = find_ledger(ledger, mill)
    taken: tuple[str, ...] = ()
    if url is not None:
        from trimopt.ledger import numbers_kept

        taken = numbers_kept(url)  # a ledger that cannot be written is said before planning
    read = load_book(book, mill, as_of, quiet=quiet, instructions=instructions)
    cap = () if set_ups is None else (Instruction(what="set-ups", number=set_ups),)
    request = Request(
        seed=seed,
        effort=effort,
        time_limit_s=time_limit,
        give_up_kg=give_up,
        start=start,
        until=until,
        hours=hours,
        instructions=cap,
        leave_out_faulty=leave_out_faulty,
    )
    kept_s = min(_WRITING_MOST * time_limit, _WRITING_S * len(read.orders))
    budget = Budget(ends_at=limit.ends_at - kept_s)
    begin(Stage.SEEKING)
    plan = _planned(read, mill, request, budget, processes, quiet=quiet or as_json)
    begin(Stage.WRITING)
    _require_holds(plan, read, mill, request)
    files = _files(plan, read, mill, budget)
    _issue(plan, files, out, book.stem, url, taken, as_json=as_json)
    lost = [each.order for each in plan.left_out if each.why == build.WORKER_BROKE]
    if lost:
        raise PlanError(f"orders {', '.join(lost)}: {build.WORKER_BROKE}; the others are planned")


def _planned(
    read: Book,
    mill: Mill,
    request: Request,
    budget: Budget,
    processes: int | None,
    *,
    quiet: bool,
) -> Plan:
    import os
    from concurrent.futures import ProcessPoolExecutor
    from functools import partial

    from trimopt.interrupt import shared_flag, worker_begins
    from trimopt.making import runs_of
    from trimopt.plan.build import make_plan
    from trimopt.report.progress import ProgressView

    workers = min(processes or os.cpu_count() or 1, len(runs_of(read, mill)))
    if os.name == "nt":
        workers = min(workers, _WINDOWS_WORKERS)
    if workers > 1:
        pool = partial(ProcessPoolExecutor, initializer=worker_begins, initargs=(shared_flag(),))
        with pool(workers) as executor:
            return make_plan(
                read,
                mill,
                request,
                executor=executor,
                workers=workers,
                spare=partial(pool, 1),
                budget=budget,
            )
    with ProgressView(quiet=quiet) as view:

        def watch(progress: RunProgress) -> None:
            view.report(
                progress.run,
                progress.step,
                seconds=progress.seconds,
                loss_kg=progress.loss_kg,
                bound_kg=progress.bound_kg,
            )

        return make_plan(
            read,
            mill,
            request,
            observer=watch,
            budget=budget,
        )


def _require_holds(plan: Plan, read: Book, mill: Mill, request: Request) -> None:
    from trimopt.errors import FailedCheckError
    from trimopt.plan.verify import verify_plan

    findings = verify_plan(plan, read, mill, request)
    if findings:
        lines = "\n".join(f"  {finding}" for finding in findings[:20])
        message = (
            f"the independent check found {len(findings)} things that do not hold; nothing was "
            f"written:\n{lines}"
        )
        raise FailedCheckError(message)


def _files(plan: Plan, read: Book, mill: Mill, budget: Budget) -> Callable[[Plan, Path], None]:
    """What writes the files of the plan, all but its JSON, under its number into a folder."""
    from trimopt.fit.tables import curves_of_plan
    from trimopt.report import write_labels, write_page, write_workbook

    fit = curves_of_plan(plan, read, mill, budget)

    def write(numbered: Plan, folder: Path) -> None:
        write_workbook(numbered, folder / f"{numbered.number}.xlsx", mill, fit=fit)
        write_page(numbered, folder / f"{numbered.number}.html")
        write_labels(numbered, folder / f"{numbered.number}-labels.csv")

    return write


def _issue(
    plan: Plan,
    write: Callable[[Plan, Path], None],
    out: Path,
    stem: str,
    url: URL | None,
    taken: tuple[str, ...],
    *,
    as_json: bool,
) -> None:
    """Number the plan, write its files, keep it in the ledger where there is one, and show it.

    While it is numbered, no other desk writes in the ledger. Where the ledger fails now, the files
    are written all the same, and the command ends with what the ledger said.
    """
    from trimopt.errors import LedgerError
    from trimopt.plan.issue import issue

    issued = kept = failed = None
    if url is not None:
        from trimopt.ledger import keep_in, numbers_in, writing

        try:
            with writing(url) as connection:
                issued = issue(plan, out, stem, write, kept=numbers_in(connection))
                kept = keep_in(connection, issued.plan)
        except LedgerError as error:
            failed = error
    issued = issued or issue(plan, out, stem, write, kept=taken)
    for number in issued.finished:
        say(f"plan {number}, whose writing was cut short, is whole now", err=True)
    _show(issued.plan, issued.files, as_json=as_json)
    if failed is not None:
        raise failed
    if kept is not None:
        replaced = f", in place of {kept.replaced}" if kept.replaced else ""
        say(f"kept in the ledger{replaced}", err=as_json)
        if kept.note:
            say(f"note: {kept.note}", err=True)


def _show(plan: Plan, written: Sequence[Path], *, as_json: bool) -> None:
    if as_json:
        from trimopt.plan.codec import to_json

        say_json(to_json(plan))
        return
    from rich.console import Console

    from trimopt.report import print_summary

    print_summary(plan, Console())
    for path in written:
        say(f"written: {path}")
