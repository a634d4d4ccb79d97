"""The check of what the orders get and where the paper went."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit
from trimopt.check.check_formulas import (
    Need,
    deckle_mm,
    exact,
    given_from_stock_kg,
    kg_of,
    later,
    minutes_between,
    need_of,
    ordered_kg,
    sheet_kg,
    sheets_of_reel,
    still_wanted,
)
from trimopt.check.findings import KG_WITHIN, CheckContext, Findings
from trimopt.check.price_proof import pieces_of
from trimopt.mill.model import Mill
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import JumboUse, OrderLine, RunPlan
from trimopt.plan.states import LACKING, OrderState, most_pressing_first

_MAX_REACH = 2_000_000  # widest range searched for a count inside it, in steps of its pieces


@dataclass(slots=True)
class MadeOrder:
    """What the sets give to one order, exact."""

    reels: int = 0
    metres: int = 0
    sheets: int = 0
    reel_kg: Fraction = Fraction(0)
    each_kg: list[Fraction] = field(default_factory=list)  # reels in the order they are made
    last_set: int | None = None
    finished: datetime | None = None

    def quantity(self, order: Order) -> Fraction:
        """The total in the order's unit."""
        if order.product is Product.SHEET:
            return self.sheets * sheet_kg(order) if order.unit is Unit.KG else Fraction(self.sheets)
        if order.unit is Unit.KG:
            return self.reel_kg
        return Fraction(self.metres if order.unit is Unit.METRES else self.reels)

    def product_kg(self, order: Order) -> Fraction:
        """What the customer gets, kg."""
        return self.sheets * sheet_kg(order) if order.product is Product.SHEET else self.reel_kg

    def surplus_kg(self, order: Order, need: Need) -> Fraction:
        """What lies above the upper limit, kg.

        Of reels by number the last ones made, at their own mass; of sheets, metres and mass the
        excess itself, whether or not it makes a whole reel.
        """
        if order.product is Product.SHEET:
            return max(0, self.sheets - need.high) * sheet_kg(order)
        if order.unit is Unit.KG:
            return max(Fraction(0), self.reel_kg - max(need.max_quantity, need.min_quantity))
        if order.unit is Unit.METRES:
            return kg_of(order.width_mm, max(0, self.metres - need.high), order.grammage_gsm)
        return sum(self.each_kg[need.high :], Fraction(0))


def made_by(
    run: RunPlan, orders: Mapping[str, Order], mill: Mill, *, done_alone: bool = False
) -> dict[str, MadeOrder]:
    """What all sets of a run, or those done, give to each order: blocks, positions, set rows."""
    made = {number: MadeOrder() for number in orders}
    for block, row in run.sets_in_blocks:
        for position in block.positions if row.done or not done_alone else ():
            order = orders.get(position.order)
            if order is None or position.kind == "broke" or position.number in row.spoiled:
                continue
            total = made[position.order]
            mass = kg_of(position.width_mm, row.length_m, run.grammage_gsm)
            total.reels += 1
            total.metres += row.length_m
            total.reel_kg += mass
            total.each_kg.append(mass)
            sheeter = mill.sheeter(position.sheeter)
            if sheeter is not None and position.ups is not None:
                total.sheets += sheets_of_reel(order, position.ups, sheeter, row.length_m)
            total.last_set = max(row.number, total.last_set or 0)
            if row.finish is not None:
                total.finished = later(total.finished, row.finish)
    return made


def check_orders(case: CheckContext, made: Mapping[str, MadeOrder]) -> None:
    """Check each order line against the book, and its figures against the sets."""
    notes = case.notes
    for line in case.run.orders:
        order = case.orders.get(line.number)
        if order is None:
            continue  # noted where the orders of all runs are counted
        where = f"order {line.number}"
        _check_copied(where, line, order, notes)
        need = need_of(order, case.unit_mm)
        total = made[line.number]
        total.finished = case.cut.get(line.number, total.finished)
        # Least and most may stand exact or rounded to what can be made.
        each = _unit_of(order)
        low, high = (need.min_quantity, need.low * each), (need.max_quantity, need.high * each)
        _within(where, "least still to be made", line.min_quantity, low, notes)
        _within(where, "most still to be made", line.max_quantity, high, notes)
        planned, kg = total.quantity(order), total.product_kg(order)
        surplus = total.surplus_kg(order, need)
        by_mass = order.unit is Unit.KG
        notes.near(where, "planned", line.planned, planned, KG_WITHIN if by_mass else 0.0)
        notes.near(where, "ordered, kg", line.ordered_kg, ordered_kg(order, case.mill))
        notes.near(where, "planned, kg", line.planned_kg, kg)
        notes.near(where, "surplus, kg", line.surplus_kg, surplus)
        delivered = kg - surplus if order.stock_share is None else 0
        notes.near(where, "delivered, kg", line.delivered_kg, delivered)
        notes.same(where, "last set", line.last_set, total.last_set)
        notes.same(where, "finished", line.finished, total.finished)
        _check_state(case, line, need, total)
        _check_lacking(case, line, planned)


