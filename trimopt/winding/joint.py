"""The joint bound: least jumbo metres, and least loss, for a run with both dimensions.

Three bounds, each proven by the engine's certificate over all patterns:

- **over the listed set lengths, butts counted**: sets are charged fairly for the butts they leave
  (`trimopt.winding.fills`), and the engine bounds the sum of charges;
- **over every whole length in range, metres**: what no choice of diameters can undercut;
- **over every whole length in range, loss**: the engine's own objective. Butts are never negative,
  so it bounds the loss with butts as well.

Why the ends of the ranges are enough for every length: for one pattern, cost, worth and yield of a
set are straight lines in its length (a reel's count is constant, its mass, metres and worth grow
with the length), and the lengths allowed are an interval whose ends are ends of its orders'
ranges. So a set of any length is a mixture of two sets of the same pattern at the ends, and the
linear program over those lengths bounds every plan. Two things are not straight, and are relaxed:
whole sheets (two options, one no less and one no more than any length between gives), and the
greatest set mass, which narrows long sets (a length may be as wide as the next shorter one).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Product
from trimopt.cutting import SCALE, Demand, Instance, Limits, Option, Status, WindingClass, solve
from trimopt.making import Making, Way, WindingLength, piece_of, ways
from trimopt.making.options import OptionBuilder
from trimopt.mill.model import Mill
from trimopt.winding.fills import Charges, fair_charges, least_metres

__all__ = [
    "JointBound",
    "charged",
    "every_length",
    "joint_bound",
    "listed_metres_bound",
    "metres_only",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class JointBound:
    """What is proven of a run. Loss is in the engine's unit (1/SCALE of the run's area unit).

    None where the limit came before a proof. `listed_*` hold over the listed set lengths, with
    butts; `metres` and `loss` over every whole length in range.
    """

    listed_metres: int | None
    listed_jumbos: int | None
    metres: int | None
    loss: int | None
    paper_per_m: int  # area units used by a metre of jumbo

    def metres_for(self, used_m: int, loss: int) -> int | None:
        """Least jumbo metres that deliver what a plan delivers, over every length in range.

        With `loss` (butts in it) on `used_m` metres, a plan of the same deliveries and the least
        loss there can be uses this much, so no plan of the same deliveries uses less.
        """
        if self.loss is None:
            return None
        return used_m - (loss - self.loss) // (SCALE * self.paper_per_m)


def metres_only(instance: Instance, cost: Sequence[int]) -> Instance:
    """The instance with the least sum of `cost` over its sets as its objective.

    Ranges are kept from below only: making more than an order takes is no help in metres.
    """
    return replace(
        instance,
        demands=tuple(Demand(low=demand.low, high=None) for demand in instance.demands),
        classes=tuple(replace(c, cost=m) for c, m in zip(instance.classes, cost, strict=True)),
        options=tuple(replace(option, worth=0) for option in instance.options),
    )


def charged(instance: Instance, charges: Charges, paper_per_m: int) -> Instance:
    """The instance with its sets charged for the butts that they leave.

    A plan of least loss here prefers lengths that fill jumbos; its bound less the credit's paper
    bounds the loss with butts.
    """
    return replace(
        instance,
        classes=tuple(
            replace(limits, cost=charge * paper_per_m // charges.scale)
            for limits, charge in zip(instance.classes, charges.charge, strict=True)
        ),
    )


def _bound(instance: Instance, seconds: float | None, *, every_length: bool = False) -> int | None:
    """What the engine proves without a search for plans.

    Where classes stand for all lengths between them, only what prices prove holds: the engine may
    know more of whole sets of these very lengths. With one class there is but one length.
    """
    outcome = solve(instance, limits=Limits(seconds=seconds, gap=1.0))
    if outcome.status not in (Status.OPTIMAL, Status.FEASIBLE):
        return None
    if every_length and len({option.winding_class for option in instance.options}) > 1:
        return None if outcome.certificate is None else outcome.price_bound
    return outcome.bound


def listed_metres_bound(
    instance: Instance,
    lengths_m: Sequence[int],
    usable_m: Sequence[int],
    sets: Sequence[float],
    *,
    seconds: float | None = None,
) -> tuple[int, int] | None:
    """Jumbos and usable jumbo metres that no plan over the listed lengths goes below.

    Parameters
    ----------
    instance
        The run as the engine sees it.
    lengths_m
        The set length of each of its classes.
    usable_m
        Usable lengths of all kinds of jumbo that there are.
    sets
        How many sets of each class a good plan has: charges are made for them. They steer, and
        the bound holds whatever they are.
    seconds
        When to stop.

    Returns
    -------
    tuple or None
        The better of the charged and the plain bound; None where nothing was proven in time.
    """
    different = tuple(sorted(set(lengths_m)))
    wanted = [
        sum(many for m, many in zip(lengths_m, sets, strict=True) if m == length)
        for length in different
    ]
    plain = Charges(
        lengths_m=different,
        usable_m=tuple(sorted(set(usable_m), reverse=True)),
        charge=tuple(1000 * m for m in different),
        credit=0,
    )
    found: list[tuple[int, int]] = []
    fair = fair_charges(different, usable_m, wanted)
    for charges in dict.fromkeys((fair, plain)):
        of = dict(zip(charges.lengths_m, charges.charge, strict=True))
        bound = _bound(metres_only(instance, [of[m] for m in lengths_m]), seconds)
        if bound is not None:
            found.append(least_metres(charges, -(-bound // SCALE)))
    if not found:
        return None
    return max(jumbos for jumbos, _ in found), max(metres for _, metres in found)


def every_length(making: Making, mill: Mill, usable_m: Sequence[int]) -> tuple[Instance, list[int]]:
    """The run over the ends of all ranges of length, which stand for every length between.

    Returns
    -------
    tuple
        The instance, and the length of each of its classes. A plan of it is no plan of the run;
        its linear program bounds every plan of the run.
    """
    mixed = any(winding.core_mm is None for winding in making.classes)
    builder = OptionBuilder(
        mill=mill, run=making.run, unit_mm=making.unit_mm, width_unit_mm=making.width_unit_mm
    )
    found = [ways(order, mill, usable_m=max(usable_m)) for order in making.run.orders]
    ends: dict[float | None, set[int]] = defaultdict(set)
    for its_ways in found:
        for way in its_ways:
            core = None if mixed else way.core.inside_mm
            ends[core] |= {way.span.least_m, way.span.greatest_m}
    classes: list[WindingClass] = []
    lengths: list[int] = []
    options: list[Option] = []
    for core, lengths_of_core in sorted(ends.items(), key=lambda item: item[0] or 0.0):
        before = None
        for length_m in sorted(lengths_of_core):
            own = builder.limits(WindingLength(core_mm=core, length_m=length_m))
            width = builder.limits(WindingLength(core_mm=core, length_m=before or length_m))
            here = [
                option
                for place, its_ways in enumerate(found)
                for way in its_ways
                if (core is None or way.core.inside_mm == core) and way.span.holds(length_m)
                for option in _options(making, way, place, length_m, len(classes))
                if option.width <= width.width
            ]
            before = length_m
            if here:
                classes.append(replace(width, cost=own.cost))
                lengths.append(length_m)
                options += dict.fromkeys(here)
    instance = replace(
        making.instance,
        demands=_demands(making.instance, options),
        classes=tuple(classes),
        options=tuple(options),
        barred=(),
    )
    return instance, lengths


def _options(
    making: Making, way: Way, place: int, length_m: int, winding_class: int
) -> list[Option]:
    order = making.run.orders[place]
    piece = piece_of(
        order,
        width_mm=way.width_mm,
        ups=way.ups,
        sheeter=way.sheeter,
        length_m=length_m,
        unit_mm=making.unit_mm,
    )
    gains = [piece.gain]
    a_gain = Fraction(0)
    if order.product is Product.SHEET:
        assert order.chop_mm is not None
        assert way.ups is not None
        # A chop is whole for every up, and what waste leaves is rounded down once more.
        loose = way.ups + 1
        gains = [piece.gain + loose, max(1, piece.gain - loose)]
        a_gain = order.width_mm * order.chop_mm / 1000 / making.unit_mm
    return [
        Option(
            demand=place,
            winding_class=winding_class,
            width=int(way.width_mm / making.width_unit_mm),
            gain=gain,
            worth=math.floor(gain * a_gain) if a_gain else piece.area,
            no_edge=order.no_edge,
        )
        for gain in gains
        if gain > 0
    ]


def _demands(instance: Instance, options: Sequence[Option]) -> tuple[Demand, ...]:
    """Surplus takes back at least what the best option brings, in this list of options too."""
    worst: dict[int, int] = defaultdict(int)
    for option in options:
        worst[option.demand] = max(worst[option.demand], -(-option.worth // option.gain))
    return tuple(
        replace(demand, surplus_worth=max(demand.surplus_worth, worst[i]))
        for i, demand in enumerate(instance.demands)
    )


def joint_bound(
    making: Making,
    mill: Mill,
    usable_m: Sequence[int],
    sets: Sequence[float],
    *,
    seconds: float | None = None,
) -> JointBound:
    """All three bounds of a run.

    Parameters
    ----------
    making, mill
        The run and the mill file.
    usable_m
        Usable lengths of all kinds of jumbo that there are.
    sets
        How many sets of each listed class the plan has.
    seconds
        When to stop each of the four linear programs behind it.
    """
    listed = listed_metres_bound(
        making.instance,
        [winding.length_m for winding in making.classes],
        usable_m,
        sets,
        seconds=seconds,
    )
    wide, lengths = every_length(making, mill, usable_m)
    metres = _bound(metres_only(wide, lengths), seconds, every_length=True)
    return JointBound(
        listed_metres=None if listed is None else listed[1],
        listed_jumbos=None if listed is None else listed[0],
        metres=None if metres is None else -(-metres // SCALE),
        loss=_bound(wide, seconds, every_length=True),
        paper_per_m=int(mill.jumbo.width_mm / making.unit_mm),
    )
