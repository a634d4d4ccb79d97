"""An edited run's sets on the winder: layouts, knives, jumbos, by what a person left open.

Where blocks were moved and no layout was changed by hand, layouts are chosen anew for that order;
where no length and no jumbo was, lengths and jumbos may be too. Else sets stay as written: laid
end to end, off the jumbos named where a person changed one, and off the next that takes them where
nobody did.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from trimopt.book.model import Order, Stretch
from trimopt.budget import Budget
from trimopt.cutting import Cut
from trimopt.making.reel_patterns import Reel
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Position, SetRow
from trimopt.plan.planning.revising.edited_run import EditedRun
from trimopt.plan.planning.schedule.block_knives import with_knives
from trimopt.plan.planning.schedule.run_lots import length_problem, lots_of
from trimopt.plan.revision import EditFault
from trimopt.winding import LaidSet, Laying, Lot, StockJumbo, Strip, arrange, balance
from trimopt.winding.jumbos.laying import butts_of, lay_lengths, segments_on

_ARRANGE_WORK = 1_000  # about half a second


@dataclass(frozen=True, slots=True, kw_only=True)
class WoundAgain:
    """Blocks with the knives set, in running order, and ways to lay their sets onto the jumbos.

    Lengths stand in the layings. There is none where `faults` says why not.
    """

    blocks: tuple[Block, ...]
    layings: tuple[Laying, ...]
    faults: tuple[EditFault, ...] = ()


def wound_again(case: EditedRun) -> WoundAgain:
    """Put an edited run, of whose sets nothing is wrong, onto the winder."""
    blocks = case.blocks
    # Sets on odd jumbos stay on them: they were chosen to fill them.
    odd = any(block.jumbo_width_mm is not None for block in blocks)
    lots = _lots(case) if case.moved and not odd else None
    if lots is not None and not case.layouts_written:
        blocks = _laid_out(case, lots)
    blocks = with_knives(blocks, case.mill, case.settings)
    if odd or case.other_jumbos or _as_issued(case):
        named, faults = off_named_jumbos(case)
        return WoundAgain(blocks=blocks, layings=() if named is None else (named,), faults=faults)
    lengths = [(at, each.length_m) for at, block in enumerate(blocks) for each in block.sets]
    found = [lay_lengths(lengths, case.supply, max_joins=_joins(case))]
    if lots is not None and not case.lengths_written:
        found.append(_balanced(case, lots))
    layings = tuple(each for each in found if each is not None and not each.unlaid)
    if layings:
        return WoundAgain(blocks=blocks, layings=layings)
    what = "the jumbos listed do not last for its sets"
    fault = EditFault(run=case.issued.name, what=what)
    return WoundAgain(blocks=blocks, layings=(), faults=(fault,))


def _as_issued(case: EditedRun) -> bool:
    """Whether the same sets of the same lengths run in the order as issued."""
    was = [(each.number, each.length_m) for each in case.issued.sets]
    return was == [(each.number, each.length_m) for _, each in case.sets]


def _joins(case: EditedRun) -> list[int]:
    """Joins that each block's sets may have, in a run that was issued with joins."""
    joined = any(len(each.stretches) > 1 for each in case.issued.sets)
    return [_max_joins(case.mill, case.orders, block) for block in case.blocks] if joined else []


def _max_joins(mill: Mill, orders: Mapping[str, Order], block: Block) -> int:
    """Joins that every reel of a block's sets, and the winder, allow."""
    if not mill.winder.joins_allowed:
        return 0
    reels = (orders[p.order] for p in block.positions if p.order in orders)
    return min((order.joins_allowed for order in reels), default=0)


