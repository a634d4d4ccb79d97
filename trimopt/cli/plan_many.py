"""`trimopt plan` with more books than one, or on a cluster: a row for each book."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from trimopt.cli.ledger_options import find_ledger, held_now
from trimopt.cli.options import load_mill
from trimopt.cli.output import counted, say, say_fields

if TYPE_CHECKING:
    from concurrent.futures import Executor
    from datetime import date
    from pathlib import Path

    from trimopt import PlanJob, PlannedBook, Request

cluster_option = click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Plan books on a cluster, whose scheduler has this address, in place of this machine's "
    "processors; its workers must reach DIR. Wants: pip install trimopt[cluster].",
)


def jobs_of(
    books: Sequence[Path],
    mill_path: Path | None,
    request: Request,
    *,
    out: Path,
    as_of: date | None,
    ledger: str | None,
    far: bool,
) -> list[PlanJob]:
    """A job for each book, with the mill file given or the one beside it, read once.

    Where workers are `far` files are named in full, as they work in another folder.
    """
    from trimopt import PlanJob

    beside = {book.parent: book for book in books}
    mills = {folder: load_mill(mill_path, book) for folder, book in beside.items()}
    # One that cannot be written is said before planning.
    ledgers = {folder: find_ledger(ledger, mill, quiet=True) for folder, mill in mills.items()}
    for folder, kept_in in ledgers.items():
        if kept_in is not None and held_now(kept_in, mills[folder]):
            say("held enquiries are left out: they join a book that is planned alone", err=True)
    return [
        PlanJob(
            book=book.absolute() if far else book,
            mill=mills[book.parent],
            request=request,
            folder=out.absolute() if far else out,
            as_of=as_of,
            ledger=kept_in.url.render_as_string(hide_password=False)
            if (kept_in := ledgers[book.parent])
            else "",
        )
        for book in books
    ]


def plan_many(
    jobs: Sequence[PlanJob],
    cluster: str | None,
    processes: int | None,
    *,
    as_json: bool,
) -> None:
    """Plan the books and print a row for each as it is done; at the end, how many are planned.

    Raises
    ------
    PlanError
        A book is not planned, after all others are.
    """
    from trimopt import PlanError, make_plans
    from trimopt.interrupt import Stage, begin

    def tell(row: PlannedBook) -> None:
        if not as_json:
            say(_row(row), err=bool(row.error))

    with _executor(cluster) as executor:
        begin(Stage.SEEKING)
        rows = make_plans(jobs, executor, processes=processes, observer=tell)
    begin(Stage.WRITING)
    if as_json:
        say_fields([asdict(row) for row in rows])
    failed = [row for row in rows if not row.number]
    if failed:
        names = ", ".join(row.book for row in failed)
        raise PlanError(f"{len(failed)} of {counted(len(rows), 'book')} not planned: {names}")
    if not as_json:
        say(f"{counted(len(rows), 'book')} planned")


def _row(row: PlannedBook) -> str:
    if not row.number:
        return f"{row.book}: {row.error}"
    parts = [
        f"{row.book}: {row.number}",
        counted(row.orders, "order"),
        counted(row.runs, "run"),
        f"{row.used_kg / 1000:,.1f} t of paper",
        f"{row.loss_kg / (row.used_kg or 1):.2%} lost",
        counted(row.set_ups, "set-up"),
        f"{row.seconds:.1f} s",
    ]
    if row.left_out:
        parts.append(f"{row.left_out} left out")
    if row.clock_stopped:
        parts.append("stopped by the clock")
    return "  ".join(parts) + (f"\n  {row.error}" if row.error else "")


@contextmanager
def _executor(address: str | None) -> Iterator[Executor | None]:
    """The cluster's executor; None where none is named.

    Raises
    ------
    click.UsageError
        What speaks to clusters is not installed.
    PlanError
        No scheduler answers at the address.
    """
    from trimopt import PlanError

    if address is None:
        yield None
        return
    try:
        from distributed import Client
    except ImportError as error:
        message = "--cluster wants the extra of that name: pip install trimopt[cluster]"
        raise click.UsageError(message) from error
    try:
        client = Client(address)
    except (OSError, ValueError) as error:
        message = f"cluster {address}: {error}; name the scheduler, such as tcp://planner:8786"
        raise PlanError(message) from error
    with client:
        yield client.get_executor()
