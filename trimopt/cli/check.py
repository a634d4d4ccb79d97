"""`trimopt check`."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from pathlib import Path

import click

from trimopt.cli.options import (
    as_of_option,
    book_argument,
    instructions_option,
    json_option,
    load_book,
    load_mill,
    mill_option,
    quiet_option,
)
from trimopt.cli.saying import say, say_json

__all__ = ["command"]


@click.command("check")
@book_argument
@mill_option
@instructions_option
@as_of_option
@json_option
@quiet_option
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
    from trimopt.errors import OrderBookError
    from trimopt.making import runs_of
    from trimopt.plan.planning.run_jumbos import jumbos_for, stock_of, stopped_orders

    mill = load_mill(mill_path, book)
    read = load_book(book, mill, as_of, quiet=quiet or as_json, instructions=instructions)
    runs = runs_of(read, mill)
    stopped: dict[str, str] = {}
    for run in runs:
        grade = mill.grade(run.grade)
        assert grade is not None  # the book was read against this mill
        own = mill.for_paper(grade, run.grammage_gsm)
        stock = stock_of(run, runs, mill, read.jumbos)
        jumbos = jumbos_for(run, own, stock, only_listed=read.only_listed_jumbos)
        stopped |= {order.number: why for order, why in stopped_orders(run, jumbos)}
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
        say_json(json.dumps(found, indent=1))
    else:
        for number, why in stopped.items():
            say(f"order {number} cannot be made: {why}")
        say(
            f"{read.source}: {len(read.orders)} order lines in {len(runs)} runs can be planned, "
            f"as of {read.as_of:%Y-%m-%d}"
            + (f"; {len(read.instructions)} instructions" if read.instructions else "")
        )
    if read.faults:
        if as_json:
            raise click.exceptions.Exit(OrderBookError.exit_code)
        raise OrderBookError(read.source, read.faults)
    if stopped:
        raise click.exceptions.Exit(OrderBookError.exit_code)
