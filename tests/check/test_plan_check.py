"""The check, one hand-made change at a time: what it says, and what it lets pass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.plan.leaves import Path, with_leaf
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Book
from trimopt.check import Finding, verify_plan
from trimopt.mill.model import Mill, Winder
from trimopt.plan.model import SCHEMA, Plan

_F = Fraction


def _said(plan: Plan | None = None, *, book: Book | None = None, mill: Mill | None = None) -> str:
    findings = verify_plan(plan or sample_plan(), book or sample_book(), mill or sample_mill())
    return "\n".join(map(str, findings))


def _edited(*edits: tuple[str, object]) -> Plan:
    plan = sample_plan()
    for text, value in edits:
        path: Path = tuple(int(s) if s.isdigit() else s for s in text.split("."))
        plan = with_leaf(plan, path, value)
    return plan


def _winder(**changes: object) -> Mill:
    mill = sample_mill()
    winder: Winder = replace(mill.winder, **changes)  # type: ignore[arg-type]  # Winder's own
    return replace(mill, winders=(winder,))


def test_an_edited_width_names_the_order_and_both_figures() -> None:
    """A person who types 990 for 1000 reads where, what, and what the order asks."""
    said = _said(_edited(("runs.0.blocks.0.positions.1.width_mm", _F(990))))
    assert "order 4101, position 2: width of a reel: the plan says 990; found 1000" in said
    assert "strips and edge trim add up to the jumbo: the plan says 3590; found 3600" in said
    assert "knife positions" in said


def test_a_set_was_issued_with_an_earlier_plan_or_none() -> None:
    """Not with the plan that it stands in, nor with any where the plan replaces none."""
    issued, plan = "runs.0.blocks.0.sets.0.issued", sample_plan()
    assert _said(_edited((issued, plan.replaces))) == ""
    assert "found this plan" in _said(_edited((issued, plan.number)))
    assert "found it replaces none" in _said(_edited((issued, plan.replaces), ("replaces", "")))


def test_a_width_that_no_order_has() -> None:
    """A strip for an order that the run does not hold is a finding, not a fall."""
    said = _said(_edited(("runs.0.blocks.0.positions.1.order", "9999")))
    assert "order: the plan says 9999; found not an order of this run" in said
    assert "order 4101: planned: the plan says 16; found 10" in said


def test_a_set_more_shows_in_quantities_balance_and_metres() -> None:
    """Running a pattern once more touches the orders in it, the jumbo and the whole balance."""
    plan = sample_plan()
    rows = plan.runs[0].blocks[2].sets
    more = replace(
        rows[-1],
        number=11,
        stretches=(replace(rows[-1].stretches[0], from_m=6300, to_m=9450),),
        start=rows[-1].finish,
    )
    said = _said(_edited(("runs.0.blocks.2.sets", (*rows, more))))
    for part in (
        "order 4103: planned: the plan says 36684; found 48912",
        "order 4104: surplus, kg: the plan says 472.5; found 945",
        "jumbo J03: metres wound: the plan says 6300; found 9450",
        "balance: wound at full width, kg: the plan says 28350; found 31185",
        "proof: loss, kg",
    ):
        assert part in said


def test_a_gap_on_a_jumbo_is_found() -> None:
    """Sets lie end to end: paper between two of them would be lost without a name."""
    part = replace(sample_plan().runs[0].blocks[0].sets[1].stretches[0], from_m=3160, to_m=6310)
    said = _said(_edited(("runs.0.blocks.0.sets.1.stretches", (part,))))
    assert "set 2: metre where it begins on J01: the plan says 3160; found 3150" in said


def test_a_jumbo_wound_beyond_its_usable_length() -> None:
    """The end loss is not wound, whatever the sum of the plan's own figures."""
    said = _said(
        _edited(
            ("runs.1.jumbos.0.length_m", 12500),
            ("runs.1.jumbos.0.butt_m", -100),
        )
    )
    assert "jumbo K-17: length, m: the plan says 12500; found 12800" in said
    assert "butt and carried forward, m" in said


def test_the_inputs_must_be_those_it_was_made_from() -> None:
    """Another book or mill file has another fingerprint."""
    said = _said(book=replace(sample_book(), fingerprint="c" * 64))
    assert "fingerprint of the order book" in said
    said = _said(mill=replace(sample_mill(), fingerprint="c" * 64))
    assert "fingerprint of the mill file" in said


