"""What Ctrl-C does, stage by stage, in the command and in its workers."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from multiprocessing import get_context
from types import FrameType, SimpleNamespace
from typing import Any

import pytest

from trimopt import interrupt
from trimopt.interrupt import Stage, asked_to_stop, begin, handle_ctrl_c


@pytest.fixture
def pressed(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], None]]:
    """Press Ctrl-C: call what `handle_ctrl_c` set as the handler."""
    handlers: dict[int, Any] = {}

    def signal_(number: int, handler: Callable[[int, FrameType | None], None]) -> None:
        handlers[number] = handler

    monkeypatch.setattr(signal, "signal", signal_)
    # Where the tests were begun in the background, the key may be ignored.
    monkeypatch.setattr(signal, "getsignal", lambda _: signal.SIG_DFL)
    monkeypatch.setattr(interrupt, "_stage", Stage.READING)
    handle_ctrl_c()

    def press() -> None:
        handlers[signal.SIGINT](signal.SIGINT, None)

    yield press
    interrupt.ask_to_stop(yes=False)


def test_while_reading_it_gives_the_command_up(pressed: Callable[[], None]) -> None:
    """Nothing is there yet that could be kept."""
    with pytest.raises(KeyboardInterrupt):
        pressed()


def test_a_key_that_a_library_lost_while_reading_counts_when_seeking_begins(
    pressed: Callable[[], None],
) -> None:
    """What is raised inside a destructor is dropped; the plan is given up all the same."""

    with suppress(KeyboardInterrupt):  # a stand-in for what Python does there
        pressed()
    with pytest.raises(KeyboardInterrupt):
        begin(Stage.SEEKING)


def test_while_a_plan_is_sought_it_asks_for_the_best_so_far(
    pressed: Callable[[], None], capfd: pytest.CaptureFixture[str]
) -> None:
    """The first time it asks, and says so; the second time it gives the command up."""
    begin(Stage.SEEKING)
    pressed()
    assert asked_to_stop()
    assert "best plan so far" in capfd.readouterr().err
    with pytest.raises(KeyboardInterrupt):
        pressed()


def test_while_the_plan_is_written_it_changes_nothing(
    pressed: Callable[[], None], capfd: pytest.CaptureFixture[str]
) -> None:
    """However often it is pressed."""
    begin(Stage.WRITING)
    pressed()
    pressed()
    assert "checked and written" in capfd.readouterr().err


def test_on_windows_ctrl_break_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows knows SIGBREAK too; a stand-in, for a machine that has no such signal."""
    known = {"SIGINT": 2, "SIGBREAK": 21, "SIGTERM": 15}
    taken = {}
    windows = SimpleNamespace(
        SIG_IGN=signal.SIG_IGN,
        Signals=type("Signals", (), {"__members__": known, "__class_getitem__": known.get}),
        getsignal=lambda _: signal.default_int_handler,
        signal=lambda number, handler: taken.update({number: handler}),
    )
    monkeypatch.setattr(interrupt, "signal", windows)
    monkeypatch.setattr(interrupt, "_flag", interrupt._flag)
    handle_ctrl_c()
    assert sorted(taken) == [2, 21]
    interrupt.worker_begins(SimpleNamespace(value=False))
    assert set(taken.values()) == {signal.SIG_IGN}


def _seen(_: int) -> tuple[bool, bool]:
    ignored = signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    return ignored, asked_to_stop()


@pytest.mark.parametrize("method", ["fork", "spawn", "forkserver"])
def test_workers_ignore_the_key_and_see_the_flag(method: str) -> None:
    """However processes are started: Linux, macOS and Windows differ in that."""
    if method != "spawn" and os.name == "nt":
        pytest.skip("Windows spawns only")
    own = interrupt._flag
    try:
        flag = interrupt.shared_flag()
        with ProcessPoolExecutor(
            1, get_context(method), initializer=interrupt.worker_begins, initargs=(flag,)
        ) as pool:
            assert pool.submit(_seen, 0).result() == (True, False)
            interrupt.ask_to_stop()
            assert pool.submit(_seen, 0).result() == (True, True)
    finally:
        interrupt._flag = own


def test_a_process_that_ignores_the_key_goes_on_ignoring_it() -> None:
    """As a command that was put into the background of a shell script."""
    code = (
        "import signal, sys\n"
        "from trimopt.interrupt import handle_ctrl_c\n"
        "handle_ctrl_c()\n"
        "sys.exit(signal.getsignal(signal.SIGINT) is not signal.SIG_IGN)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN),
        check=False,
    )
    assert done.returncode == 0
