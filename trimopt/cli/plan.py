"""`trimopt plan`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trimopt.cli import ledger_options, options
from trimopt.cli.output import say, say_json
from trimopt.cli.plan_many import cluster_option, jobs_of, plan_many
from trimopt.whole_files import require_writable, write_whole

if TYPE_CHECKING:
    from trimopt import Book, Mill, Request, WrittenPlan

#: Kept of the time limit for check and files: seconds a line, and the most of it.
_WRITING_S, _MAX_WRITING = 0.01, 0.1


@click.command("plan")
@click.argument("books", nargs=-1, required=True, type=options.BOOK, metavar="BOOK...")
@options.mill_option
@options.instructions_option
@options.plans_option
@options.as_of_option
@click.option(
    "--from",
    "start",
    type=options.Moment(options.TIMES),
    metavar="TIME",
    help="When the first set may begin. Default: 06:00 on the book's day (As of).",
)
@click.option(
    "--until",
    type=options.Moment(options.TIMES),
    metavar="TIME",
    help="When the shift ends: what is not finished by then is carried over. Default: what the "
    "book says, else no end.",
)
@click.option(
    "--hours",
    type=options.Figure(min=0, min_open=True, max=744),
    metavar="H",
    help="The same, in hours from when the first set may begin.",
)
@click.option(
    "--set-ups",
    type=click.IntRange(0, 1_000_000),
    metavar="N",
    help="At most N set-ups in each run: an instruction, answered like those of the book.",
)
@click.option(
    "--give-up",
    type=options.Figure(0, 1e9),
    metavar="KG",
    help="Kilograms of paper that may be lost for each set-up saved.",
)
@click.option(
    "--ways-out",
    is_flag=True,
    help="Say what would save most in each run whose trim loss is above trim_target_percent of the "
    "mill file: up to 24 changes of a run are planned, in 2 minutes at most.",
)
@options.leave_out_faulty_option
@options.search_options
@options.file_option(
    "--crew",
    kind=options.NEW_FILE,
    words="Also write a workbook (xlsx) with the crew's pages alone.",
)
@ledger_options.ledger_option
@click.option(
    "--without-held",
    is_flag=True,
    help="Plan orders alone. Default: with the held enquiries of the ledger, where one book is "
    "planned.",
)
@click.option(
    "--processes",
    type=click.IntRange(1, 10_000),
    metavar="N",
    help="Runs planned at the same time. Default: one for each processor.",
)
@cluster_option
@options.output_options
def command(
    books: tuple[Path, ...],
    mill_path: Path | None,
    instructions: Path | None,
    out: Path,
    as_of: date | None,
    crew: Path | None,
    ledger: str | None,
    without_held: bool,
    processes: int | None,
    cluster: str | None,
    as_json: bool,
    quiet: bool,
    **asked: Any,
) -> None:
    """Make the slitter plan of an order book: workbook, page, JSON and labels under DIR.

    Nothing is written unless the independent check finds that everything holds. More books than
    one are planned side by side, each with the time limit; a row is printed for each.

    Example: trimopt plan orders/shift.xlsx --hours 8
    """
    if cluster is None:
        require_writable(out)
    request = _request(**asked)
    if len(books) > 1 or cluster is not None:
        if instructions is not None or crew is not None:
            given = "--crew" if instructions is None else "--instructions"
            raise click.UsageError(f"{given} is of one book; plan that book by itself")
        far = cluster is not None
        jobs = jobs_of(books, mill_path, request, out=out, as_of=as_of, ledger=ledger, far=far)
        plan_many(jobs, cluster, processes, as_json=as_json)
        return
    mill = options.load_mill(mill_path, books[0])
    kept_in = ledger_options.find_ledger(ledger, mill, quiet=quiet)
    # A ledger that cannot be written is said before planning.
    taken = () if kept_in is None else kept_in.numbers()
    if kept_in is not None and not without_held:
        request = replace(request, held=ledger_options.held_now(kept_in, mill))
    load = None if processes == 1 else partial(import_module, "trimopt.plan.planning.plan_book")
    read = options.load_book(
        books[0], mill, as_of, quiet=quiet, instructions=instructions, meanwhile=load
    )
    from trimopt import WORKER_BROKE, PlanError, write_plan

    write = partial(write_plan, folder=out, ledger=kept_in, taken=taken)
    written = _planned(read, mill, request, write, processes, quiet=quiet or as_json)
    if crew is not None:
        from trimopt import crew_workbook

        write_whole(crew, crew_workbook(written.plan))
    _show(written, as_json=as_json)
    if crew is not None:
        say(f"written: {crew}", err=as_json)
    lost = [each.order for each in written.plan.left_out if each.why == WORKER_BROKE]
    if lost:
        raise PlanError(f"orders {', '.join(lost)}: {WORKER_BROKE}; the others are planned")


def _request(
    *, effort: str, time_limit: float, give_up: float | None, set_ups: int | None, **same: Any
) -> Request:
    """What is asked of the plan; the options beside these have the names of its fields."""
    from trimopt import Effort, Instruction, Request

    cap = () if set_ups is None else (Instruction(what="set-ups", number=set_ups),)
    return Request(
        effort=Effort(effort),
        time_limit_s=time_limit,
        give_up_kg=give_up,
        instructions=cap,
        **same,
    )


def _planned(
    book: Book,
    mill: Mill,
    request: Request,
    write: Callable[..., WrittenPlan],
    processes: int | None,
    *,
    quiet: bool,
) -> WrittenPlan:
    """The plan, made and written before the limit, with its progress on standard error."""
    from trimopt import Budget, make_plan, plan_workers
    from trimopt.interrupt import Stage, begin
    from trimopt.report.terminal.progress import ProgressView

    assert request.time_limit_s is not None
    kept_s = min(_MAX_WRITING * request.time_limit_s, _WRITING_S * len(book.orders))
    budget = Budget.lasting(request.time_limit_s - kept_s)
    with ProgressView(quiet=quiet) as view, plan_workers(book, processes) as workers:
        how: Any = {"workers": workers, "observer": view.report if view.shown else None}
        begin(Stage.SEEKING)
        plan = make_plan(book, mill, request, processes=processes, budget=budget, **how)
        begin(Stage.WRITING)
        return write(plan, book, mill, request=request, budget=budget, **how)


def _show(written: WrittenPlan, *, as_json: bool) -> None:
    for number in written.finished:
        say(f"plan {number}, whose writing was cut short, is whole now", err=True)
    if as_json:
        from trimopt import plan_json

        say_json(plan_json(written.plan))
    else:
        from trimopt.report.terminal.plan_terminal import print_summary

        print_summary(written.plan)
    ledger_options.say_written(written, as_json=as_json)
