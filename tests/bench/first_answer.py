"""Wall and processor seconds of a replan: to its first rest, and to the plan if Ctrl-C asks then.

    python -m tests.bench.first_answer PLAN [--times 3] -- FLAGS

PLAN and FLAGS are those of `trimopt replan`. The command runs at a terminal of its own, as a
person starts it. Its first rest is there when the line of progress shows what it loses; then the
key is pressed, and the answer, checked, is waited for. `--wait` lets it end by itself instead.
Seconds count from the start of the program.
"""

from __future__ import annotations

import argparse
import os
import pty
import re
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import suppress

from tests.bench.interrupts import cpu_s

_LOSS = re.compile(rb"loss [\d,]+ kg")


def main(arguments: Sequence[str] | None = None) -> None:
    """Replan as often as asked, and print a line for each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--wait", action="store_true")
    parser.add_argument("words", nargs="+", metavar="PLAN -- FLAGS")
    options = parser.parse_args(arguments)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for _ in range(options.times):
        _timed([sys.executable, "-m", "trimopt", "replan", *options.words], wait=options.wait)


def _timed(command: Sequence[str], *, wait: bool) -> None:
    screen, terminal = pty.openpty()
    begun = time.monotonic()
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=terminal, start_new_session=True
    )
    os.close(terminal)
    shown = b""
    while not _LOSS.search(shown):
        shown += os.read(screen, 4096)
    first = time.monotonic() - begun, cpu_s(process.pid)
    if not wait:
        process.send_signal(signal.SIGINT)
    with suppress(OSError):  # it has ended
        while os.read(screen, 4096):
            pass
    assert process.stdout is not None
    said = process.stdout.read().decode()
    _, status, used = os.wait4(process.pid, 0)
    print(
        f"first rest {first[0]:.2f} s (processor {first[1]:.2f}), "
        f"checked plan {time.monotonic() - begun:.2f} s (processor "
        f"{used.ru_utime + used.ru_stime:.2f}), exit code {os.waitstatus_to_exitcode(status)}, "
        f"{_lost(said)} kg lost",
        flush=True,
    )


def _lost(said: str) -> str:
    found = re.search(r"paper lost, kg +\S+ +(\S+)", said)
    return found[1] if found else "?"


if __name__ == "__main__":
    main()
