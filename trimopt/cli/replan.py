"""`trimopt replan`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from importlib import import_module
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any

import click

from trimopt.cli import options
from trimopt.cli.ledger_options import (
    find_ledger,
    held_now,
    issue_next,
    ledger_option,
    say_difference,
    say_standing,
    say_written,
    who_and_why,
    who_options,
)
from trimopt.cli.output import say

if TYPE_CHECKING:
    from trimopt import Book, Ledger, Plan, Replan, Request, WhatRan, WrittenPlan

_TIME_LIMIT_S, _LINE_S = 10.0, 0.5  # and for each new line
_SEARCHED = 0.85  # of the limit; the rest is for reading, the bound and the check


class _Hour(options.Moment):
    """A moment, or an hour of a day that the plan says."""

    def convert(  # type: ignore[override]
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime | time:
        try:
            return datetime.strptime(value, "%H:%M").time()  # noqa: DTZ007
        except (TypeError, ValueError):
            return super().convert(value, param, ctx)


@click.command("replan")
@click.argument("plan", type=options.FILE)
@click.option(
    "--done",
    multiple=True,
    metavar="SETS",
    help="Sets that were run: 1-23, or 1-5,8. With several runs, name the run: 'RUN: 1-23', "
    "or 'RUN: all'. Repeatable.",
)
@options.file_option("--as-run", words="The sheet As run as the crew filled it in.")
@click.option(
    "--recorded", is_flag=True, help="Take the sets that are recorded of the plan in the ledger."
)
@click.option(
    "--spoiled",
    multiple=True,
    metavar="SET:PLACES",
    help="Reels of a set that are no good, from the front side: 24:3,5; without places all of it.",
)
@click.option(
    "--now",
    type=_Hour(options.TIMES),
    metavar="TIME",
    help="When the next set may start, as 2026-11-23 09:00, or 09:00 on the day of the last set "
    "that was run. Default: when that set is finished as planned.",
)
@click.option(
    "--keep-until",
    type=_Hour(options.TIMES),
    metavar="TIME",
    help="Sets that start before it stay as issued. Default: an hour from then.",
)
@options.made_from_options
@options.leave_out_faulty_option
@click.option("--issue", is_flag=True, help="Write it as the next plan.")
@who_options("had it planned again")
@options.time_limit_option(
    None,
    f"What is found by then is kept. Default: {_TIME_LIMIT_S:g}, and {_LINE_S:g} more for each new "
    "line.",
)
@options.plans_option
@ledger_option
@options.output_options
def command(
    plan: Path,
    done: tuple[str, ...],
    as_run: Path | None,
    recorded: bool,
    spoiled: tuple[str, ...],
    now: datetime | time | None,
    keep_until: datetime | time | None,
    book: Path | None,
    mill_path: Path | None,
    instructions: Path | None,
    leave_out_faulty: bool,
    issue: bool,
    by: str | None,
    why: str | None,
    time_limit: float | None,
    out: Path,
    ledger: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Plan the rest of a plan that was run in part, for the order book as it is now.

    PLAN is the JSON file or the workbook of the plan as issued. What was run stays as it ran;
    what the orders still lack is planned from where the winder stands. With --issue it is written
    as the next plan; without it only the difference is shown. Ctrl-C ends the search with the best
    plan so far.

    Example: trimopt replan reports/shift-1.json --done 1-23 --book orders/shift.xlsx
    """
    from trimopt import Budget, read_plan, replan
    from trimopt.interrupt import Stage, begin
    from trimopt.report.terminal.progress import ProgressView

    by, why = who_and_why(by, why, into=out if issue else None, needed=False)
    begun = monotonic()
    issued = read_plan(plan)
    orders, mill = options.made_from(
        issued, plan, book, mill_path, instructions, quiet=quiet, meanwhile=_load
    )
    time_limit = time_limit or _time_limit_s(issued, orders)
    budget = Budget(ends_at=begun + _SEARCHED * time_limit)
    _require_its_book(issued, orders)
    kept_in = find_ledger(ledger, mill, quiet=quiet)
    if recorded and kept_in is None:
        raise click.UsageError("--recorded needs the ledger: name it with --ledger")
    ran = _what_ran(issued, done, spoiled, as_run, kept_in if recorded else None)
    if not quiet:
        _warn(issued, (plan.parent, out), kept_in, ran, orders)
    held = issued.request.held if kept_in is None else held_now(kept_in, mill)
    last = _last_moment(issued, ran)
    with ProgressView(quiet=quiet) as view:
        begin(Stage.SEEKING)
        answer = replan(
            issued,
            orders,
            mill,
            ran,
            now=_nearest(now, last),
            keep_until=_nearest(keep_until, last),
            request=replace(_asked(issued, leave_out_faulty), time_limit_s=time_limit, held=held),
            budget=budget,
            observer=view.report if view.shown else None,
        )
        begin(Stage.WRITING)
    written = None
    if issue:
        signed = answer.signed(by, why)
        written = issue_next(signed, orders, mill, out, kept_in, answer.difference)
    _show(answer, written, as_json=as_json, quiet=quiet)


