"""The best metres of every block on every jumbo, where the jumbos' ends are known.

An integer program keeps every order inside its range.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, cp_model, run_cp_sat
from trimopt.winding.jumbos.jumbo_ends import Content
from trimopt.winding.jumbos.order_slack import LengthProblem, OrderSlack, SetGain


def best_lengths(
    problem: LengthProblem,
    usable_m: Sequence[int],
    contents: Sequence[Content],
    budget: Budget,
    *,
    effort: float,
    seed: int,
) -> list[tuple[int, int, int]] | None:
    """(block, sets, metres) jumbo by jumbo, least loss for these ends; None where none fit.

    Parameters
    ----------
    usable_m, contents
        Of each jumbo, in the order they are opened.
    effort
        Most work, in the solver's deterministic seconds.
    """
    program = _MetresProgram(problem, usable_m, contents)
    program.keep_ranges()
    program.minimize_loss()
    solver, status = run_cp_sat(
        program.model, budget, effort=effort, seed=seed, gap=1000.0 * problem.close_m
    )
    if status not in FOUND:
        return None
    return [(b, many, solver.value(metres)) for b, _, many, metres in program.parts]


class _MetresProgram:
    """Whole metres of block b on jumbo j, with the sets on every jumbo fixed."""

    def __init__(
        self, problem: LengthProblem, usable_m: Sequence[int], contents: Sequence[Content]
    ) -> None:
        self.problem = problem
        self.usable_m = usable_m
        self.model = model = cp_model.CpModel()
        self.last = len(contents) - 1
        self.parts: list[tuple[int, int, int, cp_model.IntVar]] = []  # block, jumbo, sets, metres
        for j, content in enumerate(contents):
            wound = []
            for b, many in content:
                block = problem.blocks[b]
                low, high = many * block.min_m, many * block.max_m
                metres = model.new_int_var(low, high, "")
                model.add_hint(metres, min(high, max(low, many * block.length_m)))
                wound.append(metres)
                self.parts.append((b, j, many, metres))
            model.add(sum(wound) <= usable_m[j])
        # Metres on the sets of each block beyond its class's length.
        self.more: list[cp_model.LinearExprT] = [
            sum(metres for at, _, _, metres in self.parts if at == b) - block.length_m * block.sets
            for b, block in enumerate(problem.blocks)
        ]

    def keep_ranges(self) -> None:
        """Every order inside its range, or where it is already."""
        changed: dict[int, cp_model.LinearExprT] = {}
        for o, order in enumerate(self.problem.orders):
            terms = [(b, gain) for b, gain in self._gains_of(o) if gain.gain_per_m]
            if not terms:
                continue
            for b, gain in terms:
                if gain.rounding and b not in changed:
                    changed[b] = self._changed_sets(b)
            parts = [gain.gain_per_m for _, gain in terms] + [gain.rounding for _, gain in terms]
            scale = math.lcm(*(part.denominator for part in parts))
            more = sum(int(g.gain_per_m * scale) * self.more[b] for b, g in terms)
            loose = sum(int(g.rounding * scale) * changed[b] for b, g in terms if g.rounding)
            self.model.add(more - loose >= math.ceil((order.min_made - order.made) * scale))
            if order.max_made is not None:
                self.model.add(more + loose <= math.floor((order.max_made - order.made) * scale))

    def _gains_of(self, order: int) -> list[tuple[int, SetGain]]:
        gains = self.problem.gains
        return [(b, gain) for b, row in enumerate(gains) for gain in row if gain.order == order]

    def _changed_sets(self, b: int) -> cp_model.LinearExprT:
        """No fewer than the sets of b that change."""
        changed = []
        for at, _, many, metres in self.parts:
            if at == b:
                flag = self.model.new_bool_var("")
                as_is = self.problem.blocks[b].length_m * many
                self.model.add(metres == as_is).only_enforce_if(~flag)
                changed.append(many * flag)
        return sum(changed)

    def minimize_loss(self) -> None:
        """Loss in thousandths of a metre's paper, and next to it a little for every metre off.

        Only the search needs it: what it finds is judged in exact fractions.
        """
        problem, model = self.problem, self.model
        off = []
        for b, j, many, metres in self.parts:
            by = model.new_int_var(0, self.usable_m[j], "")
            away = metres - problem.blocks[b].length_m * many
            model.add(by >= away)
            model.add(by >= -away)
            off.append(by)
        objective: cp_model.LinearExprT = sum(off)
        # What the last jumbo does not take is carried forward: only what is wound on it is used.
        on_last = sum(metres for _, j, _, metres in self.parts if j == self.last)
        if problem.gains:
            objective = objective + 1000 * on_last
            for o, order in enumerate(problem.orders):
                objective = objective + self._order_loss(o, order)
        else:  # then only butts count
            wound = sum(metres for *_, metres in self.parts)
            objective = objective - 1000 * (wound - on_last)
        model.minimize(objective)

    def _order_loss(self, o: int, order: OrderSlack) -> cp_model.LinearExprT:
        """What an order's metres give back, less what they cost below or above the ordered worth.

        The terms are those of `OrderSlack.net_worth`, made linear: each is a variable that no
        constraint keeps from 0 but the one that says what it must pay.
        """
        problem = self.problem
        scale = Fraction(1000) / problem.paper_per_m
        gains = self._gains_of(o)
        terms = [(b, round(gain.worth_per_m * scale)) for b, gain in gains]
        more = sum(price * self.more[b] for b, price in terms)
        loss: cp_model.LinearExprT = -more
        reach = sum(
            abs(price) * problem.blocks[b].sets * problem.blocks[b].max_m for b, price in terms
        )
        sold = round((order.worth - order.surplus * order.beyond) * scale)
        if order.surplus * order.beyond and any(gain.gain_per_m for _, gain in gains):
            surplus = round(order.surplus * order.beyond * scale)
            less = self.model.new_int_var(
                -reach, surplus, ""
            )  # surplus that shorter sets do not make
            self.model.add(less <= -more)
            more = more + less
            loss = -more
        if order.ordered is None or not terms:
            return loss
        gap = sold - round(order.ordered * scale)
        reach += abs(gap)
        for price, sign in ((order.under, -1), (order.over, 1)):
            if price:
                pays = self.model.new_int_var(0, reach, "")
                self.model.add(price.denominator * pays >= sign * price.numerator * (more + gap))
                loss = loss + pays
        return loss
