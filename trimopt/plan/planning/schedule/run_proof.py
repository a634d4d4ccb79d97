"""How good a run's patterns are, in kilograms: the proof, the trade-off, the set lengths listed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.cutting import SCALE, Certificate, Cut, Instance, Outcome, loss_of, patterns_in
from trimopt.cutting.lp.bound_certificate import price_bound
from trimopt.cutting.model.loss import demand_loss
from trimopt.cutting.setups import ParetoPoint
from trimopt.making import PreparedRun
from trimopt.mill.model import Mill
from trimopt.paper import Measured
from trimopt.plan.model import Block, RunPlan
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.odd_jumbos.odd_part import bound_with_odd, odd_metres, plain_prices
from trimopt.plan.planning.order_tally import tallies
from trimopt.plan.proof_data import Proof, SetLength, TradePoint

OFF_ODD = ", of plans that wind"
_SHORTER = (
    "at the listed lengths the sets of this plan give an order less than it is due, so no more is "
    "proven than that what is delivered was used"
)


def set_lengths(making: PreparedRun, mill: Mill) -> tuple[SetLength, ...]:
    """The winding classes that the run was planned over."""
    every = {option.core_mm for option in making.options}
    return tuple(
        SetLength(
            core_mm=winding.core_mm,
            length_m=winding.length_m,
            diameter_mm=mill.winder.reel_mm(
                winding.length_m,
                every if winding.core_mm is None else [winding.core_mm],
                making.wound_caliper_um,
            ),
            jumbo_width_mm=winding.jumbo_width_mm,
        )
        for winding in making.classes
    )


def _paper(instance: Instance, cuts: Sequence[Cut]) -> int:
    return sum(SCALE * instance.classes[c.pattern.winding_class].cost * c.sets for c in cuts)


def proof_of(making: PreparedRun, outcome: Outcome, cuts: tuple[Cut, ...]) -> Proof:
    """What is proven of the cuts that were chosen."""
    loss = loss_of(making.instance, cuts)
    gap = loss - outcome.bound
    paper = _paper(making.instance, cuts)
    certificate = outcome.certificate
    listed = sum(winding.jumbo_width_mm is None for winding in making.classes)
    lengths = "one set length" if listed == 1 else f"{listed} set lengths"
    return Proof(
        status="optimal" if gap <= 0 else "feasible",
        loss_kg=making.loss_kg(loss),
        bound_kg=making.loss_kg(outcome.bound),
        price_bound_kg=making.loss_kg(_by_prices(making, outcome)),
        gap_kg=making.loss_kg(gap),
        gap_percent=100 * gap / paper if paper else 0.0,
        bound_on=(
            "loss across the width, what is below and above the ordered quantity valued as the "
            f"mill says, over all patterns of the {lengths} listed"
        ),
        scale=1 if certificate is None else certificate.scale,
        gain_price=() if certificate is None else certificate.gain_price,
        worth_price=() if certificate is None else certificate.worth_price,
        width_unit_mm=making.unit_mm,
        clock_stopped=outcome.clock_stopped,
        seconds=round(outcome.seconds, 3),
    )


def _by_prices(making: PreparedRun, outcome: Outcome) -> int:
    """The bound that the stated prices prove; where the clock left none, that of prices of 0."""
    if outcome.certificate is not None:
        return outcome.price_bound
    return min(outcome.bound, price_bound(making.instance, plain_prices(making)))


def short_proof(making: PreparedRun, outcome: Outcome, cuts: tuple[Cut, ...], *, why: str) -> Proof:
    """The proof of a run short of paper or hours (`why`): its bound is for the whole orders.

    A plan that delivers less may lose less, so the prices are those that hold for any plan: what
    is delivered was used.
    """
    plain = plain_prices(making, SCALE)
    bound = bound_with_odd(making, plain, odd_metres(making, cuts))
    proof = proof_of(
        making, replace(outcome, bound=bound, price_bound=bound, certificate=plain), cuts
    )
    return replace(
        proof,
        bound_on=(
            f"{proof.bound_on}; {why}, so no more is proven than that what is delivered was used, "
            "and nothing of jumbo metres"
        ),
    )


def proof_of_blocks(
    making: PreparedRun, mill: Mill, proof: Proof, blocks: Sequence[Block]
) -> Proof:
    """The loss of blocks at the listed lengths beside a bound that holds for every plan of the run.

    Parameters
    ----------
    proof
        Of the same run; its prices are in the order of the run's orders.
    """
    loss, paper = _loss_of_blocks(making, mill, blocks)
    loss_kg = making.loss_kg(loss)
    metres = _odd_metres(blocks)
    has_odd = any(winding.jumbo_width_mm is not None for winding in making.classes)
    has_run = any(row.done for block in blocks for row in block.sets)
    if has_odd or has_run:
        prices = _prices_of(making, proof)
        bound = bound_with_odd(making, prices, metres)
        if has_odd:
            proof = _with_odd(making, proof, metres, bound)
        if has_run:  # the plans are those that go on from these sets
            bound += _lost_by_what_ran(making, mill, prices, blocks)
            bound_kg = making.loss_kg(bound)
            proof = replace(proof, price_bound_kg=bound_kg, bound_kg=max(proof.bound_kg, bound_kg))
    if loss_kg < proof.bound_kg:
        plain = plain_prices(making, SCALE)
        ran = _lost_by_what_ran(making, mill, plain, blocks)
        bound_kg = making.loss_kg(bound_with_odd(making, plain, metres) + ran)
        proof = replace(
            proof,
            bound_kg=bound_kg,
            price_bound_kg=bound_kg,
            bound_on=f"{proof.bound_on}; {_SHORTER}",
            scale=plain.scale,
            gain_price=plain.gain_price,
            worth_price=plain.worth_price,
        )
    gap_kg = loss_kg - proof.bound_kg
    return replace(
        proof,
        status="optimal" if gap_kg <= 0 else "feasible",
        loss_kg=loss_kg,
        gap_kg=gap_kg,
        gap_percent=100 * gap_kg / making.kg(paper) if paper else 0.0,
    )


def _lost_by_what_ran(
    making: PreparedRun, mill: Mill, prices: Certificate, blocks: Sequence[Block]
) -> int:
    """By how much sets that were run lose more than the prices say that any set does at the least.

    That is what they cost less what their good reels are worth at the prices; of sets off odd
    jumbos the bound has it by the metre (`bound_with_odd`).
    """
    head = [
        replace(block, sets=tuple(row for row in block.sets if row.done))
        for block in blocks
        if block.jumbo_width_mm is None
    ]
    metres = sum(block.length_m * len(block.sets) for block in head)
    made = tallies(making, mill, head, nominal=True)
    worth = sum(
        gain * made[order.number].gain + value * made[order.number].area
        for order, gain, value in zip(
            making.run.orders, prices.gain_price, prices.worth_price, strict=True
        )
    )
    paper = SCALE * int(mill.jumbo.width_mm / making.unit_mm) * metres
    return math.floor(paper - Fraction(worth, prices.scale))


def _prices_of(making: PreparedRun, proof: Proof) -> Certificate:
    none = (0,) * len(making.instance.demands)
    return Certificate(
        scale=proof.scale,
        gain_price=proof.gain_price or none,
        worth_price=proof.worth_price or none,
    )


def _odd_metres(blocks: Sequence[Block]) -> Counter[Fraction]:
    """Metres off odd jumbos at the blocks' nominal lengths, by width."""
    metres: Counter[Fraction] = Counter()
    for block in blocks:
        if block.jumbo_width_mm is not None:
            metres[block.jumbo_width_mm] += block.length_m * len(block.sets)
    return metres


