"""Least trim, measured: ``python -m tests.bench.widths DIR --time-limit S [--json]``.

DIR is a folder of instances (first line the number of widths, second the usable width, then a
width and its pieces a line), or a folder of such folders; optima come from an ``index.csv`` in it
or above it. The word ``mill`` in place of DIR runs the seeded mill-like set of
`tests.bench.mill_like`, ``wide`` seeded runs of many widths in very fine steps; with --beside each
is also solved in the ways of `tests.bench.widths_baselines`, and a second table says how often the
engine was ahead. Seconds are those of this process on its processor, one instance at a time.

With --results FILE each run is kept as a line of it and not solved again, and with --piece S a call
ends after S seconds: call it again until it says that nothing is left.
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from math import inf
from pathlib import Path
from statistics import mean, median

from tests.bench.engine_params import add_set_option, params_of
from tests.bench.mill_like import mill_like_set
from tests.bench.widths_baselines import Other, arc_flow, assignment, first_fit, one_pass
from tests.cutting.one_class import one_class
from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, Status, WindingClass, solve
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.params import PARAMS, EngineParams
from trimopt.cutting.search.search_state import paper_cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """An instance, the class that it belongs to, and its published optimum where there is one."""

    family: str
    file: str
    instance: Instance
    optimum: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What one solve gave. `sets` and `bound` are in sets where the instance asks for fewest."""

    family: str
    file: str
    optimum: int | None
    sets: int
    bound: int | None
    proven: bool
    gap_of_paper: float
    price_gap_of_paper: float
    seconds: float
    loss: int
    paper: int
    others: tuple[Other, ...] = ()

    @property
    def found(self) -> bool:
        """Whether the plan is known to be the best there is."""
        return self.proven or (self.optimum is not None and self.sets == self.optimum)


def read_instance(path: Path) -> Instance:
    """Read one file: number of widths, usable width, then width and pieces a line."""
    figures = [int(word) for word in path.read_text(encoding="utf-8").split()]
    count, width = figures[:2]
    return fewest_sets(width, [(figures[2 + 2 * i], figures[3 + 2 * i]) for i in range(count)])


def fewest_sets(width: int, lines: Sequence[tuple[int, int]]) -> Instance:
    """Give the textbook form: a usable width, and of each width how many pieces are needed."""
    return one_class(
        (w for w, _ in lines),
        (Demand(low=pieces, high=None) for _, pieces in lines),
        WindingClass(cost=1, width=width, max_pieces=width),
    )


def _optima(folder: Path) -> dict[tuple[str, str], int]:
    for place in (folder, folder.parent):
        index = place / "index.csv"
        if index.exists():
            with index.open(encoding="utf-8", newline="") as lines:
                return {
                    (row["class"], row["file"]): int(row["optimum"])
                    for row in csv.DictReader(lines)
                    if row["optimum"]
                }
    return {}


def cases_of(folder: str, per_kind: int, first: int = 0) -> Iterator[Case]:
    """Give the cases of a folder, of the folders in it, or of the mill-like set."""
    if folder == "mill":
        for made in mill_like_set(per_kind, first):
            yield Case(family=made.kind, file=made.name, instance=made.instance, optimum=None)
        return
    if folder == "wide":
        yield from wide_cases(per_kind)
        return
    root = Path(folder)
    optima = _optima(root)
    for path in sorted(root.rglob("*.txt")):
        family = path.parent.name
        yield Case(
            family=family,
            file=path.name,
            instance=read_instance(path),
            optimum=optima.get((family, path.name)),
        )


def wide_cases(per_kind: int) -> Iterator[Case]:
    """Seeded textbook runs of 200 to 1,000 widths, in sets of 10,000 and of 1,500,000 units."""
    for widths, width, narrowest, widest, most in (
        (600, 10_000, 0.01, 0.5, 20),
        (200, 1_500_000, 0.02, 0.7, 100),
        (600, 1_500_000, 0.01, 0.5, 20),
        (600, 1_500_000, 0.05, 0.7, 20),
        (1_000, 1_500_000, 0.005, 0.5, 1),
    ):
        for number in range(per_kind):
            rng = random.Random(f"{widths} {width} {narrowest} {number}")
            drawn = {
                rng.randint(int(narrowest * width), int(widest * width)): 0 for _ in range(widths)
            }
            instance = fewest_sets(width, [(w, rng.randint(1, most)) for w in sorted(drawn)])
            family = f"{widths} of {narrowest}-{widest}"
            yield Case(family=family, file=f"{width}_{number}", instance=instance, optimum=None)


