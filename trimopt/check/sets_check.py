"""The check of what lies across the web: widths, knives, stations, cores, diameters, masses."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from trimopt.book.model import Order, Product
from trimopt.check.check_formulas import (
    JUDGED_MM,
    core_of,
    deckle_mm,
    diameter_limits_mm,
    kg_of,
    mass_limit_kg,
    same_core,
    sheeter_reel_mm,
    stations,
    web_diameter_mm,
)
from trimopt.check.findings import CheckContext
from trimopt.mill.model import Core
from trimopt.plan.model import Block, Position, SetRow

_SLIP = 1e-6  # what floats may lose in a diameter, mm


def check_sets(case: CheckContext) -> None:
    """Check every block and every set of a run, each by itself."""
    notes = case.notes
    number = max((row.number for row in case.run.sets if row.done), default=0)
    for place, block in enumerate(case.run.blocks, start=1):
        where = f"block {block.number}"
        notes.same(where, "number in the running order", block.number, place)
        if not block.sets:
            notes.add(where, "a block has at least one set", "", "no set")
        if not any(position.kind != "broke" for position in block.positions):
            notes.add(where, "a block makes at least one reel", "", "no reel")
        _check_widths(case, block)
        _check_class(case, block)
        if all(row.done for row in block.sets):
            _check_done(case, block)
        else:
            _check_limits(case, block)
            for position in block.positions:
                _check_position(case, block, position)
        for row in block.sets:
            number += not row.done
            if not row.done:
                notes.same(where, "number of a set", row.number, number)
            _check_set(case, block, row)


def _check_done(case: CheckContext, block: Block) -> None:
    """Sets that were run stand as they ran: what limits a set that is to run is not asked of them.

    A reel is one of its order as the book has it, or serves none.
    """
    for position in block.positions:
        if not _is_strip(case, block, position) or position.kind == "broke":
            continue
        if all(position.number in row.spoiled for row in block.sets):
            continue
        order = case.orders.get(position.order)
        if order is None:
            where = f"block {block.number}, position {position.number}"
            case.notes.add(where, "order", position.order, "not an order of this run")
        elif position.kind == "reel":
            _check_reel(case, position, order, core_of(block, position))
        else:
            _check_sheeter_reel(case, position, order, core_of(block, position))


def _check_widths(case: CheckContext, block: Block) -> None:
    """Strips, knives and edges add up to the jumbo."""
    where, notes = f"block {block.number}", case.notes
    knives = [block.edge_front_mm]
    for place, position in enumerate(block.positions, start=1):
        notes.same(where, "number of a position, from the front side", position.number, place)
        knives.append(knives[-1] + position.width_mm)
    total, web_mm = knives[-1] + block.edge_back_mm, case.run.web_mm(block)
    if total != web_mm:
        notes.add(where, "strips and edge trim add up to the jumbo", total, web_mm)
    if block.jumbo_width_mm is not None or block.deckle_mm is not None:
        notes.same(where, "deckle, mm", block.deckle_mm, deckle_mm(web_mm, case.winder))
    notes.same(where, "knife positions", block.knives_mm, tuple(knives))


def _check_limits(case: CheckContext, block: Block) -> None:
    """What the winder allows of strips, knives and edges."""
    where, winder, notes = f"block {block.number}", case.winder, case.notes
    strips, knives = len(block.positions), block.knives_mm
    if strips > stations(winder):
        notes.add(where, "strips in a set (stations, knives)", strips, f"{stations(winder)} most")
    for one, other in pairwise(knives):
        what = f"knives {float(one):g} and {float(other):g} mm stand too close"
        notes.at_least(where, what, other - one, winder.min_knife_spacing_mm)
    for side, edge in (("front", block.edge_front_mm), ("back", block.edge_back_mm)):
        notes.at_least(where, f"edge trim {side}", edge, winder.min_edge_trim_mm)
        notes.at_most(where, f"edge trim {side}", edge, winder.max_edge_trim_mm)
    if not winder.web_shift:
        notes.same(where, "edge trim front and back", block.edge_front_mm, block.edge_back_mm)
    if knives[-1] - knives[0] > winder.max_web_mm:
        notes.add(
            where, "web between the edge strips", knives[-1] - knives[0],
            f"the winder takes {float(winder.max_web_mm):g} mm",
        )  # fmt: skip


def _check_class(case: CheckContext, block: Block) -> None:
    where, notes = f"block {block.number}", case.notes
    if block.core_mm is None and case.winder.kind != "single-drum":
        notes.add(where, "cores of a set", "mixed", "a two-drum winder winds one core a set")
    if block.core_mm is not None and case.winder.core(block.core_mm) is None:
        notes.add(where, "core", block.core_mm, "the winder has no such core")
    if not any(
        row.length_m == block.length_m
        and same_core(row.core_mm, block.core_mm)
        and row.jumbo_width_mm == block.jumbo_width_mm
        for row in case.run.set_lengths
    ):
        # The bound is taken over the listed set lengths; a block of another proves nothing.
        notes.add(where, "nominal set length", f"{block.length_m} m", "not among the set lengths")
    _check_diameter(case, f"{where}, nominal", block, block.length_m, block.diameter_mm)


def _check_diameter(
    case: CheckContext, where: str, block: Block, length_m: int, claimed_mm: float
) -> None:
    """A set's diameter is that of its largest reel."""
    used = {p.core_mm or block.core_mm for p in block.positions if p.kind != "broke"}
    found = [
        web_diameter_mm(core, length_m, case.caliper_um)
        for core in case.winder.cores
        if any(same_core(core.inside_mm, core_mm) for core_mm in used)
    ]
    if found and not abs(max(found) - claimed_mm) <= JUDGED_MM + _SLIP:
        case.notes.add(where, "diameter, mm", claimed_mm, max(found))