def _with_odd(making: PreparedRun, proof: Proof, metres: Counter[Fraction], bound: int) -> Proof:
    """The proof with this bound for plans with so many metres off odd jumbos."""
    bound_kg = making.loss_kg(bound)
    said, _, _ = proof.bound_on.partition(OFF_ODD)
    return replace(
        proof,
        bound_kg=bound_kg,
        price_bound_kg=bound_kg,
        bound_on=said + on_odd(making, metres),
    )


def on_odd(making: PreparedRun, metres: Mapping[Fraction, int]) -> str:
    """What a bound is a bound on, where jumbos of other widths are wound too."""
    written = making.run.written
    off = " and ".join(
        f"{written.text(Measured.LENGTH, wound_m)} off jumbos of "
        f"{written.text(Measured.WIDTH, width_mm)}"
        for width_mm, wound_m in metres.items()
    )
    return f"{OFF_ODD} {off} at the lengths listed" if off else ""


def _loss_of_blocks(making: PreparedRun, mill: Mill, blocks: Sequence[Block]) -> tuple[int, int]:
    """The engine's loss with all sets at their blocks' nominal lengths, and the paper that takes.

    In 1/SCALE area units, and in area units. Spoiled reels take paper and give nothing.
    """
    paper = sum(
        int((block.jumbo_width_mm or mill.jumbo.width_mm) / making.unit_mm)
        * block.length_m
        * len(block.sets)
        for block in blocks
    )
    made = tallies(making, mill, blocks, nominal=True)
    return SCALE * paper + sum(
        demand_loss(demand, made[order.number].gain, made[order.number].area)
        for order, demand in zip(making.run.orders, making.instance.demands, strict=True)
    ), paper


