"""When an enquiry can be finished: with the run that is planned, or when its paper is run again.

What does not last for it is what the plan lacks, its hours, or the paper of its run. Hours are held
against the plan as issued. Minutes more are those of the sets wound more, with no
knife moved and with all at every set-up more; between the two nothing is promised. A listed run day
ends like a shift.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from trimopt.book.model import Book, Order, RunDay, paper_key
from trimopt.book.tonnage import ordered_kg
from trimopt.fit.fits_alone import Alone
from trimopt.fit.run_with_enquiry import Placement
from trimopt.mill.model import Mill, Winder
from trimopt.paper import Measured, Written
from trimopt.plan.difference import OrderDifference, changed_orders
from trimopt.plan.model import OrderLine, Plan, RunPlan
from trimopt.plan.planning.request_settings import shift_begins
from trimopt.plan.planning.run_jumbos import RunJumbos
from trimopt.plan.states import LACKING, OrderState

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


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """When an enquiry is finished: no earlier than `earliest`, and by `latest`.

    With the run of the plan (`with_plan`), as the last of it, or on a day that the book lists; both
    None: in no hours that are known. In a run planned again with it (`in_place`), `earliest` is in
    its place of that plan, and `latest` after all sets of the run. Orders are named for the
    scheduler: those that it may make late, and where the hours are short those that would have to
    give way to it. On listed days it takes `winding_min`, least and most, from `begins` on, in
    their hours one after another: what one day leaves, then the next.
    """

    earliest: datetime | None = None
    latest: datetime | None = None
    with_plan: bool = False
    in_place: bool = False
    begins: datetime | None = None
    winding_min: tuple[float, float] | None = None
    may_be_late: tuple[str, ...] = ()
    gives_way: tuple[str, ...] = ()
    days_listed: bool = False  # the book lists run days; else these are the plan's hours only


@dataclass(frozen=True, slots=True, kw_only=True)
class _Minutes:
    """On the winder: with no knife moved, and with all moved at every set-up."""

    min_min: float
    max_min: float

    def __str__(self) -> str:
        low, high = f"{self.min_min:,.0f}", f"{self.max_min:,.0f}"
        return low if low == high else f"{low} to {high}"


def when_joining(
    plan: Plan,
    planned: RunPlan,
    days: Sequence[RunDay],
    jumbos: RunJumbos,
    placement: Placement,
    *,
    lacking: Lacking | None = None,
) -> tuple[When, Lacking | None]:
    """When an enquiry is finished that joins a planned run, and what does not last for it.

    Parameters
    ----------
    days
        All that the book lists.
    lacking
        What is known not to last, whatever the hours.
    """
    if planned.start is None or planned.finish is None:
        return When(days_listed=bool(days)), lacking
    more = _more(jumbos, placement)
    lacking = lacking or _lacking(plan, planned, days, more)
    if lacking is None:
        found = _with_plan(plan, planned, more, placement)
        return replace(found, days_listed=bool(days)), None
    metres = sum(row.sets * row.length_m for row in placement.sets)
    sets = sum(row.sets for row in placement.sets)
    again = _minutes(jumbos.mill.winder, metres, sets, len(placement.sets), max(jumbos.usable_m))
    own = [day for day in days if paper_key(day) == paper_key(planned)]
    after = max(run.finish for run in plan.runs if run.finish is not None)
    # What the run leaves over is wound first, at its own kilograms a minute.
    made_kg, lacking_kg = planned.balance.delivered_kg, sum(o.lacking_kg for o in planned.orders)
    waits_min = planned.minutes * lacking_kg / made_kg if made_kg else 0.0
    # As issued the run winds some of these sets already; remade later, all of them are wound.
    takes = _Minutes(
        min_min=waits_min + min(more.min_min, again.min_min),
        max_min=waits_min + max(more.max_min, again.max_min),
    )
    gives_way = _gives_way(plan, more) if lacking.what == "hours" else ()
    found = _in_run_days(own, after, takes)
    return replace(found, gives_way=gives_way, days_listed=bool(days)), lacking


def runs_with(plan: Plan, run: RunPlan, winder: Winder) -> tuple[RunPlan, ...]:
    """The runs of a plan, one of them planned again, behind one another on the plan's clock."""
    # It brings the winding room, which the quick answer does without.
    from trimopt.plan.planning.schedule.runs_in_turn import in_turn  # noqa: PLC0415

    assert plan.settings.start is not None
    runs = [run if each.name == run.name else each for each in plan.runs]
    return in_turn(runs, plan.settings.start, winder)


def when_planned(plan: Plan, runs: Sequence[RunPlan], number: str, days: Sequence[RunDay]) -> When:
    """When an enquiry is finished in runs that were planned with it, and whom that makes late.

    Parameters
    ----------
    runs
        As `runs_with` gives them.
    """
    was = {line.number: line for run in plan.runs for line in run.orders}
    lines = {line.number: line for run in runs for line in run.orders}
    late = [
        line
        for line in lines.values()
        if line.number in was
        and OrderState.LATE in line.states
        and OrderState.LATE not in was[line.number].states
    ]
    return When(
        earliest=lines[number].finished,
        latest=next(run.finish for run in runs if number in {line.number for line in run.orders}),
        with_plan=True,
        in_place=True,
        may_be_late=order_names(late),
        days_listed=bool(days),
    )


def noticed_changes(
    before: Sequence[RunPlan], after: Sequence[RunPlan]
) -> tuple[OrderDifference, ...]:
    """Give what other customers notice: more or less of an order, another state, or another day."""
    return tuple(each for each in changed_orders(before, after) if _is_noticed(each))


