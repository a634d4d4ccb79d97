"""From laid-out blocks and sets to the figures of a run's plan: orders, balance, jumbos."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit
from trimopt.making import CutOption, Piece, PreparedRun, SalesNote, piece_of, required
from trimopt.making.required_ranges import Required, ordered_area, sheet_mass_exact_kg
from trimopt.mill.model import Mill, Winder
from trimopt.paper import Measured, reel_diameter_mm
from trimopt.plan.model import (
    Balance,
    Block,
    JumboUse,
    OrderLine,
    Position,
    SetRow,
    Stretch,
)
from trimopt.plan.reel_rows import first_too_many
from trimopt.plan.states import OrderState
from trimopt.winding.jumbos.clock import SetTimes
from trimopt.winding.model import Arrangement, Butt, LaidSet, Lot, Strip

_KG_SLIP = 0.05  # what rounding to whole area units may take off a mass, kg


def set_rows(
    sets: Sequence[LaidSet],
    times: Sequence[SetTimes],
    winder: Winder,
    diameter_mm: Callable[[LaidSet], float],
) -> dict[int, list[SetRow]]:
    """The sets of each block, numbered in running order.

    Parameters
    ----------
    times
        One for each set, or none at all.
    diameter_mm
        Gives the largest reel of a set.
    """
    rows: dict[int, list[SetRow]] = defaultdict(list)
    for number, laid in enumerate(sets, start=1):
        when = times[number - 1] if times else None
        rows[laid.block].append(
            SetRow(
                number=number,
                winder=winder.name,
                length_m=laid.length_m,
                diameter_mm=diameter_mm(laid),
                stretches=tuple(
                    Stretch(jumbo=part.jumbo, from_m=part.from_m, to_m=part.to_m)
                    for part in laid.segments
                ),
                spoiled=laid.spoiled,
                seconds=laid.seconds,
                start=None if when is None else when.start,
                finish=None if when is None else when.finish,
            )
        )
    return rows


def blocks_of(
    making: PreparedRun,
    mill: Mill,
    arrangement: Arrangement,
    *,
    lots: Sequence[Lot],
    sets: Sequence[LaidSet],
    times: Sequence[SetTimes],
) -> tuple[Block, ...]:
    """Blocks in running order with their sets.

    Parameters
    ----------
    lots
        That of each block: its core, nominal set length and jumbos.
    sets
        All sets in running order; `block` points into the arrangement.
    times
        One for each set, or none at all.
    """
    strips = [laid_block.layout.strips for laid_block in arrangement.blocks]
    largest_mm = [_largest_core_mm(making, mill, each) for each in strips]

    def diameter_mm(laid: LaidSet) -> float:
        return reel_diameter_mm(laid.length_m, largest_mm[laid.block], making.wound_caliper_um)

    rows = set_rows(sets, times, mill.winder, diameter_mm)
    blocks = []
    for index, laid_block in enumerate(arrangement.blocks):
        core_mm, length_m, width_mm = (
            lots[index].core_mm,
            lots[index].length_m,
            lots[index].jumbo_width_mm,
        )
        layout = laid_block.layout
        blocks.append(
            Block(
                number=index + 1,
                core_mm=core_mm,
                length_m=length_m,
                diameter_mm=reel_diameter_mm(length_m, largest_mm[index], making.wound_caliper_um),
                positions=_positions(making, layout.strips),
                edge_front_mm=layout.edge_front_mm,
                edge_back_mm=layout.edge_back_mm,
                knives_mm=layout.knives_mm,
                knives_moved=laid_block.moved,
                knife_moves=laid_block.moves,
                beam_mm=laid_block.beam_mm,
                set_up=laid_block.set_up,
                sets=tuple(rows[index]),
                jumbo_width_mm=width_mm,
                deckle_mm=None if width_mm is None else mill.with_jumbos_of(width_mm).deckle_mm,
            )
        )
    return tuple(blocks)


def _options(making: PreparedRun, strips: Sequence[Strip]) -> list[CutOption]:
    return [making.options[int(strip.key)] for strip in strips if not strip.broke]


def _largest_core_mm(making: PreparedRun, mill: Mill, strips: Sequence[Strip]) -> float:
    """Outside of the largest core of a set."""
    cores = [mill.winder.core(option.core_mm) for option in _options(making, strips)]
    return max(core.outside_mm for core in cores if core is not None)


def _positions(making: PreparedRun, strips: Sequence[Strip]) -> tuple[Position, ...]:
    """The strips as they lie; a broke reel takes a core that the set has anyway, the smallest."""
    smallest_mm = min(option.core_mm for option in _options(making, strips))
    return tuple(
        Position(
            number=number, kind="broke", order="", width_mm=strip.width_mm, core_mm=smallest_mm
        )
        if strip.broke
        else _position(making.options[int(strip.key)], strip, number)
        for number, strip in enumerate(strips, start=1)
    )


def _position(option: CutOption, strip: Strip, number: int) -> Position:
    return Position(
        number=number,
        kind="sheeter" if option.sheeter else "reel",
        order=option.order.number,
        width_mm=strip.width_mm,
        core_mm=option.core_mm,
        ups=option.ups,
        sheeter=option.sheeter,
    )


@dataclass(slots=True)
class _OrderTally:
    gain: int = 0
    area: int = 0
    sheets: int = 0
    reels: list[Piece] = field(default_factory=list)  # in the order they are made
    last_set: int | None = None
    finished: datetime | None = None


def _made(making: PreparedRun, mill: Mill, blocks: Sequence[Block]) -> dict[str, _OrderTally]:
    """What all sets give to each order, at the sets' own lengths."""
    orders = {order.number: order for order in making.run.orders}
    sheeters = {sheeter.name: sheeter for sheeter in mill.sheeters}
    made: dict[str, _OrderTally] = {number: _OrderTally() for number in orders}
    for block in blocks:
        for row in block.sets:
            for position in block.positions:
                if position.kind == "broke" or position.number in row.spoiled:
                    continue
                piece = piece_of(
                    orders[position.order],
                    width_mm=position.width_mm,
                    ups=position.ups,
                    sheeter=sheeters.get(position.sheeter),
                    length_m=row.length_m,
                    unit_mm=making.unit_mm,
                )
                total = made[position.order]
                total.gain += piece.gain
                total.area += piece.area
                total.sheets += piece.sheets
                total.reels.append(piece)
                total.last_set = max(total.last_set or 0, row.number)
                if row.finish is not None:
                    total.finished = max(total.finished or row.finish, row.finish)
    return made