def _unit_of(order: Order) -> Fraction:
    """Kilograms of a whole sheet where sheets are ordered by mass; else one of the unit."""
    if order.unit is Unit.KG:
        return sheet_kg(order) if order.product is Product.SHEET else Fraction(0)
    return Fraction(1)


def _within(
    where: str,
    what: str,
    claimed: Fraction,
    ends: tuple[Fraction, Fraction],
    notes: Findings,
) -> None:
    allowed = [end for end in ends if end] or [Fraction(0)]
    if not any(abs(claimed - end) <= Fraction(1, 20) for end in allowed):
        notes.add(where, what, claimed, ends[0])


def _check_copied(where: str, line: OrderLine, order: Order, notes: Findings) -> None:
    for what, claimed, found in (
        ("customer", line.customer, order.customer),
        ("reel or sheet", line.product, order.product.value),
        ("width, mm", line.width_mm, order.width_mm),
        ("chop, mm", line.chop_mm, order.chop_mm),
        ("unit", line.unit, order.unit.value),
        ("quantity", line.asked, order.quantity),
        ("made before", line.made_before, order.made),
        ("due", line.due, order.due),
        ("destination", line.destination, order.destination),
        ("packing", line.packing, order.packing),
        ("winding side", line.winding_side, order.winding_side),
        ("remarks", line.remarks, order.remarks),
        ("held until", line.held_until, order.held_until),
        ("sheets a ream", line.sheets_a_ream, order.sheets_a_ream),
        ("as written in the book", line.as_written, order.as_written),
    ):
        notes.same(where, what, claimed, found)


def _check_state(case: CheckContext, line: OrderLine, need: Need, total: MadeOrder) -> None:
    """The states are those that hold, the most pressing first; met only where no other does."""
    order = case.orders[line.number]
    amounts = _amount_states(case, order, need, total)
    late = []
    if order.due is not None and total.finished is not None and not amounts & LACKING:
        late = [OrderState.LATE] * (minutes_between(order.due, total.finished) > 0)
    right = [most_pressing_first({amount, *late}) for amount in OrderState if amount in amounts]
    if line.states not in right:
        found = " or ".join(", ".join(states) for states in right)
        case.notes.add(f"order {line.number}", "state", ", ".join(line.states), found)


def _amount_states(
    case: CheckContext, order: Order, need: Need, total: MadeOrder
) -> set[OrderState]:
    """Which state of amount holds; several where rounding, or a search too wide, leaves it open."""
    quantity, gained = total.quantity(order), _gain_of(case, order, total)
    if gained < need.low and quantity < need.min_quantity:
        return {OrderState.SHORT, OrderState.CARRIED_OVER}
    if gained <= need.high or quantity <= need.max_quantity:
        if order.stock_share is not None:
            return {OrderState.FOR_STOCK}
        return _met(case, order, need, total)
    inside = _count_inside(case, order, need)
    if inside is None:
        return {OrderState.NEEDS_SALES, OrderState.OVER}
    return {OrderState.OVER if inside else OrderState.NEEDS_SALES}


def _met(case: CheckContext, order: Order, need: Need, total: MadeOrder) -> set[OrderState]:
    """Whether it is met or light; at the limit, to within rounding, both hold.

    Light is what weighs less than the lower limit does at the target diameter.
    """
    if not need.wanted:
        return {OrderState.MET}
    beyond_kg = float(total.product_kg(order)) - ordered_kg(order, case.mill) * float(
        need.min_quantity / need.wanted
    )
    if abs(beyond_kg) <= 2 * KG_WITHIN:
        return {OrderState.MET, OrderState.LIGHT}
    return {OrderState.MET if beyond_kg > 0 else OrderState.LIGHT}


