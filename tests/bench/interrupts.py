"""Ctrl-C at random times: is the best plan so far kept, or is it said that there is none?

    python -m tests.bench.interrupts BOOK [BOOK ...] [--times 40] [--seed 0] [--signal INT]

A book is the path of an order book with its mill file beside it, or the number of a random case
(`tests.random_books`). Each is planned once to its end; then as often as asked a new process is
sent the signal at a moment drawn from so many seconds, counted from when the program answers the
key: turn by turn to the process alone, and to it and its workers, as a terminal does. With
`--signal KILL` all of them are killed.

Counted is how each ended. `kept`: exit code 0, all four files, and nothing that the check finds.
`nothing`: the exit code of the signal, no file, and for Ctrl-C one line that says so. Anything else
is named. Seconds are those from the signal to the end, of the clock and of all processors.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.random_books import random_case
from trimopt.book import read_book
from trimopt.check import verify_plan
from trimopt.mill import read_mill
from trimopt.plan.codec import from_json

_TICKS = os.sysconf("SC_CLK_TCK")
_ENDINGS = (".xlsx", ".html", "-labels.csv", ".json")

#: A sign of life: Python runs this before a program. A byte comes through the pipe when the command
#: line is imported, which is what `trimopt.__main__` does as soon as it has taken the key.
_SIGN = """
import os, sys

_pipe = [int(os.environ.pop("SIGN_OF_LIFE"))]

def _heard(event, arguments):
    if _pipe and event == "import" and arguments[0] == "trimopt.cli":
        pipe = _pipe.pop()
        os.write(pipe, b".")
        os.close(pipe)

sys.addaudithook(_heard)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a command ended that was sent a signal."""

    after_s: float  # when the signal was sent, from when the program answers it
    how: str  # kept, nothing, done before, or what was wrong
    seconds: float
    cpu_s: float


def plan_command(book: Path, out: Path, flags: Sequence[str] = ()) -> list[str]:
    """The command that plans a book, and leaves its lines with faults out."""
    words = ["plan", str(book), "--out", str(out), "--leave-out-faulty", "--quiet"]
    return [sys.executable, "-m", "trimopt", *words, *flags]


def interrupted(
    command: Sequence[str],
    book: Path,
    out: Path,
    *,
    after_s: float,
    sent: signal.Signals = signal.SIGINT,
    to_all: bool = False,
) -> Ended:
    """Start the command, send it a signal so many seconds after it has begun, and see how it ends.

    Parameters
    ----------
    book, out
        What it plans, and where its files go.
    to_all
        Its workers are sent the signal too, as a terminal does.
    """
    # A shell that starts this in the background has the signal ignored, and so in what it starts.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    process = _begun(command)
    try:
        _, stderr = process.communicate(timeout=after_s)
        return Ended(after_s=after_s, how="done before", seconds=0.0, cpu_s=0.0)
    except subprocess.TimeoutExpired:
        before = cpu_s(process.pid)
    begun = time.monotonic()
    if to_all:
        os.killpg(process.pid, sent)
    else:
        process.send_signal(sent)
    used = cpu_s(process.pid)
    while process.poll() is None and time.monotonic() < begun + 120:
        used = max(used, cpu_s(process.pid))
        time.sleep(0.02)
    seconds = time.monotonic() - begun
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
        how = "still running after two minutes"
        process.communicate()
    else:
        _, stderr = process.communicate()
        how = _how(process.returncode, stderr, book, out, sent)
    return Ended(after_s=after_s, how=how, seconds=seconds, cpu_s=used - before)


def _begun(command: Sequence[str]) -> subprocess.Popen[str]:
    """The command's process, when it has begun to answer the key, however loaded the machine is."""
    heard, told = os.pipe()
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "sitecustomize.py").write_text(_SIGN, encoding="utf-8")
        paths = (folder, os.environ.get("PYTHONPATH", ""))
        process = subprocess.Popen(
            command,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
            pass_fds=(told,),
            env={
                **os.environ,
                "PYTHONPATH": os.pathsep.join(filter(None, paths)),
                "SIGN_OF_LIFE": str(told),
            },
        )
        os.close(told)
        os.read(heard, 1)  # nothing, where it ended before
        os.close(heard)
    return process


def _how(code: int, stderr: str, book: Path, out: Path, sent: signal.Signals) -> str:
    files = sorted(path.name for path in out.iterdir()) if out.is_dir() else []
    told = "" if sent == signal.SIGKILL else stderr
    if "Traceback" in told or "Error" in told:
        return f"exit code {code}, on stderr: {told.strip().splitlines()[-1]}"
    if code == 0:
        if len(files) != len(_ENDINGS):
            return f"exit code 0 with {files}"
        mill = read_mill(book.parent / "mill.toml")
        (json,) = out.glob("*.json")
        plan = from_json(json.read_text(encoding="utf-8"))
        found = verify_plan(plan, read_book(book, mill), mill)
        return f"a plan that does not hold: {found[0]}" if found else "kept"
    if sent == signal.SIGKILL:
        whole = [name for name in files if not name.startswith(".")]
        ok = code == -sent and len(whole) in {0, len(_ENDINGS)}
        return "nothing" if ok else f"exit code {code} with {files}"
    if code == 130 and not files and re.search(r"^trimopt: interrupted", told, re.MULTILINE):
        return "nothing"
    return f"exit code {code} with {files}, on stderr: {told.strip()!r}"


def cpu_s(group: int) -> float:
    """Processor seconds of a group of processes so far, with those that are waited for."""
    total = 0
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[2]) == group:
                total += sum(int(field) for field in fields[11:15])
    return total / _TICKS


def _bench(book: Path, flags: Sequence[str], options: argparse.Namespace) -> list[Ended]:
    draw = random.Random(options.seed)
    with tempfile.TemporaryDirectory() as folder:
        begun = time.monotonic()
        command = plan_command(book, Path(folder) / "whole", flags)
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        whole_s = time.monotonic() - begun
        ended = []
        for turn in range(options.times):
            out = Path(folder) / str(turn)
            one = interrupted(
                plan_command(book, out, flags),
                book,
                out,
                after_s=draw.uniform(0, whole_s),
                sent=signal.Signals[f"SIG{options.signal}"],
                to_all=turn % 2 == 1,
            )
            print(f"  {one.after_s:6.2f} s: {one.how}, {one.seconds:.2f} s, cpu {one.cpu_s:.2f} s")
            ended.append(one)
    return ended


def main(arguments: Sequence[str] | None = None) -> None:
    """Interrupt, and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("books", nargs="+", metavar="BOOK")
    parser.add_argument("--times", type=int, default=40)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--signal", choices=("INT", "KILL"), default="INT")
    options = parser.parse_args(arguments)
    for name in options.books:
        with tempfile.TemporaryDirectory() as folder:
            book: Path = Path(name)
            flags: Sequence[str] = ()
            if name.isdigit():
                case = random_case(int(name))
                _, book = case.write(Path(folder))
                flags = case.flags
            print(f"{name}:")
            ended = _bench(book, flags, options)
        counts = Counter(one.how for one in ended)
        clock, cpu = max(one.seconds for one in ended), max(one.cpu_s for one in ended)
        print(f"  {dict(counts)}; from signal to end at most {clock:.1f} s, cpu {cpu:.1f} s")


if __name__ == "__main__":
    main()
