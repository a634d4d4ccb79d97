"""Many books: equal plans whoever makes them, and one that fails costs no other."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from tests.cli.conftest import ROOT
from trimopt import Plan, PlanJob, PlannedBook, Request, make_plans, read_book, read_mill, read_plan
from trimopt.check import verify_plan
from trimopt.cli import trimopt
from trimopt.many_books import plan_job

_HEAD = (
    "Order,Customer,Grade,Grammage,Reel or sheet,Width,Min. diameter,Max. diameter,Core,"
    "Quantity,Unit"
)
_MADE_AT = datetime(2026, 3, 1, tzinfo=UTC)
_ALONE = [(250, 1160, 8)]
_MILL = ROOT / "orders" / "mill.toml"


def _books(folder: Path, count: int) -> list[Path]:
    """So many small books of one to three orders, a mill file beside them."""
    (folder / "mill.toml").write_bytes(_MILL.read_bytes())
    paths = []
    for n in range(count):
        lines = [(230, 1160, 8), (230, 640, 6), (230, 900, 6)][: 1 + n % 3] if n % 3 else _ALONE
        rows = [
            f"G{k},K,Folding boxboard,{gsm},reel,{width},1140,1250,152,{reels},reels"
            for k, (gsm, width, reels) in enumerate(lines)
        ]
        paths.append(folder / f"book{n}.csv")
        paths[-1].write_text("\n".join([_HEAD, *rows]), encoding="utf-8")
    return paths


def _jobs(books: list[Path], folder: Path) -> list[PlanJob]:
    request = Request(time_limit_s=60.0)
    return [PlanJob(book=each, mill=_MILL, request=request, folder=folder) for each in books]


def _plans(rows: tuple[PlannedBook, ...]) -> list[Plan]:
    """The plans as they were written, without the clock's figures and their numbers.

    A worker that dies between writing and answering leaves its plan; the next has the next number.
    """
    plans = []
    for row in rows:
        plan = read_plan(row.files[-1])
        runs = (replace(run, proof=replace(run.proof, seconds=0.0)) for run in plan.runs)
        plans.append(replace(plan, runs=tuple(runs), made_at=_MADE_AT, number="", replaces=""))
    return plans


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Three books."""
    return _books(tmp_path_factory.mktemp("books"), 3)


@pytest.fixture(scope="module")
def alone(books: list[Path], tmp_path_factory: pytest.TempPathFactory) -> tuple[PlannedBook, ...]:
    """The three planned by one process, one after another."""
    return make_plans(_jobs(books, tmp_path_factory.mktemp("alone")), processes=1)


def test_equal_plans_whatever_the_number_of_workers(
    books: list[Path], alone: tuple[PlannedBook, ...], tmp_path: Path
) -> None:
    """One process or three; a row for each job, in their order, told when it is done."""
    told: list[PlannedBook] = []
    three = make_plans(_jobs(books, tmp_path / "3"), processes=3, observer=told.append)
    assert _plans(alone) == _plans(three)
    assert [Path(row.book) for row in alone] == [Path(row.book) for row in three] == books
    assert sorted(row.book for row in told) == sorted(row.book for row in three)
    assert [row.number for row in alone] == [f"book{n}-1" for n in range(3)]
    mill = read_mill(_MILL)
    for row, path in zip(alone, books, strict=True):
        plan = read_plan(row.files[-1])
        assert verify_plan(plan, read_book(path, mill), mill) == ()
        used = sum(run.balance.used_kg for run in plan.runs)
        assert row.used_kg == used
        assert not row.error


def test_the_longest_is_begun_first(tmp_path: Path) -> None:
    """By its orders where the book was read, else by its file; a file that is not there is none."""
    books = _books(tmp_path, 3)
    mill = read_mill(_MILL)
    jobs = [*_jobs(books, tmp_path / "r"), PlanJob(book=read_book(books[2], mill), mill=mill)]
    jobs.append(PlanJob(book=tmp_path / "none.csv", mill=mill))
    begun: list[str] = []

    class _Listed(ThreadPoolExecutor):
        def submit(self, _: Any, /, *args: Any, **more: Any) -> Any:
            begun.append(Path(args[0].name).name)
            return super().submit(partial(PlannedBook, book=args[0].name, **more))

    with _Listed(1) as executor:
        make_plans(jobs, executor)
    assert begun == ["book2.csv", "book2.csv", "book1.csv", "book0.csv", "none.csv"]


