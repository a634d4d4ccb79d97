"""A plan's figures shared over its sets, so that any choice of sets can be summed.

The rules, which the trend prints:

- a set has the web wound, edge trim, pattern trim and broke reels of its own metres;
- an order's surplus, and what the sheeter takes of it, go to the sets in proportion to the mass of
  the order's reels in them;
- a jumbo's butt, start and end loss, and what is cut out of it, go to the sets wound from it in
  proportion to their metres;
- a set-up and its knife moves go to the first set of the block;
- a run's bound, and what was given up for fewer set-ups, go to its sets in proportion to their loss
  across the width, so that with what is not proven they make up the loss of any choice of sets.

Summed over a run they give its balance again; a plan for which they do not is refused.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, time
from itertools import pairwise

from trimopt.errors import LedgerError
from trimopt.ledger.ledger_tables import PARTS, balance_kg
from trimopt.paper import mass_kg
from trimopt.plan.model import Block, Plan, Position, RunPlan, SetRow

_BALANCE_WITHIN = 1e-6  # of the paper used: floats, not paper


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceShare:
    """All reels of a set that are alike: of one order, width and use."""

    place: int  # position of the first of them, from the front side
    kind: str
    order: str
    customer: str
    width_mm: float
    ups: int | None
    reels: int
    reels_kg: float
    pattern_trim_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SetShare:
    """What a set has of its run's figures; `parts_kg` is by the names of `PARTS`."""

    number: int
    winder: str
    block: int
    at: datetime
    jumbos: str
    length_m: int
    reels: int
    set_ups: int
    knife_moves: int
    minutes: float
    parts_kg: Mapping[str, float]
    unavoidable_kg: float
    unproven_kg: float
    for_set_ups_kg: float
    valued_kg: float
    pieces: tuple[PieceShare, ...]
    done: bool  # run before its plan was replanned
    issued: str  # the plan that it was issued with, where not this one


@dataclass(frozen=True, slots=True, kw_only=True)
class RunShare:
    """A run's place in the plan, from 1, and its sets."""

    place: int
    run: RunPlan
    sets: tuple[SetShare, ...]


_Shares = Mapping[str, tuple[float, ...]]  # by order, or by jumbo


def shares_of(plan: Plan) -> tuple[RunShare, ...]:
    """Share the figures of every run over its sets.

    Raises
    ------
    LedgerError
        The sets do not add up to the plan's own balance or counts.
    """
    runs = []
    for place, run in enumerate(plan.runs, start=1):
        share = RunShare(place=place, run=run, sets=_sets_of(plan, run))
        _require_sums(plan, share)
        runs.append(share)
    return tuple(runs)


def _sets_of(plan: Plan, run: RunPlan) -> tuple[SetShare, ...]:
    orders = _order_shares(run)
    ends_m = _jumbo_shares_m(run)
    minutes = _minutes(run)
    wound_m = sum(row.length_m for row in run.sets)
    proof = _proof_kg(run)
    across_kg = run.balance.wound_kg - run.balance.delivered_kg
    shares = []
    for block in run.blocks:
        for index, row in enumerate(block.sets):
            first = index == 0
            parts, pieces = _parts(run, block, row, orders, ends_m), _pieces(run, block, row)
            share = row.length_m / wound_m if wound_m else 0.0
            if across_kg > 0:
                share = (parts["wound_kg"] - parts["delivered_kg"]) / across_kg
            unavoidable, unproven, for_set_ups, valued = (share * kg for kg in proof)
            shares.append(
                SetShare(
                    number=row.number,
                    winder=row.winder,
                    block=block.number,
                    at=_at(plan, run, row),
                    jumbos=" + ".join(row.jumbos),
                    length_m=row.length_m,
                    reels=sum(piece.reels for piece in pieces if piece.kind != "broke"),
                    set_ups=int(first and block.set_up and block.number > 1),
                    knife_moves=block.knife_moves if first else 0,
                    minutes=minutes[row.number],
                    parts_kg=parts,
                    unavoidable_kg=unavoidable,
                    unproven_kg=unproven,
                    for_set_ups_kg=for_set_ups,
                    valued_kg=valued,
                    pieces=pieces,
                    done=row.done,
                    issued=row.issued or plan.replaces * row.done,
                )
            )
    return tuple(shares)


def _at(plan: Plan, run: RunPlan, row: SetRow) -> datetime:
    """Its moment as the mill's clock showed it, without a time zone."""
    moment = row.start or run.start or datetime.combine(plan.as_of, time())
    return moment.replace(tzinfo=None)


def _kg(run: RunPlan, width_mm: float, length_m: float) -> float:
    return mass_kg(width_mm, length_m, run.grammage_gsm)


def _serving(block: Block, row: SetRow) -> Iterator[Position]:
    """The reels of a set that serve an order.

    Of a set done the others are culled, else they have a defect.
    """
    return (reel for reel in block.reels if reel.number not in row.spoiled)


def _order_shares(run: RunPlan) -> _Shares:
    """Of a kilogram of an order's reels: delivered, surplus, to the sheeter's trim, for stock."""
    reels_kg: dict[str, float] = defaultdict(float)
    for block, row in run.sets_in_blocks:
        for position in _serving(block, row):
            reels_kg[position.order] += _kg(run, float(position.width_mm), row.length_m)
    shares = {}
    for line in run.orders:
        shares[line.number] = 0.0, 0.0, 0.0, 0.0
        if whole := reels_kg[line.number]:
            given = line.delivered_kg / whole, line.surplus_kg / whole
            sheeter = 1 - line.planned_kg / whole if line.product == "sheet" else 0.0
            shares[line.number] = *given, sheeter, line.for_stock_kg / whole
    return shares