def gains_of(
    making: PreparedRun, mill: Mill, blocks: Sequence[Block]
) -> dict[str, tuple[int, int]]:
    """What blocks give to each order of a run: gain, and area in the run's units."""
    made = _made(making, mill, blocks)
    return {number: (each.gain, each.area) for number, each in made.items()}


def made_of(making: PreparedRun, mill: Mill, blocks: Sequence[Block]) -> dict[str, Fraction]:
    """What blocks give to each order of a run, in its unit."""
    made = _made(making, mill, blocks)
    return {
        order.number: _in_order_unit(order, made[order.number], making)
        for order in making.run.orders
    }


def order_lines(
    making: PreparedRun,
    mill: Mill,
    blocks: Sequence[Block],
    *,
    carried_over: bool = False,
    short_before: Collection[str] = (),
) -> tuple[OrderLine, ...]:
    """What each order asked and gets, in the order of the instance's demands.

    An order that gets too little is carried over where the shift has too few hours, unless there
    was too little paper for it before.
    """
    notes = {note.order: note for note in making.needs_sales}
    made = _made(making, mill, blocks)
    return tuple(
        _order_line(
            making,
            mill,
            order,
            made[order.number],
            notes.get(order.number),
            carried_over=carried_over and order.number not in short_before,
        )
        for order in making.run.orders
    )


def _order_line(
    making: PreparedRun,
    mill: Mill,
    order: Order,
    made: _OrderTally,
    note: SalesNote | None,
    *,
    carried_over: bool,
) -> OrderLine:
    need = required(order, making.unit_mm)
    planned_kg = making.kg(made.area)
    if order.product is Product.SHEET:
        planned_kg = float(made.sheets * sheet_mass_exact_kg(order))
    surplus_kg = min(planned_kg, _surplus_kg(making, order, made, need))
    ordered_kg = making.kg(ordered_area(order, need, mill, making.unit_mm))
    planned = _in_order_unit(order, made, making)
    lacking, lacking_kg = Fraction(0), 0.0
    if made.gain < need.low:
        asked = order.quantity - order.there
        lacking = max(Fraction(0), asked - planned)
        lacking_kg = float(lacking / asked) * ordered_kg
        state = OrderState.CARRIED_OVER if carried_over else OrderState.SHORT
        amounts = [_amount(making, order, each, 1) for each in (lacking, asked)]
        text = _lacking_text(order, state, amounts, _mass(making, lacking_kg))
    elif made.gain > need.high and note is not None:
        state, text = OrderState.NEEDS_SALES, _sales_text(making, note, order)
    elif made.gain > need.high:
        state, text = OrderState.OVER, _over_text(making, order, made, need, surplus_kg)
    elif order.stock_share is not None:
        state, text = OrderState.FOR_STOCK, ""
    elif planned_kg < (min_kg := _min_kg(need, ordered_kg)) - _KG_SLIP:
        # Reels in number, at less than their target diameter.
        state = OrderState.LIGHT
        target = f"at the target diameter {_mass(making, min_kg)} or more"
        text = f"{_mass(making, planned_kg)}; {target}"
    else:
        state, text = OrderState.MET, ""
    return OrderLine(
        number=order.number,
        customer=order.customer,
        product=order.product.value,
        width_mm=order.width_mm,
        chop_mm=order.chop_mm,
        unit=order.unit.value,
        asked=order.quantity,
        made_before=order.made,
        min_quantity=need.min_quantity,
        max_quantity=need.max_quantity,
        planned=planned,
        ordered_kg=ordered_kg,
        planned_kg=planned_kg,
        delivered_kg=0.0 if order.stock_share is not None else planned_kg - surplus_kg,
        surplus_kg=surplus_kg,
        due=order.due,
        finished=made.finished,
        last_set=made.last_set,
        state=state,
        text=text,
        lacking=lacking,
        lacking_kg=lacking_kg,
        destination=order.destination,
        packing=order.packing,
        winding_side=order.winding_side,
        remarks=order.remarks,
        sheets_a_ream=order.sheets_a_ream,
        stock=order.stock,
        stock_share=order.stock_share,
        as_written=order.as_written,
        held_until=order.held_until,
    )


