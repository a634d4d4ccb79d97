"""From a book and a mill to a whole plan. Runs are independent, so any executor may plan them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from trimopt.book.held_enquiries import taken_up, with_held
from trimopt.book.model import Book, Instruction, LeftOut
from trimopt.budget import Budget
from trimopt.errors import InfeasibleError, types_checked
from trimopt.making import Run, runs_of
from trimopt.mill.model import Mill, Winder
from trimopt.plan.model import SCHEMA, Plan, Request, RunPlan, Settings, Source
from trimopt.plan.planning.plan_run import PlannedRun
from trimopt.plan.planning.request_settings import settings_of, shift_begins
from trimopt.plan.planning.run_jumbos import stock_of, unused_jumbos
from trimopt.plan.planning.run_patterns import RunTask
from trimopt.plan.planning.run_workers import parts_of_time, planned_runs
from trimopt.plan.planning.schedule.run_winding import wind_run
from trimopt.plan.planning.schedule.runs_in_turn import by_due, in_turn
from trimopt.plan.planning.sheeters.sheeter_loads import sheeted
from trimopt.plan.planning.sheeters.sheeter_spread import spread
from trimopt.plan.planning.shift.within_shift import runs_in_shift
from trimopt.plan.planning.ways_out import ways_out
from trimopt.plan.sheeter_load import Load
from trimopt.progress import AllRuns, Observer, Watch
from trimopt.text import file_name
from trimopt.workers import Workers, own_processes

_IN_TURN_AT = (0.85, 0.9)  # of all work for the plan
_OF_RUNS = 0.7  # of the time, where the shift's hours are a search of their own after them

ENOUGH_S = 0.6
"""For an order, as a rule: twice what it takes of a core that has no other work."""


@types_checked
def make_plan(
    book: Book,
    mill: Mill,
    request: Request | None = None,
    *,
    number: str = "",
    made_at: datetime | None = None,
    processes: int | None = 1,
    workers: Workers | None = None,
    observer: Observer | None = None,
    budget: Budget | None = None,
) -> Plan:
    """Plan every run of a book.

    Parameters
    ----------
    book, mill, request
        What to plan, for which mill, and what is asked of the plan: by default nothing else.
    number
        The plan's issue number; `trimopt.write_plan` gives it one, and sets what it replaces.
    made_at
        Default: now.
    processes
        How many runs are planned at the same time; None: one for each processor.
    workers
        In place of processes of our own: any executor.
    observer
        Told of all runs, phases and worker processes at least twice a second, in this thread.
    budget
        When to end with the best so far. Default: from now on the request's time limit.

    Returns
    -------
    Plan
        Not yet checked, and without a number: `trimopt.write_plan` sees to both.

    Raises
    ------
    OrderBookError
        The book has faults, and is not to be planned without the lines that have them, or holds no
        others.
    RequestError
        As `settings_of` says.
    InfeasibleError
        No order of the book can be made; the text says why of each.
    InfeasibleError, OutOfTimeError
        As `trimopt.plan.planning.plan_run.plan_run` says, and where the shift is too short for a
        single set.
    """
    request = request or Request()
    book.require_clean(leave_out_faulty=request.leave_out_faulty)
    settings = settings_of(book, mill, request)
    own, book = book, with_held(book, request.held)
    budget = budget or Budget.lasting(settings.time_limit_s)
    runs = runs_of(book, mill)
    asked = dict.fromkeys((*book.instructions, *request.instructions))
    lacking = {one: why for one in asked if (why := what_lacks(one, book))}
    instructions = [one for one in asked if one not in lacking]
    team = nullcontext(workers) if workers else own_processes(processes, len(runs))
    with team as of_team:
        count = of_team.count if of_team else 0
        tasks = _tasks(book, mill, settings, runs, instructions, budget=budget, workers=count)
        progress = observer and AllRuns(
            observer, {task.run.name: task.weight for task in tasks}, budget.ends_at
        )
        answers = planned_runs(tasks, of_team, progress)
    budget = budget.watched(Watch(progress.take) if progress else None)
    budget.enter("runs in turn", *_IN_TURN_AT)
    planned, loads = sheeted(spread(_in_turn(answers, book, mill, settings, budget), mill), mill)
    left_out = tuple(_left_out(book, lacking, tasks, answers))
    if left_out and not planned and not any(each.stock for each in left_out):
        written = mill.units.written(book.unit_system)
        said = "\n".join(f"  {each.order}: {written.translated(each.why)}" for each in left_out)
        raise InfeasibleError(f"no order of {book.source} can be made\n{said}")
    plan = plan_of(
        own,
        mill,
        request,
        settings,
        number=number,
        made_at=made_at,
        runs=planned,
        loads=loads,
        left_out=left_out,
    )
    if not request.ways_out:
        return plan
    return replace(plan, ways_out=ways_out(plan, tasks, own, processes=processes, budget=budget))


def plan_of(
    book: Book,
    mill: Mill,
    request: Request,
    settings: Settings,
    *,
    runs: tuple[RunPlan, ...],
    loads: tuple[Load, ...],
    left_out: Sequence[LeftOut],
    number: str = "",
    made_at: datetime | None = None,
) -> Plan:
    """Put the plan of a book together, from runs in the order in which they are made."""
    every = runs_of(with_held(book, request.held), mill)
    written = mill.units.written(book.unit_system)
    instructions_from = _source(book.instructions_source, book.instructions_fingerprint)
    return Plan(
        schema=SCHEMA,
        number=number,
        replaces="",
        made_at=made_at or datetime.now(tz=UTC).replace(microsecond=0),
        made_with=version("trimopt"),
        mill_name=mill.name,
        winder=mill.winder.name,
        book=_source(book.source, book.fingerprint),
        mill=_source(mill.source, mill.fingerprint),
        as_of=book.as_of,
        instructions_from=instructions_from if book.instructions_source else None,
        request=request,
        settings=settings,
        runs=runs,
        left_out=tuple(
            each if each in book.left_out else replace(each, why=written.translated(each.why))
            for each in left_out
        ),
        taken_up=taken_up(book, request.held),
        unused_jumbos=unused_jumbos(book, every, mill, runs),
        loads=loads,
        notes=_notes(book, mill),
        written=written,
    )


def _source(path: str, fingerprint: str) -> Source:
    return Source(name=file_name(Path(path)), fingerprint=fingerprint)


def _tasks(
    book: Book,
    mill: Mill,
    settings: Settings,
    runs: Sequence[Run],
    instructions: Sequence[Instruction],
    *,
    budget: Budget,
    workers: int,
) -> list[RunTask]:
    """What each run's planning needs, in the order of the book."""
    first = min(runs, key=by_due, default=None)
    of_runs = budget if settings.until is None else budget.share(_OF_RUNS)
    parts = parts_of_time([_weight(run) for run in runs], workers)
    return [
        RunTask(
            place=place,
            run=run,
            mill=mill if run is first else _with_knives_anywhere(mill),
            settings=settings,
            stock=stock_of(run, runs, mill, book.jumbos),
            only_listed_jumbos=book.only_listed_jumbos,
            jumbos_in_order=book.jumbos_in_order,
            start=settings.start or shift_begins(book),
            budget=of_runs,
            weight=_weight(run),
            parts=part,
            enough_s=ENOUGH_S * len(run.orders),
            instructions=tuple(
                one for one in instructions if one.concerns(run.grade, run.grammage_gsm)
            ),
        )
        for place, (run, part) in enumerate(zip(runs, parts, strict=True), start=1)
    ]


