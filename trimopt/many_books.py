"""Many order books planned at once, by processes of our own or by any executor.

A book is the unit: a worker reads it, plans it, checks the plan and writes its files, and answers
with one row. What goes wrong with one book is that book's row, and no other's.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from time import monotonic

from trimopt.api import open_ledger
from trimopt.book import Book, read_book
from trimopt.errors import TrimoptError, require_type
from trimopt.interrupt import asked_to_stop
from trimopt.mill import Mill, read_mill
from trimopt.plan.model import Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.run_workers import longest_first
from trimopt.workers import ended, process_pool
from trimopt.written_plans import write_plan

_ROUNDS = 2  # of all books that are left; those left after them are planned one by one
_ROW_BYTES = 100  # of a file, about, for each order: how long books take beside each other
_STOPPED = "not planned: interrupted before its turn"
_BROKE = (
    "not planned: each process that planned it ended without an answer, as where memory runs out; "
    "plan it by itself"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanJob:
    """A book to plan, with all that a worker needs for it; it can be sent to another machine.

    `book` and `mill` are files that the worker reads, or what was read already. Its files go under
    `folder`, which all workers reach, and it is kept in `ledger`, a file or a URL, where one is
    named.
    """

    book: Book | Path
    mill: Mill | Path
    request: Request = field(default_factory=Request)
    folder: Path = Path("reports")
    as_of: date | None = None
    ledger: str = ""

    @property
    def name(self) -> str:
        """The book's file, as it was named."""
        return self.book.source if isinstance(self.book, Book) else str(self.book)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBook:
    """What became of a book. One that failed has no number, and says why in `error`.

    A plan that is written may have an `error` too: what the ledger said that could not keep it.
    """

    book: str
    number: str = ""
    error: str = ""
    files: tuple[str, ...] = ()
    orders: int = 0
    runs: int = 0
    used_kg: float = 0.0
    loss_kg: float = 0.0  # all that is not delivered within tolerance
    set_ups: int = 0
    left_out: int = 0  # orders
    clock_stopped: bool = False
    seconds: float = 0.0


def make_plans(
    jobs: Iterable[PlanJob],
    executor: Executor | None = None,
    *,
    processes: int | None = None,
    observer: Callable[[PlannedBook], None] | None = None,
) -> tuple[PlannedBook, ...]:
    """Plan, check and write many books; the plans are those of `make_plan`, whoever makes them.

    Parameters
    ----------
    jobs
        The books; those that look longest are begun first.
    executor
        Any of `concurrent.futures`, or of an engine that speaks its language. Default: processes of
        our own. What its workers break off without an answer is planned again, by such processes.
    processes
        How many of our own; None: one for each processor.
    observer
        Told of each book as it is done, in this thread.

    Returns
    -------
    tuple of PlannedBook
        A row for each job, in their order.
    """
    asked = tuple(jobs)
    for job in asked:
        require_type(job, "PlanJob", "make_plans: a job")
    rows: dict[int, PlannedBook] = {}
    left = longest_first([_size(job) for job in asked])

    def done(place: int, row: PlannedBook) -> None:
        rows[place] = row
        if observer is not None:
            observer(row)

    if executor is not None:
        left = _asked(asked, left, executor, done)
    count = processes or os.cpu_count() or 1
    for _ in range(_ROUNDS):
        if left:
            with process_pool(min(count, len(left))) as pool:
                left = _asked(asked, left, pool, done)
    for place in left:
        with process_pool(1) as pool:
            if _asked(asked, [place], pool, done):
                done(place, PlannedBook(book=asked[place].name, error=_BROKE))
    return tuple(rows[place] for place in range(len(asked)))


def _size(job: PlanJob) -> float:
    """How long a book takes beside others: its orders, or what stands for them in its file."""
    if isinstance(job.book, Book):
        return len(job.book.orders)
    path = Path(job.book)  # a script may name it as a text
    return path.stat().st_size / _ROW_BYTES if path.is_file() else 0.0


def _asked(
    jobs: Sequence[PlanJob],
    places: Sequence[int],
    executor: Executor,
    done: Callable[[int, PlannedBook], None],
) -> list[int]:
    """Have books planned and tell of each; what comes back are those whose worker broke."""
    asked: dict[Future[PlannedBook], int] = {}
    with suppress(BrokenExecutor):
        for place in places:
            asked[executor.submit(plan_job, jobs[place])] = place
    lost = list(places[len(asked) :])

    def look() -> None:
        if asked_to_stop():
            for each in asked:
                each.cancel()

    for each in ended(asked, look):
        place = asked[each]
        try:
            row = each.result()
        except CancelledError:
            row = PlannedBook(book=jobs[place].name, error=_STOPPED)
        except Exception:  # of the executor: each engine has its own for a worker that died
            lost.append(place)
            continue
        done(place, row)
    return lost


def plan_job(job: PlanJob) -> PlannedBook:
    """Plan one book, check the plan and write it; whatever goes wrong is said in the row.

    Raises
    ------
    MemoryError
        There was too little; with fewer books at the same time there may be enough.
    """
    if asked_to_stop():
        return PlannedBook(book=job.name, error=_STOPPED)
    begun = monotonic()
    try:
        row = _written(job)
    except MemoryError:
        raise
    except TrimoptError as error:
        row = PlannedBook(book=job.name, error=str(error))
    except Exception as error:  # a fault of ours costs this book, and no other
        row = PlannedBook(book=job.name, error=f"{type(error).__name__}: {error}")
    return replace(row, seconds=round(monotonic() - begun, 3))


def _written(job: PlanJob) -> PlannedBook:
    mill = job.mill if isinstance(job.mill, Mill) else read_mill(job.mill)
    book = job.book if isinstance(job.book, Book) else read_book(job.book, mill, as_of=job.as_of)
    plan = make_plan(book, mill, job.request)
    ledger = open_ledger(job.ledger) if job.ledger else None
    written = write_plan(plan, book, mill, job.folder, request=job.request, ledger=ledger)
    runs = written.plan.runs
    return PlannedBook(
        book=job.name,
        number=written.plan.number,
        error="" if written.ledger_error is None else str(written.ledger_error),
        files=tuple(str(path) for path in written.files),
        orders=sum(len(run.orders) for run in runs),
        runs=len(runs),
        used_kg=sum(run.balance.used_kg for run in runs),
        loss_kg=sum(run.balance.used_kg - run.balance.delivered_kg for run in runs),
        set_ups=sum(run.set_ups for run in runs),
        left_out=len(written.plan.left_out),
        clock_stopped=any(run.proof.clock_stopped for run in runs),
    )