def test_a_book_that_fails_is_a_row(tmp_path: Path) -> None:
    """One that is not there, one with a fault, one without a mill: the others are planned."""
    good, bad, *_ = _books(tmp_path, 3)
    bad.write_text(bad.read_text(encoding="utf-8").replace("1160", "wide"), encoding="utf-8")
    jobs = _jobs([tmp_path / "none.csv", bad, good], tmp_path / "r")
    jobs[0] = replace(jobs[0], book=str(jobs[0].book))  # type: ignore[arg-type]
    jobs.append(PlanJob(book=good, mill=good, folder=tmp_path / "r"))
    none, faulty, planned, no_mill = make_plans(jobs, processes=2)
    assert "none.csv" in none.error
    assert "wide" in faulty.error
    assert no_mill.error
    assert planned.number == "book0-1"
    assert not any(row.files or row.number for row in (none, faulty, no_mill))


_plan_job = plan_job


def _kills_once(job: PlanJob) -> PlannedBook:
    """The second book kills its process the first time, as a lack of memory does."""
    mark = job.folder.with_name("killed")
    if job.name.endswith("book1.csv") and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return _plan_job(job)


def _kills_always(job: PlanJob) -> PlannedBook:
    if job.name.endswith("book1.csv"):
        os.kill(os.getpid(), signal.SIGKILL)
    return _plan_job(job)


@contextmanager
def _of(given: bool) -> Iterator[Executor | None]:
    if not given:
        yield None
        return
    with ProcessPoolExecutor(2) as pool:
        yield pool


@pytest.mark.parametrize("given", [False, True])
def test_books_of_a_broken_worker_are_planned_again(
    given: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of them, with the process pool of our own and with one that was given."""
    monkeypatch.setattr("trimopt.many_books.plan_job", _kills_once)
    jobs = _jobs(_books(tmp_path, 3), tmp_path / "r")
    with _of(given) as executor:
        rows = make_plans(jobs, executor, processes=2)
    assert (tmp_path / "killed").exists()
    assert [row.error for row in rows] == [""] * 3


def test_a_book_that_breaks_every_worker_is_a_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It breaks two rounds in company and one alone; the others are planned."""
    monkeypatch.setattr("trimopt.many_books.plan_job", _kills_always)
    rows = make_plans(_jobs(_books(tmp_path, 2), tmp_path / "r"), processes=2)
    assert [bool(row.number) for row in rows] == [True, False]
    assert "plan it by itself" in rows[1].error


def test_the_command_prints_a_row_a_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files, rows, with --quiet too, and the exit code; --json has all of them."""
    books = [str(path) for path in _books(tmp_path, 2)]
    out = str(tmp_path / "r")
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(
        trimopt, ["plan", *books, "--out", out, "--processes", "2", "--effort", "quick", "--quiet"]
    )
    assert done.exit_code == 0, done.output
    assert "2 books planned" in done.output
    for n in range(2):
        assert f"book{n}.csv: book{n}-1  {n + 1} order" in done.output
        assert (tmp_path / "r" / f"book{n}-1.xlsx").is_file()
    Path(books[0]).write_text(_HEAD, encoding="utf-8")
    again = CliRunner().invoke(
        trimopt, ["plan", *books, "--out", out, "--json", "--effort", "quick"]
    )
    assert again.exit_code == 1
    assert "1 of 2 books not planned" in str(again.exception)
    assert [row["number"] for row in json.loads(again.stdout)] == ["", "book1-2"]
    refused = CliRunner().invoke(trimopt, ["plan", *books, "--crew", "crew.xlsx"])
    assert refused.exit_code == 2
    assert "--crew is of one book" in refused.output


def test_a_cluster_that_loses_a_worker_plans_every_book(
    books: list[Path], alone: tuple[PlannedBook, ...], tmp_path: Path
) -> None:
    """A real one on this machine: a scheduler and two workers, one killed in the middle."""
    distributed = pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        pids = list(client.run(os.getpid).values())
        killed: list[int] = []

        def kill_one(_: PlannedBook) -> None:
            if not killed:
                killed.append(pids[0])
                os.kill(pids[0], signal.SIGKILL)

        rows = make_plans(_jobs(books, tmp_path / "c"), client.get_executor(), observer=kill_one)
    assert killed
    assert [row.error for row in rows] == [""] * 3
    assert _plans(rows) == _plans(alone)
