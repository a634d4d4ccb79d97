"""Enquiries of a list as optional orders of their runs: the one problem that they are together.

Runs stand side by side in one unit of mass. What they share is the hours. A run counts its losses
in areas of its own unit and grammage; here they are multiples of one mass, so that all losses add
up in whole numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import gcd, lcm

from trimopt.book.model import Instruction, Order, RunDay
from trimopt.cutting import SCALE, Cut, Instance, Pattern, loss_of
from trimopt.cutting.optional_demands import Choosing, SetLimit
from trimopt.fit.planned_run import Basis, carried_over, with_order
from trimopt.fit.when import HoursEnd, hours_ends, wound_min
from trimopt.making import PreparedRun, Run
from trimopt.mill.model import Values
from trimopt.plan.model import Plan
from trimopt.plan.planning.run_jumbos import RunJumbos

_FIRST = 1000  # times its mass of paper is lost before an enquiry is given up: tonnes come first
_PARTS = 10_000  # of a minute, in which hours are counted
_MARGIN = 100  # of them: more than is rounded off in all sets


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedEnquiry:
    """An enquiry that can be had by itself: its order, numbered as no other, and its run."""

    key: int  # the caller's
    order: Order
    run: Run
    basis: Basis
    jumbos: RunJumbos
    instructions: tuple[Instruction, ...] = ()  # the scheduler's for the run
    price_per_t: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What a selection is valued by.

    `by` is "tonnes", "sales" (the sum of all prices) or "margin" (sales less paper, what goes back
    to the pulper taken off; the mill file prices both). By tonnes and by sales as much as possible
    is sold, and of equal ones the least paper lost; `paper_per_t` is money for a tonne lost.
    """

    by: str
    cost_per_t: Fraction = Fraction(0)
    paper_per_t: Fraction = Fraction(0)

    @classmethod
    def of(cls, enquiries: Iterable[ListedEnquiry], values: Values) -> Worth:
        """By money where every enquiry has a price."""
        if any(one.price_per_t is None for one in enquiries):
            return cls(by="tonnes")
        paper, broke = values.paper_cost_per_t, values.broke_worth_per_t
        if paper is None or broke is None or paper <= broke:
            return cls(by="sales")
        cost = Fraction(str(paper))
        return cls(by="margin", cost_per_t=cost, paper_per_t=cost - Fraction(str(broke)))

    def per_t(self, one: ListedEnquiry) -> Fraction:
        """Money (tonnes: 1) for a tonne of an enquiry, before the paper lost for it."""
        return Fraction(1) if self.by == "tonnes" else (one.price_per_t or 0) - self.cost_per_t


def hours_left(plan: Plan, days: Sequence[RunDay]) -> tuple[HoursEnd, ...]:
    """What an issued plan leaves of its shift, and of the run days that its runs are on."""
    ends = (end for run in plan.runs for end in hours_ends(plan, run, days))
    return tuple(dict.fromkeys(ends))


