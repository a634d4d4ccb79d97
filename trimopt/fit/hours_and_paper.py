"""What does not last for an enquiry: what the plan lacks as it is, and the paper of its run."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trimopt.fit.run_with_enquiry import Placement
from trimopt.paper import Measured, Written
from trimopt.plan.model import OrderLine, Plan, RunPlan
from trimopt.plan.planning.run_jumbos import RunJumbos
from trimopt.plan.states import OrderState

_NAMED = 5  # orders, of which the rest are counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """What does not last, hours or paper, and why; not `certain`: it may last, or not."""

    what: str
    why: str
    certain: bool = True


def lacking_before(plan: Plan, run: str) -> Lacking | None:
    """What the plan lacks for its own orders: hours for any run, or paper for this one."""
    lines = [(each.name, line) for each in plan.runs for line in each.orders]
    over = [line for _, line in lines if line.state is OrderState.CARRIED_OVER]
    if over:
        why = f"{_said(over)} carried over in plan {plan.number} as it is"
        return Lacking(what="hours", why=why)
    short = [line for name, line in lines if name == run and line.state is OrderState.SHORT]
    if short:
        why = f"{_said(short)} short of it as it is"
        return Lacking(what="paper", why=why)
    return None


def lacking_paper(
    jumbos: RunJumbos, planned: RunPlan, placement: Placement, written: Written
) -> Lacking | None:
    """Whether the listed jumbos, where there are no others, hold what is wound more."""
    if not jumbos.only_listed:
        return None
    wound = {use.name: use.wound_m for use in planned.jumbos}
    left = [jumbo.usable_m - wound.get(jumbo.name, 0) for jumbo in jumbos.listed]
    more, rest = (
        written.text(Measured.LENGTH, metres) for metres in (placement.extra_m, sum(left))
    )
    if placement.extra_m > sum(left):
        why = f"{more} more are to be wound, and the listed jumbos have {rest} left"
        return Lacking(what="paper", why=why)
    if _laid(left, placement):
        return None
    why = f"{more} more are to be wound, and not in one piece"
    return Lacking(what="paper", why=why, certain=False)


def _laid(left: list[int], placement: Placement) -> bool:
    """Whether the sets that are wound more fit into what is left of the jumbos, largest first."""
    room = [*left, *(metres for metres, sets in placement.lengths_more for _ in range(-sets))]
    for metres in sorted(
        (m for m, sets in placement.lengths_more for _ in range(sets)), reverse=True
    ):
        fitting = [k for k, free in enumerate(room) if free >= metres]
        if not fitting:
            return False
        room[min(fitting, key=lambda k: room[k])] -= metres
    return True


def order_names(lines: Iterable[OrderLine]) -> tuple[str, ...]:
    """Orders as they are named to a person: the number, and for whom."""
    return tuple(
        f"{line.number} ({line.customer})" if line.customer else line.number for line in lines
    )


def _said(lines: Sequence[OrderLine]) -> str:
    names = order_names(lines)
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    are = "order {} is" if len(names) == 1 else "orders {} are"
    return are.format(", ".join(names[:_NAMED]) + more)
