"""A run whose patterns are chosen, on its way to the winder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from trimopt.budget import Budget
from trimopt.cutting import Cut, Instance, Outcome, Pattern
from trimopt.cutting.setups import ParetoPoint, TradeOff
from trimopt.making import PreparedRun
from trimopt.mill.model import Mill
from trimopt.plan.model import Settings
from trimopt.plan.planning.instructions.instructed_run import InstructedRun
from trimopt.plan.planning.objective import Objective
from trimopt.winding import JumboSupply

__all__ = ["ChosenRun"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenRun:
    """A run with its patterns chosen, ready for the winder; it can be sent to another process."""

    making: PreparedRun
    mill: Mill  # as the run sees it
    settings: Settings
    objective: Objective
    instance: Instance  # as the search saw it: with butt costs, and the rules of the instructions
    outcome: Outcome
    trade: TradeOff
    point: ParetoPoint  # of the trade-off, the one that was chosen
    instructed: InstructedRun
    supply: JumboSupply
    usable_m: tuple[int, ...]
    odd_m: tuple[int, ...]  # of them, those that are not of most of the jumbos
    start: datetime
    budget: Budget

    @property
    def max_set_ups(self) -> int | None:
        """The cap that an instruction sets; None: any number."""
        return self.instructed.max_set_ups

    def held(self, cuts: Sequence[Cut]) -> frozenset[Pattern]:
        """Patterns whose sets keep their length: all of them where a change of it is a set-up."""
        if self.mill.winder.length_change_is_set_up:
            return frozenset(cut.pattern for cut in cuts)
        return self.instructed.held
