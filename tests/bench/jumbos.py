"""Paper used along the jumbo beside the obvious way, for every run of order books.

    python -m tests.bench.jumbos [BOOK MILL] [--files] [--seconds S] [--json]

BOOK MILL is an order book with its mill file (default: the week book in `orders`); `--files` adds
each mill file under TRIMOPT_DATA, on the jumbo that `tests.mill_files` states. The obvious way
stands in `tests.bench.obvious`; ours is the plan itself, trade-off, running order and balancing in
it. Both have the same time for a run.

- used: paper used, t, as in the mass balance (butts and jumbo ends in it, what is carried forward
  not); loss: total loss, kg and per cent of it;
- gap: from the joint bound (over every whole set length in range) to the loss with butts, kg below
  and above the ordered quantity valued as the mill says, in per cent of paper used;
- holds: whether the loss that both ways are judged by does not rise, and falls unless the obvious
  way meets the bound to within a metre of jumbo.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from pathlib import Path

from tests.bench.obvious import obvious_way
from tests.mill_files import STATED, mill_file, mill_files
from trimopt.book import read_book
from trimopt.book.model import Book
from trimopt.budget import Budget
from trimopt.cutting import SCALE
from trimopt.making import Run, prepare, runs_of
from trimopt.mill import read_mill
from trimopt.mill.model import Mill, Values
from trimopt.plan.model import Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan
from trimopt.winding import least_loss

_ORDERS = Path(__file__).parents[2] / "orders"
_BOUND_SECONDS = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way of planning a run. `loss_m` is what is judged, in metres of jumbo."""

    used_t: float
    total_loss_kg: float
    total_loss_percent: float
    butts_m: int
    used_m: int
    loss_m: float
    gap_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One run, both ways."""

    book: str
    run: str
    usable_m: int
    obvious: Way
    ours: Way
    bound_m: float | None
    seconds: float

    @property
    def holds(self) -> bool:
        """Loss does not rise, and falls unless the obvious way meets the bound."""
        met = self.bound_m is not None and self.obvious.loss_m <= self.bound_m + 1
        return self.ours.loss_m < self.obvious.loss_m - 0.05 or (
            met and self.ours.loss_m <= self.obvious.loss_m + 0.05
        )


def measure(name: str, book: Book, run: Run, mill: Mill, seconds: float) -> Row | None:
    """Both ways for one run; None where one of them finds no plan in its time."""
    grade = mill.grade(run.grade)
    assert grade is not None
    of_paper = mill.for_paper(grade, run.grammage_gsm)
    obvious = obvious_way(run, of_paper, seconds)
    started = time.process_time()
    alone = replace(book, orders=run.orders, jumbos=(), only_listed_jumbos=False, left_out=())
    # Paper alone, whatever the mill prices.
    values = Values(under=mill.values.under, over=mill.values.over)
    plan = make_plan(
        alone, replace(mill, values=values), Request(time_limit_s=seconds), number="bench"
    )
    spent = time.process_time() - started
    if obvious is None or not plan.runs:
        return None
    (ours,) = plan.runs
    bound_m = _bound_m(run, of_paper)

    def way(balance: RunPlan | None, used_m: int, butts_m: int, loss_m: float) -> Way:
        figures = obvious.balance if balance is None else balance.balance
        return Way(
            used_t=round(figures.used_kg / 1000, 3),
            total_loss_kg=round(figures.used_kg - figures.delivered_kg, 1),
            total_loss_percent=round(100 * figures.total_loss, 3),
            butts_m=butts_m,
            used_m=used_m,
            loss_m=round(loss_m, 1),
            gap_percent=None if bound_m is None else round(100 * (loss_m - bound_m) / used_m, 3),
        )

    butts_m = sum(jumbo.butt_m for jumbo in ours.jumbos)
    used_m = sum(jumbo.wound_m for jumbo in ours.jumbos) + butts_m
    return Row(
        book=name,
        run=run.name,
        usable_m=of_paper.jumbo.usable_m,
        obvious=way(None, obvious.used_m, obvious.butts_m, float(obvious.loss_m)),
        ours=way(ours, used_m, butts_m, _loss_m(ours, of_paper, butts_m)),
        bound_m=None if bound_m is None else round(bound_m, 1),
        seconds=round(spent, 1),
    )


def _loss_m(run: RunPlan, mill: Mill, butts_m: int) -> float:
    """The loss that the engine judges by, from the balance, with the butts: metres of jumbo."""
    balance = run.balance
    loss_kg = balance.wound_kg - balance.delivered_kg
    loss_kg += float(mill.values.under) * balance.under_kg
    loss_kg += float(mill.values.over) * balance.over_kg
    return loss_kg * 1e6 / (float(mill.jumbo.width_mm) * run.grammage_gsm) + butts_m


def _bound_m(run: Run, mill: Mill) -> float | None:
    making = prepare(run, mill)
    least = least_loss(making, mill, (mill.jumbo.usable_m,), budget=Budget.lasting(_BOUND_SECONDS))
    if least is None:
        return None
    return float(Fraction(least, SCALE) * making.unit_mm / mill.jumbo.width_mm)


def _books(asked: argparse.Namespace) -> Iterator[tuple[str, Book, Mill]]:
    mill = read_mill(asked.mill)
    yield asked.book.stem, read_book(asked.book, mill), mill
    if asked.files:
        for name in mill_files():
            yield name, *mill_file(name)


_HEAD = (
    f"{'run':32} {'used t':>17} {'total loss kg':>17} {'%':>13} {'butts m':>13} {'gap %':>13} "
    f"{'holds':>5} {'s':>5}\n"
)


def _line(row: Row) -> str:
    one, other = row.obvious, row.ours
    gaps = [
        " none" if gap is None else f"{gap:6.2f}" for gap in (one.gap_percent, other.gap_percent)
    ]
    return (
        f"{f'{row.book}: {row.run}':32} {one.used_t:8.2f} {other.used_t:8.2f} "
        f"{one.total_loss_kg:8,.0f} {other.total_loss_kg:8,.0f} "
        f"{one.total_loss_percent:6.2f} {other.total_loss_percent:6.2f} "
        f"{one.butts_m:6,} {other.butts_m:6,} {gaps[0]} {gaps[1]} "
        f"{'yes' if row.holds else 'NO':>5} {row.seconds:5.1f}\n"
    )


def main(words: list[str] | None = None) -> int:
    """Print a line a run, the obvious way left and ours right in each pair, and the sums."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("book", type=Path, nargs="?", default=_ORDERS / "week.xlsx")
    parser.add_argument("mill", type=Path, nargs="?", default=_ORDERS / "mill.toml")
    parser.add_argument("--files", action="store_true", help="the mill files of TRIMOPT_DATA too")
    parser.add_argument("--seconds", type=float, default=60.0, help="for a run, each way")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    if asked.files and not os.environ.get("TRIMOPT_DATA"):
        parser.error("--files needs TRIMOPT_DATA to name the folder of open data sets")
    rows = []
    if not asked.json:
        if asked.files:
            sys.stdout.write(f"mill files: {STATED}\n")
        sys.stdout.write("each pair: the obvious way, ours\n" + _HEAD)
    for name, book, mill in _books(asked):
        for run in runs_of(book, mill):
            row = measure(name, book, run, mill, asked.seconds)
            if row is None:
                sys.stdout.write(f"{name}: {run.name}: no plan in the time given\n")
                continue
            rows.append(row)
            if not asked.json:
                sys.stdout.write(_line(row))
                sys.stdout.flush()
    if asked.json:
        sys.stdout.write(json.dumps([asdict(row) for row in rows], indent=1) + "\n")
        return 0
    used = sum(row.obvious.used_t for row in rows), sum(row.ours.used_t for row in rows)
    lost = (
        sum(row.obvious.total_loss_kg for row in rows),
        sum(row.ours.total_loss_kg for row in rows),
    )
    sys.stdout.write(
        f"{'in all':32} {used[0]:8.2f} {used[1]:8.2f} {lost[0]:8,.0f} {lost[1]:8,.0f}\n"
        f"{sum(row.holds for row in rows)} of {len(rows)} runs hold\n"
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
