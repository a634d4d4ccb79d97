"""A worker process that breaks costs no other run its plan, and one whose command dies goes too."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import ROOT
from trimopt import Effort, Request, write_plan
from trimopt.book import Book, read_book
from trimopt.budget import Budget
from trimopt.check import verify_plan
from trimopt.cli import main
from trimopt.errors import FailedCheckError, Fault, OrderBookError
from trimopt.mill import Mill, read_mill
from trimopt.plan.codec import from_json
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.plan_run import PlannedRun, RunChoice, finish_run, plan_run
from trimopt.plan.planning.run_patterns import RunTask
from trimopt.plan.planning.run_workers import WORKER_BROKE
from trimopt.workers import Workers, begun, done_beside

_BOOK = (
    "Order,Customer,Grade,Grammage,Reel or sheet,Width,Min. diameter,Max. diameter,Core,"
    "Quantity,Unit\nG1,K,Folding boxboard,250,reel,1160,1140,1250,152,8,reels\n"
    "G2,K,Folding boxboard,300,reel,1060,1140,1250,152,6,reels\n"
    "G3,K,Folding boxboard,300,reel,900,1140,1250,152,6,reels\n"
)


def _killed(task: RunTask) -> PlannedRun:
    """Plan the lighter run alone; the heavier one kills its process, as a lack of memory does."""
    if task.run.grammage_gsm == 300:
        os.kill(os.getpid(), signal.SIGKILL)
    return plan_run(task)


def _killed_once(task: RunTask) -> PlannedRun:
    """The same, but the second time it is planned."""
    if task.run.grammage_gsm == 300 and not Path("killed").exists():
        Path("killed").touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return plan_run(task)


def _killed_finishing(choice: RunChoice, budget: Budget) -> PlannedRun:
    """The same, its patterns chosen."""
    if choice.task.run.grammage_gsm == 300 and not Path("killed").exists():
        Path("killed").touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return finish_run(choice, budget)


def _no_memory(task: RunTask) -> PlannedRun:
    """The heavier run finds no memory, which its process survives."""
    if task.run.grammage_gsm == 300:
        raise MemoryError
    return plan_run(task)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder with a mill file and a book of two runs, to work in."""
    mill = (ROOT / "orders" / "mill.toml").read_text(encoding="utf-8")
    (tmp_path / "mill.toml").write_text(mill, encoding="utf-8")
    (tmp_path / "b.csv").write_text(_BOOK, encoding="utf-8")
    monkeypatch.chdir(tmp_path)


def _read() -> tuple[Book, Mill]:
    mill = read_mill("mill.toml")
    return read_book("b.csv", mill), mill


@pytest.mark.parametrize(
    ("step", "broken", "count"),
    [("plan_run", _killed_once, 2), ("finish_run", _killed_finishing, 1)],
)
def test_a_run_whose_worker_broke_is_planned_again(
    monkeypatch: pytest.MonkeyPatch, step: str, broken: object, count: int
) -> None:
    """Once is chance: both runs are planned, and the plan holds."""
    monkeypatch.setattr(f"trimopt.plan.planning.run_workers.{step}", broken)
    book, mill = _read()
    with ProcessPoolExecutor(2) as executor:
        plan = make_plan(
            book,
            mill,
            workers=Workers(executor=executor, count=count, spare=partial(ProcessPoolExecutor, 1)),
        )
    assert Path("killed").exists()
    assert len(plan.runs) == 2
    assert verify_plan(plan, book, mill) == ()


class _BreaksInBetween(ThreadPoolExecutor):
    """Takes the first step of each run, and is broken when the second is asked."""

    asked = 0

    def submit(self, *args: Any, **named: Any) -> Future[Any]:
        self.asked += 1
        if self.asked > 2:
            raise BrokenExecutor
        return super().submit(*args, **named)


def test_runs_whose_workers_broke_between_the_steps_are_planned_again() -> None:
    """Patterns that were chosen before are not taken for the plan."""
    book, mill = _read()
    with _BreaksInBetween(1) as executor:
        plan = make_plan(book, mill, workers=Workers(executor=executor, count=1))
    assert executor.asked > 2
    assert len(plan.runs) == 2
    assert verify_plan(plan, book, mill) == ()