def run_case(
    case: Case,
    seconds: float,
    seed: int = 0,
    *,
    beside: bool = False,
    params: EngineParams = PARAMS,
) -> Run:
    """Solve one case and take its time; the other ways too where they are asked for."""
    began = time.process_time()
    outcome = solve(case.instance, budget=Budget.lasting(seconds), seed=seed, params=params)
    took = time.process_time() - began
    paper = max(1, paper_cost(case.instance, outcome.cuts))
    loss = outcome.loss if outcome.loss is not None else paper
    fewest = all(not option.worth for option in case.instance.options)
    sets = sum(cut.sets for cut in outcome.cuts)
    others: tuple[Other, ...] = ()
    if beside:
        others = (
            assignment(case.instance, sets, seconds),
            arc_flow(case.instance, seconds),
            first_fit(case.instance),
            one_pass(case.instance),
        )
    return Run(
        family=case.family,
        file=case.file,
        optimum=case.optimum,
        sets=sets,
        bound=-(-outcome.bound // SCALE) if fewest else None,
        proven=outcome.status is Status.OPTIMAL,
        gap_of_paper=(loss - outcome.bound) / paper,
        price_gap_of_paper=(loss - outcome.price_bound) / paper,
        seconds=took,
        loss=loss,
        paper=paper,
        others=others,
    )


def beside_table(runs: list[Run]) -> str:
    """Give the table of the other ways: what each found beside the engine's plan and bound."""
    head = (
        f"{'way':<14}{'n':>5}{'plans':>7}{'proven':>8}{'better':>8}{'equal':>7}{'worse':>7}"
        f"{'median loss more':>18}{'median s':>10}{'times ours':>12}"
    )
    lines = [head]
    for way in [other.way for other in runs[0].others]:
        pairs = [(run, o) for run in runs for o in run.others if o.way == way]
        more = [(o.loss - r.loss) / r.paper if o.loss is not None else None for r, o in pairs]
        known = [m for m in more if m is not None]
        apart = f"{100 * median(known):.3f} %" if known else "-"
        lines.append(
            f"{way:<14}{len(pairs):>5}{len(known):>7}{sum(o.proven for _, o in pairs):>8}"
            f"{sum(m < -1e-7 for m in known):>8}{sum(abs(m) <= 1e-7 for m in known):>7}"
            f"{sum(m is None or m > 1e-7 for m in more):>7}{apart:>18}"
            f"{median(o.seconds for _, o in pairs):>10.2f}"
            f"{median(o.seconds / max(1e-3, r.seconds) for r, o in pairs):>12.2f}"
        )
    return "\n".join(lines)


def table(runs: list[Run]) -> str:
    """Give the table, a line a class."""
    head = (
        f"{'class':<22}{'n':>5}{'found':>7}{'proven':>8}{'<=0.05%':>9}{'median s':>10}"
        f"{'mean s':>9}{'worst s':>9}{'mean gap':>12}{'worst gap':>11}"
    )
    lines = [head]
    families = dict.fromkeys(run.family for run in runs)
    groups = [(family, [r for r in runs if r.family == family]) for family in families]
    if len(groups) > 1:
        groups.append(("all", runs))
    for family, some in groups:
        gaps = [100 * run.gap_of_paper for run in some]
        near = sum(run.proven or run.gap_of_paper <= 0.0005 for run in some)
        lines.append(
            f"{family:<22}{len(some):>5}{sum(r.found for r in some):>7}"
            f"{sum(r.proven for r in some):>8}{near:>9}{median(r.seconds for r in some):>10.2f}"
            f"{mean(r.seconds for r in some):>9.2f}{max(r.seconds for r in some):>9.2f}"
            f"{mean(gaps):>11.4f}%{max(gaps):>10.4f}%"
        )
    return "\n".join(lines)


def _kept(results: Path | None) -> list[Run]:
    """The runs of an earlier call."""
    if results is None or not results.exists():
        return []
    rows = [json.loads(line) for line in results.read_text(encoding="utf-8").splitlines()]
    return [Run(**{**row, "others": tuple(Other(**o) for o in row["others"])}) for row in rows]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.widths", description=__doc__)
    parser.add_argument("folder", metavar="DIR", help="folder of instances, or the word mill")
    parser.add_argument("--time-limit", type=float, default=60.0, metavar="S")
    parser.add_argument("--first", type=int, default=0, help="number of the first mill-like run")
    parser.add_argument("--per-kind", type=int, default=10, help="mill-like runs of each kind")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--beside", action="store_true", help="the other ways, side by side")
    parser.add_argument("--results", type=Path, metavar="FILE", help="runs done, a line each")
    parser.add_argument("--piece", type=float, default=inf, metavar="S", help="end after so long")
    parser.add_argument("--json", action="store_true")
    add_set_option(parser)
    return parser


def main(words: list[str] | None = None) -> None:
    """Run the bench from the command line."""
    chosen = _parser().parse_args(words)
    params, begun = params_of(chosen), time.monotonic()
    runs = _kept(chosen.results)
    done = {(run.family, run.file) for run in runs}
    left = 0
    for case in cases_of(chosen.folder, chosen.per_kind, chosen.first):
        if (case.family, case.file) in done:
            continue
        if time.monotonic() - begun > chosen.piece:
            left += 1
            continue
        run = run_case(case, chosen.time_limit, chosen.seed, beside=chosen.beside, params=params)
        runs.append(run)
        if chosen.results:
            with chosen.results.open("a", encoding="utf-8") as lines:
                lines.write(json.dumps(asdict(run)) + "\n")
        print(
            f"{run.family}/{run.file}: {run.sets} sets, bound {run.bound}, "
            f"{'proven' if run.proven else 'open'}, gap {100 * run.gap_of_paper:.4f} %, "
            f"{run.seconds:.2f} s",
            file=sys.stderr,
            flush=True,
        )
    if not runs:
        raise SystemExit(f"{chosen.folder}: no instance files (*.txt) in this folder")
    if chosen.json:
        print(json.dumps({"instances": [asdict(run) for run in runs]}, indent=1))
        return
    print(table(runs))
    if chosen.beside:
        print(f"\n{beside_table(runs)}")
    if left:
        print(f"{left} left: call it again")


if __name__ == "__main__":
    main()
