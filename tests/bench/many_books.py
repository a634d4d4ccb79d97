"""Many small books at once: books a minute, and whether plans are equal.

    python -m tests.bench.many_books [--books 200] [--processes 1 2] [--cluster ADDRESS]

Books are the small ones of `tests.random_books`. Each number of processes plans all of them; their
rows are held against those of the first.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path

from tests.random_books import random_case, small_numbers
from trimopt import Effort, PlanJob, PlannedBook, Request, make_plans


def jobs_of(count: int, folder: Path, effort: Effort) -> list[PlanJob]:
    """So many small books, written into the folder, each with its mill file."""
    jobs = []
    for number in small_numbers(count):
        case = random_case(number)
        own = folder / str(number)
        own.mkdir()
        mill, book = case.write(own)
        request = Request(effort=effort, time_limit_s=300.0, leave_out_faulty=True)
        jobs.append(PlanJob(book=book, mill=mill, request=request, folder=folder / "plans"))
    return jobs


def _same(row: PlannedBook) -> PlannedBook:
    return replace(row, seconds=0.0, number="", files=())


def _throughput(
    name: str, jobs: Sequence[PlanJob], executor: Executor | None, processes: int | None
) -> tuple[PlannedBook, ...]:
    begun = time.monotonic()
    rows = make_plans(jobs, executor, processes=processes)
    wall_s = time.monotonic() - begun
    planned = sum(bool(row.number) for row in rows)
    busy_s = sum(row.seconds for row in rows)
    print(
        f"{name}: {planned} of {len(rows)} books in {wall_s:.1f} s, {60 * planned / wall_s:.0f} a "
        f"minute; {busy_s / len(rows):.2f} s a book, longest {max(r.seconds for r in rows):.1f} s",
        flush=True,
    )
    return tuple(_same(row) for row in rows)


def main(arguments: Sequence[str] | None = None) -> None:
    """Plan them all, with each number of processes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--books", type=int, default=200)
    parser.add_argument("--processes", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--effort", choices=[each.value for each in Effort], default="quick")
    parser.add_argument("--cluster", metavar="ADDRESS")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        jobs = jobs_of(options.books, Path(folder), Effort(options.effort))
        found = [
            _throughput(f"{count} processes", jobs, None, count) for count in options.processes
        ]
        if options.cluster:
            from distributed import Client  # noqa: PLC0415  only where the extra is installed

            with Client(options.cluster) as client:
                found.append(_throughput("cluster", jobs, client.get_executor(), None))
    different = sum(len(set(rows)) > 1 for rows in zip(*found, strict=True))
    print(f"{different} books whose rows differ")
    for row in found[0]:
        if row.error:
            print(f"  {row.book}: {row.error.splitlines()[0]}")


if __name__ == "__main__":
    main()