def _is_noticed(change: OrderDifference) -> bool:
    before, after = change.before, change.after
    if before is None or after is None:
        return before is not None
    days = (each.finished and each.finished.date() for each in (before, after))
    return not change.in_time_only or len({*days}) > 1


def minutes_left(plan: Plan, planned: RunPlan, days: Sequence[RunDay]) -> float:
    """Minutes for more of a planned run before the shift or its run day ends; infinite: no end."""
    return min((end.left_min for end in hours_ends(plan, planned, days)), default=math.inf)


def lacking_unplanned(
    book: Book, jumbos: RunJumbos, planned: RunPlan, placement: Placement
) -> Lacking | None:
    """Whether a run that was planned by itself takes more than the whole shift with the enquiry."""
    begins, ends = shift_begins(book), book.shift_ends
    takes_min = planned.minutes + _more(jumbos, placement).min_min
    if ends is None or takes_min <= (ends - begins).total_seconds() / 60:
        return None
    why = (
        f"its run with it takes {takes_min:,.0f} min of winding or more, and the shift from "
        f"{begins:%Y-%m-%d %H:%M} to {ends:%Y-%m-%d %H:%M} has fewer"
    )
    return Lacking(what="hours", why=why)


def when_alone(
    order: Order, way: Alone, days: Sequence[RunDay], mill: Mill, after: datetime
) -> When:
    """When an enquiry is finished of whose paper the book has no order, in sets of its own.

    Parameters
    ----------
    mill
        As its paper sees it (`Mill.for_paper`).
    after
        Hours before are over.
    """
    own = [day for day in days if paper_key(day) == paper_key(order)]
    across_m = way.across * float(way.reel_mm) / 1000
    metres = math.ceil(1000 * ordered_kg(order, mill) / order.grammage_gsm / across_m)
    sets = math.ceil(metres / way.length_m)
    takes = _minutes(mill.winder, metres, sets, 1, mill.jumbo.usable_m)
    return replace(_in_run_days(own, after, takes), days_listed=bool(days))


def _in_run_days(days: Sequence[RunDay], after: datetime, takes: _Minutes) -> When:
    """When so much is wound in the hours of some run days, and from when on."""
    earliest, latest = (on_run_day(days, after, m) for m in (takes.min_min, takes.max_min))
    if earliest is None or latest is None:
        return When(earliest=earliest)
    return When(
        earliest=earliest,
        latest=latest,
        begins=min(max(day.begins, after) for day in days if day.ends > after),
        winding_min=(takes.min_min, takes.max_min),
    )


def on_run_day(days: Iterable[RunDay], after: datetime, minutes: float) -> datetime | None:
    """When so many minutes of winding are over, in the hours of some run days alone.

    None where they end before.
    """
    left = timedelta(minutes=minutes)
    for day in sorted(days, key=lambda each: each.begins):
        begins = max(day.begins, after)
        if begins + left <= day.ends:
            return begins + left
        left -= max(timedelta(0), day.ends - begins)
    return None


def _lacking(
    plan: Plan, planned: RunPlan, days: Iterable[RunDay], more: _Minutes
) -> Lacking | None:
    """Whether the shift, or the run's day, ends before what is wound more is finished."""
    for end in hours_ends(plan, planned, days):
        if more.max_min > end.left_min:
            left_min = max(0.0, end.left_min)
            why = f"about {more} min of winding more, and {left_min:,.0f} min are left before "
            certain = more.min_min > end.left_min
            return Lacking(what="hours", why=why + end.words, certain=certain)
    return None


def _with_plan(plan: Plan, planned: RunPlan, more: _Minutes, placement: Placement) -> When:
    """As the last of its run: what lies in its sets, and every run behind it, may come later."""
    assert planned.finish is not None
    earliest, latest = (
        planned.finish + timedelta(minutes=minutes) for minutes in (more.min_min, more.max_min)
    )
    beside = {number for row in placement.sets for number, *_ in row.across}
    late: list[OrderLine] = []
    for run in plan.runs:
        behind = run.start is not None and run.start >= planned.finish
        for line in run.orders:
            if line.finished is None or line.state in LACKING or OrderState.LATE in line.states:
                continue
            finished = line.finished
            if behind:
                finished += timedelta(minutes=more.max_min)
            elif run.name == planned.name and line.number in beside:
                finished = max(finished, latest)
            if line.due is not None and finished > line.due:
                late.append(line)
    return When(earliest=earliest, latest=latest, with_plan=True, may_be_late=order_names(late))


def _gives_way(plan: Plan, more: _Minutes) -> tuple[str, ...]:
    """Orders that would be finished after the shift's end, were the enquiry made before them."""
    until = plan.settings.until
    if until is None:
        return ()
    lines = [
        line
        for run in plan.runs
        for line in run.orders
        if line.finished is not None and line.finished + timedelta(minutes=more.max_min) > until
    ]
    return order_names(sorted(lines, key=lambda line: line.finished or until, reverse=True))


def _more(jumbos: RunJumbos, placement: Placement) -> _Minutes:
    """Minutes of what is wound more for a placed enquiry."""
    set_ups = max(0, placement.set_ups_more)
    return _minutes(
        jumbos.mill.winder, placement.extra_m, placement.sets_more, set_ups, max(jumbos.usable_m)
    )


def _minutes(winder: Winder, metres: int, sets: int, set_ups: int, jumbo_m: int) -> _Minutes:
    jumbos = metres / jumbo_m
    without_moves = wound_min(winder, metres, sets) + set_ups * winder.set_up_min
    moves_min = set_ups * winder.knives * winder.knife_move_min
    return _Minutes(
        min_min=max(0.0, without_moves + math.floor(jumbos) * winder.jumbo_change_min),
        max_min=max(0.0, without_moves + math.ceil(jumbos) * winder.jumbo_change_min + moves_min),
    )