def _weight(run: Run) -> float:
    """How long a run takes beside others: its orders times the kinds of reel among them."""
    kinds = {(each.core_mm, each.min_diameter_mm, each.max_diameter_mm) for each in run.orders}
    return len(run.orders) * len(kinds)


def _left_out(
    book: Book,
    lacking: Mapping[Instruction, str],
    tasks: Sequence[RunTask],
    answers: Sequence[PlannedRun],
) -> Iterator[LeftOut]:
    """Lines of the book, orders and instructions that have no part in the plan, with why."""
    yield from book.left_out
    for instruction, why in lacking.items():
        yield LeftOut(order=instruction.name, why=why)
    for task, answer in zip(tasks, answers, strict=True):
        stock = {order.number: order.stock for order in task.run.orders}
        yield from (replace(each, stock=stock.get(each.order, ())) for each in answer.left_out)
        for one in task.instructions if answer.wound is None else ():
            if one.grammage_gsm is not None:
                yield LeftOut(order=one.name, why="no order of its run can be made")


def what_lacks(instruction: Instruction, book: Book) -> str:
    """What an instruction names and the book has not; empty where there is nothing of the kind."""
    missing = sorted(instruction.named - {order.number for order in book.orders})
    if missing:
        return f'"{", ".join(missing)}" is no order of the book that can be planned'
    if not any(instruction.concerns(each.grade, each.grammage_gsm) for each in book.orders):
        return "no order that can be planned is of its paper"
    return ""


