"""An instance made ready for many thousand quick builds: reduced widths, masks, values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import gcd

from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.loss import demand_loss
from trimopt.cutting.model.outcome import Certificate, Cut

__all__ = ["Case", "ClassCase", "Plan", "Row", "case_of", "plan_of", "without_surplus"]

#: A pattern with its number of sets: (class, ((option, count), …), sets).
Row = tuple[int, tuple[tuple[int, int], ...], int]
Plan = tuple[Row, ...]

#: Above this many units of width the bit fields get slow; widths are then rounded up for building.
WIDEST = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassCase:
    """One winding class. Widths are in units of `unit`, so that bit fields are short.

    `allowed` has bit s set where a pattern of used width s may leave the winder (no broke reel
    counted yet), and `broke` says how many broke reels that takes.
    """

    index: int
    unit: int
    width: int
    cost: int
    max_pieces: int
    options: tuple[int, ...]
    by_demand: tuple[tuple[int, ...], ...]
    piece_limit_binds: bool
    plain: bool  # every used width is allowed, with no broke reel
    allowed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What the builder reads, as flat tuples by option or by demand."""

    instance: Instance
    classes: tuple[ClassCase, ...]
    width: tuple[int, ...]  # by option, in units of its class
    demand: tuple[int, ...]
    gain: tuple[int, ...]
    value: tuple[float, ...]  # by option: loss that a piece pays for at the bound's prices
    low: tuple[int, ...]
    high: tuple[int | None, ...]
    strict: tuple[bool, ...]  # by demand: a surplus would be free, so none is made
    no_edge: bool  # some option has the flag
    shared: bool  # two rows may be one pattern: classes of one setting, or options of one width
    by_demand: tuple[tuple[int, ...], ...]

    def loss(self, plan: Sequence[Row]) -> int | None:
        """The loss of a plan as `loss_of` gives it; None where a demand is short or over."""
        instance = self.instance
        made = [0] * len(self.low)
        worth = [0] * len(self.low)
        cost = 0
        for winding_class, pieces, sets in plan:
            cost += instance.classes[winding_class].cost * sets
            for k, count in pieces:
                i = self.demand[k]
                made[i] += self.gain[k] * count * sets
                worth[i] += instance.options[k].worth * count * sets
        loss = SCALE * cost
        for i, demand in enumerate(instance.demands):
            if made[i] < demand.low:
                return None
            if self.strict[i] and made[i] > (demand.high or 0):
                return None
            loss += demand_loss(demand, made[i], worth[i])
        return loss

    def patterns(self, plan: Sequence[Row]) -> int:
        """Number of different patterns, as `patterns_in` counts them."""
        if not self.shared:
            return len({row[:2] for row in plan})
        return len({self.instance.set_up_for(row[0], row[1]) for row in plan})

    def reduced(self, winding_class: int, pieces: Sequence[tuple[int, int]]) -> float:
        """What one set of a pattern adds to the loss at the bound's prices."""
        value = self.value
        return self.classes[winding_class].cost * SCALE - sum(value[k] * n for k, n in pieces)

    def allows(self, winding_class: int, pieces: tuple[tuple[int, int], ...]) -> bool:
        """Whether a pattern whose width fits also keeps the other rules."""
        instance = self.instance
        limits = instance.classes[winding_class]
        used = sum(instance.options[k].width * n for k, n in pieces)
        broke = limits.broke_reels(used)
        if broke is None or sum(n for _, n in pieces) + broke > limits.max_pieces:
            return False
        if self.no_edge:
            inside = sum(n for k, n in pieces if instance.options[k].no_edge)
            if inside and sum(n for _, n in pieces) - inside + broke < 2:
                return False
        if instance.apart or instance.together:
            held = {self.demand[k] for k, _ in pieces}
            if any(a in held and b in held for a, b in instance.apart):
                return False
            if any((a in held) != (b in held) for a, b in instance.together):
                return False
        barred = instance.barred
        return not barred or (winding_class, instance.widths_across(pieces)) not in barred


