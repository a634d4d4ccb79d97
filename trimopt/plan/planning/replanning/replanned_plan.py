"""A plan that was run in part, planned again: from where the winder stands, for the book as it is.

What was run stands as it ran. Sets that start soon stay as issued, and after them blocks whose
change is not worth their disturbance. The rest is planned for what each order still lacks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from itertools import count
from math import inf

from trimopt.book.held_enquiries import taken_up, with_held
from trimopt.book.model import Book, LeftOut
from trimopt.budget import Budget
from trimopt.errors import InfeasibleError, RequestError
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Plan, Replanned, Request, RunPlan, Settings
from trimopt.plan.planning.plan_book import ENOUGH_S, plan_of, what_lacks
from trimopt.plan.planning.replanning.as_ordered import as_ordered
from trimopt.plan.planning.replanning.crew_ahead import brought_forward
from trimopt.plan.planning.replanning.frozen_sets import FrozenSets
from trimopt.plan.planning.replanning.kept_sets import first_sets, named, numbers_of
from trimopt.plan.planning.replanning.rest_planner import RestPlanner
from trimopt.plan.planning.replanning.sets_changed import as_held, given_up, unchanged
from trimopt.plan.planning.replanning.standing import Standing, standing_runs
from trimopt.plan.planning.replanning.tried_rest import ChosenRest
from trimopt.plan.planning.replanning.whole_run import Rest, run_after, unmakeable, whole_run
from trimopt.plan.planning.request_settings import settings_of
from trimopt.plan.planning.schedule.runs_in_turn import by_due
from trimopt.plan.planning.sheeters.sheeter_loads import sheeted
from trimopt.plan.replan import WhatRan
from trimopt.plan.states import OrderState
from trimopt.progress import PLANNED, AllRuns, Observer, Watch

KEPT_FOR = timedelta(minutes=60)
"""Sets that start so soon stay as issued, unless another time is asked for."""

_AGAIN = (
    "This run is taken up again: its first knife moves and minutes are counted from its own last "
    "set, whatever was wound between."
)
_RUNS_S = 10.0  # for all runs of the plan as issued, beside those for new lines
_WORK = 0.2  # of the time limit in seconds that a search takes as a rule, for slower machines


def replanned(
    issued: Plan,
    book: Book,
    mill: Mill,
    ran: WhatRan,
    *,
    now: datetime | None,
    keep_until: datetime | None,
    request: Request,
    budget: Budget,
    observer: Observer | None = None,
) -> tuple[Plan, tuple[str, ...]]:
    """Plan the rest of a plan.

    Parameters
    ----------
    issued
        The plan as issued.
    book, mill
        As they are now.
    ran
        What was run of it.
    now
        When the next set may start; None: when the last set that was run is finished as planned.
    keep_until
        Sets that start before it stay as issued; None: an hour from `now`.
    request
        What is asked of the plan.
    budget
        When to end with the best so far.
    observer
        Told of progress: of each run what it loses with the best rest so far.

    Returns
    -------
    Plan
        Not yet checked, and without a number.
    tuple of str
        Sets that could not stay as issued, with why.

    Raises
    ------
    PlanError
        As `standing_runs` says.
    RequestError
        Sets are to be kept until a time before now, or what was run had not begun by now.
    InfeasibleError, OutOfTimeError
        As `make_plan` says.
    """
    request = replace(request, ways_out=False)  # of whole runs
    book.require_clean(leave_out_faulty=request.leave_out_faulty)
    settings = settings_of(book, mill, request)
    own, book = book, with_held(book, request.held)
    issued = as_ordered(issued, taken_up(own, issued.request.held))
    standing = _as_ran(standing_runs(issued, book, mill, ran), issued, settings)
    finished = _finished(standing, settings)
    if now is not None and now < finished and any(case.head for case in standing):
        standing = brought_forward(standing, issued, finished=finished, now=now)
    now = now or finished + ran.stopped
    asked = dict.fromkeys((*book.instructions, *request.instructions))
    lacking = {one: why for one in asked if (why := what_lacks(one, book))}
    left_out = [*book.left_out, *(LeftOut(order=o.name, why=why) for o, why in lacking.items())]
    keep_until = keep_until or now + KEPT_FOR
    _require_times(now, keep_until, min(finished, now), settings.until)
    planner = RestPlanner(
        book=book,
        settings=settings,
        asked=tuple(one for one in asked if one not in lacking),
        names=jumbo_names(issued, standing),
        keep_until=keep_until,
    )
    runs: list[RunPlan] = []
    chosen: list[tuple[Standing, FrozenSets, ChosenRest]] = []
    moment, before = now, None
    searches = budget.share(1.0, _WORK * (request.time_limit_s or inf))
    order, earlier = _in_turn(standing, keep_until)
    weights = [_weight(case, issued) for case in order]
    progress = observer and AllRuns(
        observer,
        {case.run.name: weight for case, weight in zip(order, weights, strict=True)},
        budget.ends_at,
    )
    for place, (case, share) in enumerate(
        zip(order, searches.shares_by(weights), strict=True), start=1
    ):
        watch = Watch(progress.take, case.run.name) if progress else None
        part = share.watched(watch)
        part.enter("rest", 0.0, 1.0)
        frozen = planner.frozen(case, moment, before)
        found = planner.rest(case, frozen, before, part)
        if found.rest.blocks and place > len(order) - earlier:
            found = replace(found, rest=replace(found.rest, notes=(*found.rest.notes, _AGAIN)))
        chosen.append((case, frozen, found))
        left_out += case.with_stock(found.left_out)
        if found.rest.orders.orders or case.head:
            run = _in_the_shift(
                partial(
                    whole_run,
                    case,
                    settings=settings,
                    start=moment,
                    before=before,
                    budget=part.share(1.0),
                ),
                found.rest,
                settings.until,
            )
            left_out += case.with_stock(unmakeable(case, run, found.rest.orders.orders))
            share.work += min(part.work, share.max_work)
            part.enter(PLANNED, 1.0, 1.0)
            runs.append(as_held(run, case.issued, issued.number))
            moment = max(moment, run.finish or moment)
            before = run.blocks[-1] if run.blocks else before
    if left_out and not runs:
        said = "\n".join(f"  {each.order}: {each.why}" for each in left_out)
        raise InfeasibleError(f"no order of {book.source} can be made\n{said}")
    # Runs that ran before the one that goes on stand before it.
    runs = [*runs[len(runs) - earlier :], *runs[: len(runs) - earlier]]
    planned, loads = sheeted(runs, mill)
    plan = plan_of(own, mill, request, settings, runs=planned, loads=loads, left_out=left_out)
    goes_on = Replanned(
        now=now,
        keep_until=keep_until,
        paid_for_keeping=sum(found.paid for *_, found in chosen),
        gained_by_changing=sum(found.gained for *_, found in chosen),
        blocks_changed=sum(found.changed for *_, found in chosen),
        cut_short=any(found.cut_short for *_, found in chosen),
    )
    plan = replace(plan, replaces=issued.number, replanned=goes_on)
    return plan, tuple(said for each in chosen for said in _forbidden(*each, plan))


def _require_times(
    now: datetime, keep_until: datetime, finished: datetime, until: datetime | None
) -> None:
    """Raise a RequestError where sets are kept until the past, or ran after the shift's end."""
    if keep_until < now:
        raise RequestError(
            f"sets are kept until {keep_until:%Y-%m-%d %H:%M}, which is before now, "
            f"{now:%Y-%m-%d %H:%M}: name a later time"
        )
    if until is not None and finished > until:
        raise RequestError(
            f"the shift ends {until:%Y-%m-%d %H:%M}, and what was run is finished "
            f"{finished:%Y-%m-%d %H:%M}: name a later end, or none, or where the crew is ahead of "
            "the plan the hour as it is (now)"
        )


