"""Reels, cores and the sheeter's work, from the sample plan worked out by hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_mill
from trimopt.plan.model import RunPlan
from trimopt.plan.reel_rows import cores_to_cut, reels_of, sheeter_list


def _board() -> RunPlan:
    return sample_plan().runs[0]


def _kraft() -> RunPlan:
    return sample_plan().runs[1]


def test_a_reel_leads_back_to_its_jumbo_set_and_position() -> None:
    """The identity of each reel is its own, and says where it was cut."""
    rows = [*reels_of(_board()), *reels_of(_kraft())]
    assert len({row.identity for row in rows}) == len(rows)
    row = next(row for row in rows if row.identity == "J02-007-3")
    assert (row.jumbo, row.set_number, row.position) == ("J02", 7, 3)
    assert (row.kind, row.order, row.ups, row.sheeter) == ("sheeter", "4103", 2, "Sheeter A")


def test_every_reel_is_listed_and_no_broke_reel() -> None:
    """Six sets of 4, two of 3 beside a broke reel, two of 3 make 36 reels."""
    counted = Counter(row.order for row in reels_of(_board()))
    assert counted == {"4101": 16, "4102": 12, "4103": 6, "4104": 2}


def test_a_reel_has_its_figures() -> None:
    """Width, length, core, diameter and mass: 780 mm × 3,150 m × 250 g/m² is 614.25 kg."""
    row = next(row for row in reels_of(_board()) if row.order == "4102")
    assert row.width_mm == 780
    assert (row.length_m, row.core_mm) == (3150, 152.0)
    assert row.mass_kg == pytest.approx(614.25)
    assert row.diameter_mm == pytest.approx(1247.6, abs=0.05)
    assert (row.customer, row.destination) == ("Penhale & Daughters", "Corran")


def test_the_last_reel_above_the_limit_is_surplus() -> None:
    """Of two reels where one was ordered, the one made last goes to stock."""
    assert [row.identity for row in reels_of(_board()) if row.surplus] == ["J03-010-2"]


@pytest.mark.parametrize(("max_kg", "surplus"), [(7371, 0), (7000, 0), (6756, 1), (6142.5, 2)])
def test_only_whole_reels_by_mass_are_surplus(max_kg: float, surplus: int) -> None:
    """Twelve reels weigh 7,371 kg; one is surplus where eleven (6,756.75 kg) reach the limit."""
    run = _board()
    lines = tuple(
        replace(line, max_quantity=Fraction(str(max_kg))) if line.number == "4102" else line
        for line in run.orders
    )
    rows = reels_of(replace(run, orders=lines))
    assert sum(row.surplus for row in rows if row.order == "4102") == surplus


def test_sheeter_reels_go_to_the_sheeter_whatever_the_limit() -> None:
    """6,114 sheets a reel, 18,342 allowed: all six reels are in loads and cut, so none is stock."""
    run = _board()
    lines = tuple(
        replace(line, max_quantity=Fraction(18342)) if line.number == "4103" else line
        for line in run.orders
    )
    rows = [row for row in reels_of(replace(run, orders=lines)) if row.order == "4103"]
    assert [row.surplus for row in rows] == [False] * 6


def test_half_a_reel_is_not_sold() -> None:
    """A limit of 15.2 reels allows 15."""
    run = _board()
    lines = tuple(
        replace(line, max_quantity=Fraction(76, 5)) if line.number == "4101" else line
        for line in run.orders
    )
    rows = [row for row in reels_of(replace(run, orders=lines)) if row.order == "4101"]
    assert sum(row.surplus for row in rows) == 1
    assert rows[-1].surplus


def test_a_reel_of_a_mixed_set_has_the_diameter_of_its_own_core() -> None:
    """3,150 m on the core of 76 mm is thinner than on 152 mm."""
    run = _board()
    block = run.blocks[0]
    positions = (replace(block.positions[0], core_mm=76.0), *block.positions[1:])
    mixed = replace(block, core_mm=None, positions=positions)
    rows = reels_of(replace(run, blocks=(mixed,)))
    assert rows[0].diameter_mm == pytest.approx(1238.6, abs=0.1)
    assert rows[1].diameter_mm == pytest.approx(1247.6, abs=0.1)


def test_a_space_in_a_jumbos_name_does_not_break_the_identity() -> None:
    """A label is read as one word."""
    run = _kraft()
    block = run.blocks[1]
    part = replace(block.sets[0].stretches[0], jumbo="N 4")
    block = replace(block, sets=(replace(block.sets[0], stretches=(part,)),))
    assert reels_of(replace(run, blocks=(block,)))[0].identity == "N_4-003-1"


def test_cores_are_cut_for_every_strip() -> None:
    """Broke reels need cores as the others do; the whole adds up to all strips of all sets."""
    rows = cores_to_cut(_board())
    assert sum(row.pieces for row in rows) == 6 * 4 + 2 * 4 + 2 * 3
    assert [(int(row.width_mm), row.pieces, row.for_broke) for row in rows] == [
        (1460, 6, 0), (1000, 16, 0), (780, 12, 0), (600, 2, 0), (100, 2, 2),
    ]  # fmt: skip


def test_the_sheeters_work() -> None:
    """Six reels of 2 ups: 3,088 chops, 1 % waste, 6,114 sheets each, in reams of 200."""
    (row,) = sheeter_list(_board(), sample_mill())
    assert (row.sheeter, row.order, row.ups, row.reels) == ("Sheeter A", "4103", 2, 6)
    assert [int(mm) for mm in (row.reel_width_mm, row.across_mm, row.chop_mm)] == [1460, 720, 1020]
    assert row.sheets == 36684
    assert row.reams == Fraction(36684, 200)
    assert row.edge_trim_mm == 10
    assert row.kg_in == pytest.approx(6898.5)
    assert row.kg_out == pytest.approx(6735.1824)
    assert sheeter_list(_kraft(), sample_mill()) == ()