def test_a_plan_that_an_earlier_program_issued_is_judged_like_any() -> None:
    """After an update of the program plans in use are verified and revised; none is of a later."""
    for schema in (SCHEMA - 1, SCHEMA):
        assert not _said(_edited(("schema", schema)))
    for schema in (0, SCHEMA + 1):
        assert "schema" in _said(_edited(("schema", schema)))


def test_an_order_that_is_neither_planned_nor_left_out() -> None:
    """An order of the book never goes missing in silence."""
    book = sample_book()
    extra = replace(book.orders[0], number="4199")
    assert "order 4199: planned, or left out with a reason" in _said(
        book=replace(book, orders=(*book.orders, extra))
    )


def test_a_faulty_line_must_be_named_as_left_out() -> None:
    """What the book left out stands on the plan."""
    assert "order 4107: is named as left out" in _said(_edited(("left_out", ())))


def test_runs_sets_and_jumbos_name_the_winder_of_the_mill_file() -> None:
    """A set or a jumbo that names another winder than its run was never on it."""
    plan = _edited(
        ("runs.0.winder", "Winder 2"),
        ("runs.1.blocks.0.sets.0.winder", ""),
        ("runs.1.jumbos.0.winder", "Winder 3"),
    )
    said = _said(plan)
    assert "run: winder: the plan says Winder 2; found Winder 1" in said
    assert "set 1: winder: the plan says nothing; found Winder 1" in said
    assert "jumbo K-17: winder: the plan says Winder 3; found Winder 1" in said


def test_two_runs_may_not_share_a_jumbos_name() -> None:
    """Reels are known by their jumbo, so its name is its own."""
    plan = _edited(("runs.1.jumbos.1.name", "J01"))
    assert "jumbo J01: belongs to one run" in _said(plan)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"max_reels": 3}, "strips in a set (stations, knives)"),
        ({"knives": 4}, "strips in a set (stations, knives)"),
        ({"min_knife_spacing_mm": _F(110)}, "stand too close"),
        ({"min_edge_trim_mm": _F(25)}, "edge trim front"),
        ({"max_edge_trim_mm": _F(55)}, "edge trim front: the plan says 60; found 55 mm"),
        ({"max_web_mm": _F(3550)}, "web between the edge strips"),
        ({"max_reel_width_mm": _F(1400)}, "width: the plan says 1460; found 1400 mm"),
        ({"min_reel_width_mm": _F(595)}, "width: the plan says 593; found 595 mm"),
        ({"max_reel_diameter_mm": 1240.0}, "diameter of order 4103: 3150 m"),
        ({"min_reel_diameter_mm": 1100.0}, "diameter of order 4106: 6200 m"),
        ({"max_reel_mass_kg": 1000.0}, "mass of a reel, kg"),
        ({"max_set_mass_kg": 2700.0}, "mass of the set, kg"),
        ({"cores": sample_mill().winder.cores[:1]}, "the winder has no such core"),
        ({"web_shift": False}, "edge trim front and back: the plan says 60; found 20"),
        ({"knives_at_mm": (_F(20), _F(1020))}, "knife moves"),
        ({"min_broke_width_mm": _F(110)}, "width of a broke reel: the plan says 100; found 110 mm"),
        ({"min_broke_width_mm": None}, "width of a broke reel: the plan says 100; found 300 mm"),
    ],
)
def test_each_limit_of_the_winder_is_kept(changes: dict[str, object], said: str) -> None:
    """A winder that allows a little less makes the same plan fail, with the limit named."""
    assert said in _said(mill=_winder(**changes))