def _class_case(instance: Instance, index: int) -> ClassCase:
    limits = instance.classes[index]
    options = tuple(sorted(instance.options_of(index), key=lambda k: instance.options[k].demand))
    widths = [instance.options[k].width for k in options]
    unit = gcd(*widths) if widths else 1
    unit = max(unit, -(-limits.width // WIDEST), 1)
    width = limits.width // unit
    narrowest = min((-(-w // unit) for w in widths), default=1)
    exact = all(w % unit == 0 for w in widths)
    if limits.slack is None:
        allowed, plain = (1 << (width + 1)) - 1, True
    else:
        allowed = 0
        plain = False
        for used in range(width + 1):
            # rounded-up widths say nothing exact about the strip: `allows` looks again
            if not exact or limits.broke_reels(used * unit) is not None:
                allowed |= 1 << used
    by_demand = [
        tuple(group) for _, group in groupby(options, key=lambda k: instance.options[k].demand)
    ]
    return ClassCase(
        index=index,
        unit=unit,
        width=width,
        cost=limits.cost,
        max_pieces=limits.max_pieces,
        options=options,
        by_demand=tuple(by_demand),
        piece_limit_binds=width // max(1, narrowest) > limits.max_pieces,
        plain=plain,
        allowed=allowed,
    )


def case_of(instance: Instance, certificate: Certificate | None) -> Case:
    """Make an instance ready.

    The value of a piece is g · gain + w · worth at the certificate's prices; without one, its
    share of the width (textbook form) or its own worth.
    """
    classes = tuple(_class_case(instance, c) for c in range(len(instance.classes)))
    classes_of = instance.classes
    value = []
    for option in instance.options:
        limits = instance.classes[option.winding_class]
        if certificate is not None:
            price = (
                certificate.gain_price[option.demand] * option.gain
                + certificate.worth_price[option.demand] * option.worth
            ) / certificate.scale
        elif option.worth:
            price = float(SCALE * option.worth)
        else:
            price = SCALE * limits.cost * option.width / limits.width
        value.append(price)
    return Case(
        instance=instance,
        classes=classes,
        width=tuple(-(-o.width // classes[o.winding_class].unit) for o in instance.options),
        demand=tuple(o.demand for o in instance.options),
        gain=tuple(o.gain for o in instance.options),
        value=tuple(value),
        low=tuple(d.low for d in instance.demands),
        high=tuple(d.high for d in instance.demands),
        strict=tuple(d.high is not None and not d.surplus_worth for d in instance.demands),
        no_edge=any(o.no_edge for o in instance.options),
        shared=len({(classes_of[o.winding_class].setting, o.width) for o in instance.options})
        < len(instance.options),
        by_demand=instance.by_demand(),
    )


def plan_of(cuts: Sequence[Cut]) -> Plan:
    """The engine's cuts as rows."""
    return tuple((cut.pattern.winding_class, cut.pattern.pieces, cut.sets) for cut in cuts)


def without_surplus(case: Case, plan: Plan, fixed: int) -> Plan | None:
    """A plan with the pieces taken out that would be a free surplus; None where rules forbid it.

    Parameters
    ----------
    case
        The instance.
    plan
        A plan that meets every demand; the first `fixed` rows stay as they are.
    """
    over = [0] * len(case.low)
    for _, pieces, sets in plan:
        for k, n in pieces:
            over[case.demand[k]] += case.gain[k] * n * sets
    for i, strict in enumerate(case.strict):
        over[i] = over[i] - (case.high[i] or 0) if strict else 0
    rows = list(plan[:fixed])
    for c, pieces, sets in plan[fixed:]:
        left = sets
        while left:
            counts = []
            run = left
            for k, n in pieces:
                i = case.demand[k]
                out = min(n, max(0, over[i]) // case.gain[k])
                if out:
                    run = min(run, over[i] // (out * case.gain[k]))
                counts.append((k, n - out, out))
            for k, _, out in counts:
                over[case.demand[k]] -= out * case.gain[k] * run
            kept = tuple((k, n) for k, n, _ in counts if n)
            if kept:
                if not case.allows(c, kept):
                    return None
                rows.append((c, kept, run))
            left -= run
    return tuple(rows)
