"""Runs planned at the same time: by processes of our own, or by any executor."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from concurrent.futures import BrokenExecutor, Future
from contextlib import suppress
from dataclasses import replace

from trimopt.book.model import LeftOut
from trimopt.plan.planning.plan_run import PlannedRun, RunTask, plan_run
from trimopt.progress import AllRuns, Observer, Watch
from trimopt.workers import Workers, command_observer, ended

WORKER_BROKE = (
    "its run is not planned: twice the process that planned it ended without an answer, as where "
    "memory runs out; close other programs and plan again with --processes 1"
)


def _planned_there(task: RunTask) -> PlannedRun:
    """In a worker: the run planned, and told of where the command listens."""
    return _planned(task, command_observer())


def _planned(task: RunTask, observer: Observer | None) -> PlannedRun:
    watch = None if observer is None else Watch(observer, task.run.name)
    return plan_run(replace(task, budget=task.budget.watched(watch)))


def longest_first(weights: Sequence[float]) -> list[int]:
    """Places of what is to be done, the heaviest first: so workers end at nearly the same time.

    Longest processing time first (R. L. Graham, Bounds on multiprocessing timing anomalies, 1969).
    """
    return sorted(range(len(weights)), key=lambda place: -weights[place])


def shares_of_time(weights: Sequence[float], workers: int) -> list[float]:
    """Of the time left when each begins, the share it may take: its weight in its worker's rest.

    Examples
    --------
    >>> shares_of_time([1, 3, 1, 1], 2)
    [0.3333333333333333, 1.0, 0.5, 1.0]
    """
    chains: list[list[int]] = [[] for _ in range(workers)]
    for place in longest_first(weights):
        min(chains, key=lambda chain: sum(weights[each] for each in chain)).append(place)
    shares = [1.0] * len(weights)
    for chain in chains:
        for at, place in enumerate(chain):
            shares[place] = weights[place] / sum(weights[each] for each in chain[at:])
    return shares


def planned_runs(
    tasks: Sequence[RunTask], workers: Workers | None, progress: AllRuns | None = None
) -> list[PlannedRun]:
    """Every run planned, the longest first; one whose worker broke is planned once more, alone."""
    answers: dict[int, PlannedRun] = {}
    asked: dict[int, Future[PlannedRun]] = {}
    order = longest_first([task.weight for task in tasks])
    take = None if progress is None else progress.take
    if workers is None:
        answers = {place: _planned(tasks[place], take) for place in order}
        return [answers[place] for place in range(len(tasks))]
    with suppress(BrokenExecutor):
        for place in order:
            asked[place] = workers.executor.submit(_planned_there, tasks[place])
    if workers.meanwhile is not None:
        with suppress(BrokenExecutor):
            workers.executor.submit(workers.meanwhile)
        workers.meanwhile()
    _wait(list(asked.values()), workers, progress)
    for place in order:
        try:
            answers[place] = asked[place].result()
        except (BrokenExecutor, MemoryError, KeyError):
            answers[place] = _again(tasks[place], workers, progress)
    return [answers[place] for place in range(len(tasks))]


def _again(task: RunTask, workers: Workers, progress: AllRuns | None) -> PlannedRun:
    """The run planned by itself; where that breaks too, its orders are left out."""
    try:
        if workers.spare is None:
            return _planned(task, None if progress is None else progress.take)
        with workers.spare() as executor:
            asked = executor.submit(_planned_there, task)
            _wait([asked], workers, progress)
            return asked.result()
    except (BrokenExecutor, MemoryError):
        left_out = (LeftOut(order=order.number, why=WORKER_BROKE) for order in task.run.ordered)
        return PlannedRun(wound=None, left_out=tuple(left_out))


def _wait(asked: Sequence[Future[PlannedRun]], workers: Workers, progress: AllRuns | None) -> None:
    def look() -> None:
        while workers.told is not None and not workers.told.empty():
            event = workers.told.get()
            if progress is not None:
                progress.take(event)
        if progress is not None:
            progress.look()

    deque(ended(asked, look), maxlen=0)