def test_a_broke_reel_lies_outside_all_others() -> None:
    """Between two reels it is found, unless the mill lets broke reels lie anywhere."""
    positions = sample_plan().runs[0].blocks[1].positions
    moved = (positions[0], positions[3], positions[1], positions[2])
    plan = _edited(
        (
            "runs.0.blocks.1.positions",
            tuple(replace(position, number=n) for n, position in enumerate(moved, start=1)),
        )
    )
    said = "block 2, position 2: a broke reel lies at an edge: the plan says 2; found between"
    assert said in _said(plan)
    assert said not in _said(plan, mill=_winder(broke_position="anywhere"))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"max_web_mm": _F(1450)}, "Sheeter A takes 1450 mm"),
        ({"max_ups": 1}, "ups: the plan says 2; found 1 to 1"),
        ({"trim_per_side_mm": _F(9)}, "width of a reel of 2 ups: the plan says 1460; found 1458"),
        ({"max_chop_mm": _F(1000)}, "outside what Sheeter A cuts"),
        ({"max_reel_diameter_mm": 1200.0}, "diameter of order 4103: 3150 m"),
        ({"core_inside_mm": 76.0}, "Sheeter A takes 76 mm"),
        ({"waste_share": 0.02}, "order 4103: planned: the plan says 36684; found 36312"),
        ({"name": "Sheeter B"}, "no such sheeter"),
    ],
)
def test_each_limit_of_the_sheeter_is_kept(changes: dict[str, object], said: str) -> None:
    """A sheeter that takes a little less makes the same plan fail, with the limit named."""
    mill = sample_mill()
    sheeter = replace(mill.sheeters[0], **changes)  # type: ignore[arg-type]  # Sheeter's own
    assert said in _said(mill=replace(mill, sheeters=(sheeter,)))


@pytest.mark.parametrize(
    ("number", "changes", "said"),
    [
        ("4101", {"width_mm": _F(1010)}, "width of a reel: the plan says 1000; found 1010"),
        ("4101", {"core_mm": 76.0}, "core: the plan says 152; found 76 mm ordered"),
        ("4101", {"max_diameter_mm": 1247.1}, ""),
        ("4101", {"max_diameter_mm": 1247.0}, "diameter of order 4101: 3150 m"),
        ("4101", {"max_reel_mass_kg": 787.0}, "mass of a reel, kg"),
        ("4101", {"no_edge": True}, "order 4101 may not lie at the edge"),
        ("4101", {"quantity": _F(17)}, "state: the plan says met, light; found short"),
        ("4101", {"quantity": _F(15)}, "state: the plan says met, light; found over"),
        ("4101", {"made": _F(1)}, "made before: the plan says 0; found 1"),
        ("4102", {"over": _F(0)}, "surplus, kg: the plan says 0; found 371"),
        ("4102", {"grammage_gsm": 240.0}, "grammage of its run"),
        ("4103", {"chop_mm": _F(1000)}, "chop, mm: the plan says 1020; found 1000"),
        ("4103", {"under": _F(0), "over": _F(0)}, "state: the plan says met; found needs sales"),
    ],
)
def test_each_instruction_of_an_order_is_kept(
    number: str, changes: dict[str, object], said: str
) -> None:
    """An order that asks for a little else makes the same plan fail; a diameter is rounded."""
    book = sample_book()
    orders = tuple(
        replace(order, **changes) if order.number == number else order  # type: ignore[arg-type]
        for order in book.orders
    )
    found = _said(book=replace(book, orders=orders))
    assert said in found
    if not said:
        assert "diameter" not in found


def test_joins_need_the_winders_and_the_orders_leave() -> None:
    """A set on two jumbos is allowed where the winder joins and every order takes one."""
    plan = sample_plan()
    one, other = (plan.runs[0].blocks[1].sets[n].stretches[0] for n in (0, 1))
    joined = (replace(one, to_m=one.to_m - 10), replace(other, from_m=0, to_m=10))
    said = _said(_edited(("runs.0.blocks.1.sets.0.stretches", joined)))
    assert "joins: the plan says 1; found this winder winds without joins" in said
    assert "joins of order 4101: the plan says 1; found 0" in said


def test_a_mixed_set_is_for_single_drum_winders() -> None:
    """On two drums all reels of a set share a core."""
    said = _said(_edited(("runs.0.blocks.0.core_mm", None)))
    assert "cores of a set: the plan says mixed" in said


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (("proof.status", "optimal"), "status: the plan says optimal"),
        (("proof.price_bound_kg", 310.0), "bound of the prices, kg"),
        (("proof.bound_kg", 2000.0), "bound, kg: the plan says 2000"),
        (("proof.worth_price", ()), "one of each kind an order"),
        (("proof.gain_price", (10**12,) * 4), "no set of 3150 m is worth more than it costs"),
        (("proof.gain_price", (-(10**15),) * 4), "making too much does not pay"),
        (("proof.width_unit_mm", _F(7)), "3600 mm is no multiple"),
        (("proof.width_unit_mm", _F(1, 2)), ""),
        (("trade_off", ()), ""),
    ],
)
def test_a_bound_is_proven_again_or_refused(edit: tuple[str, object], said: str) -> None:
    """Prices that prove nothing or less than is claimed are found; a finer unit proves the same."""
    path, value = edit
    found = _said(_edited((f"runs.0.{path}", value)))
    assert said in found
    assert bool(found) == bool(said)


