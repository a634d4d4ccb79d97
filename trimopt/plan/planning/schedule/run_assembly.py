"""From laid-out blocks and sets to the figures of a run's plan: blocks, jumbos, balance."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction

from trimopt.making import CutOption, PreparedRun
from trimopt.mill.model import Mill, Winder
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import Block, JumboUse, OrderLine, Position, SetRow
from trimopt.winding.jumbos.clock import SetTimes
from trimopt.winding.model import Arrangement, Butt, LaidSet, Lot, Strip


def set_rows(
    sets: Sequence[LaidSet],
    times: Sequence[SetTimes],
    winder: Winder,
    diameter_mm: Callable[[int, int], float],
) -> dict[int, list[SetRow]]:
    """The sets of each block, numbered in running order.

    Parameters
    ----------
    times
        One for each set, or none at all.
    diameter_mm
        Gives the largest reel of a block, by its place, in a set so long.
    """
    rows: dict[int, list[SetRow]] = defaultdict(list)
    for number, laid in enumerate(sets, start=1):
        when = times[number - 1] if times else None
        rows[laid.block].append(
            SetRow(
                number=number,
                winder=winder.name,
                length_m=laid.length_m,
                diameter_mm=diameter_mm(laid.block, laid.length_m),
                stretches=laid.stretches,
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
    cores_mm = [
        {option.core_mm for option in _options(making, laid_block.layout.strips)}
        for laid_block in arrangement.blocks
    ]

    def diameter_mm(block: int, length_m: int) -> float:
        return mill.winder.reel_mm(length_m, cores_mm[block], making.wound_caliper_um)

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
                diameter_mm=diameter_mm(index, length_m),
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
    a_unit_kg = Fraction(str(making.run.grammage_gsm)) / 1_000_000
    widths = {jumbo.name: jumbo.width_mm for jumbo in jumbos}
    area = _wound_areas(blocks, widths, mill.winder)
    for jumbo in jumbos:
        area["butts"] += jumbo.width_mm * jumbo.butt_m
        area["cut"] += jumbo.width_mm * jumbo.defect_m
        area["ends"] += jumbo.width_mm * (jumbo.loss_start_m + jumbo.loss_end_m)

    def kg(*parts: str) -> float:
        return float(sum(area[part] for part in parts) * a_unit_kg)

    sheets_kg = sum(line.planned_kg for line in lines if line.product == "sheet")
    from_stock = [reel for line in lines for reel in line.stock]
    return Balance(
        used_kg=kg("wound", "butts", "cut", "ends"),
        delivered_kg=sum(line.delivered_kg for line in lines),
        surplus_kg=sum(line.surplus_kg for line in lines),
        edge_trim_kg=kg("edge"),
        pattern_trim_kg=kg("pattern"),
        sheeter_kg=kg("sheeter reels") - sheets_kg,
        butts_kg=kg("butts"),
        start_end_kg=kg("ends"),
        broke_kg=kg("broke"),
        wound_kg=kg("wound"),
        deckle_kg=kg("deckle"),
        under_kg=sum(max(0.0, line.ordered_kg - line.delivered_kg) for line in lines),
        over_kg=sum(max(0.0, line.delivered_kg - line.ordered_kg) for line in lines),
        culls_kg=kg("culls"),
        made_for_stock_kg=sum(line.for_stock_kg for line in lines),
        stock_worth_kg=sum(float(line.stock_share or 0) * line.for_stock_kg for line in lines),
        defects_kg=kg("defects", "cut"),
        stock_used_kg=float(sum(reel.mass_kg for reel in from_stock)),
        stock_sheeter_kg=float(sum(reel.mass_kg - reel.given_kg for reel in from_stock)),
    )


def _wound_areas(
    blocks: Sequence[Block], widths_mm: Mapping[str, Fraction], winder: Winder
) -> defaultdict[str, Fraction]:
    """What became of the web wound, millimetres times metres by name; `widths_mm` are of jumbos."""
    area: defaultdict[str, Fraction] = defaultdict(Fraction)
    for block in blocks:
        across: defaultdict[str, Fraction] = defaultdict(Fraction)  # millimetres by kind
        for position in block.positions:
            across[position.kind] += position.width_mm
        for row in block.sets:
            for position in block.positions:
                if position.number in row.spoiled:
                    lost = position.width_mm * row.length_m
                    area["culls" if row.done else "defects"] += lost
                    area["sheeter reels"] -= lost * (position.kind == "sheeter")
            for part in row.stretches:
                metres, width = part.to_m - part.from_m, widths_mm[part.jumbo]
                deckle = min(width - 2 * winder.min_edge_trim_mm, winder.max_web_mm)
                area["wound"] += width * metres
                area["deckle"] += deckle * metres
                area["edge"] += (width - deckle) * metres
                area["pattern"] += (deckle - across["reel"] - across["sheeter"]) * metres
                area["broke"] += across["broke"] * metres
                area["sheeter reels"] += across["sheeter"] * metres
    return area
