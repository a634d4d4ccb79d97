"""Patterns and plans of cuts: what is allowed, what they make, what they lose.

A plan is a tuple of cuts. Every answer of the engine is re-added here, in whole numbers and with
nothing of the search that found it, before it leaves.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.loss import demand_loss, net_worth

Across = tuple[tuple[tuple[int, int], int], ...]
"""((demand, width), pieces) of what lies across a set, rising."""


class Pattern(NamedTuple):
    """Which pieces lie across a set: ((option, count), …), options rising, counts above 0.

    A tuple, as searches sort patterns and look them up by the hundred thousand.
    """

    winding_class: int
    pieces: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, order=True)
class Cut:
    """A pattern and how many sets of it."""

    pattern: Pattern
    sets: int


def totals_of(instance: Instance, cuts: Iterable[Cut]) -> tuple[list[int], list[int], int]:
    """Yield and worth made of every demand, surplus in them, and the cost of all sets."""
    made = [0] * len(instance.demands)
    worth = [0] * len(instance.demands)
    cost = 0
    for cut in cuts:
        cost += instance.classes[cut.pattern.winding_class].cost * cut.sets
        for k, count in cut.pattern.pieces:
            option = instance.options[k]
            made[option.demand] += option.gain * count * cut.sets
            worth[option.demand] += option.worth * count * cut.sets
    return made, worth, cost


def loss_of(instance: Instance, cuts: Iterable[Cut]) -> int:
    """The loss of a plan, in whole numbers, as `trimopt.cutting.model.instance` defines it."""
    made, worth, cost = totals_of(instance, cuts)
    loss = SCALE * cost
    for demand, yields, value in zip(instance.demands, made, worth, strict=True):
        loss += demand_loss(demand, yields, value)
    return loss


def faults_of(instance: Instance, cuts: Sequence[Cut]) -> tuple[str, ...]:
    """What is wrong with a plan: patterns that do not fit, demands short. Empty: nothing."""
    faults = []
    for cut in cuts:
        faults += [f"{cut}: {fault}" for fault in pattern_faults(instance, cut.pattern)]
        if cut.sets < 1:
            faults.append(f"{cut}: fewer than one set")
    made, _, _ = totals_of(instance, cuts)
    for i, demand in enumerate(instance.demands):
        if made[i] < demand.low:
            faults.append(f"demand {i}: {made[i]} made, {demand.low} required")
    return tuple(faults)


def pattern_faults(instance: Instance, pattern: Pattern) -> tuple[str, ...]:
    """Why a pattern is not allowed. Empty: it is."""
    return tuple(_broken_rules(instance, pattern))


def is_allowed(instance: Instance, pattern: Pattern) -> bool:
    """Whether a pattern keeps every rule; stops at the first that it breaks."""
    return next(_broken_rules(instance, pattern), None) is None


def _broken_rules(instance: Instance, pattern: Pattern) -> Iterator[str]:
    """Every rule that a pattern breaks, in words: the one place that decides what is allowed."""
    limits = instance.classes[pattern.winding_class]
    used = pieces = inside = 0
    for k, count in pattern.pieces:
        option = instance.options[k]
        if option.winding_class != pattern.winding_class:
            yield f"option {k} is of class {option.winding_class}"
        used += option.width * count
        pieces += count
        inside += count if option.no_edge else 0
    broke = limits.broke_reels(used)
    if broke is None:
        yield f"width {used} is not allowed in {limits.width}"
    elif pieces + broke > limits.max_pieces:
        yield f"{pieces} pieces and {broke} broke reels, {limits.max_pieces} allowed"
    elif inside and pieces - inside + broke < 2:
        yield "a no-edge piece would stand at the edge"
    if instance.apart or instance.together or instance.barred:
        yield from _broken_instructions(instance, pattern)


def _broken_instructions(instance: Instance, pattern: Pattern) -> Iterator[str]:
    held = {instance.options[k].demand for k, _ in pattern.pieces}
    for a, b in instance.apart:
        if a in held and b in held:
            yield f"demands {a} and {b} share the pattern"
    for a, b in instance.together:
        if (a in held) != (b in held):
            yield f"demands {a} and {b} do not ride together"
    if (pattern.winding_class, instance.widths_across(pattern.pieces)) in instance.barred:
        yield "the pattern is barred"


def yields_of(instance: Instance, pattern: Pattern) -> dict[int, tuple[int, int]]:
    """Yield and worth that one set of a pattern gives to each demand it holds pieces of."""
    yields: dict[int, tuple[int, int]] = {}
    for k, count in pattern.pieces:
        option = instance.options[k]
        gain, worth = yields.get(option.demand, (0, 0))
        yields[option.demand] = (gain + option.gain * count, worth + option.worth * count)
    return yields


def pieces_across(instance: Instance, pattern: Pattern) -> Across:
    """How many pieces of each demand and width lie across a set, of whatever class."""
    counts: Counter[tuple[int, int]] = Counter()
    for k, count in pattern.pieces:
        counts[instance.options[k].demand, instance.options[k].width] += count
    return tuple(sorted(counts.items()))


def patterns_in(instance: Instance, cuts: Iterable[Cut]) -> int:
    """Number of different patterns in a plan: one more than the set-ups between them.

    The same widths across are one pattern, whichever orders they are for; sets of two classes are
    where the classes are of one `setting`.
    """
    return len({instance.set_up_for(cut.pattern.winding_class, cut.pattern.pieces) for cut in cuts})


def residual(instance: Instance, cuts: Iterable[Cut]) -> Instance:
    """What is left of a run when some cuts are made.

    Losses of the two differ by the cost of these sets less what they are worth: a plan of the
    rest with least loss, with the cuts beside it, has least loss among all plans that hold them.
    """
    made, worth, _ = totals_of(instance, cuts)
    demands = []
    for demand, done, got in zip(instance.demands, made, worth, strict=True):
        net = net_worth(demand, done, got)
        left = replace(
            demand,
            low=max(0, demand.low - done),
            high=None if demand.high is None else max(0, demand.high - done),
            ordered=None if demand.ordered is None else demand.ordered - net,
        )
        demands.append(left)
    return replace(instance, demands=tuple(demands))
