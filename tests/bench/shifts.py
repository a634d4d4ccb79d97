"""Simulated shifts, many of them: what holds, what stays, what it costs in paper and seconds.

python -m tests.bench.shifts --shifts 200
python -m tests.bench.shifts --shifts 5 --week --seconds 10    the week's largest run
"""

from __future__ import annotations

import argparse
import time
import traceback
from collections import Counter
from dataclasses import replace

from tests.shifts import Happened, SimulatedShift
from tests.shifts.simulated import ORDERS
from trimopt import Book, read_book, read_mill


def largest_run() -> Book:
    """The week's book with the orders of its largest run alone."""
    book = read_book(ORDERS / "week.xlsx", read_mill(ORDERS / "mill.toml"))
    papers = Counter((order.grade, order.grammage_gsm) for order in book.orders)
    paper = papers.most_common(1)[0][0]
    orders = tuple(each for each in book.orders if (each.grade, each.grammage_gsm) == paper)
    return replace(book, orders=orders, instructions=())


def main() -> None:
    """Run the shifts and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shifts", type=int, default=200)
    parser.add_argument("--first", type=int, default=100)
    parser.add_argument("--events", type=int, default=5)
    parser.add_argument("--seconds", type=float, default=1.0)
    parser.add_argument("--orders", type=int, default=0, help="whole lines; 0: 3 to 6 small ones")
    parser.add_argument(
        "--bad-edge", action="store_true", help="the first jumbo has one from the beginning"
    )
    parser.add_argument("--week", action="store_true")
    parser.add_argument(
        "--afresh", type=int, default=0, help="compare each K-th replan with one from scratch"
    )
    asked = parser.parse_args()
    book = largest_run() if asked.week else None
    begun = time.time()
    happened: list[Happened] = []
    broken = 0
    for number in range(asked.first, asked.first + asked.shifts):
        try:
            shift = SimulatedShift(
                number,
                orders=asked.orders or 3 + number % 4,
                small=not asked.orders,
                events=asked.events,
                book=book,
                bad_edge=asked.bad_edge,
                seconds=asked.seconds,
                afresh=asked.afresh,
            )
            happened += shift.live()
        except Exception as error:
            broken += 1
            where = traceback.extract_tb(error.__traceback__)[-1]
            print(f"shift {number}: {type(error).__name__} {error} ({where.name}:{where.lineno})")
    _table(happened)
    print(f"{asked.shifts} shifts, {broken} broken, {time.time() - begun:.0f} s")


def _table(happened: list[Happened]) -> None:
    """What stayed and what it cost, by kind of event."""
    print("| event | replans | sets that may stay | stayed | compared | more paper | seconds |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    kinds = (
        "rush", "more", "less", "sooner", "cancelled", "stop", "stock", "short", "narrow", "listed",
        "streak", "bad edge", "hole", "elsewhere", "",
    )  # fmt: skip
    for kind in kinds:
        of = [each for each in happened if kind in each.what]
        if not of:
            continue
        may, does = sum(each.may_stay for each in of), sum(each.stayed for each in of)
        compared = [(each, each.afresh_kg) for each in of if each.afresh_kg is not None]
        used = sum(each.used_kg for each, _ in compared)
        more = sum(each.lost_kg - kg for each, kg in compared)
        share = f"{100 * does / may:.1f} %" if may else ""
        paper = f"{100 * more / used:+.2f} %" if used else ""
        times = sorted(each.seconds for each in of)
        seconds = f"{times[len(times) // 2]:.1f}, at most {times[-1]:.1f}"
        row = kind or "all", len(of), may, share, len(compared), paper, seconds
        print(f"| {' | '.join(map(str, row))} |")


if __name__ == "__main__":
    main()
