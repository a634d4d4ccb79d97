"""The check, rule by rule: plans each of which says one thing that is not so."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any

import pytest

from tests.plan.leaves import Path, leaf, with_leaf
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Book, Defect, LeftOut, StockReel, TakenUp
from trimopt.check import verify_plan
from trimopt.mill.model import Mill, StockWidth
from trimopt.paper import UnitSystem
from trimopt.plan.model import Plan, Replanned, Source, UnusedJumbo
from trimopt.plan.proof_data import InstructionPrice
from trimopt.plan.states import OrderState
from trimopt.plan.way_out import RunWaysOut, WayOut

_F = Fraction
_PLAN, _BOOK, _MILL = sample_plan(), sample_book(), sample_mill()
_SIX = datetime.fromisoformat("2026-03-02T06:00")
_BOARD, _KRAFT = "Folding board 250 g/m²", "Sack kraft 120 g/m²"

_UNUSED = UnusedJumbo(
    name="K-18", grade="Sack kraft", grammage_gsm=120.0, width_mm=_F(3600), length_m=12800, why="?"
)
_STOCK_REEL = StockReel(
    name="S-1", grade="Folding board", grammage_gsm=250.0, width_mm=_F(600), diameter_mm=1240.0,
    length_m=3110, core_mm=152.0,
)  # fmt: skip
_STOCK_WIDTH = StockWidth(
    name="1000 to stock", grade="Folding board", grammage_gsm=250.0, width_mm=_F(1000),
    core_mm=152.0, max_diameter_mm=1250.0, max_kg=_F(2000), value_share=_F(4, 5),
)  # fmt: skip
_WAY = WayOut(kind="tolerance", what="one more", asks="sales", order="4101", saved=12.0)
_WAYS = RunWaysOut(
    run=_BOARD, trim_loss=_PLAN.runs[0].balance.trim_loss, target=0.01, unit="kg", planned=1,
    unplanned=0, ways=(_WAY,),
)  # fmt: skip
_TARGETED = replace(_MILL, trim_target_percent=1.0)
_HELD = replace(_BOOK.orders[0], number="ENQ-1", held_until=date(2026, 3, 6))
_MORE_JUMBOS = replace(_BOOK, jumbos=(*_BOOK.jumbos, replace(_BOOK.jumbos[0], name="K-18")))
_OVER_ALL = Defect(from_m=1000, to_m=1010, from_mm=_F(0), to_mm=_F(3600), what="wet")


def _winder(**changes: Any) -> Mill:
    return replace(_MILL, winders=(replace(_MILL.winder, **changes),))


def _false(
    said: str, *edits: tuple[str, Any], book: Book = _BOOK, mill: Mill = _MILL
) -> tuple[str, Plan, Book, Mill]:
    """A false plan: paths, and what stands there, or a function of what stood there."""
    plan = _PLAN
    for text, value in edits:
        path: Path = tuple(int(step) if step.isdigit() else step for step in text.split("."))
        plan = with_leaf(plan, path, value(leaf(plan, path)) if callable(value) else value)
    return said, plan, book, mill


def _twice(parts: tuple[Any, ...]) -> tuple[Any, ...]:
    return (*parts, parts[0])


def _ways(**changes: Any) -> tuple[tuple[str, Any], ...]:
    return ("request.ways_out", True), ("ways_out", (replace(_WAYS, **changes),))


def _way(**changes: Any) -> tuple[tuple[str, Any], ...]:
    return _ways(ways=(replace(_WAY, **changes),))


_ALONG = [
    _false("jumbo K-17: width, mm: the plan says 3599", ("runs.1.jumbos.0.width_mm", _F(3599))),
    _false("jumbo K-18: listed in the book", ("runs.1.jumbos.0.name", "K-18")),
    _false(
        "J03: carried forward, with the end loss on it", ("runs.0.jumbos.2.carried_forward_m", 199)
    ),
    _false("run: finish and that of its last set", ("runs.0.finish", _SIX)),
    _false(
        "jumbo K-18: is named once as not used, with the reason: the plan says 0; found 1",
        book=_MORE_JUMBOS,
    ),
    _false(
        "set 9: one jumbo is open at a time: the plan says J01; found it was left before",
        ("runs.0.blocks.2.sets.0.stretches.0.jumbo", "J01"),
    ),
    _false(
        "J01: cut out for defects, m: the plan says 5; found 0", ("runs.0.jumbos.0.defect_m", 5)
    ),
    _false("jumbo J01: a jumbo is listed once: the plan says 2", ("runs.0.jumbos", _twice)),
    _false("metres wound: the plan says 12701; found 12700", ("runs.0.jumbos.0.wound_m", 12701)),
    _false("found the book lists a jumbo of that name", ("runs.1.jumbos.0.nominal", True)),
    _false(
        "jumbo K-17: nominal: the plan says yes; found no",
        ("runs.1.jumbos.0.nominal", True),
        ("runs.1.blocks.0.sets.0.done", True),
    ),
    _false("J04: nominal jumbo: the plan says yes", book=replace(_BOOK, only_listed_jumbos=True)),
    _false(
        "jumbo K-17: is opened in the order of the book's list: the plan says after J04",
        ("runs.1.jumbos", lambda jumbos: jumbos[::-1]),
        book=replace(_BOOK, jumbos_in_order=True),
    ),
    _false("to orders that take it: the plan says 1", ("runs.0.blocks.0.sets.0.seconds", (1,))),
    _false("set 1: lies on a jumbo; found on none", ("runs.0.blocks.0.sets.0.stretches", ())),
    _false("set 1: metres on J01", ("runs.0.blocks.0.sets.0.stretches.0.to_m", 0)),
    _false("set 1: start and finish", ("runs.0.blocks.0.sets.0.start", None)),
    _false("what is cut out of J01, metres 900 to 910", ("runs.0.jumbos.0.defects", (_OVER_ALL,))),
    _false("jumbo K-17: not used", ("unused_jumbos", (replace(_UNUSED, name="K-17"),))),
    _false("jumbo K-18: not used", ("unused_jumbos", (_UNUSED,))),
    *(
        _false(
            f"jumbo K-18: {said}",
            ("unused_jumbos", (_UNUSED,)),
            (f"unused_jumbos.0.{field}", value),
            book=_MORE_JUMBOS,
        )
        for said, field, value in (
            ("grade", "grade", "Kraft"),
            ("grammage", "grammage_gsm", 121.0),
            ("width, mm", "width_mm", _F(3599)),
            ("length, m", "length_m", 12801),
            ("why no run takes it", "why", ""),
        )
    ),
]

_ACROSS = [
    _false("run: set-ups: the plan says 3; found 2", ("runs.0.set_ups", 3)),
    _false("run: bound on knife moves: the plan says 5", ("runs.0.knife_moves_bound", 5)),
    _false(
        "block 1: a mark a knife: the plan says 1; found 5",
        ("runs.0.blocks.0.knives_moved", (False,)),
    ),
    _false("sheeter of a broke reel", ("runs.0.blocks.1.positions.3.sheeter", "Sheeter A")),
    _false("sheeter of a customer's reel", ("runs.0.blocks.0.positions.0.sheeter", "Sheeter A")),
    _false("number of a position, from the front side", ("runs.0.blocks.0.positions.0.number", 2)),
    _false("kind of strip: the plan says roll", ("runs.0.blocks.0.positions.0.kind", "roll")),
    _false(
        "core of a reel and of its set: the plan says 76",
        ("runs.0.blocks.0.positions.0.core_mm", 76.0),
    ),
    _false(
        "core of a broke reel and of its set: the plan says 76",
        ("runs.0.blocks.1.positions.3.core_mm", 76.0),
    ),
    _false(
        "set 1: length: the plan says 0 m; found below 1 m", ("runs.0.blocks.0.sets.0.length_m", 0)
    ),
    _false("block 1: a block has at least one set", ("runs.0.blocks.0.sets", ())),
    _false("block 1: a block makes at least one reel", ("runs.0.blocks.0.positions", ())),
    _false("load 1: ready when its last reel is wound", ("loads.0.ready", _SIX)),
    _false("bound on set-ups: the plan says 3; found 2 made", ("runs.0.set_ups_bound", 3)),
    _false(
        "a change of it being a set-up: the plan says 3149; found 3150",
        ("runs.0.blocks.0.sets.0.length_m", 3149),
        mill=_winder(length_change_is_set_up=True),
    ),
    _false(
        "block 1: knife moves of the first block: the plan says 1; found 0",
        ("runs.0.blocks.0.knife_moves", 1),
        *((f"runs.0.blocks.{place}.beam_mm", ()) for place in range(3)),
    ),
    _false(
        "block 1: knives that move: the plan says 1; found 0",
        ("runs.0.blocks.0.knives_moved.0", True),
        *((f"runs.0.blocks.{place}.beam_mm", ()) for place in range(3)),
    ),
    _false(
        "block 3: knife moves up to here: the plan says 3; found 4 at the least",
        ("runs.0.blocks.2.knife_moves", 2),
        *((f"runs.0.blocks.{place}.beam_mm", ()) for place in range(3)),
    ),
    _false(
        "found all knives stand where they stood",
        ("runs.0.blocks", lambda blocks: (*blocks, blocks[-1])),
        *((f"runs.0.blocks.{place}.beam_mm", ()) for place in range(4)),
    ),
    _false("run: jumbo width, mm: the plan says 3500", ("runs.0.jumbo_width_mm", _F(3500))),
    _false(
        "order of a broke reel: the plan says 4101", ("runs.0.blocks.1.positions.3.order", "4101")
    ),
    _false("ups of a broke reel: the plan says 2", ("runs.0.blocks.1.positions.3.ups", 2)),
    _false("ups of a customer's reel: the plan says 1", ("runs.0.blocks.0.positions.0.ups", 1)),
    _false("block 1: deckle, mm: the plan says 3000", ("runs.0.blocks.0.deckle_mm", _F(3000))),
    _false("found the order is for sheets", ("runs.0.blocks.0.positions.0.order", "4103")),
    _false("found the order is for reels", ("runs.0.blocks.1.positions.2.order", "4101")),
    _false(
        "block 2, position 1: order: the plan says 9; found not an order of this run",
        ("runs.1.blocks.1.positions.0.order", "9"),
        ("runs.1.blocks.1.sets.0.done", True),
    ),
    _false(
        "set 1: metres on J01: the plan says 10; found 300 m beside a join",
        (
            "runs.0.blocks.0.sets.0.stretches",
            lambda parts: (replace(parts[0], to_m=10), replace(parts[0], from_m=10)),
        ),
        mill=_winder(joins_allowed=True, min_join_part_m=300),
    ),
    _false("Sheeter A, load 0: number: the plan says 0; found 1", ("loads.0.number", 0)),
]

_ORDERS = [
    _false(
        "order 4101: lacking, kg: the plan says 1; found 0", ("runs.0.orders.0.lacking_kg", 1.0)
    ),
    _false("paper used and the sum of its parts, kg", ("runs.0.balance.used_kg", 1.0)),
    _false("run: wound caliper, µm: the plan says 381", ("runs.0.wound_caliper_um", 381.0)),
    _false("found no grammage of a paper", ("runs.0.grammage_gsm", 0.0)),
    _false("grade: the plan says Tissue; found not in the mill file", ("runs.0.grade", "Tissue")),
    _false(
        "order 4101: grade of its run: the plan says Sack kraft", ("runs.0.grade", "Sack kraft")
    ),
    _false("found orders are still to be made", ("runs.0.blocks", ())),
    _false("order 9: stands in the order book; found not there", ("runs.0.orders.0.number", "9")),
    _false(
        "order 9: left out of the plan; found not in the order book",
        ("left_out", lambda rows: (*rows, LeftOut(order="9", why="no time"))),
    ),
    _false(
        "stock reel S-1: its order: the plan says 4101; found another width, 1000 mm",
        ("runs.0.orders.0.stock", (_STOCK_REEL,)),
    ),
    _false("order 4101: lacking: the plan says 1; found 0", ("runs.0.orders.0.lacking", _F(1))),
    _false("order 4101: stands once in the plan: the plan says 2", ("runs.0.orders", _twice)),
    _false(
        "order 4101: planned or left out: the plan says both",
        ("left_out", lambda rows: (*rows, LeftOut(order="4101", why="no time"))),
    ),
    _false("a run's name, Sack kraft 120 g/m²: the plan says 2 times", ("runs.0.name", _KRAFT)),
    _false(
        "a jumbo of this paper",
        mill=replace(_MILL, jumbo=replace(_MILL.jumbo, length_m=0, mass_kg=10.0)),
    ),
    _false(
        "stock reel S-1: used once: the plan says 2", ("runs.0.orders.3.stock", (_STOCK_REEL,) * 2)
    ),
    _false(
        "order 4104: from stock: the plan says 2; found above its upper tolerance",
        ("runs.0.orders.3.stock", (_STOCK_REEL, replace(_STOCK_REEL, name="S-2"))),
    ),
    _false(
        "stock reel S-1: its order: the plan says none; found it meets 4104",
        book=replace(_BOOK, stock=(_STOCK_REEL,)),
    ),
    _false("order 4101: share of value", ("runs.0.orders.0.stock_share", _F(1, 2))),
    _false(
        "block 1: made for: the plan says stock alone",
        ("runs.0.orders.0.number", _STOCK_WIDTH.name),
        *((f"runs.0.blocks.0.positions.{place}.order", _STOCK_WIDTH.name) for place in range(4)),
        mill=replace(_MILL, stock_widths=(_STOCK_WIDTH,)),
    ),
    _false(
        "order 1000 to stock: made: the plan says 12600; found 2000 kg at the most",
        ("runs.0.orders.0.number", _STOCK_WIDTH.name),
        mill=replace(_MILL, stock_widths=(_STOCK_WIDTH,)),
    ),
]

_PROOF = [
    _false("status: the plan says likely; found neither", ("runs.0.proof.status", "likely")),
    _false("bound on jumbo metres: the plan says 99999", ("runs.0.proof.metres_bound", 99999)),
    _false(
        "chosen point: loss with butts, kg: the plan says 1;",
        ("runs.0.trade_off.0.with_butts_kg", 1.0),
    ),
    _false("set length 0 m: length", ("runs.0.set_lengths.0.length_m", 0)),
    _false("set length 3150 m: diameter, mm", ("runs.0.set_lengths.0.diameter_mm", 1000.0)),
    _false(
        "width unit, mm: the plan says 0; found not above 0", ("runs.0.proof.width_unit_mm", _F(0))
    ),
    _false(
        "stopped by the clock: the plan says yes; found optimal",
        ("runs.0.proof.clock_stopped", True),
        ("runs.0.proof.status", "optimal"),
    ),
    _false("one point is chosen: the plan says 2; found 1", ("runs.0.trade_off.1.chosen", True)),
    _false("found a share from 0 to 1", ("runs.0.trade_off.1.trim_loss_estimate", 1.0)),
    _false(
        "loss with butts, kg: the plan says 1600",
        ("runs.0.trade_off.1.with_butts_estimate_kg", 1600.0),
    ),
    _false(
        "2 patterns: bound, kg: the plan says 1611", ("runs.0.trade_off.1.loss_bound_kg", 1611.0)
    ),
    _false(
        "figures: the plan says missing; found as wound", ("runs.0.trade_off.0.trim_loss", None)
    ),
    _false(
        "figures: the plan says missing; found estimates",
        ("runs.0.trade_off.1.trim_loss_estimate", None),
    ),
    _false("figures: the plan says both", ("runs.0.trade_off.0.trim_loss_estimate", 0.03)),
    _false("set length 3150 m: listed once", ("runs.0.set_lengths", _twice)),
    _false("set length 3150 m: jumbo width, mm", ("runs.0.set_lengths.0.jumbo_width_mm", _F(3500))),
    _false("set length 3150 m: core: the plan says mixed", ("runs.0.set_lengths.0.core_mm", None)),
    _false(
        "instructions: a price of those kept: the plan says 2; found none is kept",
        ("runs.0.instructions_price", InstructionPrice(found_kg=2.0, min_kg=1.0, max_kg=3.0)),
    ),
    _false(
        "instructions: fingerprint of their file",
        ("instructions_from", Source(name="wishes.xlsx", fingerprint="c" * 64)),
    ),
]

_REQUEST = [
    _false("metric beside inches: the plan says yes", ("written.metric_beside", True)),
    _false("starts after the shift begins", ("settings.start", _SIX + timedelta(hours=1))),
    _false("unit system", ("written.system", UnitSystem.INCH_POUND)),
    _false("parts of an inch", ("written.inches", "decimal")),
    _false("an end of the shift beside hours", ("request.hours", 8.0), ("request.until", _SIX)),
    _false("a book without faults; found 1 faults", ("request.leave_out_faulty", False)),
    _false(
        "has a timetable, for the shift ends",
        ("settings.until", _SIX + timedelta(hours=8)),
        ("runs.1.start", None),
    ),
    _false("set 1: finished before the shift ends", ("settings.until", _SIX)),
    _false(
        "found the plan has no end of shift", ("runs.0.orders.0.state", OrderState.CARRIED_OVER)
    ),
    _false(
        "those that have become orders: the plan says",
        ("taken_up", (TakenUp(held="E", order="4101"),)),
    ),
    _false("held enquiry enq-1: is there once: the plan says 2", ("request.held", (_HELD, _HELD))),
    _false(
        "held enquiry ENQ-1: day on which it ends",
        ("request.held", (replace(_HELD, held_until=None),)),
    ),
    _false(
        "held enquiry ENQ-1: planned, or left out with a reason",
        ("request.held", (replace(_HELD, grade="Sack kraft", grammage_gsm=90.0),)),
    ),
    _false("ways out: runs above the target", *_ways()),
    _false("ways out: runs above the target", ("request.ways_out", True), mill=_TARGETED),
    _false("trim loss: the plan says 0.5", *_ways(trim_loss=0.5), mill=_TARGETED),
    _false("target: the plan says 0.02; found 0.01", *_ways(target=0.02), mill=_TARGETED),
    _false("changes planned: the plan says 0; found 1 ways", *_ways(planned=0), mill=_TARGETED),
    _false(
        "order of the ways: the plan says the best first",
        *_ways(ways=(_WAY, replace(_WAY, saved=13.0)), planned=2),
        mill=_TARGETED,
    ),
    _false("unit: the plan says EUR; found kg", *_ways(unit="EUR"), mill=_TARGETED),
    _false("who is to be asked: the plan says nobody", *_way(asks="nobody"), mill=_TARGETED),
    _false("trim loss with: one more: the plan says 3.2", *_way(trim_loss=3.2), mill=_TARGETED),
    _false("kind of way out: the plan says luck", *_way(kind="luck"), mill=_TARGETED),
    _false("order: the plan says 9; found not an order of this", *_way(order="9"), mill=_TARGETED),
    _false("due of order 4101: the plan says none", *_way(kind="next run"), mill=_TARGETED),
    _false("saved: the plan says 0; found nothing", *_way(saved=0.0), mill=_TARGETED),
]

_LATER = Replanned(now=_SIX, keep_until=_SIX + timedelta(hours=1))
_GOING_ON = [
    _false("sets done: the plan says 1", ("runs.0.blocks.0.sets.0.done", True)),
    _false(
        "sets are kept until",
        ("replanned", replace(_LATER, keep_until=_SIX - timedelta(hours=1))),
    ),
    *(
        _false(
            f"{field.replace('_', ' ')}: the plan says -1",
            ("replanned", _LATER),
            (f"replanned.{field}", -1),
        )
        for field in ("blocks_changed", "paid_for_keeping", "gained_by_changing")
    ),
    _false(
        "set 1: was run before the plan goes on",
        ("replanned", _LATER),
        ("runs.0.blocks.0.sets.0.done", True),
    ),
    _false(
        "set 2: run before all that are still to run: the plan says done",
        ("runs.0.blocks.0.sets.1.done", True),
    ),
    _false("spoiled reels, each once: the plan says 9", ("runs.0.blocks.0.sets.0.spoiled", (9,))),
    _false(
        "spoiled reels, each once: the plan says 1, 1", ("runs.0.blocks.0.sets.0.spoiled", (1, 1))
    ),
    _false("reels that go as seconds: the plan says 9", ("runs.0.blocks.0.sets.0.seconds", (9,))),
]

_ALL = [*_ALONG, *_ACROSS, *_ORDERS, *_PROOF, *_REQUEST, *_GOING_ON]


@pytest.mark.parametrize(("said", "plan", "book", "mill"), _ALL, ids=[each[0] for each in _ALL])
def test_what_is_not_so_is_said(said: str, plan: Plan, book: Book, mill: Mill) -> None:
    """Each is found, in words that name the thing, and the check does not fall over it."""
    found = "\n".join(map(str, verify_plan(plan, book, mill)))
    assert said in found, found
    assert "could be checked" not in found


def test_what_was_asked_is_held_against_the_request() -> None:
    """Where it is known what was asked, the plan says the same."""
    other = replace(_PLAN.request, seed=2)
    found = verify_plan(_PLAN, _BOOK, _MILL, request=other)
    assert [each.what for each in found] == ["what was asked"]