def test_without_prices_the_bound_is_that_of_prices_of_nothing() -> None:
    """Where the clock came before any price, a bound below that of prices of 0 may stand."""
    plan = _edited(
        ("runs.1.proof.gain_price", ()),
        ("runs.1.proof.worth_price", ()),
        ("runs.1.proof.price_bound_kg", -9000.0),
    )
    assert _said(plan) == ""
    plan = with_leaf(plan, ("runs", 1, "proof", "price_bound_kg"), -8000.0)
    assert "bound of the prices, kg" in _said(plan)


def test_a_set_may_be_longer_inside_its_range() -> None:
    """Balanced lengths are judged by the orders' ranges; loss and bound stay at the nominal one."""
    plan = sample_plan()
    rows = plan.runs[0].blocks[2].sets
    longer = replace(
        rows[-1],
        length_m=3160,
        diameter_mm=1249.5,
        stretches=(replace(rows[-1].stretches[0], to_m=6310),),
    )
    said = _said(_edited(("runs.0.blocks.2.sets", (rows[0], longer))))
    assert "diameter" not in said
    assert "loss, kg" not in said
    assert "order 4104: planned, kg" in said


def test_figures_rounded_to_a_tenth_pass() -> None:
    """A report may round kilograms to one place and diameters to whole millimetres."""
    balance = sample_plan().runs[0].balance
    plan = _edited(
        ("runs.0.balance.sheeter_kg", round(balance.sheeter_kg, 1)),
        ("runs.0.balance.under_kg", round(balance.under_kg, 1)),
        ("runs.0.blocks.0.diameter_mm", 1248.0),
        ("runs.0.minutes", round(sample_plan().runs[0].minutes, 1)),
    )
    assert _said(plan) == ""


def test_a_finding_reads_as_one_line() -> None:
    """Run, place, what, claimed and found, in that order."""
    finding = Finding(
        run="Board 250", where="set 3", what="length, m", claimed="3150", found="3160"
    )
    assert str(finding) == "Board 250, set 3: length, m: the plan says 3150; found 3160"


def _parked(edit: Callable[[Plan], Plan] = lambda plan: plan) -> tuple[Plan, Mill]:
    """The kraft run on a winder that parks its knives: 4 of 9 cut, then 7."""
    plan = sample_plan()
    blocks = tuple(replace(block, beam_mm=()) for block in plan.runs[1].blocks)
    plan = with_leaf(plan, ("runs", 1, "blocks"), blocks)
    return edit(plan), _winder(idle_knives="parked")


def test_parked_knives_are_counted_without_a_beam() -> None:
    """Some division of the idle knives between the ends gives what is claimed, or none does."""
    plan, mill = _parked()
    kraft = [f for f in verify_plan(plan, sample_book(), mill) if f.run.startswith("Sack")]
    assert kraft == []
    plan, mill = _parked(lambda p: with_leaf(p, ("runs", 1, "blocks", 1, "knife_moves"), 7))
    assert "block 2: knife moves: the plan says 7; found 6" in _said(plan, mill=mill)


@pytest.mark.parametrize(
    ("beam_mm", "said"),
    [
        ((20, 1020, 2020, 2800, 3580, None, None, None), "8 of 9 knives"),
        ((20, 1020, None, 2020, 2800, 3580, None, None, None), "between two that are not"),
        ((20, 1020, 2020, 2700, 3580, None, None, None, None), "knives that cut are not among"),
        ((20, 1020, 2020, 2800, 3580, 3600, None, None, None), "closer than the least spacing"),
        ((None, 20, 1020, 2020, 2800, 3580, None, None, None), "knife moves"),
    ],
)
def test_a_stated_beam_is_a_beam(beam_mm: tuple[int | None, ...], said: str) -> None:
    """All knives, in their order, spaced, and the next block's moves follow from them."""
    beam = tuple(None if place is None else _F(place) for place in beam_mm)
    assert said in _said(_edited(("runs.0.blocks.0.beam_mm", beam)))
