"""Plain answers for small instances: every pattern, every plan, and a certificate's check.

Nothing here is shared with the engine but the definition of the loss.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from math import ceil

from trimopt.cutting import SCALE, Certificate, Cut, Instance, Pattern, loss_of, pattern_faults


def all_patterns(instance: Instance, *, ruled: bool = True) -> list[Pattern]:
    """Give every pattern that fits; with `ruled`, only those that every rule allows."""
    found = []
    for c, limits in enumerate(instance.classes):
        options = instance.options_of(c)
        spans = [range(limits.width // instance.options[k].width + 1) for k in options]
        for counts in product(*spans):
            pieces = tuple((k, n) for k, n in zip(options, counts, strict=True) if n)
            width = sum(instance.options[k].width * n for k, n in pieces)
            if not pieces or width > limits.width or sum(counts) > limits.max_pieces:
                continue
            pattern = Pattern(c, pieces)
            if not ruled or not pattern_faults(instance, pattern):
                found.append(pattern)
    return found


def best_loss(instance: Instance, max_sets: int) -> int | None:
    """Give the least loss over all plans of at most so many sets; None where none is whole.

    Plans are built a pattern at a time; what a plan has made is all that matters for its future,
    so only the cheapest plan of each production is kept.
    """
    patterns = all_patterns(instance)
    count = len(instance.demands)
    start = ((0,) * count, (0,) * count)
    states: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[int, tuple[Cut, ...]]] = {
        start: (0, ())
    }
    seen = dict(states)
    for _ in range(max_sets):
        grown: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[int, tuple[Cut, ...]]] = {}
        for (made, worth), (cost, cuts) in states.items():
            for pattern in patterns:
                new_made, new_worth = list(made), list(worth)
                for k, n in pattern.pieces:
                    option = instance.options[k]
                    new_made[option.demand] += option.gain * n
                    new_worth[option.demand] += option.worth * n
                key = (tuple(new_made), tuple(new_worth))
                new_cost = cost + instance.classes[pattern.winding_class].cost
                if key not in grown or new_cost < grown[key][0]:
                    grown[key] = (new_cost, (*cuts, Cut(pattern, 1)))
        states = {k: v for k, v in grown.items() if k not in seen or v[0] < seen[k][0]}
        seen |= states
    losses = [
        loss_of(instance, cuts)
        for (made, _), (_, cuts) in seen.items()
        if all(m >= d.low for m, d in zip(made, instance.demands, strict=True))
    ]
    return min(losses, default=None)


def _part(instance: Instance, i: int, worth: Fraction) -> Fraction:
    demand = instance.demands[i]
    value = -SCALE * worth
    if demand.ordered is not None:
        value += demand.under_price * max(Fraction(0), demand.ordered - worth)
        value += demand.over_price * max(Fraction(0), worth - demand.ordered)
    return value


def _patterns_pay(instance: Instance, proof: Certificate) -> bool:
    """Whether no allowed pattern is worth more than its set: condition (A)."""
    for pattern in all_patterns(instance):
        value = 0
        for k, n in pattern.pieces:
            option = instance.options[k]
            value += n * (
                proof.gain_price[option.demand] * option.gain
                + proof.worth_price[option.demand] * option.worth
            )
        if value > SCALE * instance.classes[pattern.winding_class].cost * proof.scale:
            return False
    return True


def certified_bound(instance: Instance, proof: Certificate) -> int | None:
    """Redo a certificate by counting patterns one by one; None where its prices prove nothing."""
    if not _patterns_pay(instance, proof):
        return None
    total = Fraction(0)
    for i, demand in enumerate(instance.demands):
        spans = [Fraction(o.worth, o.gain) for o in instance.options if o.demand == i]
        if not spans:
            total += _part(instance, i, Fraction(0))
            continue
        g = Fraction(proof.gain_price[i], proof.scale)
        w = Fraction(proof.worth_price[i], proof.scale)
        over = demand.over_price if demand.ordered is not None else 0
        for r in (min(spans), max(spans)):
            if demand.high is None:
                slope = g + w * r - (SCALE - over) * r
            else:
                slope = g + w * r + (SCALE - over) * (demand.surplus_worth - r)
            if slope < 0:
                return None
        ends = [Fraction(demand.low)]
        if demand.high is not None:
            ends.append(Fraction(demand.high))
        points = [(made, r * made) for made in ends for r in (min(spans), max(spans))]
        if demand.ordered is not None:
            wanted = Fraction(demand.ordered)
            points += [
                (made, wanted) for made in ends if min(spans) * made <= wanted <= max(spans) * made
            ]
            for r in (min(spans), max(spans)):
                if r and wanted / r >= ends[0] and (len(ends) == 1 or wanted / r <= ends[1]):
                    points.append((wanted / r, wanted))
        total += min(g * made + w * worth + _part(instance, i, worth) for made, worth in points)
    return ceil(total)