def _lots(case: EditedRun) -> tuple[tuple[Cut, ...], tuple[Lot, ...]] | None:
    """Cuts and lots that must run in this order; None where a block has no pattern of the run."""
    cuts = []
    for block in case.blocks:
        pattern = case.pattern(block)
        if pattern is None:
            return None
        cuts.append(Cut(pattern, len(block.sets)))
    pinned = {
        answer.instruction.length_m
        for answer in case.issued.instructions
        if answer.kept and answer.instruction.what == "pin"
    }
    held = [
        cut.pattern
        for cut, block in zip(cuts, case.blocks, strict=True)
        if block.length_m in pinned or case.settings.length_change_is_set_up
    ]
    lots = lots_of(case.making, cuts, held)
    return tuple(cuts), tuple(replace(lot, precedence=lot.number) for lot in lots)


def _laid_out(case: EditedRun, found: tuple[tuple[Cut, ...], tuple[Lot, ...]]) -> tuple[Block, ...]:
    """The blocks in their order, with layouts of fewest knife moves."""
    arrangement = arrange(
        found[1],
        case.mill.winder,
        case.mill.jumbo.width_mm,
        budget=Budget(max_work=_ARRANGE_WORK),
        seed=case.settings.seed,
    )
    blocks = []
    for block, laid in zip(case.blocks, arrangement.blocks, strict=True):
        reels: dict[Reel, list[Position]] = defaultdict(list)
        for reel in block.reels:
            reels[reel.order, reel.width_mm].append(reel)
        blocks.append(
            replace(
                block,
                positions=tuple(
                    _placed(case, strip, number, reels, block)
                    for number, strip in enumerate(laid.layout.strips, start=1)
                ),
                edge_front_mm=laid.layout.edge_front_mm,
                beam_mm=laid.beam_mm,
            )
        )
    return tuple(blocks)


def _placed(
    case: EditedRun, strip: Strip, number: int, reels: dict[Reel, list[Position]], block: Block
) -> Position:
    """The reel of a strip at its place; a broke reel takes the smallest core of the set."""
    if not strip.broke:
        option = case.making.options[int(strip.key)]
        return replace(reels[option.order.number, option.width_mm].pop(0), number=number)
    cores = [p.core_mm for p in block.positions if p.core_mm is not None]
    return Position(
        number=number, kind="broke", order="", width_mm=strip.width_mm, core_mm=min(cores)
    )


def _balanced(case: EditedRun, found: tuple[tuple[Cut, ...], tuple[Lot, ...]]) -> Laying:
    cuts, lots = found
    problem = length_problem(case.making, case.mill, cuts, lots, case.supply)
    return balance(problem).laying


def off_named_jumbos(case: EditedRun) -> tuple[Laying | None, tuple[EditFault, ...]]:
    """Every set off the jumbo that it names, from where the set before it ended.

    What does not hold is said at the set whose jumbo a person changed, not at those that it crowds.
    """
    known = _known_jumbos(case)
    reached: dict[str, int] = {}
    wound: Counter[str] = Counter()
    sets: list[LaidSet] = []
    wrong: dict[int, str] = {}  # by issued number
    open_now, changed = "", None
    for at, each in ((at, each) for at, b in enumerate(case.blocks) for each in b.sets):
        changed = each.number if each.number in case.other_jumbos else changed
        if not each.stretches:
            wrong[each.number] = "no jumbo is named"
        stretches = segments_on(_parts(each), known, reached)
        for part in stretches:
            name = part.jumbo
            if words := _jumbo_fault(known.get(name), name, part.to_m, reached, open_now):
                wrong.setdefault(each.number if changed is None else changed, words)
            reached[name], open_now = part.to_m, name
            wound[name] += part.to_m - part.from_m
        if words := join_fault(case.mill, case.orders, case.blocks[at], each, stretches):
            wrong.setdefault(each.number, words)
        sets.append(_with_hits(case, known, at, each, stretches))
    run = case.issued.name
    faults = [EditFault(run=run, sets=(number,), what=words) for number, words in wrong.items()]
    if faults:
        return None, tuple(faults)
    butts = butts_of([(known[name], metres) for name, metres in wound.items()])
    return Laying(sets=tuple(sets), butts=butts), ()