def average_moves(enquiries: Iterable[ListedEnquiry]) -> float:
    """Knives moved at a set-up of the runs as planned, as a share of all; 1 where none is known."""
    bases = {one.run.name: one.basis for one in enquiries}.values()
    moves = sum(basis.planned.knife_moves for basis in bases)
    knives = sum(basis.planned.set_ups * basis.mill.winder.knives for basis in bases)
    return min(1.0, moves / knives) if knives else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSide:
    """A run as planned, and with every enquiry for it among its orders."""

    basis: Basis
    jumbos: RunJumbos
    making: PreparedRun

    @property
    def kept(self) -> tuple[Cut, ...]:
        """The planned sets."""
        return carried_over(self.basis.cuts, self.basis.making, self.making)

    @property
    def listed_m(self) -> int:
        """Metres of the planned sets, at the listed lengths, and what they leave of the jumbos."""
        classes = self.making.classes
        sets_m = sum(classes[cut.pattern.winding_class].length_m * cut.sets for cut in self.kept)
        wound_m = sum(use.wound_m for use in self.basis.planned.jumbos)
        return sets_m + sum(jumbo.usable_m for jumbo in self.jumbos.listed) - wound_m

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

    def places(self) -> dict[str, int]:
        """Place of every order's demand, by its number; those of enquiries differ."""
        return {
            order.number: self.demand_at[k] + i
            for k, side in enumerate(self.sides)
            for i, order in enumerate(side.making.run.orders)
        }

    def kg(self, worth: Fraction | int) -> float:
        return float(worth * self.unit_kg)

    def loss_kg(self, loss: int) -> float:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class JointProblem:
    """Runs that share hours, or one run, with the enquiries for them."""

    enquiries: tuple[ListedEnquiry, ...]
    beside: SideBySide
    worth: Worth
    hours: tuple[HoursEnd, ...]
    moved: float  # knives that each new pattern moves, as a share of all
    places: Mapping[int, int]  # of demands, by key; what no set length serves has none

    @classmethod
    def of(
        cls,
        some: Sequence[ListedEnquiry],
        worth: Worth,
        hours: Iterable[HoursEnd],
        *,
        moved: float = 1.0,
    ) -> JointProblem:
        """Put the runs of some enquiries side by side."""
        runs: dict[str, list[ListedEnquiry]] = {}
        for one in some:
            runs.setdefault(one.basis.making.run.name, []).append(one)
        beside = SideBySide.of(
            [
                RunSide(
                    basis=own[0].basis,
                    jumbos=own[0].jumbos,
                    making=with_order(own[0].basis, *(one.order for one in own)),
                )
                for own in runs.values()
            ]
        )
        at = beside.places()
        return cls(
            enquiries=tuple(some),
            beside=beside,
            worth=worth,
            hours=tuple(hours),
            moved=moved,
            places={one.key: at[one.order.number] for one in some if one.order.number in at},
        )

    def ordered(self, key: int) -> int:
        """Worth of the ordered quantity of an enquiry, as the engine counts it."""
        return self.beside.instance.demands[self.places[key]].ordered or 0

    @property
    def unit_value(self) -> Fraction:
        """Money, or tonnes, of what is declined by one unit of worth."""
        if self.worth.by == "margin":
            return self.worth.paper_per_t * self.beside.unit_kg / 1000
        dearest = max((self.worth.per_t(one) for one in self.enquiries), default=Fraction(0))
        return (dearest or 1) * self.beside.unit_kg / 1000 / _FIRST

    def declined(self) -> dict[int, int]:
        """What declining each costs, by key, in units of worth."""
        per_worth = self.beside.unit_kg / 1000 / self.unit_value
        return {
            one.key: round(self.worth.per_t(one) * per_worth * self.ordered(one.key))
            for one in self.enquiries
            if one.key in self.places
        }

    def choosing(self) -> Choosing:
        beside = self.beside
        return Choosing(
            instance=beside.instance,
            declined={self.places[key]: worth for key, worth in self.declined().items()},
            kept=beside.kept(),
            charges=beside.charges(),
            set_up=float(
                max(beside.loss_units(side.basis.objective.set_up_kg) for side in beside.sides)
            ),
            limits=(*self._paper(), *map(self._hours, self.hours)),
        )

    def _paper(self) -> Iterable[SetLimit]:
        """Metres of the runs that are cut from listed jumbos alone."""
        for side in self.beside.sides:
            if side.jumbos.only_listed:
                use = tuple(
                    each.length_m if own is side else 0
                    for own in self.beside.sides
                    for each in own.making.classes
                )
                yield SetLimit(use=use, sure=side.listed_m, possible=side.listed_m)

    def _hours(self, left: HoursEnd) -> SetLimit:
        """Minutes of sets and metres, and for each new pattern a set-up with all its knives."""
        sides = self.beside.sides
        mine = [left.run in (None, side.making.run.name) for side in sides]
        use = tuple(
            math.floor(_PARTS * _set_minutes(side.basis, winding.length_m)) if own else 0
            for side, own in zip(sides, mine, strict=True)
            for winding in side.making.classes
        )
        winder = sides[0].basis.mill.winder
        now = sum(use[cut.pattern.winding_class] * cut.sets for cut in self.beside.kept())
        spare = math.floor(_PARTS * max(0.0, left.left_min))
        # Jumbos are changed whole: in a run one change more than its metres say at most, or less.
        jumbos = math.ceil(_PARTS * winder.jumbo_change_min * sum(mine)) + _MARGIN
        change = winder.set_up_min + self.moved * winder.knives * winder.knife_move_min
        # Planned again the runs may save all the minutes that they spend on more than their sets.
        whole_min = sum(
            side.basis.planned.minutes for side, own in zip(sides, mine, strict=True) if own
        )
        return SetLimit(
            use=use,
            sure=now + spare - jumbos,
            possible=max(now, math.ceil(_PARTS * whole_min)) + spare + jumbos,
            change=math.ceil(_PARTS * change),
        )


def _set_minutes(basis: Basis, length_m: int) -> float:
    """Minutes of one set with its share of a change of jumbo."""
    winder = basis.mill.winder
    jumbo_min = winder.jumbo_change_min * length_m / max(basis.usable_m)
    return wound_min(winder, length_m, 1) + jumbo_min
