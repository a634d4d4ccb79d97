"""`trimopt trend`."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from trimopt.cli import ledger_options
from trimopt.cli.options import DAY, NEW_FILE, Figure, file_option, output_options
from trimopt.cli.output import say, say_json
from trimopt.whole_files import write_whole


def _hours(ctx: click.Context, param: click.Parameter, value: str) -> tuple[int, ...]:
    del ctx, param
    try:
        hours = tuple(int(part) for part in value.split(","))
    except ValueError:
        hours = (-1,)
    if not all(0 <= hour <= 23 for hour in hours):
        message = "hours from 0 to 23 with commas between them, such as 6,14,22"
        raise click.BadParameter(message)
    return hours


@click.command("trend")
@ledger_options.ledger_option
@ledger_options.mill_beside_option
@click.option("--from", "begins", **DAY, help="The first day. Default: all.")
@click.option("--to", "ends", **DAY, help="The last day.")
@click.option(
    "--by",
    type=click.Choice(["shift", "day", "week", "month", "year"]),
    default="month",
    show_default=True,
    help="Length of a period.",
)
@click.option("--grade", default="", metavar="NAME", help="One grade only.")
@click.option("--winder", default="", metavar="NAME", help="One winder only.")
@click.option(
    "--target",
    type=Figure(0, 100),
    metavar="PERCENT",
    help="Trim loss to aim at, of full web width. Default: the mill file's trim_target_percent.",
)
@click.option(
    "--shifts",
    default="6,14,22",
    show_default=True,
    callback=_hours,
    metavar="HOURS",
    help="When shifts begin.",
)
@file_option(
    "--out",
    kind=NEW_FILE,
    words="Write a workbook with charts and the raw rows, such as trend.xlsx.",
)
@output_options
def command(
    ledger: str | None,
    mill_path: Path | None,
    begins: date | None,
    ends: date | None,
    by: str,
    grade: str,
    winder: str,
    target: float | None,
    shifts: tuple[int, ...],
    out: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Show trim loss over time, planned beside run, and what causes it.

    Of a plan that was replaced only the sets that were run count, so that nothing counts twice.

    Example: trimopt trend --ledger ledger.sqlite --from 2026-01-01 --by week --out trend.xlsx
    """
    from trimopt import trend_json, trend_workbook

    if begins is not None and ends is not None and ends < begins:
        message = f"--to {ends} lies before --from {begins}; swap them"
        raise click.UsageError(message)
    if out is not None and out.suffix.casefold() != ".xlsx":
        message = f"--out {out}: the trend is written as a workbook; name a file that ends in .xlsx"
        raise click.UsageError(message)
    mill = ledger_options.mill_beside(mill_path, None, ledger, quiet=quiet)
    kept = ledger_options.require_ledger(ledger, mill, quiet=quiet)
    if target is None and mill is not None:
        target = mill.trim_target_percent
    found = kept.trend(
        begins=begins,
        ends=ends,
        by=by,
        grade=grade,
        winder=winder,
        target_percent=target,
        shifts=shifts,
    )
    if out is not None:
        write_whole(out, trend_workbook(found))
    if as_json:
        say_json(trend_json(found))
    else:
        from trimopt.report.terminal.trend_terminal import print_trend

        print_trend(found)
    if out is not None and not quiet:
        say(f"written: {out}", err=True)