def _jumbo_shares_m(run: RunPlan) -> _Shares:
    """Butt, start and end loss, and what is cut out, in metres for a metre wound of each."""
    shares = {}
    for jumbo in run.jumbos:
        wound = jumbo.wound_m or 1
        shares[jumbo.name] = (
            jumbo.butt_m / wound,
            (jumbo.loss_start_m + jumbo.loss_end_m) / wound,
            jumbo.defect_m / wound,
        )
    return shares


def _minutes(run: RunPlan) -> dict[int, float]:
    """The run's minutes by set: from finish to finish, by metres where there is no timetable."""
    rows = run.sets
    weights = [float(row.length_m) for row in rows]
    if run.start is not None and all(row.finish is not None for row in rows):
        ends = [run.start, *(row.finish for row in rows if row.finish is not None)]
        timed = [(b - a).total_seconds() for a, b in pairwise(ends)]
        if min(timed, default=0.0) >= 0 and sum(timed) > 0:
            weights = timed
    whole = sum(weights)
    return {
        row.number: run.minutes * weight / whole if whole else 0.0
        for row, weight in zip(rows, weights, strict=True)
    }


def _proof_kg(run: RunPlan) -> tuple[float, float, float, float]:
    """Unavoidable, not proven either way, given for fewer set-ups, and valued without being paper.

    The four add up to the loss across the width (trim, surplus, sheeter): what the engine counts
    beyond it is the value of kilograms below and above the ordered quantity, which is no paper.
    """
    proof, balance = run.proof, run.balance
    chosen = next((point for point in run.trade_off if point.chosen), None)
    given = 0.0
    if chosen is not None:
        given = max(0.0, chosen.loss_kg - min(point.loss_kg for point in run.trade_off))
    unproven = max(0.0, proof.loss_kg - proof.bound_kg - given)
    across = balance.wound_kg - balance.delivered_kg
    valued = across - proof.bound_kg - unproven - given
    return proof.bound_kg, unproven, given, valued


def _parts(
    run: RunPlan, block: Block, row: SetRow, orders: _Shares, ends_m: _Shares
) -> dict[str, float]:
    wide, deckle, metres = float(run.web_mm(block)), float(run.deckle_of(block)), row.length_m
    useful_mm, broke_mm = float(block.reels_mm), float(block.across_mm - block.reels_mm)
    serving = [
        (_kg(run, float(position.width_mm), metres), orders[position.order])
        for position in _serving(block, row)
    ]
    delivered, surplus, sheeter, for_stock = (
        sum((mass * share[n] for mass, share in serving), 0.0) for n in range(4)
    )
    butt, start_end, cut = (
        sum((_kg(run, wide, ends_m[p.jumbo][n] * (p.to_m - p.from_m)) for p in row.stretches), 0.0)
        for n in range(3)
    )
    lost_mm = sum(p.width_mm for p in block.positions if p.number in row.spoiled)
    lost = _kg(run, float(lost_mm), metres)
    wound = _kg(run, wide, metres)
    return {
        "used_kg": wound + butt + start_end + cut,
        "delivered_kg": delivered,
        "surplus_kg": surplus,
        "edge_trim_kg": _kg(run, wide - deckle, metres),
        "pattern_trim_kg": _kg(run, deckle - useful_mm, metres),
        "sheeter_kg": sheeter,
        "butts_kg": butt,
        "start_end_kg": start_end,
        "broke_kg": _kg(run, broke_mm, metres),
        "wound_kg": wound,
        "deckle_kg": _kg(run, deckle, metres),
        "made_for_stock_kg": for_stock,
        "culled_kg": lost if row.done else 0.0,
        "defects_kg": cut if row.done else cut + lost,
    }


def _pieces(run: RunPlan, block: Block, row: SetRow) -> tuple[PieceShare, ...]:
    useful_mm = float(block.reels_mm)
    pattern_kg = _kg(run, float(run.deckle_of(block)) - useful_mm, row.length_m)
    customers = {line.number: line.customer for line in run.orders}
    alike: dict[tuple[object, ...], list[Position]] = defaultdict(list)
    for position in block.positions:
        key = (position.kind, position.order, position.width_mm, position.ups, position.sheeter)
        alike[key].append(position)
    pieces = []
    for group in alike.values():
        one, across_mm = group[0], float(group[0].width_mm) * len(group)
        trim_kg = 0.0 if one.kind == "broke" else pattern_kg * across_mm / useful_mm
        pieces.append(
            PieceShare(
                place=one.number,
                kind=one.kind,
                order=one.order,
                customer=customers.get(one.order, ""),
                width_mm=float(one.width_mm),
                ups=one.ups,
                reels=len(group),
                reels_kg=_kg(run, across_mm, row.length_m),
                pattern_trim_kg=trim_kg,
            )
        )
    return tuple(pieces)


def _require_sums(plan: Plan, share: RunShare) -> None:
    """See that the sets add up to what the plan says of the run."""
    run, balance = share.run, share.run.balance
    within = max(0.01, _BALANCE_WITHIN * balance.used_kg)
    pairs: list[tuple[str, float, float]] = [
        (name, balance_kg(balance, name), sum(each.parts_kg[name] for each in share.sets))
        for name in PARTS
    ]
    pairs += [
        ("set_ups", run.set_ups, sum(each.set_ups for each in share.sets)),
        ("knife_moves", run.knife_moves, sum(each.knife_moves for each in share.sets)),
    ]
    for name, said, summed in pairs:
        if abs(said - summed) > within:
            raise LedgerError(
                f"plan {plan.number}, {run.name}: {name} is {said:,.2f} in the plan but "
                f"{summed:,.2f} over its sets; it was not kept: see what is wrong with trimopt "
                "verify"
            )