def _mass(making: PreparedRun, mass_kg: float) -> str:
    return making.run.written.text(Measured.MASS, mass_kg)


def _amount(making: PreparedRun, order: Order, value: Fraction, places: int) -> str:
    """A quantity of an order with its unit."""
    what = {Unit.KG: Measured.MASS, Unit.METRES: Measured.LENGTH}.get(order.unit)
    if what is None:
        return f"{float(round(value, places)):,.10g} {order.unit.value}"
    return making.run.written.text(what, value, places)


def _lacking_text(order: Order, state: OrderState, amounts: Sequence[str], mass: str) -> str:
    """Say what of an order is still to be made; `amounts` are of it and of the whole."""
    part, whole = amounts
    _, unit = whole.split(" ", maxsplit=1)
    some = "all" if part == whole else f"{part.removesuffix(f' {unit}')} of"
    why = "the jumbos listed do not last"
    if state is OrderState.CARRIED_OVER:
        why = "the shift ends first"
    said_mass = "" if order.unit is Unit.KG else f" ({mass})"
    return f"{some} {whole}{said_mass} still to be made: {why}"


def _over_text(
    making: PreparedRun, order: Order, made: _OrderTally, need: Required, surplus_kg: float
) -> str:
    """What is above the upper limit; to stock goes a whole reel too many, not a part of one."""
    above = f"{_mass(making, surplus_kg)} above the upper tolerance"
    given = [
        piece.area * making.kg_per_unit if order.unit is Unit.KG else Fraction(piece.gain)
        for piece in made.reels
    ]
    beyond = made.reels[first_too_many(given, need.max_quantity, order.unit.value) :]
    if not beyond or order.product is Product.SHEET:
        return above
    stock_kg = making.kg(sum(piece.area for piece in beyond))
    reels = "1 reel" if len(beyond) == 1 else f"{len(beyond)} reels"
    if round(stock_kg) == round(surplus_kg):
        return f"{above}: {reels} to stock"
    return f"{above}; {reels} of it, {_mass(making, stock_kg)}, to stock"


def _min_kg(need: Required, ordered_kg: float) -> float:
    """The tolerance's lower end in kilograms, reels at their target diameter."""
    return ordered_kg * float(need.min_quantity / need.ordered) if need.ordered else 0.0


def _surplus_kg(making: PreparedRun, order: Order, made: _OrderTally, need: Required) -> float:
    """Mass made beyond the upper tolerance: the last reels, sheets, metres or kilograms made."""
    beyond = max(0, made.gain - need.high)
    if not beyond:
        return 0.0
    if order.product is Product.SHEET:
        return float(beyond * sheet_mass_exact_kg(order))
    if order.unit is Unit.REELS:
        return making.kg(sum(piece.area for piece in made.reels[-beyond:]))
    if order.unit is Unit.METRES:
        return making.kg(beyond * order.width_mm / making.unit_mm)
    return float(max(Fraction(0), made.area * making.kg_per_unit - need.max_quantity))


def _sales_text(making: PreparedRun, note: SalesNote, order: Order) -> str:
    def count(value: Fraction | None, mass_kg: float | None) -> str:
        amount = _amount(making, order, value or Fraction(0), 2)
        return f"{amount} ({_mass(making, mass_kg or 0)})"

    return (
        "no whole number of reels lands inside the tolerance: the nearest are "
        f"{count(note.below, note.below_kg)} and {count(note.above, note.above_kg)}; planned is "
        "the one above unless the customer takes the one below"
    )


