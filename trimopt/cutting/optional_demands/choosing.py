"""What may join which plan, and what is chosen: the data of a choice, re-added in whole numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from trimopt.cutting.model.cuts import Cut, faults_of, loss_of
from trimopt.cutting.model.instance import SCALE, Instance


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLimit:
    """What the sets of a plan may use of something in all, in whole units.

    `use` is by class, for a set. A plan keeps the limit that uses at most `sure` with `change`
    added for each pattern that the plan so far lacks; none that uses more than `possible` can.
    """

    use: tuple[int, ...]
    sure: int
    possible: int
    change: int = 0

    def used(self, cuts: Sequence[Cut], kept: Sequence[Cut]) -> int:
        """What a plan uses, each pattern that `kept` lacks with its change."""
        known = {cut.pattern for cut in kept}
        sets = sum(self.use[cut.pattern.winding_class] * cut.sets for cut in cuts)
        return sets + self.change * sum(cut.pattern not in known for cut in cuts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choosing:
    """What may join which plan.

    `declined` says by demand of `instance` that it is optional, and what declining it costs, in
    units of worth. `kept` is the plan so far, without any of them; `set_up` the loss that a pattern
    more must be worth; `charges` what a set of each class costs in the search.
    """

    instance: Instance
    declined: Mapping[int, int]
    kept: tuple[Cut, ...]
    charges: tuple[int, ...]
    set_up: float = 0.0
    limits: tuple[SetLimit, ...] = ()

    def of(self, chosen: frozenset[int]) -> Instance:
        """The instance in which the chosen must be made, and of the others nothing is wanted."""
        demands = tuple(
            replace(demand, low=0, ordered=None)
            if i in self.declined and i not in chosen
            else demand
            for i, demand in enumerate(self.instance.demands)
        )
        return replace(self.instance, demands=demands)

    def total(self, chosen: frozenset[int], cuts: Sequence[Cut]) -> int:
        """Loss of a plan of the chosen, and of what is declined."""
        declined = sum(worth for i, worth in self.declined.items() if i not in chosen)
        return loss_of(self.of(chosen), cuts) + SCALE * declined

    def holds(self, chosen: frozenset[int], cuts: Sequence[Cut]) -> bool:
        """Whether a plan makes the chosen, nothing of the others, and surely keeps the limits.

        The plan so far keeps them.
        """
        out = self.declined.keys() - chosen
        options = self.instance.options
        return tuple(cuts) == self.kept or (
            not faults_of(self.of(chosen), cuts)
            and not any(options[k].demand in out for cut in cuts for k, _ in cut.pattern.pieces)
            and all(limit.used(cuts, self.kept) <= limit.sure for limit in self.limits)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A choice with a plan of it, and its total of loss and of what is declined.

    No choice has a plan of a total below `bound`, over all patterns; None: nothing is proven. The
    choice is a proven best where total and bound meet.
    """

    chosen: frozenset[int]
    cuts: tuple[Cut, ...]
    total: int
    bound: int | None