def _with_hits(
    case: EditedRun,
    known: Mapping[str, StockJumbo],
    at: int,
    each: SetRow,
    stretches: Sequence[Stretch],
) -> LaidSet:
    """A set on its jumbos, with the reels that a band of defects costs there."""
    block = case.blocks[at]
    hit: set[int] = set()
    for part in stretches:
        if part.jumbo in known:
            hit |= hit_by_bands(block, known[part.jumbo], part.from_m, part.to_m)
    takes = {
        position.number
        for position in block.positions
        if position.order in case.orders and case.orders[position.order].takes_seconds
    }
    return LaidSet(
        block=at,
        length_m=each.length_m,
        stretches=tuple(stretches),
        spoiled=tuple(sorted(hit - takes)),
        seconds=tuple(sorted(hit & takes)),
    )


def _known_jumbos(case: EditedRun) -> dict[str, StockJumbo]:
    """Jumbos that a set may name: those of the plan as issued, those listed, and nominal ones."""
    most = len(case.supply.stock) + len(case.sets)
    known = {jumbo.name: jumbo for jumbo in (*case.odd, *case.supply.first(most))}
    nominal = case.supply.nominal
    for use in case.issued.jumbos:
        if use.nominal and nominal is not None:
            known[use.name] = replace(nominal, name=use.name)
    return known


def _parts(each: SetRow) -> list[tuple[str, int]]:
    """Jumbo and metres of each part; of a set on one jumbo, all its metres with the first."""
    if len(each.jumbos) == 1:
        name, joins = each.jumbos[0], len(each.stretches) - 1
        return [(name, each.length_m), *[(name, 0)] * joins]
    return [(part.jumbo, part.to_m - part.from_m) for part in each.stretches]


def _jumbo_fault(
    jumbo: StockJumbo | None, name: str, end_m: int, reached: dict[str, int], open_now: str
) -> str:
    if jumbo is None:
        return f"there is no jumbo {name} for this run"
    if name in reached and name != open_now:
        return f"jumbo {name} would be taken off and put on again; one is unwound at a time"
    if end_m > jumbo.usable_m:
        return f"the sets off jumbo {name} take more than the {jumbo.usable_m:,} m that it gives"
    return ""


def join_fault(
    mill: Mill,
    orders: Mapping[str, Order],
    block: Block,
    each: SetRow,
    stretches: Sequence[Stretch],
) -> str:
    """What stands against the parts of a set; empty: nothing."""
    joins, least = len(stretches) - 1, mill.winder.min_join_part_m
    whole = sum(metres for _, metres in _parts(each))
    shortest = min((part.to_m - part.from_m for part in stretches), default=0)
    allowed = _max_joins(mill, orders, block)
    if whole != each.length_m:
        return f"{each.length_m:,} m, and its parts are {whole:,} m together"
    if joins > allowed:
        many = "1 join" if joins == 1 else f"{joins} joins"
        return f"{many}; its reels and the winder allow {allowed or 'none'}"
    if joins > 0 and shortest < least:
        return f"a part of {shortest:,} m; {least:,} m is the least"
    return ""


def hit_by_bands(block: Block, jumbo: StockJumbo, from_m: int, to_m: int) -> frozenset[int]:
    """Positions that a band of the jumbo touches, broke reels apart.

    Parameters
    ----------
    from_m, to_m
        Of the set, from where the jumbo's usable length begins.
    """
    bands = [
        (each.from_mm, each.to_mm)
        for each in jumbo.defects
        if not each.side_to_side(jumbo.width_mm)
        and each.from_m < to_m + jumbo.loss_start_m
        and from_m + jumbo.loss_start_m < each.to_m
    ]
    hit, front = set(), block.edge_front_mm
    for position in block.positions:
        back = front + position.width_mm
        if position.kind != "broke" and any(start < back and front < end for start, end in bands):
            hit.add(position.number)
        front = back
    return frozenset(hit)
