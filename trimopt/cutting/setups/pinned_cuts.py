"""Cuts that stay as they are: what they leave of an instance for the engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.outcome import Cut

__all__ = ["without_fixed"]


def without_fixed(instance: Instance, fixed: Sequence[Cut]) -> Instance:
    """The instance that is left when the fixed cuts are made.

    Losses of the two differ by the cost of the fixed sets less what they are worth: a plan of the
    rest with least loss, with the fixed cuts beside it, has least loss among plans that hold them.

    Parameters
    ----------
    instance
        The whole run.
    fixed
        Cuts that are part of every plan.
    """
    made = [0] * len(instance.demands)
    worth = [0] * len(instance.demands)
    for cut in fixed:
        for k, count in cut.pattern.pieces:
            option = instance.options[k]
            made[option.demand] += option.gain * count * cut.sets
            worth[option.demand] += option.worth * count * cut.sets
    demands = []
    for i, demand in enumerate(instance.demands):
        surplus = 0 if demand.high is None else max(0, made[i] - demand.high)
        demands.append(
            replace(
                demand,
                low=max(0, demand.low - made[i]),
                high=None if demand.high is None else max(0, demand.high - made[i]),
                ordered=None
                if demand.ordered is None
                else demand.ordered - worth[i] + demand.surplus_worth * surplus,
            )
        )
    return replace(instance, demands=tuple(demands))