def _is_strip(case: CheckContext, block: Block, position: Position) -> bool:
    known = position.kind in ("reel", "sheeter", "broke")
    if not known:
        where = f"block {block.number}, position {position.number}"
        case.notes.add(where, "kind of strip", position.kind, "neither reel, sheeter nor broke")
    return known


def _check_position(case: CheckContext, block: Block, position: Position) -> None:
    where = f"block {block.number}, position {position.number}"
    winder, notes, width = case.winder, case.notes, position.width_mm
    if not _is_strip(case, block, position):
        return
    notes.at_most(where, "width", width, winder.max_reel_width_mm)
    if position.kind == "broke":
        _check_broke(case, block, position)
        return
    notes.at_least(where, "width", width, winder.min_reel_width_mm)
    core_mm = core_of(block, position)
    if block.core_mm is not None and not same_core(core_mm, block.core_mm):
        notes.add(where, "core of a reel and of its set", core_mm, block.core_mm)
    if core_mm is None or winder.core(core_mm) is None:
        notes.add(where, "core", core_mm, "the winder has no such core")
    order = case.orders.get(position.order)
    if order is None:
        notes.add(where, "order", position.order, "not an order of this run")
        return
    if order.no_edge and position.number in (1, len(block.positions)):
        notes.add(where, f"order {order.number} may not lie at the edge", position.number, "edge")
    if position.kind == "reel":
        _check_reel(case, position, order, core_mm)
    else:
        _check_sheeter_reel(case, position, order, core_mm)


def _check_broke(case: CheckContext, block: Block, position: Position) -> None:
    where, notes = f"block {block.number}, position {position.number}", case.notes
    notes.same(where, "order of a broke reel", position.order, "")
    notes.same(where, "ups of a broke reel", position.ups, None)
    notes.same(where, "sheeter of a broke reel", position.sheeter, "")
    min_mm = case.winder.min_broke_width_mm
    if min_mm is None:
        min_mm = case.winder.min_reel_width_mm
    notes.at_least(where, "width of a broke reel", position.width_mm, min_mm)
    before, after = (
        any(other.kind != "broke" and beside(other.number) for other in block.positions)
        for beside in (position.number.__gt__, position.number.__lt__)
    )
    if case.winder.broke_position == "edge" and before and after:
        notes.add(where, "a broke reel lies at an edge", position.number, "between other reels")
    core_mm = core_of(block, position)
    if core_mm is None or case.winder.core(core_mm) is None:
        notes.add(where, "core of a broke reel", core_mm, "the winder has no such core")
    elif block.core_mm is not None and not same_core(core_mm, block.core_mm):
        notes.add(where, "core of a broke reel and of its set", core_mm, block.core_mm)


