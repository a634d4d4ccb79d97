"""The sales check on fifty widths of every run: ``python -m tests.bench.fit_widths [WORDS]``.

Runs: the example week's, and the published mill orders where TRIMOPT_DATA names the folder of open
data. WORDS: ``curve``, ``place``, ``time``; none means all three. It prints a line a run.

- ``curve``: for fifty widths, each in a set length drawn with a fixed seed, the run's linear
  program is solved again with a thousandth of a reel more. How often the curve says more than the
  program's change (never, it is a bound), how often as much, how often less with prices shown not
  to be unique, how often less without (never), and the greatest difference in shares of a set.
- ``place``: twelve reels of each width are put into the run's plan, its sets held. How many are
  whole; extra paper, the median; sets that stay and set-ups that come to the plan: the means; CPU
  seconds an enquiry.
- ``time``: the command on the example shift with its committed plan, interpreter and imports
  included, five times: CPU seconds; and the curve alone.
"""

from __future__ import annotations

import math
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from statistics import mean, median

from tests.fit.asking import basis, order
from tests.fit.programs import NAMES, ROOT, base_of, run_of, widths_mm
from trimopt.budget import Budget
from trimopt.fit import curve_of, place_enquiry

_WIDTHS = 50
_REELS = 12
_PLANNED_S = 20.0  # the longest that a run's plan is sought


def _curve(name: str) -> str:
    base = base_of(name)
    _, mill = run_of(name)
    exceeds = equal = shown = other = none = 0
    greatest = 0.0
    places = zip(base.classes(_WIDTHS), widths_mm(mill, _WIDTHS), strict=True)
    for at, width_mm in places:
        asked = base.asked(at, width_mm)
        cost = base.cost(at)
        if not math.isfinite(asked.value):
            none += 1
        elif asked.exceeds(cost):
            exceeds += 1
        elif asked.equals(cost):
            equal += 1
        elif asked.prices_differ:
            shown += 1
        else:
            other += 1
        if math.isfinite(asked.value):
            greatest = max(greatest, (asked.change - asked.value) / cost)
    return (
        f"more {exceeds}, as much {equal}, less and not unique {shown}, less {other}, fits no set "
        f"{none}; at most {greatest:.5f} of a set less"
    )


def _place(name: str) -> str:
    _, mill = run_of(name)
    asked = basis(name, _PLANNED_S)
    found, none, seconds = [], 0, 0.0
    for width_mm in widths_mm(mill, _WIDTHS):
        begun = time.process_time()
        placement = place_enquiry(asked, order(name, width_mm, _REELS), budget=Budget.lasting(60))
        seconds += time.process_time() - begun
        if placement is None:
            none += 1
        else:
            found.append(placement)
    whole = sum(placement.reels >= _REELS for placement in found)
    if not found:
        return f"no plan with any of {none}"
    planned = sum(cut.sets for cut in asked.cuts)
    return (
        f"{len(found)} planned, {none} not; whole {whole}; use {median(r.use for r in found):.3f}; "
        f"sets stay {100 * mean(r.sets_kept / max(1, planned) for r in found):.0f} %, set-ups "
        f"{mean(r.set_ups_more for r in found):+.1f}; "
        f"{seconds / len(widths_mm(mill, _WIDTHS)):.2f} s"
    )


def _time() -> None:
    words = ["fit", "orders/shift.xlsx", "--width", "735", "--reels", "12", "--diameter", "1250"]
    for _ in range(5):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, "-m", "trimopt", *words], cwd=ROOT, check=True, capture_output=True
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        print(f"answers 1 to 4 on the example shift: {spent:.2f} s", flush=True)
    name = NAMES[0]
    _, mill = run_of(name)
    asked = basis(name, _PLANNED_S)
    begun = time.process_time()
    curve = curve_of(asked, order(name, 735), step_mm=Fraction(mill.width_step_mm))
    spent = time.process_time() - begun
    print(
        f"curve of {len(curve.points)} widths, {len(asked.making.classes)} lengths: {spent:.3f} s"
    )


def main(words: list[str]) -> None:
    """Print what the module text says."""
    kinds: dict[str, Callable[[str], str]] = {"curve": _curve, "place": _place}
    for kind, measure in kinds.items():
        for name in NAMES if not words or kind in words else ():
            print(f"{kind}  {name}: {measure(name)}", flush=True)
    if not words or "time" in words:
        _time()


if __name__ == "__main__":
    main(sys.argv[1:])
