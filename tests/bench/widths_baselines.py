"""What the engine is compared with, side by side: two plain models and two hands.

(a) the assignment model in CP-SAT, every set a slot and every piece assigned to one:
    L. V. Kantorovich, "Mathematical methods of organizing and planning production", Management
    Science 6 (1960) 366-422.
(b) an arc-flow model in HiGHS: a set is a path over positions; J. M. Valério de Carvalho, Annals of
    Operations Research 86 (1999) 629-659. Stations are kept on average only: it may be too good.
(c) first-fit decreasing, and one pass with aspiration levels (R. W. Haessler, Management Science 17
    (1971) B793-B802, in its idea), on each order's longest class and widest piece, the quantity
    nearest to the ordered: as a planner would do by hand (common practice).
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import gcd

import numpy as np
from ortools.math_opt.python import mathopt

from tests.bench.setups_baselines import aspired
from trimopt.cutting import SCALE, Cut, Instance, Pattern
from trimopt.cutting.model.cuts import faults_of, loss_of
from trimopt.cutting.search.search_state import tidy

#: Arcs above which the arc-flow model is not built: it would not fit the memory of a laptop.
MAX_ARCS = 300_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """What another way gave: its loss (None: no whole plan), whether it proved it, seconds."""

    way: str
    loss: int | None
    proven: bool
    seconds: float


def _by_hand(instance: Instance) -> dict[int, dict[int, int]]:
    """Pieces by class and option: one option an order, the quantity nearest to the ordered."""
    pieces: dict[int, dict[int, int]] = {}
    for i, demand in enumerate(instance.demands):
        own = [k for k, option in enumerate(instance.options) if option.demand == i]
        if not own:
            continue
        k = max(
            own,
            key=lambda k: (
                instance.classes[instance.options[k].winding_class].cost,
                instance.options[k].width,
            ),
        )
        option = instance.options[k]
        count = -(-demand.low // option.gain)
        if demand.ordered is not None and option.worth:
            count = max(count, round(demand.ordered / option.worth))
        if demand.high is not None and count * option.gain > demand.high:
            count = max(-(-demand.low // option.gain), demand.high // option.gain)
        if count:
            pieces.setdefault(option.winding_class, {})[k] = count
    return pieces


def _judged(way: str, instance: Instance, cuts: tuple[Cut, ...], began: float) -> Other:
    """Loss of a plan by hand; None where it breaks a rule that the winder has."""
    loss = None if faults_of(instance, cuts) else loss_of(instance, cuts)
    return Other(way=way, loss=loss, proven=False, seconds=time.process_time() - began)


def first_fit(instance: Instance) -> Other:
    """First-fit decreasing, class by class."""
    began = time.process_time()
    plan: dict[Pattern, int] = {}
    for c, pieces in _by_hand(instance).items():
        limits = instance.classes[c]
        sets: list[tuple[int, dict[int, int]]] = []
        for k in sorted(pieces, key=lambda k: -instance.options[k].width):
            width = instance.options[k].width
            for _ in range(pieces[k]):
                for s, (room, held) in enumerate(sets):
                    if room >= width and sum(held.values()) < limits.max_pieces:
                        held[k] = held.get(k, 0) + 1
                        sets[s] = (room - width, held)
                        break
                else:
                    sets.append((limits.width - width, {k: 1}))
        for _, held in sets:
            pattern = Pattern(c, tuple(sorted(held.items())))
            plan[pattern] = plan.get(pattern, 0) + 1
    return _judged("first fit", instance, tidy(plan), began)


def one_pass(instance: Instance) -> Other:
    """Aspiration levels for trim and repeats, lowered where no pattern reaches them."""
    began = time.process_time()
    plan: dict[Pattern, int] = {}
    for c, pieces in _by_hand(instance).items():
        limits = instance.classes[c]
        keys = list(pieces)
        widths = [instance.options[k].width for k in keys]
        size = limits.width, limits.max_pieces
        for found, sets in aspired(size, widths, [pieces[k] for k in keys]):
            pattern = Pattern(c, tuple(sorted((keys[j], n) for j, n in found)))
            plan[pattern] = plan.get(pattern, 0) + sets
    return _judged("one pass", instance, tidy(plan), began)


class _Model:
    """The loss over pieces and sets as a mixed-integer program; a model adds what links them."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.model = mathopt.Model()
        self.unit = float(SCALE * max(limits.cost for limits in instance.classes))
        self.most = [self._most(k) for k in range(len(instance.options))]
        self.objective: list[mathopt.LinearTypes] = []

    def _most(self, k: int) -> int:
        option = self.instance.options[k]
        demand = self.instance.demands[option.demand]
        return -(-max(1, demand.low, demand.high or 0) // option.gain)

    def sets(self, c: int, number: mathopt.LinearTypes) -> None:
        """Let sets of a class cost what they cost."""
        self.objective.append(SCALE * self.instance.classes[c].cost / self.unit * number)

    def orders(self, pieces: Sequence[mathopt.LinearTypes]) -> None:
        """What every order gets for its pieces, and the objective."""
        model, options = self.model, self.instance.options
        for i, demand in enumerate(self.instance.demands):
            own = [k for k, option in enumerate(options) if option.demand == i]
            gain = max((options[k].gain for k in own), default=1)
            worth = max((options[k].worth for k in own), default=0) or 1
            made = sum(options[k].gain / gain * pieces[k] for k in own)
            net = sum(options[k].worth / worth * pieces[k] for k in own)
            spread = float(sum(self.most[k] for k in own) + 1)
            model.add_linear_constraint(made >= demand.low / gain)
            if demand.high is not None:
                surplus = model.add_variable(lb=0.0, ub=spread)
                model.add_linear_constraint(made - surplus <= demand.high / gain)
                net = net - demand.surplus_worth * gain / worth * surplus
            self.objective.append(-SCALE * worth / self.unit * net)
            if demand.ordered is None or not (demand.under_price or demand.over_price):
                continue
            ends = spread + demand.ordered / worth
            under = model.add_variable(lb=0.0, ub=ends)
            over = model.add_variable(lb=0.0, ub=ends)
            model.add_linear_constraint(net + under - over == demand.ordered / worth)
            self.objective.append(demand.under_price * worth / self.unit * under)
            self.objective.append(demand.over_price * worth / self.unit * over)
        model.minimize(sum(self.objective))

    def solved(self, way: str, kind: mathopt.SolverType, seconds: float, began: float) -> Other:
        """Solve within the time left."""
        left = max(1.0, seconds - (time.process_time() - began))
        params = mathopt.SolveParameters(time_limit=timedelta(seconds=left))
        if kind == mathopt.SolverType.CP_SAT:
            params.threads = 1
        result = mathopt.solve(self.model, kind, params=params)
        found = result.has_primal_feasible_solution()
        return Other(
            way=way,
            loss=round(result.objective_value() * self.unit) if found else None,
            proven=result.termination.reason == mathopt.TerminationReason.OPTIMAL,
            seconds=time.process_time() - began,
        )


def assignment(instance: Instance, sets: int, seconds: float) -> Other:
    """The assignment model with as many slots as the engine's plan has sets, and two more."""
    began = time.process_time()
    model = _Model(instance)
    program = model.model
    totals: list[mathopt.LinearTypes] = [0.0] * len(instance.options)
    before: mathopt.LinearTypes | None = None
    for _ in range(sets + 2):
        kinds = [program.add_binary_variable() for _ in instance.classes]
        used = sum(kinds)
        program.add_linear_constraint(used <= 1)
        if before is not None:
            program.add_linear_constraint(used <= before)  # empty slots come last
        before = used
        for c, limits in enumerate(instance.classes):
            model.sets(c, kinds[c])
            own = instance.options_of(c)
            held = {}
            for k in own:
                cap = min(limits.width // instance.options[k].width, limits.max_pieces)
                held[k] = program.add_integer_variable(lb=0, ub=min(cap, model.most[k]))
                totals[k] = totals[k] + held[k]
            if own:
                width = sum(instance.options[k].width * held[k] for k in own)
                program.add_linear_constraint(width <= limits.width * kinds[c])
                program.add_linear_constraint(sum(held.values()) <= limits.max_pieces * kinds[c])
    model.orders(totals)
    return model.solved("assignment", mathopt.SolverType.CP_SAT, seconds, began)


def arc_flow(instance: Instance, seconds: float) -> Other:
    """The arc-flow model; no answer where it would have more than `MAX_ARCS` arcs."""
    began = time.process_time()
    model = _Model(instance)
    program = model.model
    pieces: list[mathopt.LinearTypes] = [0.0] * len(instance.options)
    arcs_left = MAX_ARCS
    for c, limits in enumerate(instance.classes):
        own = sorted(instance.options_of(c), key=lambda k: -instance.options[k].width)
        step = gcd(*[instance.options[k].width for k in own]) if own else 1
        size = limits.width // step
        reach = np.zeros(size + 1, dtype=bool)
        reach[0] = True
        # Pieces by falling width, each from where the wider ones can end.
        arcs: list[tuple[int, int, int]] = []
        for k in own:
            width = instance.options[k].width // step
            for at in range(size - width + 1):
                if reach[at]:
                    arcs.append((k, at, at + width))
                    reach[at + width] = True
            arcs_left -= sum(1 for arc in arcs if arc[0] == k)
            if arcs_left < 0:
                return Other(
                    way="arc flow",
                    loss=None,
                    proven=False,
                    seconds=time.process_time() - began,
                )
        number = program.add_integer_variable(lb=0, ub=sum(model.most[k] for k in own) + 1)
        model.sets(c, number)
        flow: dict[int, list[mathopt.LinearTypes]] = {int(u): [] for u in np.flatnonzero(reach)}
        flow[0].append(number)
        for k, at, to in arcs:
            arc = program.add_integer_variable(lb=0, ub=model.most[k])
            flow[at].append(-arc)
            flow[to].append(arc)
            pieces[k] = pieces[k] + arc
        for parts in flow.values():  # what does not go on is trim
            program.add_linear_constraint(sum(parts) >= 0)
        total = sum(pieces[k] for k in own)
        program.add_linear_constraint(total <= limits.max_pieces * number)
    model.orders(pieces)
    return model.solved("arc flow", mathopt.SolverType.HIGHS, seconds, began)
