"""Random mills and books: planned by the command, checked, and checked again on what is printed.

    python -m tests.bench.random_books --cases 300
    python -m tests.bench.random_books --first 137 --cases 1 --keep DIR    # see one again
    python -m tests.bench.random_books --cases 300 --beside    # defects, stock and more with them
    python -m tests.bench.random_books --cases 100 --life      # and planned again as sets are run

A line a case: its size, the command's exit code, processor seconds, findings by kind. Books of
which nothing can be made for located reasons are counted apart. The workbook is read back and
verified as it was written. With `--beside` each in a time zone of its own; with `--life` its sets
are run, its book changes, and what is left is planned again, three times.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
import traceback
from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path

from tests.printed import findings, refusals
from tests.random_books import RandomCase, random_case
from tests.random_books.case import case_with_extras
from tests.random_books.life import lived
from tests.random_books.made import Made, command, make

_REFUSED = {3, 5}  # faults in the book; an order that cannot be met
_ZONES = ("UTC", "Europe/Berlin", "America/New_York", "Pacific/Auckland", "Asia/Kolkata")
_SHOWN = 3  # findings of a kind in the summary


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What came of a case: kinds and texts of findings, or why there is no plan."""

    case: RandomCase
    code: int
    seconds: float
    found: tuple[tuple[str, str], ...]

    @property
    def line(self) -> str:
        """The case on a line."""
        kinds = Counter(kind for kind, _ in self.found)
        said = ", ".join(f"{count} {kind}" for kind, count in kinds.items()) or "all holds"
        if self.code in _REFUSED and not kinds:
            said = "refused"
        size = f"{len(self.case.orders):4} orders"
        return f"{self.case.number:5} {size}  exit {self.code}  {self.seconds:6.1f} s  {said}"


def tried(
    number: int, folder: Path, time_limit_s: float, *, beside: bool = False, life: bool = False
) -> Tried:
    """Plan a case and check all that was printed, or how the plan lives."""
    case = case_with_extras(number) if beside else random_case(number)
    if beside:
        os.environ["TZ"] = _ZONES[number % len(_ZONES)]
        time.tzset()
    begun = time.process_time()
    made = make(case, folder, time_limit_s=time_limit_s)
    found: list[tuple[str, str]] = []
    if made.crash:
        found.append(("crash", made.crash.strip().splitlines()[-1]))
    elif made.code == 0:
        found += lived(case, made) if life else _checked(made)
    elif made.code in _REFUSED:
        found += [(one.kind, f"{one.where}: {one.text}") for one in refusals(made)]
    else:
        found.append((f"exit {made.code}", made.stderr.strip()[:400]))
    return Tried(
        case=case,
        code=made.code,
        seconds=time.process_time() - begun,
        found=tuple(found),
    )


def _checked(made: Made) -> list[tuple[str, str]]:
    try:
        found = [(one.kind, f"{one.where}: {one.text}") for one in findings(made)]
    except Exception:  # an output that cannot be read is a finding, and the next case follows
        found = [("cannot be read", traceback.format_exc().strip()[-300:])]
    return [*found, *_read_back(made)]


def _read_back(made: Made) -> list[tuple[str, str]]:
    code, stdout, stderr, crash = command(
        ["verify", str(made.file(".xlsx")), "--book", str(made.book), "--mill", str(made.mill)]
    )
    return [("workbook read back", (crash or stderr or stdout).strip()[-300:])] if code else []


def main(words: list[str] | None = None) -> int:
    """Print a line a case, and a summary by kind."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=4.0, help="time limit of each plan")
    parser.add_argument("--orders", type=int, default=120, help="leave out cases with more")
    parser.add_argument("--keep", type=Path, help="a folder to leave the files of each case in")
    parser.add_argument("--beside", action="store_true", help="with what is drawn beside a book")
    parser.add_argument("--life", action="store_true", help="and how they go on as sets are run")
    asked = parser.parse_args(words)
    kinds: dict[str, list[tuple[int, str]]] = defaultdict(list)
    codes: Counter[int] = Counter()
    for number in range(asked.first, asked.first + asked.cases):
        if len(random_case(number).orders) > asked.orders:
            continue
        with tempfile.TemporaryDirectory() as temporary:
            folder = Path(temporary)
            if asked.keep is not None:
                folder = asked.keep / str(number)
                folder.mkdir(parents=True, exist_ok=True)
            one = tried(number, folder, asked.seconds, beside=asked.beside, life=asked.life)
        codes[one.code] += 1
        for kind, text in one.found:
            kinds[kind].append((number, text))
        sys.stdout.write(f"{one.line}\n")
        sys.stdout.flush()
    sys.stdout.write(_summary(codes, kinds))
    return 1 if kinds else 0


def _summary(codes: Counter[int], kinds: dict[str, list[tuple[int, str]]]) -> str:
    refused = sum(codes[code] for code in _REFUSED)
    neither = sum(codes.values()) - codes[0] - refused
    head = f"{sum(codes.values())} cases: {codes[0]} planned, {refused} refused for located reasons"
    lines = [f"{head}, {neither} neither"]
    for kind, found in sorted(kinds.items(), key=lambda item: -len(item[1])):
        cases = sorted({number for number, _ in found})
        lines.append(f"{len(found)} × {kind}, in {len(cases)} cases: {_some(cases)}")
        lines += [f"    {number}: {text[:300]}" for number, text in found[:_SHOWN]]
    return "\n".join(lines) + "\n"


def _some(cases: list[int]) -> str:
    shown = ", ".join(map(str, cases[:20]))
    return shown if len(cases) <= 20 else f"{shown} and {len(cases) - 20} more"


if __name__ == "__main__":
    raise SystemExit(main())