def with_metres(
    proof: Proof,
    making: PreparedRun,
    mill: Mill,
    *,
    used_m: int,
    loss_area: Fraction | None,
    min_loss: int | None,
) -> Proof:
    """The proof with the joint bound on jumbo metres, both dimensions, over every length in range.

    Parameters
    ----------
    used_m
        Metres wound and butts lost.
    loss_area
        The run's loss with its butts, in area units.
    min_loss
        Proven of it (`least_loss`); None: no bound is stated.
    """
    proof = replace(proof, metres_used=used_m)
    if loss_area is None or min_loss is None:
        return proof
    paper_per_m = mill.jumbo.width_mm / making.unit_mm
    above = max(Fraction(0), loss_area - Fraction(min_loss, SCALE)) / paper_per_m
    return replace(
        proof,
        metres_bound=max(0, used_m - math.floor(above)),
        metres_bound_on=(
            "jumbo length without which nobody delivers as much, over all patterns and every "
            "whole set length in range, what is below and above the ordered quantity valued as the "
            "mill says"
        ),
    )


def trade_points(
    run: ChosenRun, chosen: ParetoPoint, *, planned: RunPlan
) -> tuple[TradePoint, ...]:
    """The trade-off as the plan prints it, sets on odd jumbos in every point of it.

    Parameters
    ----------
    chosen
        The point that was wound.
    planned
        What came of it.
    """
    making, trade, objective = run.whole, run.trade, run.objective
    # What was wound need not be on the trade-off, which weighs butts by shares.
    listed = trade.points if chosen in trade.points else (*trade.points, chosen)
    points = []
    for point in listed:
        cuts = (*run.odd_cuts, *point.cuts)
        loss = loss_of(making.instance, cuts)
        row = TradePoint(
            patterns=_patterns(run, point) if run.odd else point.patterns,
            loss_kg=making.loss_kg(loss),
            loss_bound_kg=planned.proof.bound_kg,
            chosen=point is chosen,
        )
        if point is chosen:
            row = replace(
                row,
                with_butts_kg=objective.loss_with_butts_kg(planned.balance),
                trim_loss=planned.balance.trim_loss,
                knife_moves=planned.knife_moves,
            )
        else:
            row = replace(
                row,
                # The share of butts that the rest would leave, where jumbos are unlike.
                with_butts_estimate_kg=making.loss_kg(
                    loss + point.loss - loss_of(run.making.instance, point.cuts)
                ),
                trim_loss_estimate=_trim_loss(making, cuts),
            )
        points.append(row)
    return tuple(points)


def _patterns(run: ChosenRun, point: ParetoPoint) -> int:
    """Patterns wound, those on odd jumbos with the reels that are lost."""
    odd = () if run.odd is None else run.odd.stage.wound
    return patterns_in(run.whole.instance, (*odd, *point.cuts))


def _trim_loss(making: PreparedRun, cuts: Sequence[Cut]) -> float:
    """The share of trim at the set lengths listed."""
    wound = useful = Fraction(0)
    for cut in cuts:
        winding_class = cut.pattern.winding_class
        wound += making.instance.classes[winding_class].cost * making.unit_mm * cut.sets
        useful += (
            making.classes[winding_class].length_m
            * cut.sets
            * sum(making.options[k].width_mm * count for k, count in cut.pattern.pieces)
        )
    return float((wound - useful) / wound) if wound else 0.0