@pytest.mark.parametrize("breaking", [_killed, _no_memory])
def test_a_run_that_breaks_every_worker_is_left_out(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], breaking: object
) -> None:
    """The other run is planned and written; the command names the orders, and ends with 1."""
    monkeypatch.setattr("trimopt.plan.planning.run_workers.plan_run", breaking)
    words = ["trimopt", "plan", "b.csv", "--quiet", "--processes", "2"]
    monkeypatch.setattr(sys, "argv", words)
    with pytest.raises(SystemExit) as stop:
        main()
    assert stop.value.code == 1
    said = capsys.readouterr().err
    assert said.startswith("trimopt: orders G2, G3: its run is not planned")
    assert "plan again with --processes 1; the others are planned" in said
    plan = from_json(Path("reports/b-1.json").read_text(encoding="utf-8"))
    assert [line.number for run in plan.runs for line in run.orders] == ["G1"]
    assert [(each.order, each.why) for each in plan.left_out] == [
        ("G2", WORKER_BROKE),
        ("G3", WORKER_BROKE),
    ]
    assert verify_plan(plan, *_read()) == ()


def _killed_elsewhere(home: int) -> str:
    if os.getpid() != home:
        os.kill(os.getpid(), signal.SIGKILL)
    return "here"


def test_what_a_worker_breaks_off_is_done_here() -> None:
    """Check and files too: once begun by a worker that is killed, once asked of a broken pool."""
    looks = 0

    def look() -> None:
        nonlocal looks
        looks += 1

    with ProcessPoolExecutor(1) as executor:
        workers = Workers(executor=executor, count=1)
        for _ in range(2):
            assert done_beside(workers, partial(_killed_elsewhere, os.getpid()), look)() == "here"
        assert looks
    with ProcessPoolExecutor(1) as executor:
        assert done_beside(Workers(executor=executor, count=1), os.getpid, look)() != os.getpid()


def test_what_is_begun_beside_answers_or_is_done_here() -> None:
    """Errors of ours come with all that they say; a fault is seen where it can be followed."""
    with begun(os.getpid) as answer:
        assert answer() != os.getpid()
    fault = Fault(where="Orders", row=6, wrong="is no width", right="write 820")
    with begun(partial(_raised, OrderBookError("b.xlsx", (fault,)))) as answer:
        with pytest.raises(OrderBookError) as said:
            answer()
        assert said.value.faults == (fault,)
    with begun(partial(_killed_elsewhere, os.getpid())) as answer:
        assert answer() == "here"
    with begun(partial(_raised, ZeroDivisionError())) as answer, pytest.raises(ZeroDivisionError):
        answer()
    asked_at = time.monotonic()
    with pytest.raises(KeyboardInterrupt), begun(partial(time.sleep, 60)):
        raise KeyboardInterrupt
    assert time.monotonic() - asked_at < 30


def _raised(error: Exception) -> None:
    raise error


def test_files_are_the_same_whoever_makes_them(tmp_path: Path) -> None:
    """And where the check finds something there are none, though the workbook was begun."""
    book, mill = _read()
    plan = make_plan(book, mill, Request(effort=Effort.QUICK))
    made: list[dict[str, bytes]] = []
    with ThreadPoolExecutor(2) as executor:
        for workers in (None, Workers(executor=executor, count=2)):
            folder = tmp_path / str(len(made))
            written = write_plan(plan, book, mill, folder, workers=workers)
            made.append({path.name: path.read_bytes() for path in written.files})
            assert len(made[-1]) == 4
            wrong = replace(plan, runs=(replace(plan.runs[0], set_ups=9), *plan.runs[1:]))
            with pytest.raises(FailedCheckError, match="nothing was written"):
                write_plan(wrong, book, mill, folder, workers=workers)
            assert {path.name for path in folder.iterdir()} == set(made[-1])
    assert made[0] == made[1]


_COMMAND = """
import sys, time
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from trimopt.interrupt import shared_flag, worker_begins
if __name__ == "__main__":
    pool = ProcessPoolExecutor(3, initializer=worker_begins, initargs=(shared_flag(),))
    for _ in range(3):
        pool.submit(time.sleep, 60)
    time.sleep(0.5)
    print(*pool._processes, flush=True)
    time.sleep(60)
"""


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
        return "State:\tZ" not in Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    except (FileNotFoundError, ProcessLookupError):
        return False


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="looks at processes in /proc")
def test_workers_end_with_their_command() -> None:
    """A command that is killed without warning leaves no worker behind that holds memory."""
    command = subprocess.Popen(
        [sys.executable, "-c", _COMMAND],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert command.stdout is not None
    workers = [int(word) for word in command.stdout.readline().split()]
    assert len(workers) == 3
    assert all(map(_runs, workers))
    command.kill()
    command.wait()
    command.stdout.close()
    until = time.monotonic() + 20
    while any(map(_runs, workers)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(_runs, workers))
