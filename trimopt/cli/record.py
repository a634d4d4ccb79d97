"""`trimopt record`."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trimopt.cli import ledger_options
from trimopt.cli.options import FILE, output_options
from trimopt.cli.output import say, say_fields

if TYPE_CHECKING:
    from trimopt import Plan, Recorded


@click.command("record")
@click.argument("plan", metavar="PLAN")
@click.argument("actuals", type=FILE, metavar="ACTUALS")
@ledger_options.ledger_option
@ledger_options.mill_beside_option
@click.option(
    "--replace", is_flag=True, help="Record the sets on this sheet anew; all others stay."
)
@click.option(
    "--take-back", is_flag=True, help="With --replace: a blank drops what was recorded there."
)
@output_options
def command(
    plan: str,
    actuals: Path,
    ledger: str | None,
    mill_path: Path | None,
    replace: bool,
    take_back: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Record what was run of a plan, from the filled-in sheet "As run" (xlsx) or a csv of it.

    PLAN is the plan's .json file or its number in the ledger. A row that does not match a set of
    the plan is listed with its place, and nothing is recorded. A set that was recorded with other
    figures before is refused without --replace.

    Example: trimopt record reports/shift-1.json shift-1-as-run.xlsx --ledger ledger.sqlite
    """
    if take_back and not replace:
        raise click.UsageError("--take-back goes with --replace")
    mill = None
    if not ledger:  # nothing else of the mill file is asked
        issued = Path(plan) if Path(plan).is_file() else None
        mill = ledger_options.mill_beside(mill_path, issued, None, quiet=quiet)
    kept = ledger_options.require_ledger(ledger, mill, quiet=quiet)
    of = _plan(plan)
    recorded = kept.record(of, actuals, replace=replace, take_back=take_back)
    if as_json:
        say_fields(asdict(recorded))
        return
    for warning in () if quiet else recorded.warnings:
        say(f"warning: {warning}", err=True)
    newest = recorded.newest
    if not newest and not isinstance(of, str):
        newest = ledger_options.newest_in((Path(plan).parent,), of)
    if newest and not quiet:
        said = f"warning: plan {newest} stands in place of {recorded.number} by now"
        say(f"{said}: what was run from its sheets is recorded under it", err=True)
    if recorded.plan_kept and not quiet:
        say(f"plan {recorded.number} was not in the ledger; it is kept now", err=True)
    _show(recorded)


def _plan(named: str) -> Plan | str:
    """The plan of a file, or the number as it was given."""
    path = Path(named)
    if path.suffix != ".json" and not path.is_file():
        return named
    from trimopt import read_plan

    return read_plan(path)


def _show(recorded: Recorded) -> None:
    from trimopt.report.words.texts import text
    from trimopt.report.words.trend_words import CAUSES
    from trimopt.report.words.units import units_named

    units = units_named(recorded.units)
    sign = units.sign("kg")

    say(
        f"plan {recorded.number}: {recorded.recorded} of {recorded.sets} sets recorded, "
        f"{recorded.done} of them done ({recorded.fresh} new, {recorded.unchanged} unchanged, "
        f"{recorded.replaced} replaced)"
    )
    for one in recorded.changes:
        say(f"{one.run}, set {one.number}, {one.column}: now {one.now}, was {one.was}")
    if recorded.replaced and recorded.not_named:
        say(f"{recorded.not_named} recorded sets are not on this sheet and stay as they are")
    say(f"{'of the recorded sets':26}{f'planned {sign}':>12}{f'run {sign}':>12}{'difference':>12}")
    for name in ("used_kg", "delivered_kg", *CAUSES):
        words = text(f"balance.{name}").lower()
        planned, run = (
            float(units.cell(each[name], "kg")[0]) for each in (recorded.planned, recorded.run)
        )
        say(f"{words:26}{planned:12,.0f}{run:12,.0f}{round(run - planned):+12,}")
    say(f"{'unplanned stops':26}{recorded.minutes_stopped:24,.0f} min")
