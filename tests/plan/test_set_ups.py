"""What counts as a set-up is the same for search, winder, plan and check, as the mill file says."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Instruction
from trimopt.check import verify_plan
from trimopt.cutting import Cut, Pattern
from trimopt.making import prepare, runs_of
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Plan, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.schedule.run_lots import lots_of

FLAGS = [(False, False), (True, False), (False, True), (True, True)]


def mill_of(*, core: bool, length: bool) -> Mill:
    """The sample mill with no limit but the deckle; what counts beside a change of pattern."""
    plain = sample_mill()
    winder = replace(
        plain.winder,
        max_edge_trim_mm=None,
        max_set_mass_kg=None,
        core_change_is_set_up=core,
        length_change_is_set_up=length,
    )
    return replace(plain, winders=(winder,))


def book_of(draw: Random) -> Book:
    """Few widths, on two cores and at several diameters, so that they come again in other sets."""
    widths = draw.sample(range(700, 1500, 5), 3)
    orders = tuple(
        board_reel(
            f"O{k}",
            width_mm=Fraction(draw.choice(widths)),
            quantity=Fraction(draw.randint(1, 6)),
            core_mm=draw.choice([76.0, 152.0]),
            min_diameter_mm=float(diameter),
            max_diameter_mm=float(diameter),
        )
        for k, diameter in enumerate(draw.choices((900, 1050, 1200), k=6))
    )
    return Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)


def same_book() -> Book:
    """One width, ordered on two cores, and on one of them in two diameters."""
    orders = tuple(
        board_reel(
            f"O{k}",
            width_mm=Fraction(1100),
            quantity=Fraction(8),
            core_mm=core,
            min_diameter_mm=diameter,
            max_diameter_mm=diameter,
        )
        for k, (core, diameter) in enumerate([(76.0, 1200.0), (152.0, 1200.0), (152.0, 1000.0)])
    )
    return Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)


def planned(book: Book, mill: Mill, most: int | None = None) -> Plan:
    """The plan, checked."""
    cap = () if most is None else (Instruction(what="set-ups", number=most),)
    request = Request(instructions=cap, effort=Effort.QUICK)
    plan = make_plan(book, mill, request, number="set-ups-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    return plan


def counted(run: RunPlan, *, core: bool, length: bool) -> int:
    """Set-ups, counted over the strips as they lie."""
    seen = [
        (
            Counter(position.width_mm for position in block.positions),
            block.core_mm if core else None,
            {row.length_m for row in block.sets} if length else None,
        )
        for block in run.blocks
    ]
    return sum(a != b for a, b in pairwise(seen))


@pytest.mark.parametrize(("core", "length"), FLAGS)
@pytest.mark.parametrize("seed", range(3))
def test_search_winder_and_check_count_alike(seed: int, core: bool, length: bool) -> None:
    """The point that was chosen, the running order and the bound speak of the same set-ups."""
    book, mill = book_of(Random(seed)), mill_of(core=core, length=length)
    run = planned(book, mill).runs[0]
    assert run.set_ups == counted(run, core=core, length=length)
    (chosen,) = (point for point in run.trade_off if point.chosen)
    assert run.set_ups >= chosen.patterns - 1  # a butt may be worth going back to a pattern
    assert run.set_ups_bound is not None
    assert run.set_ups_bound <= run.set_ups
    capped = planned(book, mill, chosen.patterns - 1).runs[0]
    assert capped.set_ups == counted(capped, core=core, length=length) <= chosen.patterns - 1


@pytest.mark.parametrize(
    ("core", "length", "set_ups"), [(*f, n) for f, n in zip(FLAGS, (0, 1, 2, 2), strict=True)]
)
def test_one_width_on_two_cores(core: bool, length: bool, set_ups: int) -> None:
    """Sets of one pattern on two cores, or of other lengths, are a set-up where the mill says so;
    under a cap they stand together, and fewer there cannot be."""
    run = planned(same_book(), mill_of(core=core, length=length), set_ups).runs[0]
    assert len(run.blocks) >= 3
    assert run.set_ups == set_ups
    assert run.set_ups_bound == set_ups


@pytest.mark.parametrize(("core", "length"), FLAGS[1:])
def test_the_check_counts_as_the_mill_says(core: bool, length: bool) -> None:
    """A plan counted without the mill's rule does not hold under it."""
    book, mill = same_book(), mill_of(core=False, length=False)
    plan = planned(book, mill)
    told = [finding.what for finding in verify_plan(plan, book, mill_of(core=core, length=length))]
    assert "set-up" in told
    assert "set-ups" in told


def test_the_same_reels_at_two_lengths_have_the_same_broke_reels() -> None:
    """A longer set may weigh a narrower web; the shorter one takes it too, and no knife moves."""
    mill = sample_mill()
    mill = replace(
        mill, winders=(replace(mill.winder, max_set_mass_kg=2780.0, max_edge_trim_mm=None),)
    )
    order = board_reel(width_mm=Fraction(1000), min_diameter_mm=1100.0)
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,))
    making = prepare(runs_of(book, mill)[0], mill, lengths=[(152.0, 3150), (152.0, 3000)])
    webs_mm = [winding.max_web_mm for winding in making.classes]
    assert webs_mm[0] < webs_mm[1]
    cuts = [
        Cut(Pattern(option.winding_class, ((k, 2),)), 1) for k, option in enumerate(making.options)
    ]
    assert [lot.max_web_mm for lot in lots_of(making, cuts)] == [webs_mm[0]] * 2
