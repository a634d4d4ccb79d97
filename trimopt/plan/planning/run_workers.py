"""Runs planned at the same time: by processes of our own, or by any executor."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Future
from contextlib import suppress
from dataclasses import replace
from typing import Any

from trimopt.book.model import LeftOut
from trimopt.errors import TrimoptError
from trimopt.plan.planning.plan_run import PlannedRun, RunChoice, choose_run, finish_run, plan_run
from trimopt.plan.planning.run_patterns import RunTask, joint_bound
from trimopt.progress import AllRuns, Observer, Watch
from trimopt.workers import Workers, command_observer, ended

WORKER_BROKE = (
    "its run is not planned: twice the process that planned it ended without an answer, as where "
    "memory runs out; close other programs and plan again with --processes 1"
)
_LAST_STEP = 0.3  # of a run's time, as a rule: all that comes after its patterns are chosen


def _planned_there(task: RunTask) -> PlannedRun:
    """In a worker: the run planned, and told of where the command listens."""
    return _planned(task, command_observer())


def _chosen_there(task: RunTask) -> RunChoice:
    """In a worker: the run's patterns chosen."""
    return choose_run(_watched(task, command_observer()))


def _finished_there(task: RunTask, choice: RunChoice) -> PlannedRun:
    """In any worker: the rest of the run, with its second part of the time."""
    task = _watched(task, command_observer())
    return finish_run(choice, task.budget.share(task.parts[1], enough_s=task.enough_s))


def _planned(task: RunTask, observer: Observer | None) -> PlannedRun:
    return plan_run(_watched(task, observer))


def _watched(task: RunTask, observer: Observer | None) -> RunTask:
    watch = None if observer is None else Watch(observer, task.run.name)
    return replace(task, budget=task.budget.watched(watch))


def longest_first(weights: Sequence[float]) -> list[int]:
    """Places of what is to be done, the heaviest first: so workers end at nearly the same time.

    Longest processing time first (R. L. Graham, Bounds on multiprocessing timing anomalies, 1969).
    """
    return sorted(range(len(weights)), key=lambda place: -weights[place])


def parts_of_time(weights: Sequence[float], workers: int) -> list[tuple[float, ...]]:
    """The parts of the time left that runs of these weights take when they begin (`RunTask`).

    More runs than workers are done in two steps, so that no worker is long without work at last;
    so are fewer, whose bounds are found by the others before the second step. No workers: runs are
    planned here, each in one step.
    """
    order = longest_first(weights)
    if len(weights) < workers:
        return [(1.0, 1.0)] * len(weights)
    steps = (1 - _LAST_STEP, _LAST_STEP) if 0 < workers < len(weights) else (1.0,)
    in_turn = [step * weights[place] for step in steps for place in order]
    shares = shares_of_time(in_turn, workers or 1)
    parts = {place: tuple(shares[at :: len(order)]) for at, place in enumerate(order)}
    return [parts[place] for place in range(len(weights))]


def shares_of_time(weights: Sequence[float], workers: int) -> list[float]:
    """Of the time left when each begins, in this order, the share it may take.

    That is its weight in the rest of its worker's.

    Examples
    --------
    >>> shares_of_time([3, 1, 1, 1], 2)
    [1.0, 0.3333333333333333, 0.5, 1.0]
    """
    chains: list[list[int]] = [[] for _ in range(workers)]
    for place in range(len(weights)):
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
    order = longest_first([task.weight for task in tasks])
    take = None if progress is None else progress.take
    if workers is None:
        answers = {place: _planned(tasks[place], take) for place in order}
        return [answers[place] for place in range(len(tasks))]
    asked, bounds = _begun(tasks, order, workers)
    places = {future: place for place, future in asked.items()}
    for done in _ended(places, workers, progress):
        place = places[done]
        if len(tasks[place].parts) > 1 and done.exception() is None:
            del asked[place]  # its patterns alone are no answer
            choice: RunChoice = done.result()
            if (bound := bounds.get(place)) is not None and not bound.cancel():
                deque(_ended([bound], workers, progress), maxlen=0)
                with suppress(BrokenExecutor, MemoryError, TrimoptError):
                    choice.task.proven.min_loss.update(bound.result().min_loss)
            with suppress(BrokenExecutor):
                asked[place] = workers.executor.submit(_finished_there, tasks[place], choice)
    deque(_ended(asked.values(), workers, progress), maxlen=0)
    for place in order:
        try:
            answers[place] = asked[place].result()
        except (BrokenExecutor, MemoryError, KeyError):
            answers[place] = _again(tasks[place], workers, progress)
    return [answers[place] for place in range(len(tasks))]


def _begun(
    tasks: Sequence[RunTask], order: Sequence[int], workers: Workers
) -> tuple[dict[int, Future[Any]], dict[int, Future[Any]]]:
    """The runs, asked for in that order, and where workers are idle, their joint bounds."""
    asked: dict[int, Future[Any]] = {}
    bounds: dict[int, Future[Any]] = {}
    with suppress(BrokenExecutor):
        for place in order:
            there = _planned_there if len(tasks[place].parts) == 1 else _chosen_there
            asked[place] = workers.executor.submit(there, tasks[place])
        if len(tasks) < workers.count:
            for place in order:
                bounds[place] = workers.executor.submit(joint_bound, tasks[place])
    if workers.meanwhile is not None:
        here, beside = workers.meanwhile
        here()
        with suppress(BrokenExecutor):  # not before: a run may have all but one of the processors
            workers.executor.submit(beside)
    return asked, bounds


def _again(task: RunTask, workers: Workers, progress: AllRuns | None) -> PlannedRun:
    """The run planned by itself; where that breaks too, its orders are left out."""
    try:
        if workers.spare is None:
            return _planned(task, None if progress is None else progress.take)
        with workers.spare() as executor:
            asked = executor.submit(_planned_there, task)
            deque(_ended([asked], workers, progress), maxlen=0)
            return asked.result()
    except (BrokenExecutor, MemoryError):
        left_out = (LeftOut(order=order.number, why=WORKER_BROKE) for order in task.run.ordered)
        return PlannedRun(wound=None, left_out=tuple(left_out))


def _ended(
    asked: Iterable[Future[Any]], workers: Workers, progress: AllRuns | None
) -> Iterator[Future[Any]]:
    def look() -> None:
        while workers.told is not None and not workers.told.empty():
            event = workers.told.get()
            if progress is not None:
                progress.take(event)
        if progress is not None:
            progress.look()

    return ended(asked, look)