def _in_turn(
    answers: Sequence[PlannedRun],
    book: Book,
    mill: Mill,
    settings: Settings,
    budget: Budget,
) -> tuple[RunPlan, ...]:
    """The runs one after another, no more of them than the shift has hours for."""
    begin = settings.start or shift_begins(book)
    runs = [each.wound for each in answers if each.wound is not None]
    first = min((each.plan for each in runs), key=by_due, default=None)
    for place, each in enumerate(runs):
        if each.chosen.mill.winder.knives_at_mm and each.plan is not first:
            # What made it the first is left out: it was laid out from knives that will have moved.
            mill_later = _with_knives_anywhere(each.chosen.mill)
            runs[place] = wind_run(replace(each.chosen, mill=mill_later))
    if settings.until is None:
        return in_turn([each.plan for each in runs], begin, mill.winder)
    return runs_in_shift(
        runs, mill.winder, begin, settings.until, effort=settings.effort, budget=budget
    )


def _with_knives_anywhere(mill: Mill) -> Mill:
    """The mill as all runs but the first find it: the knives stand where the run before left them.

    Where that is, is known only when all are laid out; moves are counted then (`in_turn`).
    """
    return replace(mill, winders=(replace(mill.winder, knives_at_mm=()),))


def _notes(book: Book, mill: Mill) -> tuple[str, ...]:
    values = mill.values
    notes = [str(warning) for warning in book.warnings]
    notes += [
        (
            "Diameters are judged to the nearest millimetre, set lengths are whole metres; reel "
            "mass is paper alone, without core and packing."
        ),
        (
            f"What is below the ordered quantity counts as {float(values.under):g} of its mass of "
            f"loss, what is above it as {float(values.over):g}, both inside the tolerance."
        ),
        "A reel order's target is its max. diameter, inside the mass limits.",
        (
            "Runs follow each other on the winder in the order of their earliest due time, with no "
            "stop between them."
        ),
    ]
    if mill.winder.typical:
        notes.append(
            "The mill file leaves out speeds or times of the winder; typical ones are taken for "
            f"{', '.join(mill.winder.typical)}."
        )
    notes.extend(_limits_left_out(mill.winder))
    return tuple(notes)


def _limits_left_out(winder: Winder) -> Iterator[str]:
    """What does not bound the plan, because the mill file says nothing of it."""
    limits = ("max_edge_trim_mm", "max_reel_mass_kg", "max_set_mass_kg")
    unstated = [name for name in limits if getattr(winder, name) is None]
    if unstated:
        yield f"Not stated in the mill file, and so without a limit: {', '.join(unstated)}."
