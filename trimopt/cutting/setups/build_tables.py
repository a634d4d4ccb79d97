"""An instance made ready for many thousand quick builds: reduced widths, masks, values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby
from math import gcd
from typing import Self

from trimopt.cutting.model.cuts import Cut, Pattern, patterns_in, totals_of
from trimopt.cutting.model.instance import SCALE, Instance, WindingClass
from trimopt.cutting.model.loss import demand_loss
from trimopt.cutting.model.outcome import Certificate
from trimopt.cutting.params import PARAMS, SetUpParams


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassTables:
    """One winding class. Widths are in units of `unit`, so that bit fields are short.

    `allowed` has bit s set where a pattern of used width s keeps the limits on the edge trim;
    stations that broke reels take are not counted in it.
    """

    unit: int
    width: int
    cost: int
    max_pieces: int
    options: tuple[int, ...]
    by_demand: tuple[tuple[int, ...], ...]
    piece_limit_binds: bool
    plain: bool  # every used width is allowed, with no broke reel
    allowed: int

    @classmethod
    def of(cls, instance: Instance, index: int, max_units: int) -> Self:
        """Tabulate one class of an instance, in no more units of width than `max_units`."""
        limits = instance.classes[index]
        options = sorted(instance.options_of(index), key=lambda k: instance.options[k].demand)
        widths = [instance.options[k].width for k in options]
        unit = max(gcd(*widths), -(-limits.width // max_units), 1)
        width = limits.width // unit
        narrowest = min((-(-w // unit) for w in widths), default=1)
        # Rounded-up widths say nothing exact about the strip: `is_allowed` looks again.
        every = limits.slack is None or any(w % unit for w in widths)
        strip = replace(limits, cost=0, max_pieces=0, setting=0)  # all that `broke_reels` reads
        by_demand = groupby(options, key=lambda k: instance.options[k].demand)
        return cls(
            unit=unit,
            width=width,
            cost=limits.cost,
            max_pieces=limits.max_pieces,
            options=tuple(options),
            by_demand=tuple(tuple(group) for _, group in by_demand),
            piece_limit_binds=width // max(1, narrowest) > limits.max_pieces,
            plain=limits.slack is None,
            allowed=(2 << width) - 1 if every else _allowed(strip, unit),
        )


@lru_cache(64)
def _allowed(limits: WindingClass, unit: int) -> int:
    """The used widths, in units, at which the strip is none or can be slit off; a bit for each."""
    return sum(
        1 << used
        for used in range(limits.width // unit + 1)
        if limits.broke_reels(used * unit) is not None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildTables:
    """What the builds read, as flat tuples by option or by demand."""

    instance: Instance
    params: SetUpParams
    classes: tuple[ClassTables, ...]
    width: tuple[int, ...]  # by option, in units of its class
    demand: tuple[int, ...]
    gain: tuple[int, ...]
    value: tuple[float, ...]  # by option: loss that a piece pays for at the bound's prices
    low: tuple[int, ...]
    high: tuple[int | None, ...]
    shared: bool  # two cuts may be one pattern: classes of one setting, or options of one width
    by_demand: tuple[tuple[int, ...], ...]

    @classmethod
    def of(
        cls,
        instance: Instance,
        certificate: Certificate | None,
        params: SetUpParams = PARAMS.set_ups,
    ) -> Self:
        """Make an instance ready.

        The value of a piece is what it pays at the certificate's prices; without one, its own
        worth or, in textbook form, its share of the width.
        """
        demands, options = instance.demands, instance.options
        classes = tuple(
            ClassTables.of(instance, c, params.max_units) for c in range(len(instance.classes))
        )
        value = []
        for option in options:
            limits = instance.classes[option.winding_class]
            if certificate is not None:
                value.append(certificate.piece_price(option) / certificate.scale)
            elif option.worth:
                value.append(float(SCALE * option.worth))
            else:
                value.append(SCALE * limits.cost * option.width / limits.width)
        strips = {(instance.classes[o.winding_class].setting, o.width) for o in options}
        return cls(
            instance=instance,
            params=params,
            classes=classes,
            width=tuple(-(-o.width // classes[o.winding_class].unit) for o in options),
            demand=tuple(o.demand for o in options),
            gain=tuple(o.gain for o in options),
            value=tuple(value),
            low=tuple(d.low for d in demands),
            high=tuple(d.high for d in demands),
            shared=len(strips) < len(options),
            by_demand=instance.by_demand(),
        )

    def loss(self, cuts: Sequence[Cut]) -> int | None:
        """The loss of a plan as `loss_of` gives it; None where a demand is short."""
        made, worth, cost = totals_of(self.instance, cuts)
        loss = SCALE * cost
        for i, demand in enumerate(self.instance.demands):
            if made[i] < demand.low:
                return None
            loss += demand_loss(demand, made[i], worth[i])
        return loss

    def patterns(self, cuts: Sequence[Cut]) -> int:
        """Number of different patterns, as `patterns_in` counts them."""
        if not self.shared:
            return len({cut.pattern for cut in cuts})
        return patterns_in(self.instance, cuts)

    def reduced(self, pattern: Pattern) -> float:
        """What one set of a pattern adds to the loss at the bound's prices."""
        value = self.value
        worth = sum(value[k] * n for k, n in pattern.pieces)
        return self.classes[pattern.winding_class].cost * SCALE - worth

    def assumed_floor(self, outcome_bound: int | None) -> float:
        """Loss that no plan can avoid at these values, as a guide for builds; it proves nothing.

        Parameters
        ----------
        outcome_bound
            What the certificate's prices prove; None: there is no certificate.
        """
        if outcome_bound is not None:
            return float(outcome_bound)
        if any(option.worth for option in self.instance.options):
            return 0.0
        return sum(
            low * min((self.value[k] / self.gain[k] for k in self.by_demand[i]), default=0.0)
            for i, low in enumerate(self.low)
        )
