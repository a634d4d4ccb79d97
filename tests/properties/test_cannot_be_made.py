"""Every order that is said to be impossible is, and every value said to pass does: counted out."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from fractions import Fraction
from random import Random

import pytest

from tests.making.every_set import makeable
from tests.making.tight_mills import tight_mill, tight_orders
from trimopt.book.makeable import findings
from trimopt.book.model import Book, Order
from trimopt.book.reel_lengths import Draft
from trimopt.check import verify_plan
from trimopt.errors import InfeasibleError
from trimopt.making import PreparedRun, Run, prepare_placeable, stops
from trimopt.mill.model import Mill
from trimopt.plan.model import Request
from trimopt.plan.planning.plan_book import make_plan

_CURES = {
    "reel": r"a broke reel of ([\d.]+) mm",
    "strips": r"(\d+) strips in a set",
    "mass": r"a set mass of (\d+) kg",
    "width": r"a width of ([\d.]+) mm by itself",
}


def held(orders: tuple[Order, ...], mill: Mill, usable_m: int) -> PreparedRun:
    """The run of these orders, those that cannot be made in `stopped`."""
    run = Run(name="Board", grade="Folding board", grammage_gsm=250.0, orders=orders)
    return prepare_placeable(run, mill, usable_m=(usable_m,))


def refused_by_the_book(order: Order, mill: Mill) -> bool:
    """Whether the reader of order books finds a limit of the mill that stops the line."""
    draft = Draft(
        grade=order.grade,
        grammage_gsm=order.grammage_gsm,
        product=order.product,
        width_mm=order.width_mm,
        chop_mm=order.chop_mm,
        min_diameter_mm=order.min_diameter_mm,
        max_diameter_mm=order.max_diameter_mm,
        core_mm=order.core_mm,
        max_reel_mass_kg=order.max_reel_mass_kg,
    )
    return any(not finding.warning for finding in findings(draft, mill))


def cured(
    order: Order, orders: tuple[Order, ...], mill: Mill, kind: str, value: str
) -> tuple[tuple[Order, ...], Mill]:
    """Orders and mill after one piece of advice is taken."""
    winder = mill.winder
    if kind == "reel":
        winder = replace(winder, min_broke_width_mm=Fraction(value))
    elif kind == "strips":
        winder = replace(winder, max_reels=int(value), knives=int(value) + 1)
        winder = replace(winder, max_reels_per_side=winder.max_reels_per_side and int(value))
    elif kind == "mass":
        winder = replace(winder, max_set_mass_kg=float(value))
    else:
        orders = (replace(order, width_mm=Fraction(value)),)
    return orders, replace(mill, winders=(winder,))


def still_stopped(order: Order, mill: Mill, usable_m: int, why: str) -> list[str]:
    """What stops an order after the advice of a message on its lengths is taken."""
    advice, _, least = why.partition("; ")[2].partition("a min. diameter of ")
    width = re.search(r"a width of (\d+) mm", advice)
    found = {
        words: float(match[1])
        for words in ("diameter", "order's reel mass", "winder's reel mass", "set mass", "length")
        if (match := re.search(words.replace(" ", ".*") + r" of (\d+)", advice))
    }
    changed, winder = order, mill.winder
    if (mass_kg := found.get("order's reel mass")) is not None:
        changed = replace(changed, max_reel_mass_kg=mass_kg)
    if (diameter_mm := found.get("diameter")) is not None:
        changed = replace(changed, max_diameter_mm=diameter_mm)
    winder = replace(
        winder,
        max_reel_mass_kg=found.get("winder's reel mass", winder.max_reel_mass_kg),
        max_set_mass_kg=found.get("set mass", winder.max_set_mass_kg),
    )
    after = []
    if found:
        usable = int(found.get("length", usable_m))
        after.append(stops(changed, replace(mill, winders=(winder,)), usable_m=usable))
    if least:
        lower = replace(order, min_diameter_mm=float(least.partition(" ")[0]))
        after.append(stops(lower, mill, usable_m=usable_m))
    if width:
        narrower = replace(order, width_mm=Fraction(width[1]))
        after.append(stops(narrower, mill, usable_m=usable_m))
    return [f"{order.number}: {why}: {one}" for one in after if one]


def wrong_in(seed: int) -> list[str]:
    """What does not hold of one random mill and its orders; each message that came up is tried."""
    draw = Random(seed)
    mill = tight_mill(draw)
    orders = tight_orders(draw, mill)
    usable_m = draw.choice([1200, 2400, 3300])
    can = makeable(orders, mill, usable_m)
    making = held(orders, mill, usable_m)
    wrong = [f"{o.number}: refused, {why}" for o, why in making.stopped if o.number in can]
    wrong += [f"{o.number}: taken" for o in making.run.orders if o.number not in can]
    wrong += [
        f"{order.number}: refused by the reader"
        for order in orders
        if order.number in can and refused_by_the_book(order, mill)
    ]
    for order, why in making.stopped:
        for kind, words in _CURES.items():
            for value in re.findall(words, why.partition("; ")[2]):
                better, other = cured(order, orders, mill, kind, value)
                if order.number not in makeable(better, other, usable_m):
                    wrong.append(f"{order.number}: {why}: {value} does not pass")
        if why.startswith(("the lightest", "the shortest", "no whole metre")):
            wrong += still_stopped(order, mill, usable_m, why)
        width = re.search(r"a width .*; ([\d.]+) mm would pass", why)
        if width and stops(
            replace(order, width_mm=Fraction(width[1])), mill, usable_m=usable_m
        ).startswith("a width"):
            wrong.append(f"{order.number}: {why}")
    return wrong


@pytest.mark.parametrize("seed", [*range(40), 757, 768])
def test_what_cannot_be_made_is_confirmed_by_counting_out(seed: int) -> None:
    """Over all lengths and all choices of reels no set holds it; what is taken lies in some set.

    Webs, edges, masses, stations, cores and edge rules that bind, on winders of both kinds.
    """
    assert wrong_in(seed) == []


@pytest.mark.parametrize("seed", [3, 5, 7, 18, 20, 37])
def test_what_can_be_made_is_planned_and_laid_out(seed: int) -> None:
    """On such winders too every pattern that the engine takes can be laid out, and all holds."""
    draw = Random(seed)
    mill = tight_mill(draw)
    orders = tight_orders(draw, mill)
    book = Book(source="tight", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)
    request = Request()
    if not makeable(orders, mill, mill.jumbo.usable_m):
        with pytest.raises(InfeasibleError, match="no order of tight can be made"):
            make_plan(book, mill, request, number="tight-1")
        return
    plan = make_plan(book, mill, request, number="tight-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
