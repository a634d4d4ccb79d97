"""The generator itself: mills and books such as a mill could have, and all kinds come up."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from tests.random_books import orders_of, random_case, small_numbers
from tests.random_books.case import case_with_extras
from tests.random_books.rare import RARE_FROM
from trimopt.book import read_book
from trimopt.book.makeable import stops
from trimopt.book.model import Order
from trimopt.mill import Mill, read_mill

#: What must come up among the first hundred cases, and in how many at the least.
_KINDS = {
    "single-drum": 20,
    "two-drum": 20,
    "web limit": 20,
    "greatest edge": 20,
    "sheets": 20,
    "stock": 15,
    "narrow jumbo": 5,
    "only listed jumbos": 3,
    "jumbos in order": 5,
    "joins": 15,
    "money": 20,
    "split blocks": 8,
    "tenths": 10,
    "inches": 4,
    "zero tolerance": 10,
    "end of shift": 10,
    "cap on set-ups": 5,
    "instructions": 8,
    "made before": 20,
    "priority": 20,
    "due": 20,
    "reel mass": 20,
    "set mass": 15,
    "order's reel mass": 20,
    "free core": 20,
    "free diameter": 15,
    "broke reels anywhere": 5,
    "core_change_is_set_up": 8,
    "length_change_is_set_up": 8,
}


def test_cases_are_read_and_of_every_kind(tmp_path: Path) -> None:
    """Mill files have no faults, nineteen lines of twenty none; limits, units, money come up."""
    lines = read_lines = 0
    kinds: Counter[str] = Counter()
    sizes = []
    for number in range(100):
        case = random_case(number)
        kinds.update(case.traits)
        sizes.append(len(case.orders))
        if number % 10 > 6:
            continue  # the large ones are as the small ones, and slow to read
        mill_file, book_file = case.write(tmp_path)
        book = read_book(book_file, read_mill(mill_file))
        lines += len(case.orders)
        read_lines += len(book.orders)
    assert {kind: most for kind, most in _KINDS.items() if kinds[kind] < most} == {}
    assert read_lines >= 0.93 * lines
    assert min(sizes) == 1
    assert max(sizes) > 100


def test_what_is_drawn_beside_is_read_and_comes_up(tmp_path: Path) -> None:
    """Defects, odd jumbos, stock reels, stock widths, seconds, run days: nearly no faults."""
    kinds: Counter[str] = Counter()
    faults = rows = 0
    for number in small_numbers(25):
        case = case_with_extras(number)
        kinds.update(case.traits)
        mill_file, book_file = case.write(tmp_path)
        book = read_book(book_file, read_mill(mill_file))
        rows += len(case.jumbos) + len(case.defects) + len(case.stock) + len(case.run_days)
        faults += sum(fault.where != "Orders" for fault in book.faults)
    for kind in ("odd jumbos", "defects", "seconds", "stock reels", "stock widths", "run days"):
        assert kinds[kind] >= 3, kind
    assert faults <= 0.1 * rows


def test_what_is_rare_is_read_and_comes_up(tmp_path: Path) -> None:
    """Mills of one station or an odd core, orders overdue or of odd numbers: most reels can be."""
    lines = made = overdue = 0
    stations, cores = set(), set()
    for number in range(RARE_FROM, RARE_FROM + 60):
        if orders_of(number)[1] > 8:
            continue
        case = case_with_extras(number)
        mill_file, book_file = case.write(tmp_path)
        mill = read_mill(mill_file)
        book = read_book(book_file, mill)
        stations.add(mill.winder.max_reels)
        cores |= {core.inside_mm for core in mill.winder.cores}
        overdue += sum(fault.wrong.startswith("overdue") for fault in book.warnings)
        lines += len(case.orders)
        made += sum(_is_made(each, mill) for each in book.orders)
    assert {1, 2} < stations
    assert cores >= {70.5, 76.2}
    assert overdue > 10
    assert made > 0.9 * lines


def _is_made(order: Order, mill: Mill) -> bool:
    grade = mill.grade(order.grade)
    assert grade is not None
    own = mill.for_paper(grade, order.grammage_gsm)
    return not stops(order, own, usable_m=own.jumbo.usable_m)


def test_a_number_is_one_case() -> None:
    """What a case showed can be seen again by its number."""
    one, again, other = random_case(17), random_case(17), random_case(18)
    assert (one.mill.text, one.orders, one.flags) == (again.mill.text, again.orders, again.flags)
    assert one.mill.text != other.mill.text
