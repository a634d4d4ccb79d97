"""A run made whole: the sets that were run, then the sets of the rest, and the figures of both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from fractions import Fraction

from trimopt.book.model import LeftOut, Order
from trimopt.budget import Budget
from trimopt.cutting import Outcome, prove
from trimopt.making import PreparedRun, Run, prepare
from trimopt.making.odd_classes import with_odd_classes
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, JumboUse, RunPlan, SetRow, Settings
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.schedule.block_knives import times_of, with_knives
from trimopt.plan.planning.schedule.order_lines import order_lines
from trimopt.plan.planning.schedule.run_assembly import balance_of, jumbos_of
from trimopt.plan.planning.schedule.run_proof import proof_of, proof_of_blocks, set_lengths
from trimopt.plan.planning.schedule.runs_in_turn import finished_at
from trimopt.plan.proof_data import InstructionAnswer, Proof, SetLength
from trimopt.plan.reel_rows import largest_mm
from trimopt.plan.states import OrderState
from trimopt.winding import StockJumbo
from trimopt.winding.jumbos.laying import butts_of
from trimopt.winding.knives.knife_moves import Beam, left_by, starting_beams, stated_knives

_OF_THE_WHOLE = "; what was run stands as it ran"
_NOTHING = Proof(
    status="feasible",
    loss_kg=0.0,
    bound_kg=0.0,
    price_bound_kg=0.0,
    gap_kg=0.0,
    gap_percent=0.0,
    bound_on="nothing",
    scale=1,
    gain_price=(),
    worth_price=(),
    width_unit_mm=Fraction(1),
    clock_stopped=False,
    seconds=0.0,
)


@dataclass(frozen=True, kw_only=True)
class Rest:
    """Sets of a run that are still to run, laid onto jumbos, and what is said of them.

    `orders` are those of the whole run, `lengths` the cores and set lengths that the rest was
    sought over; `jumbos` has those of the rest by name, whole. `stopped` says of orders that were
    made in part what stops the rest of them.
    """

    blocks: tuple[Block, ...] = ()
    orders: Run
    lengths: tuple[tuple[float | None, int], ...] = ()
    jumbos: Mapping[str, StockJumbo]
    instructions: tuple[InstructionAnswer, ...] = ()
    carried_over: bool = False
    stopped: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def behind(self, blocks: Sequence[Block], jumbos: Mapping[str, StockJumbo]) -> Rest:
        """The rest with blocks ahead of it that are laid, and what they are laid on."""
        lengths = ((block.core_mm, block.length_m) for block in blocks)
        return replace(
            self,
            blocks=(*blocks, *self.blocks),
            lengths=tuple(dict.fromkeys((*lengths, *self.lengths))),
            jumbos={**jumbos, **self.jumbos},
        )


def whole_run(
    case: Standing,
    rest: Rest,
    *,
    settings: Settings,
    start: datetime,
    before: Block | None,
    budget: Budget | None = None,
    proof: Proof | None = None,
) -> RunPlan:
    """The plan of a run: its head as it ran, and its rest from `start` on.

    Parameters
    ----------
    before
        The last block that the winder runs before the run; None: nobody says how the knives stand.
    budget
        For a bound over the whole run; None: nothing is proven, as of one rest of many.
    proof
        One that is known of the run over these lengths.
    """
    mill, run = case.mill, rest.orders
    lengths = tuple(dict.fromkeys((*case.head_lengths, *rest.lengths)))
    own = _made_ready(case, run.orders, lengths)
    widths = dict.fromkeys(
        each.jumbo_width_mm
        for each in (*case.head, *rest.blocks)
        if each.jumbo_width_mm is not None
    )
    making = with_odd_classes(own, mill, tuple(widths))
    if proof is None and budget is not None:
        proof = _bound(own, settings, budget)
    blocks = _timed(case, _joined(case, rest.blocks, settings, before), start)
    jumbos = _jumbos(case, rest, blocks)
    lines = order_lines(making, mill, blocks, carried_over=rest.carried_over, stopped=rest.stopped)
    rows = [row for block in blocks for row in block.sets]
    whole = RunPlan(
        name=run.name,
        winder=mill.winder.name,
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        wound_caliper_um=making.wound_caliper_um,
        cores=mill.winder.cores,
        jumbo_width_mm=mill.jumbo.width_mm,
        deckle_mm=mill.deckle_mm,
        set_lengths=(*set_lengths(making, mill), *_no_longer_served(blocks, making)),
        proof=_proven(making, mill, blocks, jumbos, proof),
        blocks=blocks,
        jumbos=jumbos,
        orders=tuple(
            line if line.finished is None else finished_at(line, line.finished) for line in lines
        ),
        balance=balance_of(making, mill, blocks, jumbos, lines),
        set_ups=sum(block.set_up for block in blocks[1:]),
        set_ups_bound=None,
        knife_moves=sum(block.knife_moves for block in blocks),
        knife_moves_bound=None,
        minutes=sum(row.minutes or 0.0 for row in rows),
        start=rows[0].start if rows else None,
        finish=rows[-1].finish if rows else None,
        instructions=rest.instructions,
        notes=rest.notes,
    )
    return replace(whole, blocks=tuple(_with_diameters(whole)))


def _made_ready(
    case: Standing, orders: Sequence[Order], lengths: tuple[tuple[float | None, int], ...]
) -> PreparedRun:
    """The run over these lengths, and where an order now needs sales those of the plan as issued.

    Whole reels of it may land inside its limits at one of these.
    """
    making = case.making_of_all(orders, lengths)
    issued = () if case.issued is None else case.issued.orders
    could = {line.number for line in issued if OrderState.NEEDS_SALES not in line.states}
    if case.issued is None or not could & {note.order for note in making.needs_sales}:
        return making
    listed = case.issued.set_lengths
    more = ((each.core_mm, each.length_m) for each in listed if each.jumbo_width_mm is None)
    return case.making_of_all(orders, tuple(dict.fromkeys((*lengths, *more))))


def unmakeable(case: Standing, run: RunPlan, orders: Sequence[Order]) -> Iterator[LeftOut]:
    """Those of these orders that the run has no line of, with why they cannot be made.

    Of most the planner of the rest says so; of one that lacks nothing more nobody asks it.
    """
    lines = {line.number for line in run.orders}
    others = tuple(order for order in orders if order.number not in lines)
    if others:
        usable_m = case.jumbos.usable_m
        making = prepare(replace(case.run, orders=others), case.mill, usable_m=usable_m)
        for order, why in making.stopped:
            yield LeftOut(order=order.number, why=why)


def _no_longer_served(blocks: Sequence[Block], making: PreparedRun) -> Iterator[SetLength]:
    """Lengths of what was run, or stays as issued, that no order as it is now may have."""
    listed = {(each.core_mm, each.length_m, each.jumbo_width_mm) for each in making.classes}
    for block in blocks:
        length = block.core_mm, block.length_m, block.jumbo_width_mm
        if length not in listed:
            listed.add(length)
            yield SetLength(
                core_mm=block.core_mm,
                length_m=block.length_m,
                jumbo_width_mm=block.jumbo_width_mm,
                diameter_mm=block.diameter_mm,
            )


def _with_diameters(run: RunPlan) -> Iterator[Block]:
    """The blocks with the diameters of the lengths that their sets have now."""
    for block in run.blocks:
        sets = tuple(
            replace(row, diameter_mm=largest_mm(run, block, row.length_m)) for row in block.sets
        )
        yield replace(block, sets=sets, diameter_mm=largest_mm(run, block, block.length_m))


def _bound(making: PreparedRun, settings: Settings, budget: Budget) -> Proof:
    """A bound on every plan of the run, over the lengths of head and rest."""
    outcome: Outcome = prove(making.instance, budget=budget, seed=settings.seed)
    proof = proof_of(making, outcome, ())
    return replace(proof, bound_on=proof.bound_on + _OF_THE_WHOLE)


def _proven(
    making: PreparedRun,
    mill: Mill,
    blocks: Sequence[Block],
    jumbos: Sequence[JumboUse],
    bound: Proof | None,
) -> Proof:
    """What is proven of the blocks; without a bound nothing is."""
    if bound is None:
        return _NOTHING
    metres = sum(jumbo.wound_m + jumbo.butt_m for jumbo in jumbos)
    return replace(proof_of_blocks(making, mill, bound, blocks), metres_used=metres)


def _joined(
    case: Standing, tail: Sequence[Block], settings: Settings, before: Block | None
) -> tuple[Block, ...]:
    """Head and tail: a tail that begins as the head ends goes on in the same block."""
    head, rest = list(case.head), list[Block]()
    for block in tail:
        last = rest or head
        if last and _goes_on(last[-1], block):
            last[-1] = replace(last[-1], sets=(*last[-1].sets, *block.sets))
        else:
            rest.append(block)
    head = [replace(block, number=number) for number, block in enumerate(head, start=1)]
    own = head[-1] if head else None
    starts = _starts(case, before) if own is None else ()
    blocks = with_knives(rest, case.mill, settings, before=own, starts=starts)
    return tuple(_numbered((*head, *blocks)))


def run_after(case: Standing, settings: Settings, before: Block | None) -> tuple[Block, ...]:
    """The head, its set-ups and knife moves counted from block to block as it ran."""
    return with_knives(case.head, case.mill, settings, starts=_starts(case, before))


def _goes_on(block: Block, other: Block) -> bool:
    """Whether the second is of the pattern, layout, core and length of the first."""
    return all(
        getattr(block, name) == getattr(other, name)
        for name in ("positions", "edge_front_mm", "core_mm", "length_m", "jumbo_width_mm")
    )


def _starts(case: Standing, before: Block | None) -> tuple[Beam, ...]:
    """How the knives may stand before a run that nothing was run of; empty: nobody says."""
    winder = case.mill.winder
    if before is not None:
        return starting_beams(left_by(before.beam_mm, before.knives_mm, winder), winder)
    if winder.knives_at_mm:
        return starting_beams(stated_knives(winder, case.mill.jumbo.width_mm), winder)
    return ()


def _numbered(blocks: Sequence[Block]) -> Iterator[Block]:
    """Sets that were run keep their numbers; the others go on from the highest of them."""
    number = max((row.number for b in blocks for row in b.sets if row.done), default=0)
    for block in blocks:
        rows = []
        for row in block.sets:
            number += not row.done
            rows.append(row if row.done else replace(row, number=number))
        yield replace(block, sets=tuple(rows))


def _timed(case: Standing, blocks: tuple[Block, ...], start: datetime) -> tuple[Block, ...]:
    """The sets that are still to run, one after another from `start`; what was run keeps its times.

    Minutes are those of the whole running order, so that a block that goes on is not set up again.
    """
    minutes = iter(times_of(blocks, case.mill.winder, start).sets)
    now, timed = start, []
    for block in blocks:
        rows = []
        for row in block.sets:
            taken = timedelta(minutes=next(minutes).minutes)
            if not row.done:
                row = _at(row, now, taken)  # noqa: PLW2901
                now = row.finish or now
            rows.append(row)
        timed.append(replace(block, sets=tuple(rows)))
    return tuple(timed)


def _at(row: SetRow, start: datetime, taken: timedelta) -> SetRow:
    """A set at its time; one that runs as it was issued keeps its times to the last digit."""
    if row.start == start and row.finish is not None:
        off = row.finish - start - taken
        if abs(off) < timedelta(milliseconds=1):
            return row
    return replace(row, start=start, finish=start + taken)


def _jumbos(case: Standing, rest: Rest, blocks: Sequence[Block]) -> tuple[JumboUse, ...]:
    """The jumbos in the order in which they come on, and what becomes of each."""
    known = {**rest.jumbos, **{jumbo.name: jumbo for jumbo in case.opened}}
    wound: dict[str, int] = {}
    for part in (part for block in blocks for row in block.sets for part in row.stretches):
        wound[part.jumbo] = wound.get(part.jumbo, 0) + part.to_m - part.from_m
    return jumbos_of(
        butts_of([(known[name], metres) for name, metres in wound.items()]), case.mill.winder
    )