def _forbidden(case: Standing, frozen: FrozenSets, found: ChosenRest, plan: Plan) -> Iterator[str]:
    """Sets that could not stay and do not, and those that their orders ask for no more."""
    blocks = [block for run in plan.runs if run.name == case.run.name for block in run.blocks]
    held = unchanged(case.tail, blocks)
    for why, numbers in frozen.stay.refused.items():
        if gone := [number for number in numbers if number not in held]:
            yield named(case.run.name, why, gone)
    gone = given_up((*frozen.stay.blocks, *frozen.freed), found.rest.blocks)
    if gone := [number for number in gone if number in numbers_of(frozen.freed)]:
        yield named(case.run.name, "their orders ask for less", gone)


def _in_the_shift(wound: Callable[[Rest], RunPlan], rest: Rest, until: datetime | None) -> RunPlan:
    """The run with the sets that are finished when the shift ends; what they lack is carried over.

    Parameters
    ----------
    wound
        Makes the run whole with a rest.
    """
    run = wound(rest)
    rows = [row for block in run.blocks for row in block.sets if not row.done]
    finished = [row for row in rows if until is None or (row.finish and row.finish <= until)]
    if len(finished) == len(rows):
        short = any(line.state is OrderState.SHORT for line in run.orders)
        return wound(replace(rest, carried_over=True)) if until and short else run
    blocks, _ = first_sets(rest.blocks, len(finished))
    return wound(replace(rest, blocks=blocks, carried_over=True))


