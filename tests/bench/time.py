"""Where a command's time goes: a table of phases, wall and processor seconds.

    python -m tests.bench.time [BOOK ...] [--processes N] [--time-limit S] [--effort E] [--busy N]

A book is the path of an order book with its mill file beside it, or a number of lines: the first of
`tests.random_books` with so many. Default: shift, week and 110 lines. `--busy` runs so many other
programs at the same time that take all the processor that they get; the plan must be the same, and
its fingerprint says whether it is.

Phases are those that progress tells of. With more processes than one a phase's wall time is summed
over the runs, so it adds up to more than the whole, and its processor time is not known.
"""

from __future__ import annotations

import argparse
import hashlib
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tests.random_books import random_case
from trimopt import Effort, Plan, Request, RunProgress, make_plan, read_book, read_mill, write_plan
from trimopt.progress import PLANNED

_DEFAULT = ("orders/shift.xlsx", "orders/week.xlsx", "110")


class PhaseClock:
    """An observer that adds up the time between events by the phase that was told before."""

    def __init__(self) -> None:
        self.wall_s: dict[str, float] = defaultdict(float)
        self.cpu_s: dict[str, float] = defaultdict(float)
        self._at: dict[str, tuple[str, float, float]] = {}

    def __call__(self, event: RunProgress) -> None:
        """Take in an event."""
        now = time.monotonic(), time.process_time()
        before = self._at.get(event.run)
        if before is not None and before[0] != PLANNED:
            self.wall_s[before[0]] += now[0] - before[1]
            self.cpu_s[before[0]] += now[1] - before[2]
        self._at[event.run] = (event.phase, *now)

    def end(self, phase: str) -> None:
        """The whole plan's last phase ends, and another begins."""
        self(RunProgress(run="", phase=phase, share=1.0))


def fingerprint(plan: Plan) -> str:
    """Eight letters that stand for all of a plan but the clock's own figures."""
    runs = (replace(run, proof=replace(run.proof, seconds=0.0)) for run in plan.runs)
    return hashlib.sha256(str(tuple(runs)).encode()).hexdigest()[:8]


def _book_of(name: str, folder: Path) -> tuple[Path, Path]:
    if not name.isdigit():
        return Path(name).parent / "mill.toml", Path(name)
    lines = int(name)
    cases = (random_case(number) for number in range(9, 10_000, 10))
    return next(case for case in cases if len(case.orders) >= lines).write(folder)


def _timed(name: str, options: argparse.Namespace) -> None:
    with tempfile.TemporaryDirectory() as folder:
        mill_path, book_path = _book_of(name, Path(folder))
        clock = PhaseClock()
        begun = time.monotonic(), time.process_time()
        clock.end("read")
        mill = read_mill(mill_path)
        book = read_book(book_path, mill)
        request = Request(
            time_limit_s=options.time_limit, effort=Effort(options.effort), leave_out_faulty=True
        )
        clock.end(PLANNED)
        plan = make_plan(book, mill, request, processes=options.processes, observer=clock)
        written = write_plan(plan, book, mill, folder, request=request, observer=clock)
        clock.end(PLANNED)
        whole = time.monotonic() - begun[0], time.process_time() - begun[1]
        sizes = ", ".join(
            f"{path.suffix[1:]} {path.stat().st_size / 1000:,.0f} kB" for path in written.files
        )
    runs = plan.runs
    lost = sum(run.balance.used_kg - run.balance.delivered_kg for run in runs) / 1000
    stopped = any(run.proof.clock_stopped for run in runs)
    print(
        f"{name}: {len(book.orders)} lines, {len(runs)} runs, {lost:.2f} t lost, "
        f"{'stopped by the clock' if stopped else 'ended by work'}, "
        f"fingerprint {fingerprint(plan)}; {sizes}"
    )
    print(f"  {'phase':18s} {'wall s':>8s} {'cpu s':>8s}")
    for phase, wall_s in clock.wall_s.items():
        print(f"  {phase:18s} {wall_s:8.2f} {clock.cpu_s[phase]:8.2f}")
    print(f"  {'whole':18s} {whole[0]:8.2f} {whole[1]:8.2f}", flush=True)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a table for each book."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("books", nargs="*", metavar="BOOK", default=_DEFAULT)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--time-limit", type=float, default=None)
    parser.add_argument("--effort", choices=[each.value for each in Effort], default="normal")
    parser.add_argument("--busy", type=int, default=0)
    options = parser.parse_args(arguments)
    loop = [sys.executable, "-c", "while True: pass"]
    others = [subprocess.Popen(loop) for _ in range(options.busy)]
    try:
        for name in options.books:
            _timed(name, options)
    finally:
        for each in others:
            each.kill()
            each.wait()


if __name__ == "__main__":
    main()
