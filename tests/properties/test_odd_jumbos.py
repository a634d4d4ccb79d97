"""A short jumbo among others never makes the plan dearer than leaving its misfit as a butt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from random import Random

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, JumboInStock
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan

ENDS_M = (100, 50)  # start and end loss
LET_BE = 0.003  # of the metres wound: butts below that are not looked into


def priced_mill() -> Mill:
    """The sample mill with prices."""
    mill = sample_mill()
    values = replace(mill.values, trim_cost_per_t=420.0, set_up=35.0, knife_move=2.0)
    winder = replace(mill.winder, max_edge_trim_mm=None, max_set_mass_kg=None)
    return replace(mill, values=values, winders=(winder,))


def jumbo(name: str, usable_m: int) -> JumboInStock:
    """A jumbo in stock."""
    start, end = ENDS_M
    return board_jumbo(name, usable_m + start + end, loss_start_m=start, loss_end_m=end)


def random_book(draw: Random, mill: Mill) -> tuple[Book, JumboInStock]:
    """A book with some jumbos of the usual length or none, and a short one to put among them."""
    diameters = draw.sample([900.0, 1050.0, 1180.0, 1240.0], draw.randint(1, 3))
    orders = tuple(
        board_reel(
            f"O{number}",
            width_mm=Fraction(width),
            quantity=Fraction(draw.choice([2, 4, 8, 16])),
            max_diameter_mm=(greatest := draw.choice(diameters)),
            min_diameter_mm=greatest - draw.choice([0.0, 20.0, 60.0, 150.0]),
            under=Fraction(draw.choice([0, 0, 5, 10]), 100),
            over=Fraction(draw.choice([0, 0, 5, 10]), 100),
        )
        for number, width in enumerate(draw.sample(range(500, 1800, 5), draw.randint(2, 6)))
    )
    usual_m = mill.jumbo.usable_m
    stock = tuple(jumbo(f"M{number}", usual_m) for number in range(draw.choice([0, 0, 2, 4])))
    book = Book(
        source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders, jumbos=stock,
        jumbos_in_order=draw.random() < 0.3,
    )  # fmt: skip
    return book, jumbo("short", draw.randint(usual_m // 10, usual_m))


def cost(run: RunPlan, mill: Mill, butts_m: int) -> float:
    """What the run costs at the mill's prices, with so many metres of butts."""
    balance, values = run.balance, mill.values
    butts_kg = float(run.jumbo_width_mm) * butts_m * run.grammage_gsm / 1e6
    lost_kg = (
        balance.edge_trim_kg
        + balance.pattern_trim_kg
        + balance.sheeter_kg
        + balance.surplus_kg
        + float(values.under) * balance.under_kg
        + float(values.over) * balance.over_kg
        + butts_kg
    )
    assert values.trim_cost_per_t is not None
    assert values.set_up is not None
    assert values.knife_move is not None
    money = lost_kg / 1000 * values.trim_cost_per_t
    return money + run.set_ups * values.set_up + run.knife_moves * values.knife_move


def laid_butts_m(
    lengths: Sequence[int], listed: Sequence[int], nominal_m: int, *, kept: bool
) -> int:
    """Metres lost where sets of these lengths are laid on jumbos one after another.

    A listed jumbo too short for the next set waits, or is set aside where the order is kept.
    """
    waiting, left, lost = list(listed), 0, 0
    for length in lengths:
        if left < length:
            lost += left
            place = next((n for n, m in enumerate(waiting) if m >= length), None)
            left = nominal_m if place is None else waiting.pop(place)
            if kept:
                del waiting[: len(waiting) if place is None else place]
        left -= length
    return lost


@dataclass(frozen=True, slots=True, kw_only=True)
class Misfit:
    """What the plan costs, and what the plan without the short jumbo costs with its misfit."""

    planned: float
    reference: float
    let_be: float


def misfit_of(seed: int) -> Misfit:
    """Plan a random book without the short jumbo, and with it at a random place.

    Two of the books take ten seconds at normal effort.
    """
    draw, mill = Random(seed), priced_mill()
    book, short = random_book(draw, mill)
    place = draw.randint(0, len(book.jumbos))
    with_it = replace(book, jumbos=(*book.jumbos[:place], short, *book.jumbos[place:]))
    values = mill.values
    request = Request(effort=Effort.QUICK if seed in {1, 5} else Effort.NORMAL)
    plain, plan = (make_plan(of, mill, request, number="odd-1") for of in (book, with_it))
    assert [str(finding) for finding in verify_plan(plan, with_it, mill)] == []
    (before,), (run,) = plain.runs, plan.runs
    butts_m = laid_butts_m(
        [row.length_m for block in before.blocks for row in block.sets],
        [jumbo.usable_m for jumbo in with_it.jumbos],
        mill.jumbo.usable_m,
        kept=book.jumbos_in_order,
    )
    wound_m = sum(row.length_m for block in run.blocks for row in block.sets)
    wound_t = float(run.jumbo_width_mm) * wound_m * run.grammage_gsm / 1e9
    assert values.trim_cost_per_t is not None
    return Misfit(
        planned=cost(run, mill, sum(jumbo.butt_m for jumbo in run.jumbos)),
        reference=cost(before, mill, butts_m),
        let_be=LET_BE * wound_t * values.trim_cost_per_t,
    )


@pytest.mark.parametrize("seed", range(8))
def test_a_short_jumbo_is_never_worse_than_its_misfit_as_a_butt(seed: int) -> None:
    """At the mill's prices, up to the butts that are let be."""
    found = misfit_of(seed)
    assert found.planned <= found.reference + found.let_be + 0.01
