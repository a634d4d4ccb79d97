"""Where the patterns of a run are few: all of them in one integer program, so that it is proven."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, cp_model, run_cp_sat
from trimopt.cutting.model.cuts import Cut, Pattern, loss_of, residual
from trimopt.cutting.model.outcome import Outcome
from trimopt.cutting.search.pool_column import column_of
from trimopt.cutting.search.pool_program import PoolProgram, proven_by
from trimopt.cutting.setups.build_tables import BuildTables

#: Stands as a bound where it is proven that there is no plan.
NO_PLAN = 1 << 62


@dataclass(frozen=True, slots=True, kw_only=True)
class AllPatterns:
    """The integer program over all patterns, solved for a number of patterns or for a loss.

    `patterns` are all that the run allows: with fewer nothing would be proven. `fixed` are cuts
    that every plan holds, `outcome` has the engine's prices, whose reduced costs limit the sets.
    """

    tables: BuildTables
    patterns: Sequence[Pattern]
    fixed: tuple[Cut, ...]
    outcome: Outcome
    effort: float

    def solve(
        self,
        *,
        loss: int | None,
        patterns: int | None,
        hint: tuple[Cut, ...],
        budget: Budget,
        seed: int,
    ) -> tuple[tuple[Cut, ...] | None, int | None]:
        """Fewest patterns at a loss, or least loss with so many patterns.

        Parameters
        ----------
        loss
            Greatest loss; where `patterns` is None, the fewest patterns are sought.
        patterns
            Greatest number of patterns; the least loss is sought.

        Returns
        -------
        tuple
            The best plan found or None, and the proven bound on what was sought: a plan is proven
            where it meets it. None: nothing was proven. A bound without a plan may be a proof that
            there is none: then it is above every value that was allowed.
        """
        instance = self.tables.instance
        rest = residual(instance, self.fixed)
        limits = [None] * len(self.patterns) if loss is None else self._max_sets(loss)
        columns = [
            column_of(rest, pattern, max_count=most)
            for pattern, most in zip(self.patterns, limits, strict=True)
        ]
        program = PoolProgram(rest.demands, columns)
        if not program.whole or not program.bounded:
            return None, None
        model = program.model
        hinted = {cut.pattern: cut.sets for cut in hint[len(self.fixed) :]}
        shown = {instance.set_up_for(p.winding_class, p.pieces) for p in hinted}
        fixed = {instance.set_up_for(c.pattern.winding_class, c.pattern.pieces) for c in self.fixed}
        wound: dict[object, cp_model.IntVar] = {}
        for pattern, column, number in zip(self.patterns, columns, program.columns, strict=True):
            set_up = instance.set_up_for(pattern.winding_class, pattern.pieces)
            if set_up not in wound:
                wound[set_up] = model.new_bool_var("")
                model.add_hint(wound[set_up], set_up in shown)
            model.add(number <= column.max_count * wound[set_up])
            model.add_hint(number, hinted.get(pattern, 0))
        # The rest loses as much less than the whole as the fixed cuts cost beyond their worth.
        total = program.objective + loss_of(instance, self.fixed) - loss_of(rest, ())
        count = sum(v for set_up, v in wound.items() if set_up not in fixed) + len(fixed)
        if loss is not None:
            model.add(total <= loss)
        if patterns is not None:
            model.add(count <= patterns)
        model.minimize(count if patterns is None else total)
        solver, status = run_cp_sat(model, budget, effort=self.effort, seed=seed)
        if status == cp_model.INFEASIBLE:
            return None, NO_PLAN
        if status not in FOUND:
            return None, None
        counted = zip(self.patterns, program.columns, strict=True)
        found = [Cut(pattern, n) for pattern, var in counted if (n := solver.value(var))]
        return (*self.fixed, *found), proven_by(solver)

    def _max_sets(self, loss: int) -> Sequence[int | None]:
        """Most sets of each pattern in a plan that loses at most so much, by its reduced cost."""
        proof = self.outcome.certificate
        if proof is None:
            return [None] * len(self.patterns)
        room = (loss - self.outcome.price_bound + 1) * proof.scale
        costs = [proof.reduced_cost(self.tables.instance, pattern) for pattern in self.patterns]
        return [None if cost <= 0 else max(0, room // cost) for cost in costs]
