"""How time, memory and files grow with the book: ``python -m tests.bench.growth``.

    python -m tests.bench.growth [LINESxRUNS ...] [--effort E] [--results FILE] [--piece S]

Books are drawn from the lines of the example week, widths moved and numbers new: 200x6 has 200
lines in six runs. Each is planned, checked and written by a process of its own, one core of it;
seconds are of its processor, memory is the most that it had. With --results and --piece the bench
is called again until nothing is left, as `tests.bench.widths` is.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from math import inf
from pathlib import Path
from random import Random
from typing import Any

from trimopt import Effort, Request, make_plan, read_book, read_mill, write_plan
from trimopt.book.model import Book, Order
from trimopt.mill.model import Mill

_ORDERS = Path(__file__).parents[2] / "orders"
_SIZES = (
    *("10x1", "30x1", "60x1", "100x1", "200x1", "10x6", "60x6", "120x6", "200x6", "400x6"),
    *("600x6", "60x20", "200x20", "600x20", "60x60", "200x60", "600x60"),
)
_MOVED_MM = 60


def grown_book(lines: int, runs: int, seed: int = 0) -> tuple[Book, Mill]:
    """A book of so many lines in so many runs, for the example mill."""
    mill = read_mill(_ORDERS / "mill.toml")
    week = read_book(_ORDERS / "week.xlsx", mill)
    papers = list(dict.fromkeys((order.grade, order.grammage_gsm) for order in week.orders))
    draw = Random(f"{lines} {runs} {seed}")
    orders: list[Order] = []
    for place in range(lines):
        run = place % runs
        paper = papers[run % len(papers)]
        alike = [each for each in week.orders if (each.grade, each.grammage_gsm) == paper]
        like = draw.choice(alike)
        moved = draw.randint(-_MOVED_MM, _MOVED_MM) if like.chop_mm is None else 0
        orders.append(
            replace(
                like,
                number=f"{run + 1}-{place + 1:03d}",
                grammage_gsm=like.grammage_gsm + run // len(papers),
                width_mm=like.width_mm + moved,
                made=Fraction(0),
            )
        )
    return replace(week, orders=tuple(orders)), mill


def _measured(size: str, effort: Effort) -> dict[str, Any]:
    """Plan, check and write one book in this process."""
    lines, runs = (int(word) for word in size.split("x"))
    book, mill = grown_book(lines, runs)
    request = Request(effort=effort, leave_out_faulty=True)
    at = [time.process_time()]
    with tempfile.TemporaryDirectory() as folder:
        plan = make_plan(book, mill, request, processes=1)
        at.append(time.process_time())
        written = write_plan(plan, book, mill, folder, request=request)
        at.append(time.process_time())
        sizes = {f"{f.suffix[1:]}_kb": round(f.stat().st_size / 1000) for f in written.files}
    used = sum(run.balance.used_kg for run in plan.runs)
    lost = used - sum(run.balance.delivered_kg for run in plan.runs)
    joint = [(run.proof.metres_used, run.proof.metres_bound) for run in plan.runs]
    known = [(made, bound) for made, bound in joint if made is not None and bound is not None]
    return {
        "size": size,
        "planned_s": round(at[1] - at[0], 2),
        "written_s": round(at[2] - at[1], 2),
        "line_ms": round(1000 * (at[1] - at[0]) / lines),
        "memory_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
        "lost_percent": round(100 * lost / used, 3),
        "gap_percent": round(100 * (1 - sum(b for _, b in known) / sum(m for m, _ in known)), 3),
        "clock": sum(run.proof.clock_stopped for run in plan.runs),
        **sizes,
    }


def _table(rows: Sequence[dict[str, Any]]) -> str:
    names = list(rows[0])
    lines = ["".join(f"{name:>14}" for name in names)]
    return "\n".join([*lines, *("".join(f"{row[name]:>14}" for name in names) for row in rows)])


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure each size in a process of its own, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", metavar="LINESxRUNS", default=_SIZES)
    parser.add_argument("--effort", choices=[each.value for each in Effort], default="normal")
    parser.add_argument("--results", type=Path, metavar="FILE", help="books done, a line each")
    parser.add_argument("--piece", type=float, default=inf, metavar="S", help="end after so long")
    parser.add_argument("--here", action="store_true", help="one size, in this process, as JSON")
    options = parser.parse_args(arguments)
    if options.here:
        print(json.dumps(_measured(options.sizes[0], Effort(options.effort))))
        return
    begun, left = time.monotonic(), 0
    kept = options.results.read_text() if options.results and options.results.exists() else ""
    rows = [json.loads(line) for line in kept.splitlines()]
    for size in options.sizes:
        if any(row["size"] == size for row in rows):
            continue
        if time.monotonic() - begun > options.piece:
            left += 1
            continue
        own = [sys.executable, "-m", "tests.bench.growth", "--here", "--effort", options.effort]
        said = subprocess.run([*own, size], check=True, capture_output=True, text=True).stdout
        rows.append(json.loads(said.splitlines()[-1]))
        if options.results:
            with options.results.open("a", encoding="utf-8") as lines:
                lines.write(said.splitlines()[-1] + "\n")
    print(_table(rows))
    if left:
        print(f"{left} left: call it again")


if __name__ == "__main__":
    main()
