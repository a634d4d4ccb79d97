"""What the runs of the sample plan are put together from.

Masses and diameters follow from the two formulae at the top, which share nothing with the package.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction

from trimopt.book.model import Order, Stretch
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import Block, JumboUse, OrderLine, Position, SetRow
from trimopt.plan.proof_data import Proof
from trimopt.plan.states import OrderState

_F = Fraction
WINDER = "Winder 1"


def kg(width_mm: float | Fraction, length_m: float, grammage_gsm: float) -> float:
    return float(width_mm) * length_m * grammage_gsm / 1e6


def diameter_mm(core_outside_mm: float, length_m: int, caliper_um: float) -> float:
    return math.sqrt(core_outside_mm**2 + 4 * length_m * caliper_um / math.pi)


def reels(order: str, width_mm: Fraction, count: int, core_mm: float) -> list[Position]:
    reel = Position(number=0, kind="reel", order=order, width_mm=width_mm, core_mm=core_mm)
    return [reel] * count


def block(
    number: int,
    strips: list[Position],
    edge_front_mm: Fraction,
    sets: list[SetRow],
    *,
    moved: tuple[bool, ...],
    idle: tuple[Fraction, ...] = (),
    idle_moves: int = 0,
) -> Block:
    """`idle` knives are lifted where they stood; all others of the nine are at the back end.

    `idle_moves` of those that do not cut were moved.
    """
    positions = tuple(replace(strip, number=n) for n, strip in enumerate(strips, start=1))
    knives = [edge_front_mm]
    for strip in strips:
        knives.append(knives[-1] + strip.width_mm)
    return Block(
        number=number,
        core_mm=strips[0].core_mm,
        length_m=sets[0].length_m,
        diameter_mm=sets[0].diameter_mm,
        positions=positions,
        edge_front_mm=edge_front_mm,
        edge_back_mm=3600 - knives[-1],
        knives_mm=tuple(knives),
        knives_moved=moved,
        knife_moves=sum(moved) + idle_moves,
        set_up=True,
        sets=tuple(sets),
        beam_mm=(*sorted([*knives, *idle]), *(None,) * (9 - len(knives) - len(idle))),
    )


def set_row(number: int, jumbo: str, from_m: int, length_m: int, diameter_mm: float) -> SetRow:
    stretch = Stretch(jumbo=jumbo, from_m=from_m, to_m=from_m + length_m)
    return SetRow(
        number=number,
        winder=WINDER,
        length_m=length_m,
        diameter_mm=diameter_mm,
        stretches=(stretch,),
    )


def _winding_min(length_m: int) -> float:
    # 1,200 m/min reached in 60 s, over 600 m; as much again to stop.
    return (length_m - 1200) / 1200 + 2.0


def timed(blocks: tuple[Block, ...], start: datetime) -> tuple[tuple[Block, ...], datetime]:
    """Starts and finishes: set-up, moves, change of jumbo, winding, change of set, in that order.

    A set begins with what has to be done for it; the first is set up and given its jumbo too.
    """
    at = start
    jumbo = ""
    timed = []
    for block in blocks:
        minutes = (8.0 if block.set_up else 0.0) + 0.5 * block.knife_moves
        sets = []
        for row in block.sets:
            if row.stretches[0].jumbo != jumbo:
                jumbo = row.stretches[0].jumbo
                minutes += 4.0
            finish = at + timedelta(minutes=minutes + _winding_min(row.length_m) + 3.0)
            sets.append(replace(row, start=at, finish=finish))
            at, minutes = finish, 0.0
        timed.append(replace(block, sets=tuple(sets)))
    return tuple(timed), at


def proof(
    balance: Balance,
    floor_kg: float,
    prices: int,
    *,
    unit_mm: Fraction,
    seconds: float,
    metres_used: int,
) -> Proof:
    """Proof by the width alone: a set costs 3,600 mm of web and gives 3,560 mm at the most.

    Every order has the same price, 3600/3560 of loss for a unit of paper, so `floor_kg` is what the
    orders cannot do without: 40/3560 of the paper they want and a tenth of what they miss.
    """
    scale = 2**20
    loss_kg = balance.wound_kg - balance.delivered_kg + 0.1 * (balance.under_kg + balance.over_kg)
    return Proof(
        status="feasible",
        loss_kg=loss_kg,
        bound_kg=floor_kg,
        price_bound_kg=floor_kg,
        gap_kg=loss_kg - floor_kg,
        gap_percent=100 * (loss_kg - floor_kg) / balance.wound_kg,
        bound_on="loss over all patterns of the listed set lengths",
        scale=scale,
        gain_price=(0,) * prices,
        worth_price=(scale * 1000 * 3600 // 3560,) * prices,
        width_unit_mm=unit_mm,
        clock_stopped=False,
        seconds=seconds,
        metres_bound=metres_used - 300,
        metres_used=metres_used,
        metres_bound_on="jumbo metres over the listed set lengths, both dimensions",
    )


def nominal(name: str, wound_m: int, butt_m: int, carried_forward_m: int) -> JumboUse:
    return JumboUse(
        name=name,
        winder=WINDER,
        nominal=True,
        width_mm=_F(3600),
        length_m=13000,
        loss_start_m=100,
        loss_end_m=0 if carried_forward_m else 200,
        wound_m=wound_m,
        butt_m=butt_m,
        carried_forward_m=carried_forward_m,
    )


def line(
    order: Order,
    finished: datetime | None,
    last_set: int,
    *,
    min_quantity: Fraction,
    max_quantity: Fraction,
    planned: Fraction,
    ordered_kg: float,
    planned_kg: float,
    surplus_kg: float = 0.0,
    state: OrderState = OrderState.MET,
    text: str = "",
) -> OrderLine:
    return OrderLine(
        number=order.number,
        customer=order.customer,
        product=order.product.value,
        width_mm=order.width_mm,
        chop_mm=order.chop_mm,
        unit=order.unit.value,
        asked=order.quantity,
        made_before=order.made,
        min_quantity=min_quantity,
        max_quantity=max_quantity,
        planned=planned,
        ordered_kg=ordered_kg,
        planned_kg=planned_kg,
        delivered_kg=planned_kg - surplus_kg,
        surplus_kg=surplus_kg,
        due=order.due,
        finished=finished,
        last_set=last_set,
        state=state,
        text=text,
        destination=order.destination,
        packing=order.packing,
        winding_side=order.winding_side,
        remarks=order.remarks,
        sheets_a_ream=order.sheets_a_ream,
        as_written=order.as_written,
    )
