"""A run whose odd jumbos are planned first, and what is left of it for the others."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import JumboInStock
from trimopt.budget import Budget
from trimopt.cutting import Certificate, Cut, Instance, Outcome, loss_of, prove, residual
from trimopt.cutting.lp.bound_certificate import least_a_metre, price_bound
from trimopt.making import PreparedRun
from trimopt.making.odd_classes import part_of, with_odd_classes
from trimopt.mill.model import Mill
from trimopt.paper import mass_kg
from trimopt.plan.model import Block, RunPlan
from trimopt.plan.planning.odd_jumbos.issued_patterns import patterns_of
from trimopt.plan.planning.odd_jumbos.odd_sets import MAX_LOSS, choose_odd_sets
from trimopt.plan.planning.odd_jumbos.odd_stage import OddStage, odd_stage
from trimopt.plan.planning.odd_jumbos.odd_stretch import OddStretch
from trimopt.plan.planning.run_jumbos import stock_jumbo


@dataclass(frozen=True, slots=True, kw_only=True)
class OddPart:
    """The odd jumbos of a run with their sets.

    `making` has the run's demands whole, and classes of every width. The prices are those of a plan
    on jumbos of the run's own width alone.
    """

    stage: OddStage
    making: PreparedRun
    certificate: Certificate | None
    asked: bool = False  # instructions decide about its sets too, and what that costs is not known

    def whole(self, outcome: Outcome, cuts: Sequence[Cut]) -> Outcome:
        """The outcome of the rest as one of the whole run, with these cuts of it."""
        prices = self.certificate or plain_prices(self.making)
        bound = bound_with_odd(self.making, prices, odd_metres(self.making, cuts))
        return replace(
            outcome,
            cuts=tuple(cuts),
            loss=loss_of(self.making.instance, cuts),
            bound=bound,
            price_bound=bound,
            certificate=self.certificate,
        )


def worth_of_use_kg(run: RunPlan, odd: Container[str]) -> float:
    """What it is worth that odd jumbos, by name, are used up: so much more may be lost by it.

    What is carried forward of one is not used.
    """
    used = (
        mass_kg(use.width_mm, use.wound_m + use.butt_m + use.defect_m, run.grammage_gsm)
        for use in run.jumbos
        if use.name in odd
    )
    return float(MAX_LOSS) * sum(used)


def plain_prices(making: PreparedRun, worth: int = 0) -> Certificate:
    """Prices that prove something of any plan: nothing for gain, and the same for every worth."""
    count = len(making.instance.demands)
    return Certificate(scale=1, gain_price=(0,) * count, worth_price=(worth,) * count)


def odd_metres(making: PreparedRun, cuts: Sequence[Cut]) -> dict[Fraction, int]:
    """Metres wound off odd jumbos at the lengths of the classes, by width."""
    metres: Counter[Fraction] = Counter()
    for cut in cuts:
        winding = making.classes[cut.pattern.winding_class]
        if winding.jumbo_width_mm is not None:
            metres[winding.jumbo_width_mm] += winding.length_m * cut.sets
    return metres


def bound_with_odd(making: PreparedRun, prices: Certificate, metres: Mapping[Fraction, int]) -> int:
    """What prices prove of plans that wind so many metres off odd jumbos, by width."""
    more = Fraction(0)
    for width_mm, wound_m in metres.items():
        lengths = {
            c: each.length_m
            for c, each in enumerate(making.classes)
            if each.jumbo_width_mm == width_mm
        }
        more += wound_m * least_a_metre(making.instance, prices, lengths)
    # Rounded so, the sum is no more than the two together rounded up.
    return price_bound(making.instance, prices) + math.floor(more)


def plan_odd_jumbos(
    making: PreparedRun,
    mill: Mill,
    odd: Sequence[JumboInStock],
    *,
    started: bool,
    others_m: int | None,
    search: Callable[..., Outcome],
    budget: Budget,
    seed: int,
    join_cost: int,
    proven: bool,
    issued: Sequence[Block] = (),
    ruled: Callable[[PreparedRun], PreparedRun] = lambda making: making,
) -> tuple[OddPart | None, PreparedRun]:
    """Plan the odd jumbos of a run.

    Parameters
    ----------
    odd
        The jumbos, if there are any, in the order in which they are to be wound.
    started
        Whether the first of them is on the unwind.
    others_m
        Metres of other jumbos; None: as many as are needed.
    join_cost
        What a join over a defect is taken to cost, area units.
    proven
        Whether a bound on the loss is asked for.
    issued
        Blocks of a plan of the run, whose patterns may serve.
    ruled
        Gives the run with what is asked of its patterns.

    Returns
    -------
    OddPart, PreparedRun
        The part, None where no jumbo is worth winding, and the run with what is left to be made.
    """
    if not odd:
        return None, making
    widths = dict.fromkeys(jumbo.width_mm for jumbo in odd)
    whole = with_odd_classes(making, mill, tuple(widths))
    stretches = [
        each
        for place, jumbo in enumerate(odd)
        for each in _stretches(jumbo, started=started and not place)
    ]
    asked = ruled(whole)
    sets = choose_odd_sets(
        asked,
        mill,
        stretches,
        others_m=others_m,
        search=search,
        budget=budget,
        join_cost=join_cost,
        issued=tuple(patterns_of(asked, issued)),
    )
    if not sets:
        return None, making
    stage = odd_stage(whole, mill, stretches, sets, budget=budget, seed=seed)
    certificate = None
    if proven:
        certificate = prove(making.instance, budget=budget.share(0.5), seed=seed).certificate
    restricted = asked.instance != whole.instance
    part = OddPart(stage=stage, making=whole, certificate=certificate, asked=restricted)
    return part, replace(making, instance=_rest(whole, stage, len(making.classes)))


def _stretches(jumbo: JumboInStock, *, started: bool) -> list[OddStretch]:
    """The jumbo between what is cut out of it, with the bands that lie there."""
    stock = replace(stock_jumbo(jumbo), started=started)
    starts = (0, *(end for _, end in stock.cut_out))
    ends = (*(start for start, _ in stock.cut_out), stock.usable_m)
    bands = [
        replace(each, from_m=each.from_m - stock.loss_start_m, to_m=each.to_m - stock.loss_start_m)
        for each in jumbo.defects
        if not each.side_to_side(jumbo.width_mm)
    ]
    return [
        OddStretch(
            jumbo=stock,
            from_m=start,
            to_m=end,
            bands=tuple(band for band in bands if band.from_m < end and start < band.to_m),
        )
        for start, end in zip(starts, ends, strict=True)
        if start < end
    ]


def _rest(whole: PreparedRun, stage: OddStage, classes: int) -> Instance:
    """What is left to be made, on the run's own width.

    What an order must still get and may still get hold at the sets' own lengths and at those of
    their classes, so that the bound, which is taken at these, stays below the loss.
    """
    rest, _ = part_of(residual(whole.instance, stage.cuts), range(classes))
    at_classes = Counter[int]()
    for cut in stage.cuts:
        for k, count in cut.pattern.pieces:
            option = whole.instance.options[k]
            at_classes[option.demand] += option.gain * count * cut.sets
    demands = []
    for i, (order, left, full) in enumerate(
        zip(whole.run.orders, rest.demands, whole.instance.demands, strict=True)
    ):
        made = stage.made.get(order.number, (0, 0))[0]
        low = max(0, full.low - min(made, at_classes[i]))
        high = left.high
        if full.high is not None:
            high = max(low, full.high - max(made, at_classes[i]))
        demands.append(replace(left, low=low, high=high))
    return replace(rest, demands=tuple(demands))
