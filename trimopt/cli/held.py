"""`trimopt held`."""

from __future__ import annotations

from pathlib import Path

import click

from trimopt.cli import ledger_options
from trimopt.cli.options import output_options
from trimopt.cli.output import say, say_fields


@click.command("held")
@click.option("--release", metavar="NUMBER", help="End a held enquiry before its day.")
@click.option("--all", "every", is_flag=True, help="Also list what is no longer held, and why.")
@ledger_options.mill_beside_option
@ledger_options.ledger_option
@output_options
def command(
    release: str | None,
    every: bool,
    mill_path: Path | None,
    ledger: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """List what sales holds for customers: widths offered until a day, and not ordered yet.

    A held enquiry ends after its last day. It becomes an order when a line of the order book gives
    its number in the column Held enquiry.

    Example: trimopt held --ledger ledger.sqlite
    """
    mill = ledger_options.mill_beside(mill_path, None, ledger, quiet=True)
    kept = ledger_options.require_ledger(ledger, mill, quiet=quiet)
    day = ledger_options.today()
    if release is not None:
        kept.release(release, on=day)
        say(f"{release} is no longer held", err=as_json)
    from trimopt.report.words.held_words import held_fields, held_text

    shown = [each for each in kept.holds() if every or each.in_force(day)]
    if as_json:
        say_fields([held_fields(each, day) for each in shown])
        return
    for each in shown:
        say(held_text(each, day, mill))
    if not shown:
        say("nothing is held")