def _in_order_unit(order: Order, made: _OrderTally, making: PreparedRun) -> Fraction:
    if order.unit is Unit.KG:
        if order.product is Product.SHEET:
            return made.sheets * sheet_mass_exact_kg(order)
        return made.area * making.kg_per_unit
    return Fraction(made.gain)


def jumbos_of(butts: Sequence[Butt], winder: Winder) -> tuple[JumboUse, ...]:
    """The jumbos used, in the order they are unwound."""
    return tuple(
        JumboUse(
            name=butt.jumbo.name,
            winder=winder.name,
            nominal=butt.jumbo.nominal,
            width_mm=butt.jumbo.width_mm,
            length_m=butt.jumbo.loss_start_m + butt.jumbo.usable_m + butt.jumbo.loss_end_m,
            loss_start_m=butt.jumbo.loss_start_m,
            loss_end_m=0 if butt.carried_forward else butt.jumbo.loss_end_m,
            wound_m=butt.wound_m,
            butt_m=0 if butt.carried_forward else butt.left_m,
            carried_forward_m=butt.left_m + butt.jumbo.loss_end_m if butt.carried_forward else 0,
            defect_m=butt.jumbo.cut_m,
            defects=butt.jumbo.defects,
        )
        for butt in butts
    )


def balance_of(
    making: PreparedRun,
    mill: Mill,
    blocks: Sequence[Block],
    jumbos: Sequence[JumboUse],
    lines: Sequence[OrderLine],
) -> Balance:
    """Where the paper went; the parts add up to the whole because each is counted by itself."""
    gsm = making.run.grammage_gsm

    def kg(area_mm_m: Fraction | int) -> float:
        return float(area_mm_m * Fraction(str(gsm)) / 1_000_000)

    widths: Mapping[str, Fraction] = {jumbo.name: jumbo.width_mm for jumbo in jumbos}
    wound = edge = pattern = broke = deckle_area = sheeter_reels = culls = defects = Fraction(0)
    min_edge = 2 * mill.winder.min_edge_trim_mm
    for block in blocks:
        useful = sum((p.width_mm for p in block.positions if p.kind != "broke"), Fraction(0))
        spoiled = sum((p.width_mm for p in block.positions if p.kind == "broke"), Fraction(0))
        to_sheeter = sum((p.width_mm for p in block.positions if p.kind == "sheeter"), Fraction(0))
        for row in block.sets:
            lost = [p for p in block.positions if p.number in row.spoiled]
            spoilt = sum((p.width_mm for p in lost), Fraction(0)) * row.length_m
            culls += spoilt if row.done else 0
            defects += 0 if row.done else spoilt
            sheeter_reels -= row.length_m * sum(
                (p.width_mm for p in lost if p.kind == "sheeter"), Fraction(0)
            )
            for part in row.stretches:
                metres = part.to_m - part.from_m
                width = widths[part.jumbo]
                deckle = min(width - min_edge, mill.winder.max_web_mm)
                wound += width * metres
                deckle_area += deckle * metres
                edge += (width - deckle) * metres
                pattern += (deckle - useful) * metres
                broke += spoiled * metres
                sheeter_reels += to_sheeter * metres
    butts = sum((jumbo.width_mm * jumbo.butt_m for jumbo in jumbos), Fraction(0))
    cut = sum((jumbo.width_mm * jumbo.defect_m for jumbo in jumbos), Fraction(0))
    ends = sum((j.width_mm * (j.loss_start_m + j.loss_end_m) for j in jumbos), Fraction(0))
    sheets_kg = sum(line.planned_kg for line in lines if line.product == "sheet")
    return Balance(
        used_kg=kg(wound + butts + cut + ends),
        delivered_kg=sum(line.delivered_kg for line in lines),
        surplus_kg=sum(line.surplus_kg for line in lines),
        edge_trim_kg=kg(edge),
        pattern_trim_kg=kg(pattern),
        sheeter_kg=kg(sheeter_reels) - sheets_kg,
        butts_kg=kg(butts),
        start_end_kg=kg(ends),
        broke_kg=kg(broke),
        wound_kg=kg(wound),
        deckle_kg=kg(deckle_area),
        under_kg=sum(max(0.0, line.ordered_kg - line.delivered_kg) for line in lines),
        over_kg=sum(max(0.0, line.delivered_kg - line.ordered_kg) for line in lines),
        culls_kg=kg(culls),
        made_for_stock_kg=sum(line.for_stock_kg for line in lines),
        stock_worth_kg=sum(float(line.stock_share or 0) * line.for_stock_kg for line in lines),
        defects_kg=kg(defects + cut),
        stock_used_kg=float(sum(reel.mass_kg for line in lines for reel in line.stock)),
    )
