"""Simulated shifts, many of them: what holds, what stays, what it costs in paper and seconds.

Paper is held against a plan from scratch, and against one from scratch after the frozen hour.
Either may be worse than the plan of the rest, by bad luck of a short search: so it is also held
against the best that is known, which may be itself. That errs on the side of more paper.

python -m tests.bench.shifts --shifts 200
python -m tests.bench.shifts --shifts 5 --week --seconds 10    the week's largest run
python -m tests.bench.shifts --odd                             odd jumbos of every kind
"""

from __future__ import annotations

import argparse
import time
import traceback
from collections import Counter
from dataclasses import replace
from math import sqrt

from tests.shifts import Happened, SimulatedShift
from tests.shifts.odd_books import odd_book
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
    parser.add_argument("--odd", action="store_true", help="books of `tests.shifts.odd_books`")
    parser.add_argument(
        "--afresh", type=int, default=0, help="compare each K-th replan with ones from scratch"
    )
    asked = parser.parse_args()
    book, mill = largest_run() if asked.week else None, None
    begun = time.time()
    happened: list[Happened] = []
    broken = 0
    for number in range(asked.first, asked.first + asked.shifts):
        if asked.odd:
            book, mill = odd_book(number)
        try:
            shift = SimulatedShift(
                number,
                orders=asked.orders or 3 + number % 4,
                small=not asked.orders,
                events=asked.events,
                book=book,
                mill=mill,
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
    print(
        "| event | replans | sets that may stay | stayed | compared | more paper | "
        "more after the frozen hour | seconds |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    kinds = (
        "rush", "more", "less", "sooner", "cancelled", "stop", "stock", "short", "narrow", "listed",
        "streak", "bad edge", "hole", "elsewhere", "",
    )  # fmt: skip
    for kind in kinds:
        of = [each for each in happened if kind in each.what]
        if not of:
            continue
        may, does = sum(each.may_stay for each in of), sum(each.stayed for each in of)
        compared = [(each, each.afresh) for each in of if each.afresh is not None]
        free = [(each.lost_kg - than.free_kg, each.used_kg) for each, than in compared]
        fair = [(each.lost_kg - than.after_frozen_kg, each.used_kg) for each, than in compared]
        share = f"{100 * does / may:.1f} %" if may else ""
        times = sorted(each.seconds for each in of)
        seconds = f"{times[len(times) // 2]:.1f}, at most {times[-1]:.1f}"
        row = kind or "all", len(of), may, share, len(compared), _more(free), _more(fair), seconds
        print(f"| {' | '.join(map(str, row))} |")
    print(f"more than the best known: {_above_best(happened)}")
    for than in ("free_kg", "after_frozen_kg"):
        print(f"more than twice and a tonne above {than}: {_outliers(happened, than)}")


def _above_best(happened: list[Happened]) -> str:
    """Above the best plan that is known, and above the best with the frozen hour."""
    free, fair = [], []
    for each in happened:
        if each.afresh is not None:
            least = min(each.lost_kg, each.afresh.after_frozen_kg)
            fair.append((each.lost_kg - least, each.used_kg))
            free.append((each.lost_kg - min(least, each.afresh.free_kg), each.used_kg))
    return f"{_more(free)}, of those with the frozen hour {_more(fair)}"


def _more(paper: list[tuple[float, float]]) -> str:
    """Kilograms more, each with those used, as a share with its standard error."""
    used = sum(kg for _, kg in paper)
    if not used:
        return ""
    share = sum(more for more, _ in paper) / used
    off = sum((more - share * kg) ** 2 for more, kg in paper)
    count = len(paper)
    error = f" ± {100 * sqrt(off * count / (count - 1)) / used:.2f}" if count > 1 else ""
    return f"{100 * share:+.2f}{error} %"


def _outliers(happened: list[Happened], than: str) -> int:
    """How many lose more than twice what a plan from scratch does, and more than a tonne more."""
    compared = [(each.lost_kg, getattr(each.afresh, than)) for each in happened if each.afresh]
    return sum(lost > 2 * kg and lost > kg + 1_000 for lost, kg in compared)


if __name__ == "__main__":
    main()
