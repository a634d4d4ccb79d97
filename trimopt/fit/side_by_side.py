"""Runs with enquiries in them, side by side as one problem of the engine, in one unit of mass.

What the runs share is the hours. A run counts its losses in areas of its own unit and grammage;
here they are multiples of one mass, so that all losses add up in whole numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import gcd, lcm

from trimopt.book.model import Order
from trimopt.cutting import SCALE, Cut, Instance, Pattern, loss_of
from trimopt.fit.planned_run import Basis, carried_over, with_order
from trimopt.making import PreparedRun
from trimopt.plan.planning.run_jumbos import RunJumbos


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSide:
    """A run as planned, and with every enquiry for it among its orders."""

    basis: Basis
    jumbos: RunJumbos
    making: PreparedRun

    @classmethod
    def of(cls, basis: Basis, jumbos: RunJumbos, orders: tuple[Order, ...]) -> RunSide:
        """A run over its set lengths and those that the enquiries bring."""
        return cls(basis=basis, jumbos=jumbos, making=with_order(basis, *orders))

    @property
    def kept(self) -> tuple[Cut, ...]:
        """The planned sets."""
        return carried_over(self.basis.cuts, self.basis.making, self.making)

    @property
    def listed_m(self) -> int:
        """Metres of the planned sets, at the listed lengths."""
        return sum(
            self.making.classes[cut.pattern.winding_class].length_m * cut.sets for cut in self.kept
        )

    @property
    def metres_left(self) -> int:
        """Metres that the plan leaves of the listed jumbos."""
        wound_m = sum(use.wound_m for use in self.basis.planned.jumbos)
        return sum(jumbo.usable_m for jumbo in self.jumbos.listed) - wound_m

    @property
    def loss_before_kg(self) -> float:
        """Loss of the run as planned, across the width."""
        making = self.basis.making
        return making.loss_kg(loss_of(making.instance, self.basis.cuts))


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """The sides, and the instance that they are together. `unit_kg` is the mass of one worth."""

    sides: tuple[RunSide, ...]
    instance: Instance
    unit_kg: Fraction
    demand_at: tuple[int, ...]  # place of each side's first demand, class and option
    class_at: tuple[int, ...]
    option_at: tuple[int, ...]

    @classmethod
    def of(cls, sides: Sequence[RunSide]) -> SideBySide:
        """Put runs side by side; instructions are in none of them."""
        masses = [side.making.kg_per_unit for side in sides]
        parts_a_kg = lcm(*(mass.denominator for mass in masses))
        unit_kg = Fraction(gcd(*(int(mass * parts_a_kg) for mass in masses)), parts_a_kg)
        parts = [
            _scaled(side.making.instance, int(mass / unit_kg))
            for side, mass in zip(sides, masses, strict=True)
        ]
        demand_at, class_at, option_at = ([0] for _ in range(3))
        for part in parts:
            demand_at.append(demand_at[-1] + len(part.demands))
            class_at.append(class_at[-1] + len(part.classes))
            option_at.append(option_at[-1] + len(part.options))
        instance = Instance(
            demands=tuple(demand for part in parts for demand in part.demands),
            classes=tuple(limits for part in parts for limits in part.classes),
            options=tuple(
                replace(
                    option,
                    demand=option.demand + demand_at[k],
                    winding_class=option.winding_class + class_at[k],
                )
                for k, part in enumerate(parts)
                for option in part.options
            ),
        )
        return cls(
            sides=tuple(sides),
            instance=instance,
            unit_kg=unit_kg,
            demand_at=tuple(demand_at),
            class_at=tuple(class_at),
            option_at=tuple(option_at),
        )

    def kept(self) -> tuple[Cut, ...]:
        """The planned sets of all runs."""
        return tuple(
            Cut(self._moved(k, cut.pattern), cut.sets)
            for k, side in enumerate(self.sides)
            for cut in side.kept
        )

    def charges(self) -> tuple[int, ...]:
        """What a set of each class costs with its share of a butt."""
        return tuple(
            limits.cost * int(side.making.kg_per_unit / self.unit_kg)
            for side in self.sides
            for limits in side.basis.with_butt_costs(side.making).classes
        )

    def of_classes(self, side: int, amounts: Sequence[int]) -> tuple[int, ...]:
        """Amounts of one run's classes among those of all; 0 of the others."""
        after = self.class_at[-1] - self.class_at[side + 1]
        return (*[0] * self.class_at[side], *amounts, *[0] * after)

    def places(self) -> dict[str, int]:
        """Place of every order's demand, by its number; those of enquiries differ."""
        return {
            order.number: self.demand_at[k] + i
            for k, side in enumerate(self.sides)
            for i, order in enumerate(side.making.run.orders)
        }

    def kg(self, worth: Fraction | int) -> float:
        """Mass of an amount of worth, kg."""
        return float(worth * self.unit_kg)

    def loss_kg(self, loss: int) -> float:
        """A loss of the engine in kilograms."""
        return self.kg(Fraction(loss, SCALE))

    def loss_units(self, mass_kg: float) -> int:
        """Kilograms as a loss of the engine, rounded."""
        return round(Fraction(mass_kg) * SCALE / self.unit_kg)

    def _moved(self, side: int, pattern: Pattern) -> Pattern:
        pieces = tuple((k + self.option_at[side], n) for k, n in pattern.pieces)
        return Pattern(pattern.winding_class + self.class_at[side], pieces)


def _scaled(instance: Instance, times: int) -> Instance:
    """The instance in a unit of worth that is so many times smaller."""
    return replace(
        instance,
        demands=tuple(
            replace(
                demand,
                ordered=None if demand.ordered is None else times * demand.ordered,
                surplus_worth=times * demand.surplus_worth,
            )
            for demand in instance.demands
        ),
        classes=tuple(replace(limits, cost=times * limits.cost) for limits in instance.classes),
        options=tuple(replace(option, worth=times * option.worth) for option in instance.options),
    )
