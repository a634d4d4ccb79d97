"""From a book and a mill to a whole plan. Runs are independent, so any executor may plan them."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, wait
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from importlib.metadata import version
from pathlib import Path

from trimopt.book.model import Book, Instruction
from trimopt.budget import Budget
from trimopt.errors import InfeasibleError
from trimopt.interrupt import shared_flag, worker_begins
from trimopt.making import runs_of
from trimopt.mill.model import Mill
from trimopt.plan.model import SCHEMA, LeftOut, Plan, Request, RunPlan, Settings, Source
from trimopt.plan.planning.plan_run import PlannedRun, RunObserver, RunTask, plan_run
from trimopt.plan.planning.request_settings import settings_of, shift_begins
from trimopt.plan.planning.run_jumbos import stock_of, unused_jumbos
from trimopt.plan.planning.schedule.run_sequence import by_due, in_turn
from trimopt.plan.planning.schedule.run_winding import wind_run
from trimopt.plan.planning.sheeters.sheeter_loads import sheeted
from trimopt.plan.planning.sheeters.sheeter_spread import spread
from trimopt.plan.planning.shift.within_shift import runs_in_shift
from trimopt.text import file_name

__all__ = ["WORKER_BROKE", "Workers", "make_plan"]

_LOOK_S = 0.1
_MAX_WINDOWS_PROCESSES = 61  # so many it can wait for
WORKER_BROKE = (
    "its run is not planned: twice the process that planned it ended without an answer, as where "
    "memory runs out; close other programs and plan again with --processes 1"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Workers:
    """An executor that plans `count` runs at the same time.

    `spare` gives an executor for a run whose worker broke, so that this one may break it alone;
    without it such a run is planned here.
    """

    executor: Executor
    count: int
    spare: Callable[[], Executor] | None = None


def make_plan(
    book: Book,
    mill: Mill,
    request: Request | None = None,
    *,
    number: str = "",
    made_at: datetime | None = None,
    processes: int | None = 1,
    workers: Workers | None = None,
    observer: RunObserver | None = None,
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
        Told the progress of each run; with one process only.
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
    runs = runs_of(book, mill)
    if workers is None and (count := _process_count(processes, len(runs))) > 1:
        pool = _process_pool()
        with pool(count) as executor:
            workers = Workers(executor=executor, count=count, spare=partial(pool, 1))
            return make_plan(
                book,
                mill,
                request,
                number=number,
                made_at=made_at,
                workers=workers,
                budget=budget,
            )
    begin = settings.start or shift_begins(book)
    budget = budget or Budget.lasting(settings.time_limit_s)
    after = int(settings.until is not None)  # the shift's hours are a search of their own
    first = min(runs, key=by_due, default=None)
    asked = dict.fromkeys((*book.instructions, *request.instructions))
    lacking = {one: why for one in asked if (why := _lacking(one, book))}
    tasks = [
        RunTask(
            place=place,
            run=run,
            mill=mill if run is first else _with_knives_anywhere(mill),
            settings=settings,
            stock=stock_of(run, runs, mill, book.jumbos),
            only_listed_jumbos=book.only_listed_jumbos,
            jumbos_in_order=book.jumbos_in_order,
            start=begin,
            budget=budget,
            part=1 / (-(-(len(runs) - place + 1) // (workers.count if workers else 1)) + after),
            instructions=tuple(
                one
                for one in asked
                if one not in lacking and one.concerns(run.grade, run.grammage_gsm)
            ),
        )
        for place, run in enumerate(runs, start=1)
    ]
    answers = _answers(tasks, workers, observer)
    runs_in_turn = _in_turn(answers, begin, mill, settings, budget)
    planned, loads = sheeted(spread(runs_in_turn, mill), mill)
    left_out = [*book.left_out, *(LeftOut(order=one.name, why=lacking[one]) for one in lacking)]
    for task, answer in zip(tasks, answers, strict=True):
        left_out += answer.left_out
        if answer.wound is None:
            left_out += [
                LeftOut(order=one.name, why="no order of its run can be made")
                for one in task.instructions
                if one.grammage_gsm is not None
            ]
    if left_out and not planned:
        said = "\n".join(f"  {each.order}: {each.why}" for each in left_out)
        raise InfeasibleError(f"no order of {book.source} can be made\n{said}")
    return Plan(
        schema=SCHEMA,
        number=number,
        replaces="",
        made_at=made_at or datetime.now(tz=UTC).replace(microsecond=0),
        made_with=version("trimopt"),
        mill_name=mill.name,
        winder=mill.winder.name,
        book=Source(name=file_name(Path(book.source)), fingerprint=book.fingerprint),
        mill=Source(name=file_name(Path(mill.source)), fingerprint=mill.fingerprint),
        as_of=book.as_of,
        instructions_from=Source(
            name=file_name(Path(book.instructions_source)),
            fingerprint=book.instructions_fingerprint,
        )
        if book.instructions_source
        else None,
        request=request,
        settings=settings,
        runs=planned,
        left_out=tuple(left_out),
        unused_jumbos=unused_jumbos(book, runs, mill, planned),
        loads=loads,
        notes=_notes(book, mill),
    )


def _lacking(instruction: Instruction, book: Book) -> str:
    """What it names and the book has not; empty where there is nothing of the kind."""
    missing = sorted(instruction.named - {order.number for order in book.orders})
    if missing:
        return f'"{", ".join(missing)}" is no order of the book that can be planned'
    if not any(instruction.concerns(each.grade, each.grammage_gsm) for each in book.orders):
        return "no order that can be planned is of its paper"
    return ""


def _process_count(processes: int | None, runs: int) -> int:
    count = min(processes or os.cpu_count() or 1, runs)
    return min(count, _MAX_WINDOWS_PROCESSES) if os.name == "nt" else count


def _process_pool() -> Callable[[int], Executor]:
    # Slow to import, and where runs are planned here it is not needed.
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415

    return partial(ProcessPoolExecutor, initializer=worker_begins, initargs=(shared_flag(),))


def _answers(
    tasks: Sequence[RunTask], workers: Workers | None, observer: RunObserver | None
) -> list[PlannedRun]:
    """Every run planned; one whose worker broke is planned once more, by itself."""
    if workers is None:
        return [plan_run(task, observer) for task in tasks]
    asked: list[Future[PlannedRun]] = []
    with suppress(BrokenExecutor):
        asked += (workers.executor.submit(plan_run, task) for task in tasks)
    _wait(asked)
    answers = []
    for place, task in enumerate(tasks):
        try:
            answers.append(asked[place].result())
        except (BrokenExecutor, MemoryError, IndexError):
            answers.append(_again(task, workers.spare, observer))
    return answers


def _again(
    task: RunTask, spare: Callable[[], Executor] | None, observer: RunObserver | None
) -> PlannedRun:
    """The run planned by itself; where that breaks too, its orders are left out."""
    try:
        if spare is None:
            return plan_run(task, observer)
        with spare() as executor:
            asked = executor.submit(plan_run, task)
            _wait([asked])
            return asked.result()
    except (BrokenExecutor, MemoryError):
        left_out = (LeftOut(order=order.number, why=WORKER_BROKE) for order in task.run.orders)
        return PlannedRun(wound=None, left_out=tuple(left_out))


def _wait(asked: Sequence[Future[PlannedRun]]) -> None:
    # A look now and then: Windows tells of Ctrl-C between two waits only.
    while wait(asked, timeout=_LOOK_S).not_done:
        pass


def _in_turn(
    answers: Sequence[PlannedRun],
    begin: datetime,
    mill: Mill,
    settings: Settings,
    budget: Budget,
) -> tuple[RunPlan, ...]:
    """The runs one after another, no more of them than the shift has hours for."""
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
            f"A kilogram below the ordered quantity counts {float(values.under):g} kg of loss, one "
            f"above it {float(values.over):g} kg, both inside the tolerance."
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
    return tuple(notes)
