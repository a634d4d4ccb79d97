"""What does not last for an enquiry: what the plan lacks, its hours, the paper of its run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from trimopt.book.model import RunDay, paper_key
from trimopt.fit.run_with_enquiry import Placement
from trimopt.mill.model import Winder
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


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursEnd:
    """What ends the hours of a run, by its name, or of all runs together (None).

    `finished` is when what comes before it is finished as planned.
    """

    run: str | None
    ends: datetime
    finished: datetime

    @property
    def left_min(self) -> float:
        """Minutes left before it; below 0 where the plan passes it."""
        return (self.ends - self.finished).total_seconds() / 60

    @property
    def words(self) -> str:
        """What it is, and when."""
        what = "the shift ends" if self.run is None else "the run day of this paper ends"
        return f"{what} ({self.ends:%Y-%m-%d %H:%M})"


def hours_ends(plan: Plan, planned: RunPlan, days: Iterable[RunDay]) -> Iterator[HoursEnd]:
    """What ends the hours of a planned run: the shift, and the run day that it is on."""
    if planned.start is None or planned.finish is None:
        return
    if plan.settings.until is not None:
        last = max(run.finish for run in plan.runs if run.finish is not None)
        yield HoursEnd(run=None, ends=plan.settings.until, finished=last)
    for day in days:
        if paper_key(day) == paper_key(planned) and day.begins <= planned.start < day.ends:
            yield HoursEnd(run=planned.name, ends=day.ends, finished=planned.finish)


def wound_min(winder: Winder, metres: int, sets: int) -> float:
    """Minutes to wind so many metres in so many sets; jumbos, set-ups and knives come on top."""
    # Run-up and run-down at even acceleration cost half their time against full speed.
    ramps_min = winder.speed_m_min / winder.acceleration_m_min_s / 60
    return metres / winder.speed_m_min + sets * (ramps_min + winder.set_change_min)


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
