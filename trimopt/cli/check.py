"""`trimopt check`."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path

import click

from trimopt.cli import options
from trimopt.cli.output import counted, say, say_fields


@click.command("check")
@options.book_argument
@options.mill_option
@options.instructions_option
@options.as_of_option
@options.output_options
def command(
    book: Path,
    mill_path: Path | None,
    instructions: Path | None,
    as_of: date | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Read an order book and report every fault: sheet, row, column, what would be right.

    Exit code 0 when every line can be planned, 3 when one cannot.

    Example: trimopt check orders/faulty.xlsx
    """
    from trimopt import OrderBookError, cannot_be_made

    mill = options.load_mill(mill_path, book)
    read = options.load_book(book, mill, as_of, quiet=quiet or as_json, instructions=instructions)
    stopped = cannot_be_made(read, mill)
    if as_json:
        found = {
            "book": read.source,
            "as_of": read.as_of.isoformat(),
            "orders": len(read.orders),
            "instructions": len(read.instructions),
            "faults": [asdict(fault) for fault in read.faults],
            "warnings": [asdict(warning) for warning in read.warnings],
            "cannot_be_made": stopped,
        }
        say_fields(found)
    else:
        runs = len(read.papers)
        for number, why in stopped.items():
            say(f"order {number} cannot be made: {why}")
        asked = len(read.instructions)
        say(
            f"{read.source}: {counted(len(read.orders), 'order line')} in {counted(runs, 'run')} "
            f"can be planned, as of {read.as_of:%Y-%m-%d}"
            + (f"; {counted(asked, 'instruction')}" if asked else "")
        )
    if read.faults:
        if as_json:
            raise click.exceptions.Exit(OrderBookError.exit_code)
        raise OrderBookError(read.source, read.faults)
    if stopped:
        raise click.exceptions.Exit(OrderBookError.exit_code)