def _check_lacking(case: CheckContext, line: OrderLine, planned: Fraction) -> None:
    """What a short or carried over order lacks to the ordered quantity, at its target diameter."""
    order, notes = case.orders[line.number], case.notes
    where = f"order {line.number}"
    lacking, kg = Fraction(0), 0.0
    if line.state in LACKING:
        asked = still_wanted(order)
        lacking = max(Fraction(0), asked - planned)
        kg = float(lacking / asked) * ordered_kg(order, case.mill) if asked > 0 else 0.0
    within = KG_WITHIN if order.unit is Unit.KG else 0.0
    notes.near(where, "lacking", line.lacking, lacking, within)
    notes.near(where, "lacking, kg", line.lacking_kg, kg)


def _gain_of(case: CheckContext, order: Order, total: MadeOrder) -> int:
    if order.product is Product.SHEET:
        return total.sheets
    if order.unit is Unit.KG:
        return math.floor(total.reel_kg * 1_000_000 / (exact(order.grammage_gsm) * case.unit_mm))
    return total.metres if order.unit is Unit.METRES else total.reels


def _count_inside(case: CheckContext, order: Order, need: Need) -> bool | None:
    """Whether some number of reels, over all set lengths and ups, lands inside the range.

    None where the range is too wide to look through; then both answers pass.
    """
    if need.narrow or need.low <= 0:
        return not need.narrow
    if case.run.proof.width_unit_mm <= 0:
        return None  # noted with the proof
    gains = sorted({piece.gain for piece in pieces_of(case.run, case.mill, (order,))})
    if any(need.high // gain * gain >= need.low for gain in gains):
        return True
    step = math.gcd(*gains) or 1
    low, high = -(-need.low // step), need.high // step
    if not gains or high > _MAX_REACH:
        return None
    return low <= high and _reaches(gains, step, low, high)


def _reaches(gains: list[int], step: int, low: int, high: int) -> bool:
    """Whether some sum of gains, each as often as wanted, lies from low to high steps."""
    mask = (1 << (high + 1)) - 1
    reached = 1  # bit n: n steps can be made
    for gain in gains:
        shift = gain // step
        while shift <= high:
            reached |= (reached << shift) & mask
            shift *= 2
    return bool(reached >> low)


def check_balance(case: CheckContext, made: Mapping[str, MadeOrder]) -> None:
    """Check the mass balance part by part, and that its parts add up.

    Edge trim is what lies outside the deckle; all that reels leave of the deckle is pattern trim,
    broke reels in it. Under and over are taken on what is delivered within tolerance.
    """
    found = _balance(case, made)
    said, notes = case.run.balance, case.notes
    where = "balance"
    for name, claimed, kg in (
        ("paper used", said.used_kg, found.used_kg),
        ("delivered", said.delivered_kg, found.delivered_kg),
        ("surplus", said.surplus_kg, found.surplus_kg),
        ("edge trim", said.edge_trim_kg, found.edge_trim_kg),
        ("pattern trim", said.pattern_trim_kg, found.pattern_trim_kg),
        ("sheeter trim and waste", said.sheeter_kg, found.sheeter_kg),
        ("butts", said.butts_kg, found.butts_kg),
        ("start and end loss", said.start_end_kg, found.start_end_kg),
        ("broke reels", said.broke_kg, found.broke_kg),
        ("wound at full width", said.wound_kg, found.wound_kg),
        ("wound at deckle width", said.deckle_kg, found.deckle_kg),
        ("below the ordered quantity", said.under_kg, found.under_kg),
        ("above the ordered quantity", said.over_kg, found.over_kg),
        ("reels that serve no order", said.culls_kg, found.culls_kg),
        ("defects cut out", said.defects_kg, found.defects_kg),
        ("stock used", said.stock_used_kg, found.stock_used_kg),
        ("stock lost at the sheeter", said.stock_sheeter_kg, found.stock_sheeter_kg),
        ("made for stock", said.made_for_stock_kg, found.made_for_stock_kg),
        ("worth of what is made for stock", said.stock_worth_kg, found.stock_worth_kg),
    ):
        notes.near(where, f"{name}, kg", claimed, kg, _balance_within(case))
    parts = (
        said.delivered_kg + said.surplus_kg + said.edge_trim_kg + said.pattern_trim_kg
        + said.sheeter_kg + said.butts_kg + said.start_end_kg + said.culls_kg
        + said.made_for_stock_kg + said.defects_kg
    )  # fmt: skip
    notes.near(where, "paper used and the sum of its parts, kg", said.used_kg, parts, 0.1)


def _balance_within(case: CheckContext) -> float:
    """Sums of figures that may each be rounded to a tenth: within 0.1 kg of the sum."""
    return min(0.1, KG_WITHIN + 0.005 * len(case.orders))


def _balance(case: CheckContext, made: Mapping[str, MadeOrder]) -> Balance:
    run, g = case.run, case.run.grammage_gsm

    def jumbos_kg(metres: Callable[[JumboUse], int]) -> Fraction:
        return sum((kg_of(j.width_mm, metres(j), g) for j in run.jumbos), Fraction(0))

    across, given = _across_kg(case), _given_kg(case, made)
    kg: dict[str, Fraction | float] = {
        "used_kg": jumbos_kg(lambda j: j.length_m - j.carried_forward_m),
        "butts_kg": jumbos_kg(lambda j: j.butt_m),
        "start_end_kg": jumbos_kg(lambda j: j.loss_start_m + j.loss_end_m),
        "sheeter_kg": across.pop("to_sheeter_kg") - given.pop("sheets_kg"),
        "defects_kg": across.pop("defects_kg") + jumbos_kg(lambda j: j.defect_m),
        **_stock_kg(case),
        **across,
        **given,
    }
    return Balance(**{name: float(mass) for name, mass in kg.items()})


def _stock_kg(case: CheckContext) -> dict[str, Fraction]:
    """What reels from stock weigh, and what of it no order gets: a sheeter's trim and waste."""
    used = lost = Fraction(0)
    for order in case.orders.values():
        for reel in order.stock:
            mass_kg = kg_of(reel.width_mm, reel.length_m, reel.grammage_gsm)
            used += mass_kg
            lost += mass_kg - given_from_stock_kg(order, reel)
    return {"stock_used_kg": used, "stock_sheeter_kg": lost}


def _across_kg(case: CheckContext) -> dict[str, Fraction]:
    """What the strips of all sets weigh, by the part of the balance that they are."""
    kg: dict[str, Fraction] = defaultdict(Fraction)
    for block in case.run.blocks:
        web_mm = case.run.web_mm(block)

        def add(name: str, width_mm: Fraction, metres: int) -> None:
            kg[name] += kg_of(width_mm, metres, case.run.grammage_gsm)

        metres = sum(row.length_m for row in block.sets)
        add("wound_kg", web_mm, metres)
        add("deckle_kg", deckle_mm(web_mm, case.winder), metres)
        for position in block.positions:
            width_mm = position.width_mm
            if position.kind == "broke":
                add("broke_kg", width_mm, metres)
                continue
            add("useful_kg", width_mm, metres)
            spoiled = [row for row in block.sets if position.number in row.spoiled]
            lost_m = sum(row.length_m for row in spoiled)
            done_m = sum(row.length_m for row in spoiled if row.done)
            add("culls_kg", width_mm, done_m)
            add("defects_kg", width_mm, lost_m - done_m)
            if position.kind == "sheeter":
                add("to_sheeter_kg", width_mm, metres - lost_m)
    trim = {
        "edge_trim_kg": kg["wound_kg"] - kg["deckle_kg"],
        "pattern_trim_kg": kg["deckle_kg"] - kg.pop("useful_kg", Fraction(0)),
    }
    return {name: kg[name] for name in _ACROSS} | trim


_ACROSS = ("wound_kg", "deckle_kg", "broke_kg", "culls_kg", "defects_kg", "to_sheeter_kg")


def _given_kg(case: CheckContext, made: Mapping[str, MadeOrder]) -> dict[str, Fraction | float]:
    """What the orders get, inside their tolerance and beyond it."""
    delivered = surplus = sheets = for_stock = worth = Fraction(0)
    under = over = 0.0
    for number, order in case.orders.items():
        total = made[number]
        kg, beyond = total.product_kg(order), total.surplus_kg(order, need_of(order, case.unit_mm))
        surplus += beyond
        sheets += kg if order.product is Product.SHEET else 0
        missing = ordered_kg(order, case.mill)
        if order.stock_share is None:
            delivered += kg - beyond
            missing -= float(kg - beyond)
        else:
            for_stock += kg - beyond
            worth += order.stock_share * (kg - beyond)
        under += max(0.0, missing)
        over += max(0.0, -missing)
    return {
        "delivered_kg": delivered, "surplus_kg": surplus, "sheets_kg": sheets,
        "made_for_stock_kg": for_stock, "stock_worth_kg": worth, "under_kg": under, "over_kg": over,
    }  # fmt: skip
