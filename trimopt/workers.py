"""Processes of our own that work beside this one, or any executor in their place."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from trimopt.errors import TrimoptError
from trimopt.interrupt import Flag, ignore_ctrl_c, shared_flag, worker_begins
from trimopt.progress import Observer, RunProgress

if TYPE_CHECKING:
    from multiprocessing import SimpleQueue
    from multiprocessing.connection import Connection

_Answer = TypeVar("_Answer")

_LOOK_S = 0.1
_MAX_WINDOWS_PROCESSES = 61  # so many it can wait for


@dataclass(frozen=True, slots=True, kw_only=True)
class Workers:
    """An executor that does `count` things at the same time.

    `spare` gives an executor for a run whose worker broke, so that this one may break it alone;
    without it such a run is planned here. `told` is what workers tell of their progress through;
    without it only the runs that are planned are known. `meanwhile` is done while runs are planned:
    the first of the two here, and then the other by the first worker that is idle.
    """

    executor: Executor
    count: int
    spare: Callable[[], Executor] | None = None
    told: SimpleQueue[RunProgress] | None = None
    meanwhile: tuple[Callable[[], object], Callable[[], object]] | None = None


@contextmanager
def own_processes(
    processes: int | None,
    most: int,
    *,
    meanwhile: tuple[Callable[[], object], Callable[[], object]] | None = None,
) -> Iterator[Workers | None]:
    """So many processes, by default one for each processor; None where one is enough."""
    count = min(processes or os.cpu_count() or 1, most)
    count = min(count, _MAX_WINDOWS_PROCESSES) if os.name == "nt" else count
    if count <= 1:
        yield None
        return
    from multiprocessing import SimpleQueue  # noqa: PLC0415  not needed where all is done here

    told: SimpleQueue[RunProgress] = SimpleQueue()
    with process_pool(count, told) as executor:
        spare = partial(process_pool, 1, told)
        yield Workers(executor=executor, count=count, spare=spare, told=told, meanwhile=meanwhile)


def process_pool(count: int, told: SimpleQueue[RunProgress] | None = None) -> Executor:
    """So many processes of our own, which Ctrl-C asks to stop as it asks this one."""
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415  slow to import

    return ProcessPoolExecutor(count, initializer=_worker_begins, initargs=(shared_flag(), told))


_told: SimpleQueue[RunProgress] | None = None  # in a worker


def _worker_begins(flag: Flag, told: SimpleQueue[RunProgress] | None) -> None:
    global _told  # noqa: PLW0603  one for the process, as its task is
    _told = told
    worker_begins(flag)


def command_observer() -> Observer | None:
    """In a worker: tells the command that waits for it; None where that does not listen."""
    return None if _told is None else _told.put


def done_beside(
    workers: Workers | None, work: Callable[[], _Answer], look: Callable[[], object]
) -> Callable[[], _Answer]:
    """Have something done by a worker, from now on; what is given waits for it, with looks.

    Where there is no worker, or it ends without an answer, as where memory runs out, it is done
    here when it is waited for.
    """
    if workers is None:
        return work
    try:
        asked = workers.executor.submit(work)
    except BrokenExecutor:
        return work

    def waited() -> _Answer:
        deque(ended([asked], look), maxlen=0)
        try:
            return asked.result()
        except (BrokenExecutor, MemoryError):
            return work()

    return waited


@contextmanager
def begun(work: Callable[[], _Answer]) -> Iterator[Callable[[], _Answer]]:
    """Have something done by a process of its own, from now on; what is given waits for it.

    Its errors are those of `trimopt.errors`. Where the process ends without an answer, or would
    have to import all that there is once more, it is done here when it is waited for.
    """
    from multiprocessing import Pipe, Process, get_start_method  # noqa: PLC0415

    if get_start_method() != "fork":
        yield work
        return
    told, tell = Pipe(duplex=False)
    process = Process(target=_tell_answer, args=(work, tell), daemon=True)
    process.start()
    tell.close()

    def waited() -> _Answer:
        try:
            answer, error = told.recv()
        except EOFError:
            return work()
        if error is not None:
            raise error
        done: _Answer = answer
        return done

    with told:
        try:
            yield waited
        finally:
            process.kill()  # whoever gives up waits no longer
            process.join()


def _tell_answer(work: Callable[[], object], tell: Connection) -> None:
    ignore_ctrl_c()
    try:
        tell.send((work(), None))
    except TrimoptError as error:
        tell.send((None, error))
    except Exception:  # a fault of ours: it is done again where somebody sees it
        return


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
