"""How many equal reels an order asks for is a number: planning them takes no more time."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

from trimopt.book import read_book
from trimopt.mill import read_mill
from trimopt.plan.model import Effort, Plan, Request
from trimopt.plan.planning.plan_book import make_plan

_MILL = Path(__file__).parents[2] / "orders" / "mill.toml"
_HEADINGS = "Order;Customer;Grade;Grammage;Product;Width;Min. diameter;Max. diameter;Core"


def _planned(folder: Path, reels: int) -> tuple[Plan, float]:
    """The plan of so many reels beside four small orders, and processor seconds for it."""
    orders = [(735, reels), *((600 + 37 * i, 12 + i) for i in range(2, 6))]
    lines = [
        f"A{width};Customer;Folding boxboard;250;reel;{width};1150;1250;152;{number};reels;5"
        for width, number in orders
    ]
    file = folder / f"{reels}.csv"
    head = f"{_HEADINGS};Quantity;Unit;Tolerance"
    file.write_text("\n".join(["As of;2026-11-23", head, *lines]), encoding="utf-8")
    mill = replace(read_mill(_MILL), max_book_t=1_000_000.0)
    book = read_book(file, mill)
    begun = time.process_time()
    plan = make_plan(book, mill, Request(effort=Effort.QUICK, time_limit_s=100))
    return plan, time.process_time() - begun


def test_a_hundred_times_the_reels_take_no_more_time(tmp_path: Path) -> None:
    """Nor were they planned less well for it, by work that ran out."""
    few, few_s = _planned(tmp_path, 1_000)
    many, many_s = _planned(tmp_path, 100_000)
    for plan, reels in ((few, 1_000), (many, 100_000)):
        (run,) = plan.runs
        assert not run.proof.clock_stopped
        assert next(line for line in run.orders if line.number == "A735").planned >= 0.95 * reels
        assert run.balance.butts_kg < 0.001 * run.balance.used_kg
    assert many_s < 2 * few_s + 4
