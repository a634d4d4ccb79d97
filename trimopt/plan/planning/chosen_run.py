"""A run whose patterns are chosen, on its way to the winder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.cutting import Cut, EngineParams, Instance, Outcome, Pattern
from trimopt.cutting.setups import ParetoPoint, TradeOff, trade_off
from trimopt.making import PreparedRun
from trimopt.mill.model import Mill
from trimopt.plan.model import Settings
from trimopt.plan.planning.instructions.instructed_run import InstructedRun
from trimopt.plan.planning.objective import Objective
from trimopt.plan.planning.odd_jumbos.odd_part import OddPart
from trimopt.plan.planning.run_jumbos import RunJumbos, stock_jumbo
from trimopt.plan.planning.schedule.run_lots import Beside
from trimopt.winding import JumboSupply, StockJumbo
from trimopt.winding.knives.knife_moves import stated_knives

_TRADE = 0.4  # of the time that is left of a run's, for the trade-off
_TRADE_AT = (0.6, 0.8)  # of a run's work, as a rule
#: Work of the search for few set-ups at normal effort: about a second on a laptop of 2024.
_TRADE_WORK = 2.4  # times the square of the orders: so the search grows
_MIN_ORDERS = 14  # a small run is searched as if it had so many


@dataclass(slots=True)
class ProvenOnce:
    """What holds of a run whichever way its patterns are sought: each is proven once.

    `bounds` are answers of the engine for the run without butts, `min_loss` the least losses over
    every length for the jumbos that there are.
    """

    bounds: dict[Instance, Outcome] = field(default_factory=dict)
    min_loss: dict[tuple[Instance, tuple[int, ...]], int] = field(default_factory=dict)

    def least_loss(
        self, making: PreparedRun, mill: Mill, usable_m: tuple[int, ...], budget: Budget
    ) -> int | None:
        """The joint bound on the loss of a run; None where it is not proven in time."""
        # It brings the winding room, which an enquiry's quick answer does without before.
        from trimopt.winding.jumbos.joint_bound import least_loss  # noqa: PLC0415

        key = making.instance, usable_m
        if key not in self.min_loss:
            found = least_loss(making, mill, usable_m, budget=budget)
            if found is None:
                return None
            self.min_loss[key] = found
        return self.min_loss[key]


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
    known: tuple[tuple[Cut, ...], ...] = ()  # of the outcome's cuts, those on each jumbo, in order
    proven: ProvenOnce | None = field(
        default_factory=ProvenOnce, compare=False
    )  # None: no joint bound
    odd: OddPart | None = None  # jumbos unlike the others, planned already: the rest is chosen here
    loose: bool = False  # its blocks are put among others: no order along the jumbos is sought

    @property
    def whole(self) -> PreparedRun:
        """The run with what is made from odd jumbos, and classes of their widths."""
        return self.making if self.odd is None else self.odd.making

    @property
    def odd_cuts(self) -> tuple[Cut, ...]:
        return () if self.odd is None else self.odd.stage.cuts

    @property
    def beside(self) -> Beside:
        """What the orders have of odd jumbos."""
        return {} if self.odd is None else self.odd.stage.made

    @property
    def knives_at_mm(self) -> tuple[Fraction | None, ...]:
        """How the knives stand before the sets that are chosen here."""
        if self.odd is not None:
            return self.odd.stage.beam_mm
        return stated_knives(self.mill.winder, self.mill.jumbo.width_mm)

    @property
    def max_set_ups(self) -> int | None:
        """The cap that an instruction sets; None: any number."""
        return self.instructed.max_set_ups

    def held(self, cuts: Sequence[Cut]) -> frozenset[Pattern]:
        """Patterns whose sets keep their length: all of them where a change of it is a set-up."""
        if self.mill.winder.length_change_is_set_up:
            return frozenset(cut.pattern for cut in cuts)
        return self.instructed.held


def supply_of(
    jumbos: RunJumbos, place: int, *, in_order: bool, started: bool = False
) -> JumboSupply:
    """Give the winder the jumbos of a run, of its place among the book's, from 1.

    Parameters
    ----------
    in_order
        Whether listed ones come off in the list's order alone.
    started
        Whether the first of the list is on the unwind.
    """
    nominal = jumbos.mill.jumbo
    return JumboSupply(
        stock=tuple(
            replace(stock_jumbo(jumbo), started=started and not place_in_list and not jumbos.odd)
            for place_in_list, jumbo in enumerate(jumbos.listed)
        ),
        nominal=None
        if jumbos.only_listed
        else StockJumbo(
            name=f"R{place}-J",
            width_mm=nominal.width_mm,
            usable_m=nominal.usable_m,
            loss_start_m=nominal.loss_start_m,
            loss_end_m=nominal.loss_end_m,
        ),
        in_order=in_order,
        taken=jumbos.taken,
        min_part_m=jumbos.mill.winder.min_join_part_m,
    )


def searched_trade_off(
    instance: Instance,
    outcome: Outcome,
    *,
    settings: Settings,
    instructed: InstructedRun,
    orders: int,
    budget: Budget,
) -> TradeOff:
    """The trade-off of loss against set-ups, for so many orders that must be made."""
    work = round(settings.effort.times * _TRADE_WORK * max(_MIN_ORDERS, orders) ** 2)
    budget.enter("set-ups", *_TRADE_AT)
    return trade_off(
        instance,
        outcome,
        budget=budget.share(_TRADE, work),
        seed=settings.seed,
        fixed=instructed.fixed,
        max_patterns=instructed.max_patterns,
        params=EngineParams.for_effort(settings.effort),
    )
