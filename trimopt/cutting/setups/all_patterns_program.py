"""Where the patterns of a run are few: all of them in one integer program, so that it is proven."""

from __future__ import annotations

from collections.abc import Sequence

from ortools.sat.python import cp_model

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, run_cp_sat
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.outcome import Certificate
from trimopt.cutting.setups.build_tables import Case, Plan

__all__ = ["NO_PLAN", "Every", "Pieces", "every_pattern"]

#: A pattern as the rows have it: (class, ((option, count), …)).
Pieces = tuple[int, tuple[tuple[int, int], ...]]

#: Coefficients and sums of the model stay below this.
LARGEST = 1 << 50
#: Stands as a bound where it is proven that there is no plan.
NO_PLAN = 1 << 62


def every_pattern(case: Case, most: int) -> list[Pieces] | None:
    """All patterns that the classes allow; None where there are more than `most`.

    Parameters
    ----------
    case
        The instance.
    most
        Greatest number wanted.
    """
    found: list[Pieces] = []
    seen = 0

    def grow(c: int, at: int, room: int, pieces: list[tuple[int, int]], count: int) -> bool:
        nonlocal seen
        seen += 1
        if seen > 40 * most:
            return False
        limits = case.classes[c]
        if at == len(limits.options):
            if pieces:
                whole = tuple(sorted(pieces))
                if case.allows(c, whole):
                    found.append((c, whole))
            return len(found) <= most
        k = limits.options[at]
        width = case.instance.options[k].width
        for n in range(min(room // width, limits.max_pieces - count) + 1):
            more = [*pieces, (k, n)] if n else pieces
            if not grow(c, at + 1, room - n * width, more, count + n):
                return False
        return True

    for limits in case.classes:
        room = case.instance.classes[limits.index].width
        if not grow(limits.index, 0, room, [], 0):
            return None
    return found


class Every:
    """The integer program over all patterns, solved for a loss or for a number of patterns.

    Parameters
    ----------
    case
        The instance.
    patterns
        All patterns; with fewer nothing is proven.
    fixed
        Rows that every plan holds.
    """

    def __init__(self, case: Case, patterns: Sequence[Pieces], fixed: Plan) -> None:
        self.case = case
        self.patterns = patterns
        self.fixed = fixed

    def fits(self) -> bool:
        """Whether the sums of the model stay small enough to be exact."""
        instance = self.case.instance
        sets = sum(max(d.high or 0, d.low) for d in instance.demands) + len(instance.demands)
        largest = max(SCALE * limits.cost for limits in instance.classes)
        return largest * max(1, sets) < LARGEST and sets < 1 << 20

    def _gaps(self, target: int, proof: Certificate | None, floor: int) -> list[int] | None:
        """Most sets of each pattern in a plan that loses at most `target`, by its reduced cost."""
        if proof is None:
            return None
        instance = self.case.instance
        room = (target - floor + 1) * proof.scale
        most = []
        for c, pieces in self.patterns:
            reduced = SCALE * instance.classes[c].cost * proof.scale
            for k, n in pieces:
                option = instance.options[k]
                price = proof.gain_price[option.demand] * option.gain
                reduced -= n * (price + proof.worth_price[option.demand] * option.worth)
            most.append(1 << 40 if reduced <= 0 else max(0, room // reduced))
        return most

    def solve(  # noqa: PLR0912, PLR0915 - one model, row by row
        self,
        *,
        loss: int | None,
        patterns: int | None,
        fewest: int,
        hint: Plan | None,
        proof: Certificate | None,
        floor: int,
        effort: float,
        budget: Budget,
        seed: int,
    ) -> tuple[Plan | None, int | None]:
        """Fewest patterns at a loss, or least loss with so many patterns.

        Parameters
        ----------
        loss
            Greatest loss; where `patterns` is None, the fewest patterns are sought.
        patterns
            Greatest number of patterns; the least loss is sought.
        fewest
            Number of patterns below which it is proven already that there is no plan.
        hint
            A plan to begin from.
        proof, floor
            The engine's prices and the bound that they prove.
        effort, budget
            Deterministic time of the solver, and what it is stopped with.
        seed
            Its seed.

        Returns
        -------
        tuple
            The best plan found or None, and the proven bound on what was sought: a plan is proven
            where it meets it. None: nothing was proven. A bound without a plan may be a proof that
            there is none: then it is above every value that was allowed.
        """
        case, instance = self.case, self.case.instance
        model = cp_model.CpModel()
        demands = range(len(instance.demands))
        made: list[list[cp_model.LinearExpr | int]] = [[] for _ in demands]
        worth: list[list[cp_model.LinearExpr | int]] = [[] for _ in demands]
        cost: list[cp_model.LinearExpr | int] = []
        for c, pieces, n in self.fixed:
            cost.append(instance.classes[c].cost * n)
            for k, count in pieces:
                made[case.demand[k]].append(case.gain[k] * count * n)
                worth[case.demand[k]].append(instance.options[k].worth * count * n)
        held = {instance.set_up_for(c, pieces) for c, pieces, _ in self.fixed}
        taken: dict[tuple[int, tuple[tuple[int, int], ...]], cp_model.IntVar] = {}
        gaps = self._gaps(loss, proof, floor) if loss is not None else None
        hinted = {} if hint is None else {row[:2]: row[2] for row in hint[len(self.fixed) :]}
        sets = []
        reach = [sum(n for n in part if isinstance(n, int)) for part in made]
        value = [sum(n for n in part if isinstance(n, int)) for part in worth]
        for at, (c, pieces) in enumerate(self.patterns):
            most = 0
            for k, n in pieces:
                demand = instance.demands[case.demand[k]]
                most = max(most, -(-max(demand.high or 0, demand.low) // (case.gain[k] * n)))
            if gaps is not None:
                most = min(most, gaps[at])
            number = model.new_int_var(0, most, "")
            look = instance.set_up_for(c, pieces)
            if look not in taken:
                taken[look] = model.new_bool_var("")
            model.add(number <= most * taken[look])
            model.add_hint(number, hinted.get((c, pieces), 0))
            sets.append(number)
            cost.append(instance.classes[c].cost * number)
            for k, n in pieces:
                made[case.demand[k]].append(case.gain[k] * n * number)
                worth[case.demand[k]].append(instance.options[k].worth * n * number)
                reach[case.demand[k]] += case.gain[k] * n * most
                value[case.demand[k]] += instance.options[k].worth * n * most
        shown = {instance.set_up_for(c, pieces) for c, pieces in hinted}
        for look, chosen in taken.items():
            model.add_hint(chosen, look in shown)
        back = [n * d.surplus_worth for n, d in zip(reach, instance.demands, strict=True)]
        if sum(value) + sum(back) >= LARGEST:
            return None, None
        parts: list[cp_model.LinearExpr | int] = [SCALE * sum(cost)]
        for i, demand in enumerate(instance.demands):
            model.add(sum(made[i]) >= demand.low)
            net = sum(worth[i])
            if demand.high is not None and (case.strict[i] or demand.surplus_worth):
                if case.strict[i]:  # a surplus would be free: it is not allowed
                    above = max(demand.high, sum(n for n in made[i] if isinstance(n, int)))
                    model.add(sum(made[i]) <= above)
                else:
                    surplus = model.new_int_var(0, reach[i], "")
                    model.add(surplus >= sum(made[i]) - demand.high)
                    net -= demand.surplus_worth * surplus
            parts.append(-SCALE * net)
            if demand.ordered is not None:
                for price, off in (
                    (demand.under_price, demand.ordered - net),
                    (demand.over_price, net - demand.ordered),
                ):
                    if price:
                        most = demand.ordered + value[i] + demand.surplus_worth * reach[i]
                        amount = model.new_int_var(0, max(0, most), "")
                        model.add(amount >= off)
                        parts.append(price * amount)
        total = sum(parts)
        count = sum(v for look, v in taken.items() if look not in held) + len(held)
        model.add(count >= fewest)
        if loss is not None:
            model.add(total <= loss)
        if patterns is not None:
            model.add(count <= patterns)
            model.minimize(total)
        else:
            model.minimize(count)
        solver, status = run_cp_sat(model, budget, effort=effort, seed=seed)
        if status == cp_model.INFEASIBLE:
            return None, NO_PLAN
        if status not in FOUND:
            return None, None
        bound = -int(-solver.best_objective_bound // 1)
        plan = tuple(
            (c, pieces, solver.value(number))
            for (c, pieces), number in zip(self.patterns, sets, strict=True)
            if solver.value(number)
        )
        return (*self.fixed, *plan), solver_bound(solver.best_objective_bound, bound)


def solver_bound(value: float, rounded: int) -> int:
    """The solver's bound as a whole number, rounded up but for its own noise."""
    near = round(value)
    return near if abs(value - near) < 1e-3 else rounded
