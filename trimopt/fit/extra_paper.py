"""What an enquiry costs in paper: one definition, for the answer, the curve, the box and a list.

Extra paper is the paper that the run uses when it is planned with the enquiry, less what it uses
when planned without, for each tonne of the enquiry delivered inside its tolerance. Paper used is
what is wound and the butts; what is left of the last jumbo is carried forward and not counted, and
each metre bears its share of what is lost at the start and end of a jumbo. What other orders get
more or less, inside their tolerances, is taken off; kg below and above an ordered quantity are
valued as in every plan.

With the loss L of a run as its plan states it (`Objective.loss_with_butts_kg`), d kg delivered and
a share e of paper lost at jumbo ends, that is (1 + e) (1 + (L with − L without) / d).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from trimopt.fit.planned_run import Basis
from trimopt.mill.model import Mill, Values
from trimopt.plan.model import RunPlan

_MAX_RANGE = 0.5  # t per t: a wider one decides nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraPaper:
    """Tonnes of paper for a tonne delivered.

    `min_use` is proven: no plan with the enquiry needs less (None: nothing was proven in time).
    `max_use` is what a plan needs that was made with the enquiry in the run (None: none was).
    `held_use` is an estimate before winding, put into the sets as planned. `average` is what the
    run as planned uses for a tonne that it delivers.
    """

    min_use: float | None
    max_use: float | None
    held_use: float
    average: float

    @property
    def known(self) -> bool:
        """Whether the range says something: of a few kilograms it is as wide as the run is long."""
        if self.min_use is None or self.max_use is None:
            return False
        return self.max_use - self.min_use <= _MAX_RANGE

    @property
    def use(self) -> float:
        """One figure, where one must do: of the plan that was made, else the estimate.

        No more is estimated than that plan needs, or than the average where it needs less: of a few
        kilograms that is the luck of a search.
        """
        if self.max_use is None:
            return self.held_use
        if self.estimated:
            return min(self.held_use, max(self.max_use, self.average))
        return self.max_use

    @property
    def estimated(self) -> bool:
        """Whether `use` is the estimate, and not of a plan that was made."""
        return self.max_use is None or (self.min_use is not None and not self.known)

    @property
    def shown(self) -> float:
        """`use` as it is printed and judged; of a plan rounded up: it needs no more."""
        return round(self.use, 2) if self.estimated else ceil(100 * self.use) / 100

    @property
    def above(self) -> float:
        """How much `shown` is above the average as it is printed: it decides the verdict."""
        return round(self.shown - round(self.average, 2), 2)


def ends_share(mill: Mill) -> float:
    """Metres lost at the start and end of a jumbo for a metre that it gives."""
    return (mill.jumbo.loss_start_m + mill.jumbo.loss_end_m) / mill.jumbo.usable_m


def use_of(basis: Basis, more_kg: float, delivered_kg: Sequence[float]) -> list[float]:
    """The definition: loss more, kg, over each of some amounts delivered."""
    share = 1 + ends_share(basis.mill)
    return [share * (1 + more_kg / kg) for kg in delivered_kg]


def average_use(basis: Basis) -> float:
    """Paper used for a tonne delivered by the run as planned."""
    balance = basis.planned.balance
    used_kg = balance.used_kg - balance.start_end_kg
    return (1 + ends_share(basis.mill)) * used_kg / balance.delivered_kg


def bound_of(basis: Basis, run: RunPlan) -> float | None:
    """No plan of this run loses less, kg, over every pattern and every length; None: not proven."""
    used_m, bound_m = run.proof.metres_used, run.proof.metres_bound
    if used_m is None or bound_m is None:
        return None
    # The metres of the bound are rounded up to whole ones.
    above_kg = (used_m - bound_m + 1) * basis.objective.kg_per_m
    return basis.objective.loss_with_butts_kg(run.balance) - above_kg


def gap_of(run: RunPlan) -> float:
    """Share of a run's paper between its plan and what is proven; 1 where nothing is."""
    used_m, bound_m = run.proof.metres_used, run.proof.metres_bound
    return 1.0 if not used_m or bound_m is None else (used_m - bound_m) / used_m


def floor_price(extra: ExtraPaper, values: Values) -> tuple[float, float] | None:
    """Money for a tonne sold below which it does not pay for its paper, from min. to max.

    The paper that it takes, less the worth of what of that goes back to the pulper. None where the
    mill file does not price both.
    """
    paper, broke = values.paper_cost_per_t, values.broke_worth_per_t
    if paper is None or broke is None:
        return None
    uses = (extra.min_use if extra.known and extra.min_use is not None else extra.use), extra.use
    low, high = sorted(use * paper - (use - 1) * broke for use in uses)
    return low, high
