"""Ctrl-C: while a plan is sought it asks for the best so far, before that it gives the command up.

The handler sets a flag that every budget looks at (`trimopt.budget`). It is one for the process
and, in shared memory, for its workers. These ignore the key: a terminal sends it to every process
of a command, on Windows a console does.
"""

from __future__ import annotations

import os
import signal
from contextlib import suppress
from enum import Enum, auto
from types import FrameType
from typing import Protocol

#: Ctrl-C, and on Windows Ctrl-Break.
_NAMES = ("SIGINT", "SIGBREAK")


class Stage(Enum):
    """What a command is at."""

    READING = auto()  # Ctrl-C gives it up
    SEEKING = auto()  # Ctrl-C asks for the best plan so far, a second one gives it up
    WRITING = auto()  # the plan is there, Ctrl-C changes nothing any more


class Flag(Protocol):
    """Whether somebody asked to stop; a ctypes value where it is shared."""

    value: bool


class _Own:
    value = False


_flag: Flag = _Own()
_stage = Stage.READING


def asked_to_stop() -> bool:
    return _flag.value


def ask_to_stop(*, yes: bool = True) -> None:
    """Ask what is at work to end with the best so far, or take that back."""
    _flag.value = yes


def begin(stage: Stage) -> None:
    """Tell the handler what the command is at.

    Raises KeyboardInterrupt where a key pressed while reading was lost: Python drops what is raised
    inside a destructor or a weak reference's callback, and imports are full of them.
    """
    global _stage  # noqa: PLW0603  one for the process, as its signals are
    _stage = stage
    if stage is Stage.SEEKING and asked_to_stop():
        raise KeyboardInterrupt


def handle_ctrl_c() -> None:
    """Take the key, for the rest of the process; where it is ignored it stays so."""
    for number in _signals():
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _pressed)


def ignore_ctrl_c() -> None:
    """Where the command has said how it ended, and in workers, which look at the flag."""
    for number in _signals():
        signal.signal(number, signal.SIG_IGN)


def shared_flag() -> Flag:
    """The flag, from now on in memory that workers share: an argument of `worker_begins`."""
    from ctypes import c_bool  # noqa: PLC0415  only where there are workers
    from multiprocessing.sharedctypes import RawValue  # noqa: PLC0415

    global _flag
    own, _flag = _flag, RawValue(c_bool, False)
    if own.value:  # looked at when the new one is in its place: no key falls between the two
        _flag.value = True
    return _flag


def worker_begins(flag: Flag) -> None:
    """In a worker, before its first task: only the flag stops it, and the end of its command."""
    from threading import Thread  # noqa: PLC0415  only in workers

    global _flag  # noqa: PLW0603
    _flag = flag
    Thread(target=_end_with_command, daemon=True).start()
    ignore_ctrl_c()


def _end_with_command() -> None:
    """A command that is killed takes its workers with it: nobody waits for them any more."""
    from multiprocessing import parent_process  # noqa: PLC0415

    command = parent_process()
    if command is not None:
        command.join()
        os._exit(1)


def _signals() -> list[signal.Signals]:
    return [signal.Signals[name] for name in _NAMES if name in signal.Signals.__members__]


def _pressed(_number: int, _frame: FrameType | None) -> None:
    if _stage is Stage.READING or (_stage is Stage.SEEKING and asked_to_stop()):
        ask_to_stop()
        raise KeyboardInterrupt
    if _stage is Stage.SEEKING:
        _say("stopping with the best plan so far; Ctrl-C again gives it up")
    else:
        _say("the plan is made, it is checked and written")
    ask_to_stop()


def _say(words: str) -> None:
    with suppress(OSError):
        os.write(2, f"trimopt: {words}\n".encode())  # a stream may be at work already
