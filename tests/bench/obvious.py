"""The obvious way along the jumbo: greatest diameters, patterns of least loss, sets laid first fit.

Every set has the greatest length that one of its orders allows; the same engine finds the patterns;
a set goes onto the first jumbo with room for it, in the order in which patterns were found. Knives
and set-ups do not count, so a block may come back on many jumbos.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Stretch
from trimopt.budget import Budget
from trimopt.cutting import SCALE, Cut, solve
from trimopt.making import PreparedRun, Run, prepare, ways
from trimopt.mill.model import Mill
from trimopt.plan.mass_balance import Balance
from trimopt.plan.planning.schedule.order_lines import order_lines
from trimopt.plan.planning.schedule.run_assembly import balance_of, blocks_of, jumbos_of
from trimopt.winding import Lot, Strip, arrange
from trimopt.winding.model import Butt, LaidSet, StockJumbo


@dataclass(frozen=True, slots=True, kw_only=True)
class Obvious:
    """What the obvious way comes to. `loss_m` is the engine's loss and the butts, jumbo metres."""

    balance: Balance
    used_m: int  # wound and butts
    butts_m: int
    loss_m: Fraction


def first_fit(lengths_m: list[int], usable_m: int) -> list[int]:
    """The jumbo, from 0, that each set goes onto."""
    left: list[int] = []
    places = []
    for length_m in lengths_m:
        place = next((k for k, room_m in enumerate(left) if room_m >= length_m), len(left))
        if place == len(left):
            left.append(usable_m)
        left[place] -= length_m
        places.append(place)
    return places


def obvious_way(run: Run, mill: Mill, seconds: float) -> Obvious | None:
    """The run planned the obvious way; None where the engine finds nothing in its time.

    Parameters
    ----------
    mill
        Its jumbo has a length.
    """
    making = _longest_only(run, mill)
    outcome = solve(making.instance, budget=Budget.lasting(seconds))
    if outcome.loss is None:
        return None
    lots = tuple(_lot(making, at, cut) for at, cut in enumerate(outcome.cuts))
    arrangement = arrange(lots, mill.winder, mill.jumbo.width_mm, budget=Budget(max_work=10))
    in_order = tuple(sorted(arrangement.blocks, key=lambda block: block.lot))
    sets, butts = _laid(lots, mill)
    blocks = blocks_of(
        making,
        mill,
        replace(arrangement, blocks=in_order),
        lots=lots,
        sets=sets,
        times=(),
    )
    lost_m = sum(butt.left_m for butt in butts if not butt.carried_forward)
    paper = SCALE * mill.jumbo.width_mm / making.unit_mm
    return Obvious(
        balance=balance_of(
            making,
            mill,
            blocks,
            jumbos_of(butts, mill.winder),
            order_lines(making, mill, blocks),
        ),
        used_m=sum(laid.length_m for laid in sets) + lost_m,
        butts_m=lost_m,
        loss_m=Fraction(outcome.loss) / paper + lost_m,
    )


def _longest_only(run: Run, mill: Mill) -> PreparedRun:
    """The run over the longest length of each order on each core, no other."""
    mixed = mill.winder.kind == "single-drum"
    longest = {
        (None if mixed else way.core.inside_mm, way.span.longest_m)
        for order in run.orders
        for way in ways(order, mill, usable_m=mill.jumbo.usable_m)
    }
    return prepare(run, mill, lengths=sorted(longest, key=lambda pair: (pair[0] or 0.0, pair[1])))


def _lot(making: PreparedRun, number: int, cut: Cut) -> Lot:
    winding = making.classes[cut.pattern.winding_class]
    limits = making.instance.classes[cut.pattern.winding_class]
    pieces = [(k, making.options[k], count) for k, count in cut.pattern.pieces]
    used = sum(making.instance.options[k].width * count for k, _, count in pieces)
    return Lot(
        number=number,
        strips=tuple(
            Strip(key=str(k), width_mm=option.width_mm, no_edge=option.order.no_edge)
            for k, option, count in pieces
            for _ in range(count)
        ),
        sets=cut.sets,
        length_m=winding.length_m,
        core_mm=winding.core_mm,
        broke_reels=limits.broke_reels(used) or 0,
        orders=frozenset(option.order.number for _, option, _ in pieces),
    )


def _laid(lots: tuple[Lot, ...], mill: Mill) -> tuple[list[LaidSet], list[Butt]]:
    usable_m = mill.jumbo.usable_m
    of_lot = [(k, lot.length_m) for k, lot in enumerate(lots) for _ in range(lot.sets)]
    places = first_fit([length_m for _, length_m in of_lot], usable_m)
    wound = [0] * (max(places) + 1)
    sets = []
    for (block, length_m), place in zip(of_lot, places, strict=True):
        end_m = wound[place] + length_m
        segment = Stretch(jumbo=f"J{place + 1}", from_m=wound[place], to_m=end_m)
        wound[place] += length_m
        sets.append(LaidSet(block=block, length_m=length_m, stretches=(segment,)))
    # The fullest remainder is the one that is kept: that jumbo is wound last.
    last = min(range(len(wound)), key=lambda place: wound[place])
    return sets, [
        Butt(
            jumbo=StockJumbo(
                name=f"J{place + 1}",
                width_mm=mill.jumbo.width_mm,
                usable_m=usable_m,
                loss_start_m=mill.jumbo.loss_start_m,
                loss_end_m=mill.jumbo.loss_end_m,
            ),
            wound_m=metres,
            left_m=usable_m - metres,
            carried_forward=place == last and metres < usable_m,
        )
        for place, metres in enumerate(wound)
    ]
