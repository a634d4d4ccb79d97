"""The golden figures, compared to the last unit or taken anew: ``python -m tests.golden``.

They are exact on x86 processors with the versions that stand in the file: a move or a rename leaves
every one of them as it was. A change of a search may move them; then they are taken anew in a
commit of their own, which says by how much.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version
from itertools import repeat
from pathlib import Path
from time import process_time

from tests.golden.cases import Figures, golden_cases
from tests.slow_clock import slow_clock
from trimopt.budget import MAX_PLAN_S

FILE = Path(__file__).with_name("figures.json")


def _made_with() -> dict[str, str]:
    libraries = {name: version(name) for name in ("ortools", "numpy")}
    return {"python": platform.python_version(), "machine": platform.machine(), **libraries}


def _figures(name: str, clock: float | None) -> tuple[Figures, float]:
    begun = process_time()
    if clock is None:
        return dict(golden_cases())[name](), process_time() - begun
    with slow_clock(clock):
        return dict(golden_cases(MAX_PLAN_S))[name](), process_time() - begun


def _changes(before: object, after: object, path: str) -> Iterator[str]:
    if isinstance(before, dict) and isinstance(after, dict):
        for key in sorted({*before, *after}):
            yield from _changes(before.get(key), after.get(key), f"{path}, {key}")
    elif before != after:
        more = ""
        if isinstance(before, int | float) and isinstance(after, int | float):
            more = f" ({after - before:+,.6g})"
        yield f"{path}: {before} -> {after}{more}"


def main() -> int:
    """Compare or write; 1 where something differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.golden", description=__doc__)
    parser.add_argument("--write", action="store_true", help="take the figures anew")
    parser.add_argument("--only", default="", help="cases whose name has this in it")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument(
        "--clock",
        type=float,
        metavar="TIMES",
        help="books within the default limit, each processor second counted as so many",
    )
    asked = parser.parse_args()
    known = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {"cases": {}}
    names = [name for name, _ in golden_cases() if asked.only in name]
    if not asked.write and known.get("made_with") != _made_with():
        print(f"made with {known.get('made_with')}, this is {_made_with()}", file=sys.stderr)
    changed = 0
    with ProcessPoolExecutor(asked.processes) as executor:
        rows = executor.map(_figures, names, repeat(asked.clock))
        for name, (found, seconds) in zip(names, rows, strict=True):
            figures = json.loads(json.dumps(found))
            changes = list(_changes(known["cases"].get(name), figures, name))
            changed += bool(changes)
            print(f"{name}: {'changed' if changes else 'equal'}, {seconds:.1f} s", flush=True)
            for change in changes if name in known["cases"] else []:
                print(f"  {change}")
            known["cases"][name] = figures
    if asked.write:
        known["made_with"] = _made_with()
        cases = known["cases"]
        ordered = {name: cases[name] for name, _ in golden_cases() if name in cases}
        text = json.dumps({"made_with": known["made_with"], "cases": ordered}, indent=1)
        FILE.write_text(text + "\n", encoding="utf-8")
        return 0
    print(f"{changed} of {len(names)} cases changed")
    return int(changed > 0)


if __name__ == "__main__":
    sys.exit(main())
