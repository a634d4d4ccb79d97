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
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.loss import demand_loss
from trimopt.cutting.setups.build_tables import Case, Plan, Row

__all__ = ["Neighbourhood", "fewer"]

#: Losses are scaled so that a set costs about so many units, and prices are in so many parts.
COARSE = 100_000
PARTS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbourhood:
    """Which rows of a plan are replaced, and by what.

    `gone` are positions in the plan; `classes` has the winding class of each new pattern; `target`
    is the loss that the whole plan may have; `effort` the solver's deterministic time.
    """

    gone: tuple[int, ...]
    classes: tuple[int, ...]
    target: int
    effort: float
    improve: bool = False


def fewer(case: Case, plan: Plan, task: Neighbourhood, rng: Random, budget: Budget) -> Plan | None:
    """Replace some rows of a plan; None where nothing was found within the effort.

    Parameters
    ----------
    case
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
    kept = [row for at, row in enumerate(plan) if at not in task.gone]
    model = _Model(case, kept, [plan[at] for at in task.gone], task, rng)
    solver, status = run_cp_sat(
        model.model, budget, effort=task.effort, seed=rng.randrange(1 << 30)
    )
    if status not in FOUND:
        return None
    rows = list(kept)
    for c, sets, counts in model.slots:
        pieces = tuple((k, n) for k, var in sorted(counts.items()) if (n := solver.value(var)))
        if pieces:
            if not case.allows(c, pieces):
                return None
            rows.append((c, pieces, solver.value(sets)))
    return tuple(rows)


class _Model:
    """The constraint model of one neighbourhood."""

    def __init__(
        self, case: Case, kept: Sequence[Row], gone: Sequence[Row], task: Neighbourhood, rng: Random
    ) -> None:
        self.case = case
        self.model = cp_model.CpModel()
        self.slots: list[tuple[int, cp_model.IntVar, dict[int, cp_model.IntVar]]] = []
        size = len(case.low)
        self.base = [0] * size
        self.before = [0] * size
        for rows, totals in ((kept, self.base), (gone, self.before)):
            for _, pieces, sets in rows:
                for k, n in pieces:
                    totals[case.demand[k]] += case.gain[k] * n * sets
        self.touched = {i for i in range(size) if self.before[i]}
        self.made: dict[int, list[cp_model.LinearExpr]] = {i: [] for i in self.touched}
        self.worth: dict[int, list[tuple[int, cp_model.IntVar, int]]] = {
            i: [] for i in self.touched
        }
        self.cost: list[tuple[int, cp_model.IntVar]] = []
        total_cost = sum(case.classes[c].cost * n for c, _, n in gone)
        held = {k for _, pieces, _ in gone for k, _ in pieces}
        for at, c in enumerate(task.classes):
            self._slot(c, total_cost, held, gone[at] if at < len(gone) else None, rng)
        self._order(task.classes)
        self._demands()
        self._limit(kept, task)

    def _choose(self, c: int, held: set[int], rng: Random) -> list[int]:
        case = self.case
        chosen: list[int] = []
        for options in case.classes[c].by_demand:
            if case.demand[options[0]] not in self.touched:
                continue
            some = [k for k in options if k in held]
            if len(some) < 2:
                others = [k for k in options if k not in held]
                some += rng.sample(others, min(len(others), 2 - len(some)))
            chosen += some
        return chosen

    def _slot(self, c: int, total_cost: int, held: set[int], hint: Row | None, rng: Random) -> None:
        case, model = self.case, self.model
        limits = case.classes[c]
        options = self._choose(c, held, rng)
        max_sets = 1
        ranges = {}
        for k in options:
            i = case.demand[k]
            high = case.high[i]
            room = self.before[i] if high is None else max(self.before[i], high - self.base[i])
            if high is None:
                room += 3 * case.gain[k]
            ranges[k] = room // case.gain[k]
            max_sets = max(max_sets, ranges[k])
        max_sets = max(1, min(max_sets, total_cost // max(1, limits.cost)))
        sets = model.new_int_var(1, max_sets, "")
        counts: dict[int, cp_model.IntVar] = {}
        area = []
        hinted = dict(hint[1]) if hint is not None and hint[0] == c else {}
        if hint is not None and hinted:
            model.add_hint(sets, min(hint[2], max_sets))
        for k in options:
            cap = min(limits.width // case.width[k], ranges[k], limits.max_pieces)
            if cap < 1:
                continue
            count = model.new_int_var(0, cap, "")
            product = model.new_int_var(0, ranges[k], "")
            model.add_multiplication_equality(product, [count, sets])
            counts[k] = count
            area.append(case.width[k] * product)
            self.made[case.demand[k]].append(case.gain[k] * product)
            self.worth[case.demand[k]].append((case.instance.options[k].worth, product, ranges[k]))
            if hinted:
                n = min(hinted.get(k, 0), cap)
                model.add_hint(count, n)
        used = sum(case.width[k] * count for k, count in counts.items())
        model.add(used <= limits.width)
        if limits.piece_limit_binds:
            model.add(sum(counts.values()) <= limits.max_pieces)
        model.add(sum(area) <= limits.width * sets)
        if not limits.plain:
            strip = case.instance.classes[c].slack or 0
            model.add(used * limits.unit >= case.instance.classes[c].width - strip)
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
            self.model.add(made >= self.case.low[i] - self.base[i])
            high = self.case.high[i]
            if high is not None:
                self.model.add(made <= max(high - self.base[i], self.before[i]))

    def _limit(self, kept: Sequence[Row], task: Neighbourhood) -> None:
        """The loss of the whole plan, in coarse units; `Case.loss` decides afterwards."""
        case, instance, model = self.case, self.case.instance, self.model
        rest = task.target
        worth = [0] * len(case.low)
        for c, pieces, sets in kept:
            rest -= SCALE * case.classes[c].cost * sets
            for k, n in pieces:
                worth[case.demand[k]] += instance.options[k].worth * n * sets
        if not any(option.worth for option in instance.options):
            total = sum(cost * sets for cost, sets in self.cost)
            model.add(total <= rest // SCALE)
            if task.improve:
                model.minimize(total)
            return
        unit = max(1, max(limits.cost for limits in case.classes) // COARSE)
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
        if task.improve:
            model.minimize(sum(terms))