def _check_reel(
    case: CheckContext, position: Position, order: Order, core_mm: float | None
) -> None:
    where, notes = f"order {order.number}, position {position.number}", case.notes
    if order.product is not Product.REEL:
        notes.add(where, "kind of strip", position.kind, "the order is for sheets")
        return
    notes.same(where, "width of a reel", position.width_mm, order.width_mm)
    notes.same(where, "ups of a customer's reel", position.ups, None)
    notes.same(where, "sheeter of a customer's reel", position.sheeter, "")
    if order.core_mm is not None and not same_core(order.core_mm, core_mm):
        notes.add(where, "core", core_mm, f"{order.core_mm:g} mm ordered")


def _check_sheeter_reel(
    case: CheckContext, position: Position, order: Order, core_mm: float | None
) -> None:
    where, notes = f"order {order.number}, position {position.number}", case.notes
    sheeter = case.mill.sheeter(position.sheeter)
    if order.product is not Product.SHEET or order.chop_mm is None:
        notes.add(where, "kind of strip", position.kind, "the order is for reels")
        return
    if sheeter is None or position.ups is None:
        notes.add(where, "sheeter and ups", (position.sheeter, position.ups), "no such sheeter")
        return
    if not 1 <= position.ups <= sheeter.max_ups:
        notes.add(where, "ups", position.ups, f"1 to {sheeter.max_ups}")
    notes.same(
        where,
        f"width of a reel of {position.ups} ups",
        position.width_mm,
        sheeter_reel_mm(order, position.ups, sheeter),
    )
    if position.width_mm > sheeter.max_web_mm:
        notes.add(
            where, "width", position.width_mm,
            f"{sheeter.name} takes {float(sheeter.max_web_mm):g} mm",
        )  # fmt: skip
    if not sheeter.min_chop_mm <= order.chop_mm <= sheeter.max_chop_mm:
        notes.add(where, "chop", order.chop_mm, f"outside what {sheeter.name} cuts")
    if not same_core(core_mm, sheeter.core_inside_mm):
        notes.add(where, "core", core_mm, f"{sheeter.name} takes {sheeter.core_inside_mm:g} mm")


def _check_set(case: CheckContext, block: Block, row: SetRow) -> None:
    where, winder, notes = f"set {row.number}", case.winder, case.notes
    if row.length_m < 1:
        notes.add(where, "length", f"{row.length_m} m", "below 1 m")
        return
    _check_diameter(case, where, block, row.length_m, row.diameter_mm)
    parts = sum(part.to_m - part.from_m for part in row.stretches)
    notes.same(where, "metres on the jumbos", parts, row.length_m)
    if row.done:
        return
    joins = len(row.stretches) - 1
    if joins > 0 and not winder.joins_allowed:
        notes.add(where, "joins", joins, "this winder winds without joins")
    for part in row.stretches if joins > 0 else ():
        metres, min_m = part.to_m - part.from_m, winder.min_join_part_m
        if metres < min_m:
            notes.add(where, f"metres on {part.jumbo}", metres, f"{min_m} m beside a join")
    total_kg = Fraction(0)
    for position in block.positions:
        mass = kg_of(position.width_mm, row.length_m, case.run.grammage_gsm)
        total_kg += mass
        order = case.orders.get(position.order)
        if position.kind == "broke" or order is None:
            continue
        place = f"{where}, position {position.number}"
        if joins > order.joins_allowed:
            notes.add(place, f"joins of order {order.number}", joins, order.joins_allowed)
        notes.at_most(place, "mass of a reel, kg", mass, mass_limit_kg(order, winder), "kg")
        core_mm = core_of(block, position)
        core = None if core_mm is None else winder.core(core_mm)
        if core is not None:
            _check_range(case, place, position, core, row.length_m)
    # Broke reels lie on the drums with the others, so they count.
    notes.at_most(where, "mass of the set, kg", total_kg, winder.max_set_mass_kg, "kg")


def _check_range(
    case: CheckContext, where: str, position: Position, core: Core, length_m: int
) -> None:
    """The diameter on the reel's own core is inside the range of order, sheeter and winder."""
    order = case.orders[position.order]
    sheeter = case.mill.sheeter(position.sheeter) if position.kind == "sheeter" else None
    min_mm, max_mm = diameter_limits_mm(order, case.winder, sheeter)
    found = web_diameter_mm(core, length_m, case.caliper_um)
    if not min_mm - JUDGED_MM - _SLIP <= found <= max_mm + JUDGED_MM + _SLIP:
        case.notes.add(
            where, f"diameter of order {order.number}: {length_m} m",
            f"{min_mm:g} to {max_mm:g} mm allowed", f"{found:.1f} mm",
        )  # fmt: skip
