"""Runs planned at the same time: by processes of our own, or by any executor."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from trimopt.book.model import LeftOut
from trimopt.interrupt import Flag, shared_flag, worker_begins
from trimopt.plan.planning.plan_run import PlannedRun, RunTask, plan_run
from trimopt.progress import AllRuns, Observer, RunProgress, Watch

if TYPE_CHECKING:
    from multiprocessing import SimpleQueue

_Answer = TypeVar("_Answer")

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
    without it such a run is planned here. `told` is what workers tell of their progress through;
    without it only the runs that are planned are known.
    """

    executor: Executor
    count: int
    spare: Callable[[], Executor] | None = None
    told: SimpleQueue[RunProgress] | None = None


@contextmanager
def own_processes(processes: int | None, runs: int) -> Iterator[Workers | None]:
    """So many processes, by default one for each processor; None where one is enough."""
    count = min(processes or os.cpu_count() or 1, runs)
    count = min(count, _MAX_WINDOWS_PROCESSES) if os.name == "nt" else count
    if count <= 1:
        yield None
        return
    from multiprocessing import SimpleQueue  # noqa: PLC0415  not needed where runs are planned here

    told: SimpleQueue[RunProgress] = SimpleQueue()
    with process_pool(count, told) as executor:
        yield Workers(
            executor=executor, count=count, spare=partial(process_pool, 1, told), told=told
        )


def process_pool(count: int, told: SimpleQueue[RunProgress] | None = None) -> Executor:
    """So many processes of our own, which Ctrl-C asks to stop as it asks this one."""
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415  slow to import

    return ProcessPoolExecutor(count, initializer=_worker_begins, initargs=(shared_flag(), told))


_told: SimpleQueue[RunProgress] | None = None  # in a worker


def _worker_begins(flag: Flag, told: SimpleQueue[RunProgress] | None) -> None:
    global _told  # noqa: PLW0603  one for the process, as its task is
    _told = told
    worker_begins(flag)


def _planned_there(task: RunTask) -> PlannedRun:
    """In a worker: the run planned, and told of where the command listens."""
    return plan_run(task) if _told is None else _planned(task, _told.put)


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


def ended(
    asked: Iterable[Future[_Answer]], look: Callable[[], object]
) -> Iterator[Future[_Answer]]:
    """What was asked for, as it ends, with a look now and then.

    Windows tells of Ctrl-C between two waits only.
    """
    pending = set(asked)
    while pending:
        done, pending = wait(pending, timeout=_LOOK_S, return_when=FIRST_COMPLETED)
        look()
        yield from done
