"""Whether the hours of the shift and the paper last for an enquiry as it was put into the plan."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trimopt.fit.run_with_enquiry import Placement
from trimopt.mill.model import Winder
from trimopt.paper import Measured, Written
from trimopt.plan.model import Plan, RunPlan
from trimopt.plan.planning.run_jumbos import RunJumbos
from trimopt.plan.states import OrderState

__all__ = ["Lacking", "lacking_before", "lacking_hours", "lacking_paper"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """What does not last, hours or paper, and why; not `certain`: it may last, or not."""

    what: str
    why: str
    certain: bool = True


def lacking_before(plan: Plan, run: str) -> Lacking | None:
    """What the plan lacks for its own orders: hours for any run, or paper for this one."""
    lines = [(each.name, line.state) for each in plan.runs for line in each.orders]
    late = sum(state is OrderState.CARRIED_OVER for _, state in lines)
    if late:
        why = f"{_orders(late)} of plan {plan.number} are carried over as it is"
        return Lacking(what="hours", why=why)
    short = sum(name == run and state is OrderState.SHORT for name, state in lines)
    if short:
        why = f"{_orders(short)} of the run are short of it as it is"
        return Lacking(what="paper", why=why)
    return None


def lacking_hours(plan: Plan, jumbos: RunJumbos, placement: Placement) -> Lacking | None:
    """Whether the shift of the plan ends before what is wound more is finished."""
    until = plan.settings.until
    finished = [run.finish for run in plan.runs if run.finish is not None]
    if until is None or not finished:
        return None
    left_min = (until - max(finished)).total_seconds() / 60
    min_min, max_min = _minutes(jumbos.mill.winder, max(jumbos.usable_m), placement)
    if max_min <= left_min:
        return None
    span = (
        f"{min_min:,.0f}"
        if round(min_min) == round(max_min)
        else f"{min_min:,.0f} to {max_min:,.0f}"
    )
    why = (
        f"about {span} min of winding more, and {left_min:,.0f} min are left before the shift ends "
        f"({until:%d %b %H:%M})"
    )
    return Lacking(what="hours", why=why, certain=min_min > left_min)


def _minutes(winder: Winder, jumbo_m: int, placement: Placement) -> tuple[float, float]:
    """Minutes more than planned: knives where they should be, and every knife moved."""
    sets = placement.after.sets - placement.before.sets
    set_ups = max(0, placement.after.set_ups - placement.before.set_ups)
    # Run-up and run-down at even acceleration cost half their time against full speed.
    ramps_min = winder.speed_m_min / winder.acceleration_m_min_s / 60
    wound_min = placement.extra_m / winder.speed_m_min + sets * (ramps_min + winder.set_change_min)
    jumbos = placement.extra_m / jumbo_m
    without_moves = wound_min + set_ups * winder.set_up_min
    return (
        max(0.0, without_moves + math.floor(jumbos) * winder.jumbo_change_min),
        max(
            0.0,
            without_moves
            + math.ceil(jumbos) * winder.jumbo_change_min
            + set_ups * winder.knives * winder.knife_move_min,
        ),
    )


def lacking_paper(
    jumbos: RunJumbos, planned: RunPlan | None, placement: Placement, written: Written
) -> Lacking | None:
    """Whether the listed jumbos, where there are no others, hold what is wound more."""
    if not jumbos.only_listed:
        return None
    wound = {} if planned is None else {use.name: use.wound_m for use in planned.jumbos}
    left = [jumbo.usable_m - wound.get(jumbo.name, 0) for jumbo in jumbos.listed]
    more_m = placement.extra_m if planned is not None else placement.after.metres
    more, rest = (written.text(Measured.LENGTH, metres) for metres in (more_m, sum(left)))
    if more_m > sum(left):
        why = f"{more} more are to be wound, and the listed jumbos have {rest} left"
        return Lacking(what="paper", why=why)
    if planned is not None and _laid(left, placement):
        return None
    why = f"{more} more are to be wound, and not in one piece"
    return Lacking(what="paper", why=why, certain=False)


def _laid(left: list[int], placement: Placement) -> bool:
    """Whether the sets that are wound more fit into what is left of the jumbos, largest first."""
    room = [*left, *(metres for metres, sets in placement.sets_more for _ in range(-sets))]
    for metres in sorted((m for m, sets in placement.sets_more for _ in range(sets)), reverse=True):
        fitting = [k for k, free in enumerate(room) if free >= metres]
        if not fitting:
            return False
        room[min(fitting, key=lambda k: room[k])] -= metres
    return True


def _orders(count: int) -> str:
    return f"{count} order{'' if count == 1 else 's'}"
