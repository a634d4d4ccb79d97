"""What does not hold of the sets of an edited run, each thing once, at its sets.

What lies at a place across the web is looked at first; the web as a whole only where every place is
right, for its sums mean nothing before.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from trimopt.book.makeable import mm
from trimopt.making import Way
from trimopt.plan.model import Block, Position, SetRow
from trimopt.plan.planning.revising.edited_run import EditedRun, broke_between
from trimopt.plan.revision import EditFault


def set_faults(case: EditedRun) -> tuple[EditFault, ...]:
    """Everything across the web, and every length, that winder, sheeters or orders do not allow."""
    faults: list[EditFault] = []
    for block in case.blocks:
        numbers = tuple(each.number for each in block.sets)
        said = list(_place_faults(case, block)) or list(_web_faults(case, block))
        faults += [EditFault(run=case.issued.name, sets=numbers, what=words) for words in said]
        if not said:
            faults += [
                EditFault(run=case.issued.name, sets=(each.number,), what=words)
                for each in block.sets
                for words in _length_faults(case, block, each)
            ]
    return tuple(faults)


def _place_faults(case: EditedRun, block: Block) -> Iterator[str]:
    if not block.reels:
        yield "no reel of an order lies across it; put one in, or take the set out"
    right: dict[str, str] = {}  # cores that orders take in place of the set's
    for position in block.positions:
        fault = _broke_fault if position.kind == "broke" else _reel_fault
        if words := fault(case, position):
            yield f"position {position.number}: {words}"
        elif position.kind != "broke" and (cores := _right_cores(case, position)):
            right[position.order] = cores
    if block.core_mm is not None and case.mill.winder.core(block.core_mm) is None:
        yield f"on a core of {block.core_mm:g} mm, which the winder does not have"
    elif right:
        core = "mixed cores" if block.core_mm is None else f"a core of {block.core_mm:g} mm"
        orders = ", ".join(f"order {order} takes {cores} mm" for order, cores in right.items())
        yield f"on {core}; {orders}"


def _broke_fault(case: EditedRun, position: Position) -> str:
    winder = case.mill.winder
    if position.width_mm < winder.narrowest_broke_mm:
        least = mm(winder.narrowest_broke_mm)
        return f"a broke reel of {mm(position.width_mm)} mm; {least} mm is the narrowest"
    if position.width_mm > winder.max_reel_width_mm:
        most = mm(winder.max_reel_width_mm)
        return f"a broke reel of {mm(position.width_mm)} mm; {most} mm is the widest"
    return ""


def _reel_fault(case: EditedRun, position: Position) -> str:
    order = case.orders.get(position.order)
    if order is None:
        return f"{position.order} is no order of this run"
    name, found, ups = f"order {order.number}", case.ways[order.number], position.ups
    if position.kind == "sheeter":
        if not any(sheeter.name == position.sheeter for sheeter in case.mill.sheeters):
            return f"{name} is for sheets, and {position.sheeter or 'nothing'} is no sheeter"
        found = tuple(way for way in found if _to(way) == (position.sheeter, ups))
    elif ups is not None or position.sheeter:
        return f"{name} is for reels, so it has no ups and no sheeter"
    if not found:
        by = f"{position.sheeter} does not cut {name} at {ups} ups"
        return by if position.sheeter else f"no reel can be made of {name}"
    right_mm = found[0].width_mm
    if position.width_mm != right_mm:
        of = f" at {ups} ups" if ups else ""
        return f"{mm(position.width_mm)} mm wide; {name}{of} takes {mm(right_mm)} mm"
    return ""


def _to(way: Way) -> tuple[str, int | None]:
    return ("" if way.sheeter is None else way.sheeter.name), way.ups


def _right_cores(case: EditedRun, position: Position) -> str:
    """The cores that a reel may be wound on, where its own is none of them; else nothing."""
    found = [
        way for way in case.ways[position.order] if _to(way) == (position.sheeter, position.ups)
    ]
    if any(_on(way, position) for way in found):
        return ""
    return " or ".join(f"{way.core.inside_mm:g}" for way in found)


def _on(way: Way, position: Position) -> bool:
    core_mm = position.core_mm
    return core_mm is not None and abs(way.core.inside_mm - core_mm) < 0.05


def _web_faults(case: EditedRun, block: Block) -> Iterator[str]:
    mill, winder = case.mill_of(block), case.mill.winder
    if block.core_mm is None and winder.kind != "single-drum":
        yield "mixed cores; a two-drum winder winds one core a set"
    strips = len(block.positions)
    stations = winder.stations
    if strips > stations:
        yield f"{strips} strips across; the winder takes {stations}"
    used_mm = block.across_mm
    if used_mm > mill.deckle_mm:
        yield f"{mm(used_mm)} mm across; the deckle is {mm(mill.deckle_mm)} mm"
    elif words := _edge_fault(case, block, used_mm):
        yield words
    yield from _across_faults(case, block)


def _across_faults(case: EditedRun, block: Block) -> Iterator[str]:
    """What may not lie where it does across the web."""
    winder = case.mill.winder
    for position in block.positions:
        if position.width_mm < winder.min_knife_spacing_mm:
            yield (
                f"position {position.number}: knives {mm(position.width_mm)} mm apart; they stand "
                f"no closer than {mm(winder.min_knife_spacing_mm)} mm"
            )
    for position in (block.positions[0], block.positions[-1])[: len(block.positions)]:
        order = case.orders.get(position.order)
        if order is not None and order.no_edge:
            yield f"position {position.number}: order {order.number} may not lie at the edge"
    if winder.broke_position == "edge":
        for position in broke_between(block):
            yield f"position {position.number}: a broke reel between other reels; it lies outside"


def _edge_fault(case: EditedRun, block: Block, used_mm: Fraction) -> str:
    winder = case.mill.winder
    back_mm = case.issued.web_mm(block) - used_mm - block.edge_front_mm
    min_mm, max_mm = winder.min_edge_trim_mm, winder.max_edge_trim_mm
    left_mm = block.edge_front_mm + back_mm
    if max_mm is not None and left_mm > 2 * max_mm:
        return (
            f"{mm(left_mm)} mm beside the reels; both edge strips take {mm(2 * max_mm)} mm: add a "
            "reel, or a broke reel"
        )
    for side, edge_mm in (("front", block.edge_front_mm), ("back", back_mm)):
        if edge_mm < min_mm:
            return f"an edge strip of {mm(edge_mm)} mm at the {side}; {mm(min_mm)} mm is the least"
        if max_mm is not None and edge_mm > max_mm:
            return f"an edge strip of {mm(edge_mm)} mm at the {side}; {mm(max_mm)} mm is the most"
    if not winder.web_shift and block.edge_front_mm != back_mm:
        return (
            f"edge strips of {mm(block.edge_front_mm)} and {mm(back_mm)} mm; this winder's web "
            "lies in the middle"
        )
    return ""


def _length_faults(case: EditedRun, block: Block, each: SetRow) -> Iterator[str]:
    if each.length_m > case.usable_m:
        yield f"{each.length_m:,} m; the longest jumbo gives {case.usable_m:,} m"
        return
    if words := _span_fault(case, block, each):
        yield words
        return
    if case.settings.length_change_is_set_up and each.length_m != block.length_m:
        yield f"{each.length_m:,} m; sets keep a length planned over: here {block.length_m:,} m"
        return
    max_kg = case.mill.winder.max_set_mass_kg
    mass_kg = block.across_mm * each.length_m * Fraction(str(case.issued.grammage_gsm)) / 1_000_000
    if max_kg is not None and mass_kg > Fraction(str(max_kg)):
        yield f"a set of {float(mass_kg):,.0f} kg; the winder takes {max_kg:,g} kg"


def _span_fault(case: EditedRun, block: Block, each: SetRow) -> str:
    """The order that allows a length least, where one does not allow it."""
    spans = {
        position.order: way.span
        for position in block.reels
        for way in case.ways[position.order]
        if way.width_mm == position.width_mm
        and _on(way, position)
        and _to(way) == (position.sheeter, position.ups)
    }
    tight, loose = (
        min(spans, key=lambda order: spans[order].max_m),
        max(spans, key=lambda order: spans[order].min_m),
    )
    if each.length_m > spans[tight].max_m:
        span = spans[tight]
        return f"{each.length_m:,} m; order {tight} takes {span.max_m:,} m at most ({span.max_by})"
    if each.length_m < spans[loose].min_m:
        span = spans[loose]
        return f"{each.length_m:,} m; order {loose} takes {span.min_m:,} m or more ({span.min_by})"
    return ""