def _asked(issued: Plan, leave_out_faulty: bool) -> Request:
    """What was asked of the plan as issued, and whether faulty lines may be left out now."""
    request = issued.request
    return replace(request, leave_out_faulty=leave_out_faulty or request.leave_out_faulty)


def _warn(
    issued: Plan, folders: Iterable[Path], kept_in: Ledger | None, ran: WhatRan, orders: Book
) -> None:
    """Say what stands beside the plan, and which jumbo the crew found narrower than planned."""
    say_standing(issued, folders, kept_in, ran)
    listed = {jumbo.name for jumbo in orders.jumbos}
    for name, (found_mm, planned_mm) in ran.narrower(issued).items():
        if name not in listed:
            said = (
                f"warning: jumbo {name} was measured {found_mm:g} mm wide, planned {planned_mm:g}"
            )
            say(f"{said}: list it in the order book as it is", err=True)


def _load() -> None:
    """What plans the rest, while another process reads the book."""
    import_module("trimopt.plan.planning.replanning.replanned_plan")


def _what_ran(
    issued: Plan,
    done: Sequence[str],
    spoiled: Sequence[str],
    as_run: Path | None,
    recorded: Ledger | None,
) -> WhatRan:
    from trimopt import what_ran

    ran = what_ran(issued, done, spoiled=spoiled, as_run=as_run, ledger=recorded)
    if recorded is not None and not ran.sets:
        raise click.UsageError(
            f"nothing is recorded of plan {issued.number} in the ledger: record it first (trimopt "
            "record), or leave out --recorded where nothing was run"
        )
    return ran


def _require_its_book(issued: Plan, book: Book) -> None:
    known = {each.number for each in book.orders} | {each.order for each in book.left_out}
    ordered = {line.number for run in issued.runs for line in run.orders if not line.stock_share}
    ordered |= {each.order for each in issued.left_out}
    if ordered and not ordered & known:
        message = (
            f"{book.source} has none of the orders of plan {issued.number}: name the order book "
            "that it was made from, as it is now, with --book FILE"
        )
        raise click.UsageError(message)


def _time_limit_s(issued: Plan, book: Book) -> float:
    limit_s = _TIME_LIMIT_S + _LINE_S * issued.new_lines(book.orders)
    return min(limit_s, options.MAX_TIME_LIMIT_S)


def _last_moment(issued: Plan, ran: WhatRan) -> datetime | None:
    """When the last set that was run is finished as planned; else when the plan begins."""
    done = {(each.run, each.number) for each in ran.sets}
    rows = [(run.name, row) for run in issued.runs for row in run.sets]
    ends = [row.finish for name, row in rows if row.finish and (name, row.number) in done]
    starts = [row.start for _, row in rows if row.start]
    return max(ends) if ends else min(starts, default=None)


def _nearest(moment: datetime | time | None, to: datetime | None) -> datetime | None:
    """A moment; of an hour the one that is nearest, so that a night shift has both its days."""
    if not isinstance(moment, time):
        return moment
    if to is None:
        raise click.UsageError(f"{moment:%H:%M} needs its day, as 2026-11-23 09:00")
    days = [datetime.combine(to.date() + timedelta(days=more), moment) for more in (-1, 0, 1)]
    return min(days, key=lambda each: abs(each - to))


def _show(answer: Replan, written: WrittenPlan | None, *, as_json: bool, quiet: bool) -> None:
    for warning in () if quiet else answer.warnings:
        say(f"warning: {warning}", err=True)
    if as_json:
        found = {
            "plan": answer.issued.number,
            "now": answer.now.isoformat(),
            "forbidden": answer.forbidden,
            "warnings": answer.warnings,
        }
        say_difference(found, answer.difference, written)
    else:
        from trimopt.report.terminal.plan_terminal import print_replan

        print_replan(answer)
    if written is not None:
        say_written(written, as_json=as_json)
