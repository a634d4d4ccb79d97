"""Knife moves of arranged plans beside those of the naive and the nearest-neighbour order.

    python -m tests.bench.knives DIR --time-limit S [--json]

DIR holds instances (first line the number of widths, second the usable width, then width and number
of reels a line) or published cases (JSON with a plan); `mill-like` in its place makes runs from
seeds. The plan of an instance is one of few patterns, quickly built; the same plan goes to all.

Naive: patterns as solved, most sets first, reels widest first from the front edge. Nearest
neighbour: the same layouts, going on with the block that needs fewest moves. Moves are counted over
the changes between blocks, the first set-up apart: knives keep their order, idle ones are parked or
lifted. Counts of the baselines, and the recount of ours, are done here, in plain code.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from statistics import median

from tests.bench.greedy_plans import CutPlan, few_patterns, mill_like
from tests.winding.knife_counts import set_beams
from tests.winding.winders import winder
from trimopt.budget import Budget
from trimopt.mill.model import Winder
from trimopt.winding import Arrangement, Lot, Strip, arrange
from trimopt.winding.model import Layout

_EDGE_MM = Fraction(15)
_TRIES = 400


@dataclass(frozen=True, slots=True)
class Row:
    """One plan's figures."""

    family: str
    file: str
    sets: int
    patterns: int
    naive: int
    nearest: int
    reached: int
    bound: int
    seconds: float


def _instances(folder: str, only: str) -> Iterator[tuple[str, str, int, tuple[CutPlan, ...]]]:
    if folder == "mill-like":
        for widths in (15, 25, 40):
            for seed in range(10):
                run = mill_like(widths, seed)
                if only in run.name:
                    plans = few_patterns(run.width, run.demand, tries=_TRIES, seed=seed)
                    yield f"mill_like_{widths}", run.name, run.width, plans
        return
    for path in sorted(Path(folder).iterdir()):
        if only not in path.name:
            continue
        if path.suffix == ".json":
            case = json.loads(path.read_text())
            plan = case.get("published_result", {}).get("plan")
            if plan and case.get("confirmed"):
                rows = tuple((sets, tuple(sorted(widths)[::-1])) for sets, widths in plan)
                yield "published", path.name, case["deckle"], (tuple(sorted(rows)[::-1]),)
        elif path.suffix == ".txt":
            figures = [int(x) for x in path.read_text().split()]
            demand = tuple(zip(figures[2::2], figures[3::2], strict=True))
            plans = few_patterns(figures[1], demand, tries=_TRIES)
            yield path.name.split("_")[0], path.name, figures[1], plans


def _widest_first(widths: Sequence[int]) -> tuple[Fraction, ...]:
    at = _EDGE_MM
    knives = [at]
    for width in sorted(widths, reverse=True):
        at += width
        knives.append(at)
    return tuple(knives)


def _kept(rows: Sequence[tuple[Fraction, ...]], machine: Winder) -> int:
    layouts = [
        Layout(strips=(), edge_front_mm=row[0], edge_back_mm=row[0], knives_mm=row) for row in rows
    ]
    beams = set_beams(layouts, machine)
    return sum(sum(a != b for a, b in zip(x, y, strict=True)) for x, y in pairwise(beams))


def _nearest(rows: Sequence[tuple[Fraction, ...]]) -> list[tuple[Fraction, ...]]:
    left = list(rows)
    order = [left.pop(0)]
    while left:
        held = set(order[-1])
        chosen = min(range(len(left)), key=lambda i: len(set(left[i]) - held))
        order.append(left.pop(chosen))
    return order


def _recounted(found: Arrangement, lots: Sequence[Lot], width: int) -> int:
    """Moves of an arrangement, counted here; raises where it is not one of these lots."""
    asked = sorted(sorted(s.width_mm for s in lot.strips) for lot in lots)
    given = sorted(sorted(s.width_mm for s in b.layout.strips) for b in found.blocks)
    if asked != given:
        raise AssertionError("patterns changed")
    for block in found.blocks:
        knives = block.layout.knives_mm
        widths = [s.width_mm for s in block.layout.strips]
        if [b - a for a, b in pairwise(knives)] != widths or knives[0] < _EDGE_MM:
            raise AssertionError("knives and strips differ")
        if knives[-1] > width + _EDGE_MM:
            raise AssertionError("wider than the web")
        if tuple(p for p in block.beam_mm if p is not None and p in set(knives)) != knives:
            raise AssertionError("knives are not on the beam")
    return sum(
        a != b
        for before, after in pairwise(found.blocks)
        for a, b in zip(before.beam_mm, after.beam_mm, strict=True)
    )


