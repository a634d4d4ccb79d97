"""The joint bound: least jumbo metres, and least loss, for a run with both dimensions.

Three bounds, proven by the engine's certificate over all patterns:

- **over the listed set lengths, butts counted**: sets are charged fairly for the butts they leave
  (`trimopt.winding.fills`), and the engine bounds the sum of charges;
- **over every whole length in range, metres**: what no choice of diameters can undercut;
- **over every whole length in range, loss**: the engine's own objective. Butts are never negative,
  so it bounds the loss with butts as well. Where a few orders of reels are a part of their own, a
  search over their whole sets proves it (`trimopt.winding.whole_sets`).

`trimopt.winding.all_lengths` says why a few lengths stand for every length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from time import perf_counter

from trimopt.book.model import Product
from trimopt.cutting import SCALE, Demand, Instance, Limits, Status, solve
from trimopt.cutting.parts import parts_of
from trimopt.making import Making
from trimopt.mill.model import Mill
from trimopt.winding.all_lengths import every_length
from trimopt.winding.fills import Charges, fair_charges, least_metres
from trimopt.winding.whole_sets import whole_sets_bound

__all__ = [
    "JointBound",
    "charged",
    "joint_bound",
    "least_loss",
    "listed_metres_bound",
    "metres_only",
]

_FEW = 6  # orders of a part whose whole sets are searched through


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
    know more of whole sets of these very lengths.
    """
    outcome = solve(instance, limits=Limits(seconds=seconds, gap=1.0))
    if outcome.status not in (Status.OPTIMAL, Status.FEASIBLE):
        return None
    if every_length:
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


def least_loss(
    making: Making, mill: Mill, usable_m: Sequence[int], *, seconds: float | None = None
) -> int | None:
    """Bound the loss over every whole length in range, in 1/SCALE of the run's area unit.

    Parts of a few reel orders are searched through (`trimopt.winding.whole_sets`); the others get
    what prices prove.

    Parameters
    ----------
    usable_m
        Usable lengths of all kinds of jumbo that there are.
    seconds
        When to stop.

    Returns
    -------
    int or None
        None where nothing was proven in time.
    """
    begun = perf_counter()
    wide, lengths = every_length(making, mill, usable_m)
    total = 0
    for part in parts_of(wide):
        left = None if seconds is None else max(0.1, seconds - (perf_counter() - begun))
        # As wide a gap as may be: the linear program proves, and no plan is sought.
        outcome = solve(part.instance, limits=Limits(seconds=left, gap=1.0))
        if outcome.certificate is None:
            return None
        found = None
        orders = [making.run.orders[i] for i in part.demands]
        if len(orders) <= _FEW and all(order.product is Product.REEL for order in orders):
            own = tuple(making.instance.demands[i] for i in part.demands)
            found = whole_sets_bound(
                replace(part.instance, demands=own), [lengths[c] for c in part.classes], outcome
            )
        total += outcome.price_bound if found is None else max(outcome.price_bound, found)
    return total


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
        loss=least_loss(making, mill, usable_m, seconds=seconds),
        paper_per_m=int(mill.jumbo.width_mm / making.unit_mm),
    )
