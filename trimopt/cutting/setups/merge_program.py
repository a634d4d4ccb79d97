"""The same production in fewer patterns: contents and numbers of sets both unknown, by CP-SAT.

Some patterns of a plan are taken out together. A constraint model looks for fewer of them that
make as much, within the loss that the plan may have: how many of each piece lies in a new pattern,
how many sets of it are run, and their products, with the area of each pattern as a redundant row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from ortools.sat.python import cp_model

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, run_cp_sat
from trimopt.cutting.model.cuts import Cut, Pattern, is_allowed, totals_of
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.loss import demand_loss
from trimopt.cutting.setups.build_tables import BuildTables

__all__ = ["Neighbourhood", "fewer"]

#: Losses are scaled so that a set costs about so many units, and prices are in so many parts.
COARSE = 100_000
PARTS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbourhood:
    """Which cuts of a plan are replaced, and by what.

    `gone` are positions in the plan; `classes` has the winding class of each new pattern; `target`
    is the loss that the whole plan may have; `effort` the solver's deterministic time.
    """

    gone: tuple[int, ...]
    classes: tuple[int, ...]
    target: int
    effort: float


def fewer(
    tables: BuildTables,
    plan: tuple[Cut, ...],
    task: Neighbourhood,
    rng: Random,
    budget: Budget,
) -> tuple[Cut, ...] | None:
    """Replace some cuts of a plan; None where nothing was found within the effort.

    Parameters
    ----------
    tables
        The instance.
    plan
        A whole plan.
    task
        What to replace.
    rng
        Gives the solver its seed, and draws among many options.
    budget
        The solver is stopped with it.
    """
    kept = [cut for at, cut in enumerate(plan) if at not in task.gone]
    model = _Model(tables, kept, [plan[at] for at in task.gone], task, rng)
    solver, status = run_cp_sat(
        model.model, budget, effort=task.effort, seed=rng.randrange(1 << 30)
    )
    if status not in FOUND:
        return None
    cuts = list(kept)
    for c, sets, counts in model.slots:
        pieces = tuple((k, n) for k, var in sorted(counts.items()) if (n := solver.value(var)))
        if pieces:
            pattern = Pattern(c, pieces)
            if not is_allowed(tables.instance, pattern):
                return None
            cuts.append(Cut(pattern, solver.value(sets)))
    return tuple(cuts)


class _Model:
    """The constraint model of one neighbourhood."""

    def __init__(
        self,
        tables: BuildTables,
        kept: Sequence[Cut],
        gone: Sequence[Cut],
        task: Neighbourhood,
        rng: Random,
    ) -> None:
        self.tables = tables
        self.model = cp_model.CpModel()
        self.slots: list[tuple[int, cp_model.IntVar, dict[int, cp_model.IntVar]]] = []
        self.base, self.base_worth, self.base_cost = totals_of(tables.instance, kept)
        self.before, _, total_cost = totals_of(tables.instance, gone)
        self.touched = {i for i, made in enumerate(self.before) if made}
        self.made: dict[int, list[cp_model.LinearExpr]] = {i: [] for i in self.touched}
        self.worth: dict[int, list[tuple[int, cp_model.IntVar, int]]] = {
            i: [] for i in self.touched
        }
        self.cost: list[tuple[int, cp_model.IntVar]] = []
        held = {k for cut in gone for k, _ in cut.pattern.pieces}
        for at, c in enumerate(task.classes):
            self._slot(c, total_cost, held, gone[at] if at < len(gone) else None, rng)
        self._order(task.classes)
        self._demands()
        self._limit(task.target)

    def _choose(self, c: int, held: set[int], rng: Random) -> list[int]:
        tables = self.tables
        chosen: list[int] = []
        for options in tables.classes[c].by_demand:
            if tables.demand[options[0]] not in self.touched:
                continue
            some = [k for k in options if k in held]
            if len(some) < 2:
                others = [k for k in options if k not in held]
                some += rng.sample(others, min(len(others), 2 - len(some)))
            chosen += some
        return chosen

    def _slot(self, c: int, total_cost: int, held: set[int], hint: Cut | None, rng: Random) -> None:
        tables, model = self.tables, self.model
        limits = tables.classes[c]
        options = self._choose(c, held, rng)
        max_sets = 1
        ranges = {}
        for k in options:
            i = tables.demand[k]
            high = tables.high[i]
            room = self.before[i] if high is None else max(self.before[i], high - self.base[i])
            if high is None:
                room += 3 * tables.gain[k]
            ranges[k] = room // tables.gain[k]
            max_sets = max(max_sets, ranges[k])
        max_sets = max(1, min(max_sets, total_cost // max(1, limits.cost)))
        sets = model.new_int_var(1, max_sets, "")
        counts: dict[int, cp_model.IntVar] = {}
        area = []
        same = hint is not None and hint.pattern.winding_class == c
        hinted = dict(hint.pattern.pieces) if hint is not None and same else {}
        if hint is not None and hinted:
            model.add_hint(sets, min(hint.sets, max_sets))
        for k in options:
            cap = min(limits.width // tables.width[k], ranges[k], limits.max_pieces)
            if cap < 1:
                continue
            count = model.new_int_var(0, cap, "")
            product = model.new_int_var(0, ranges[k], "")
            model.add_multiplication_equality(product, [count, sets])
            counts[k] = count
            area.append(tables.width[k] * product)
            self.made[tables.demand[k]].append(tables.gain[k] * product)
            self.worth[tables.demand[k]].append(
                (tables.instance.options[k].worth, product, ranges[k])
            )
            if hinted:
                n = min(hinted.get(k, 0), cap)
                model.add_hint(count, n)
        used = sum(tables.width[k] * count for k, count in counts.items())
        model.add(used <= limits.width)
        if limits.piece_limit_binds:
            model.add(sum(counts.values()) <= limits.max_pieces)
        model.add(sum(area) <= limits.width * sets)
        if not limits.plain:
            strip = tables.instance.classes[c].slack or 0
            model.add(used * limits.unit >= tables.instance.classes[c].width - strip)
        self.cost.append((limits.cost, sets))
        self.slots.append((c, sets, counts))

    def _order(self, classes: Sequence[int]) -> None:
        last: dict[int, cp_model.IntVar] = {}
        for (_, sets, _), c in zip(self.slots, classes, strict=True):
            if c in last:
                self.model.add(last[c] >= sets)
            last[c] = sets

    def _demands(self) -> None:
        for i in self.touched:
            made = sum(self.made[i])
            self.model.add(made >= self.tables.low[i] - self.base[i])
            high = self.tables.high[i]
            if high is not None:
                self.model.add(made <= max(high - self.base[i], self.before[i]))

    def _limit(self, target: int) -> None:
        """The loss of the whole plan, in coarse units; `BuildTables.loss` decides afterwards."""
        tables, instance, model = self.tables, self.tables.instance, self.model
        rest = target - SCALE * self.base_cost
        worth = self.base_worth
        if not any(option.worth for option in instance.options):
            total = sum(cost * sets for cost, sets in self.cost)
            model.add(total <= rest // SCALE)
            return
        unit = max(1, max(limits.cost for limits in tables.classes) // COARSE)
        terms = [PARTS * round(cost / unit) * sets for cost, sets in self.cost]
        for i, demand in enumerate(instance.demands):
            if i not in self.touched:
                rest -= demand_loss(demand, self.base[i], worth[i])
                continue
            most = round(2 * max(worth[i], demand.ordered or 0, 1) / unit)
            most += sum(round(w / unit) * bound for w, _, bound in self.worth[i])
            net = sum(round(w / unit) * product for w, product, _ in self.worth[i])
            net += round(worth[i] / unit)
            if demand.high is not None and self.base[i] + self.before[i] > demand.high:
                surplus = model.new_int_var(0, self.base[i] + self.before[i] - demand.high, "")
                model.add(surplus >= sum(self.made[i]) + self.base[i] - demand.high)
                net -= round(demand.surplus_worth / unit) * surplus
            terms.append(-PARTS * net)
            if demand.ordered is None:
                continue
            wanted = round(demand.ordered / unit)
            for price, below in (
                (demand.under_price, wanted - net),
                (demand.over_price, net - wanted),
            ):
                if price:
                    off = model.new_int_var(0, most, "")
                    model.add(off >= below)
                    terms.append(round(PARTS * price / SCALE) * off)
        model.add(sum(terms) <= round(PARTS * rest / (SCALE * unit)))