def _lots(plan: CutPlan) -> tuple[Lot, ...]:
    return tuple(
        Lot(
            number=n,
            strips=tuple(Strip(key=str(w), width_mm=Fraction(w)) for w in widths),
            sets=sets,
            length_m=6000,
            core_mm=76.0,
        )
        for n, (sets, widths) in enumerate(plan, start=1)
    )


def measure(
    family: str, file: str, width: int, plans: tuple[CutPlan, ...], options: argparse.Namespace
) -> Row:
    """Arrange the first of equal plans, and count the baselines."""
    plan = plans[0]
    web = Fraction(width) + 2 * _EDGE_MM
    machine = winder(
        max_web_mm=web,
        min_edge_trim_mm=_EDGE_MM,
        knives=max(len(widths) for _, widths in plan) + 1 + options.spare,
        min_knife_spacing_mm=Fraction(1),
        idle_knives=options.idle,
        max_reels=99,
    )
    lots = _lots(plan)
    naive = [_widest_first(widths) for _, widths in plan]
    nearest = _nearest(naive)
    begun = time.process_time()
    found = arrange(
        lots,
        machine,
        web,
        budget=Budget.lasting(options.time_limit, options.work),
        seed=options.seed,
    )
    return Row(
        family=family,
        file=file,
        sets=sum(sets for sets, _ in plan),
        patterns=len(plan),
        naive=_kept(naive, machine),
        nearest=_kept(nearest, machine),
        reached=_recounted(found, lots, width),
        bound=found.moves_bound,
        seconds=time.process_time() - begun,
    )


def _table(rows: Sequence[Row]) -> Iterator[str]:
    yield f"{'':24}{'sets':>5}{'patt':>5}{'naive':>7}{'near':>6}{'ours':>6}{'bound':>6}{'s':>7}"
    for family in dict.fromkeys(row.family for row in rows):
        group = [row for row in rows if row.family == family]
        for row in group:
            yield (
                f"{row.file[:24]:24}{row.sets:5}{row.patterns:5}{row.naive:7}{row.nearest:6}"
                f"{row.reached:6}{row.bound:6}{row.seconds:7.1f}"
            )
        yield _summary(family, group)
    yield _summary("all", rows)


def _summary(name: str, rows: Sequence[Row]) -> str:
    naive, nearest = sum(row.naive for row in rows), sum(row.nearest for row in rows)
    ours, bound = sum(row.reached for row in rows), sum(row.bound for row in rows)
    over = 100 * (ours - bound) / bound if bound else float("inf")
    worst = max((row.reached - row.bound) / max(1, row.bound) for row in rows)
    return (
        f"= {name}, {len(rows)}: {ours} of naive {naive} "
        f"({100 * (naive - ours) / max(1, naive):.0f} % fewer), nearest {nearest}, bound {bound} "
        f"({over:.1f} % over, worst {100 * worst:.0f} %), "
        f"median {median(row.seconds for row in rows):.1f} s"
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.knives", description=__doc__)
    parser.add_argument("folder", metavar="DIR", help="instances, cases, or mill-like")
    parser.add_argument("--time-limit", type=float, metavar="S", help="seconds an arrangement")
    parser.add_argument("--work", type=int, metavar="N", help="work an arrangement, repeatable")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--idle", choices=("parked", "lifted"), default="parked")
    parser.add_argument("--spare", type=int, default=0, help="knives beyond the widest set's")
    parser.add_argument("--only", default="", metavar="TEXT", help="files whose name has it")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(arguments)
    rows = []
    for family, file, width, plans in _instances(options.folder, options.only):
        rows.append(measure(family, file, width, plans, options))
        print(f"{file}: {rows[-1].reached}", file=sys.stderr)
    if not options.json:
        print("\n".join(_table(rows)))
        return
    listed = [
        {
            "class": row.family,
            "file": row.file,
            "sets": row.sets,
            "patterns": row.patterns,
            "patterns_bound": None,
            "proven": row.reached == row.bound,
            "moves": row.reached,
            "moves_bound": row.bound,
            "moves_naive": row.naive,
            "moves_nearest": row.nearest,
            "seconds": round(row.seconds, 3),
        }
        for row in rows
    ]
    print(json.dumps({"instances": listed}, indent=1))


if __name__ == "__main__":
    main()