def _finished(standing: Sequence[Standing], settings: Settings) -> datetime:
    """When the last set that was run is finished; where none was, when the shift begins."""
    ends = [
        row.finish
        for case in standing
        for block in case.head
        for row in block.sets
        if row.finish is not None
    ]
    assert settings.start is not None
    return max(ends, default=settings.start)


def _in_turn(standing: Sequence[Standing], keep_until: datetime) -> tuple[list[Standing], int]:
    """Runs as they go on from now, and how many of them, the last, ran before the one that goes on.

    First comes the run that sets were run of last, then those that start soon as issued, then the
    others by their due times. What ran before is wound again, if at all, after them.
    """
    earlier, goes_on = _begun(standing)[:-1], _begun(standing)[-1:]
    soon = [case for case in standing if not case.head and _starts(case) < keep_until]
    others = [case for case in standing if not case.head and case not in soon]
    return [*goes_on, *soon, *sorted(others, key=lambda c: by_due(c.run)), *earlier], len(earlier)


def _weight(case: Standing, issued: Plan) -> float:
    """How long a run takes beside others: those of the plan alike, and more for each new line."""
    new = issued.new_lines(case.run.orders)
    return ENOUGH_S * new + _RUNS_S * bool(case.issued) / len(issued.runs)


def _begun(standing: Sequence[Standing]) -> list[Standing]:
    """Runs that sets were run of, that of which the last one was at the end."""
    begun = [case for case in standing if case.head]
    last = max(begun, key=_ended, default=None)
    return sorted(begun, key=lambda case: case is last)


def _as_ran(standing: Sequence[Standing], issued: Plan, settings: Settings) -> tuple[Standing, ...]:
    """The runs; where blocks were passed over, what was run has its knife moves counted anew."""
    begun = _begun(standing)
    ran = [(case.run.name, block.knives_mm) for case in begun for block in case.head]
    planned = [(run.name, block.knives_mm) for run in issued.runs for block in run.blocks]
    if ran == planned[: len(ran)]:
        return tuple(standing)
    anew: dict[str, Standing] = {}
    before: Block | None = None
    for case in begun:
        anew[case.run.name] = replace(case, head=run_after(case, settings, before))
        before = anew[case.run.name].head[-1]
    return tuple(anew.get(case.run.name, case) for case in standing)


def _ended(case: Standing) -> datetime:
    rows = [row.finish for block in case.head for row in block.sets if row.finish is not None]
    return max(rows, default=datetime.min)  # noqa: DTZ901  a mill's dates carry no zone


def _starts(case: Standing) -> datetime:
    rows = [row.start for block in case.tail for row in block.sets if row.start is not None]
    return min(rows, default=datetime.max)  # noqa: DTZ901  a mill's dates carry no zone


def jumbo_names(issued: Plan, standing: Sequence[Standing]) -> dict[str, str]:
    """What the nominal jumbos of each run are called, before their number: as they were issued."""
    names: dict[str, str] = {}
    for run in issued.runs:
        for jumbo in run.jumbos:
            if jumbo.nominal:
                names.setdefault(run.name, jumbo.name.rpartition(" ")[0])
    free = (name for name in map("R{}-J".format, count(1)) if name not in names.values())
    return {case.run.name: names.get(case.run.name) or next(free) for case in standing}
