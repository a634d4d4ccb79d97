"""Few patterns, measured: ``python -m tests.bench.setups DIR --time-limit S [--json]``.

DIR holds instances (first line the number of widths, second the usable width, then a width and its
pieces a line) or published cases (JSON); the word ``mill`` in its place makes the seeded runs of
`tests.bench.setups_mill`. Demands of a file are exact unless ``--at-least`` is given; those of a
case are as published. The engine's seconds come first and apart; ``--time-limit`` is for the search
for few patterns. With ``--moves`` the plan is also laid out by the winding room (simple count).

The loss of the point of least loss is never above the engine's: where it is, the row says so, and
the exit code is 1.

Beside each run: patterns of the engine's plan as it is, of the one-pass heuristic with its sets,
and of an integer program over the patterns of column generation, with the same seconds.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.bench.engine_params import add_set_option, params_of
from tests.bench.setups_baselines import one_pass, pool_of, pool_program
from tests.bench.setups_mill import mill_runs
from tests.cutting.one_class import exactly, one_class
from trimopt.budget import Budget
from trimopt.cutting import Cut, Demand, Instance, Status, WindingClass, solve
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.setups import TradeOff, trade_off


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one run gave. Sets are those of the point of least loss."""

    family: str
    file: str
    sets: int
    sets_proven: bool
    loss: int  # of the point of least loss
    engine_loss: int | None  # None: the engine found no plan in its seconds
    patterns: int
    bound: int
    engine: int
    one_pass: tuple[int, int]
    pool: int | None
    moves: tuple[int, int] | None
    points: tuple[tuple[int, int], ...]
    seconds: float

    @property
    def least_loss_kept(self) -> bool:
        """Whether fewer patterns cost nothing: no more loss than the engine's, proven or found."""
        return self.engine_loss is None or self.loss <= self.engine_loss

    @property
    def proven(self) -> bool:
        """Whether no plan with as few sets has fewer patterns."""
        return self.sets_proven and self.patterns <= self.bound


def _textbook(
    deckle: int, lines: list[tuple[int, int, int | None]], pieces: int, least: int
) -> Instance:
    return one_class(
        (w for w, _, _ in lines),
        (
            Demand(low=low, high=None) if high is None else exactly(low, high - low)
            for _, low, high in lines
        ),
        WindingClass(
            cost=1,
            width=deckle,
            max_pieces=pieces,
            slack=deckle - least if least else None,
            min_broke=deckle + 1 if least else 0,
        ),
    )


def instances_of(place: str, *, seeds: int, at_least: bool) -> Iterator[tuple[str, str, Instance]]:
    """Give (class, file, instance) of a folder, or of the seeded runs."""
    if place == "mill":
        yield from mill_runs(seeds)
        return
    for path in sorted(Path(place).iterdir()):
        if path.suffix == ".json":
            case = json.loads(path.read_text(encoding="utf-8"))
            scale = case.get("scale_to_int", 1)
            lines = [
                (round(item["width"] * scale), item["min"], item["max"]) for item in case["items"]
            ]
            deckle = round(case["deckle"] * scale)
            pieces = case.get("max_pieces") or deckle
            least = round((case.get("min_used_width") or 0) * scale)
            yield "published", path.name, _textbook(deckle, lines, pieces, least)
        elif path.suffix == ".txt":
            figures = [int(word) for word in path.read_text(encoding="utf-8").split()]
            lines = [
                (w, n, None if at_least else n)
                for w, n in zip(figures[2::2], figures[3::2], strict=True)
            ]
            yield path.name.split("_")[0], path.name, _textbook(figures[1], lines, figures[1], 0)


def _moves(instance: Instance, trade: TradeOff, seconds: float) -> tuple[int, int]:
    """Knife moves found for the first of equal plans, and the bound."""
    from tests.bench.knives import measure as laid_out  # noqa: PLC0415 - winding only when asked

    point = trade.points[0]
    plans = []
    for cuts in (point.cuts, *point.equal[:7]):
        rows = []
        for cut in cuts:
            widths = [instance.options[k].width for k, n in cut.pattern.pieces for _ in range(n)]
            rows.append((cut.sets, tuple(sorted(widths, reverse=True))))
        plans.append(tuple(sorted(rows, reverse=True)))
    options = argparse.Namespace(time_limit=seconds, work=None, seed=0, spare=0, idle="parked")
    row = laid_out("", "", instance.classes[0].width, tuple(plans), options)
    return row.reached, row.bound


def measure(family: str, file: str, instance: Instance, options: argparse.Namespace) -> Row:
    """Solve, look for few patterns, and let the baselines do the same run."""
    params = params_of(options)
    outcome = solve(instance, budget=Budget.lasting(options.engine_seconds), params=params)
    begun = time.process_time()
    trade = trade_off(
        instance,
        outcome,
        budget=Budget.lasting(options.time_limit, options.work),
        seed=options.seed,
        params=params,
    )
    seconds = time.process_time() - begun
    point = trade.points[0]
    plain = one_pass(instance) if instance.classes[0].slack is None else ()
    pool = None
    if options.baselines:
        pool = pool_program(instance, pool_of(instance, outcome.cuts), point.loss, seconds)
    return Row(
        family=family,
        file=file,
        sets=point.loss // SCALE,
        loss=point.loss,
        engine_loss=outcome.loss,
        sets_proven=outcome.status is Status.OPTIMAL or point.loss <= outcome.bound,
        patterns=point.patterns,
        bound=trade.patterns_bound,
        engine=len(outcome.cuts),
        one_pass=(_sets(plain), len(plain)),
        pool=pool,
        moves=_moves(instance, trade, 3.0) if options.moves else None,
        points=tuple((p.patterns, p.loss // SCALE) for p in trade.points),
        seconds=seconds,
    )


def _sets(cuts: tuple[Cut, ...]) -> int:
    return sum(cut.sets for cut in cuts)


def _line(row: Row) -> str:
    moves = f"{row.moves[0]:6}{row.moves[1]:6}" if row.moves else f"{'-':>6}{'-':>6}"
    pool = "-" if row.pool is None else str(row.pool)
    points = " ".join(f"{patterns}:{sets}" for patterns, sets in row.points)
    return (
        f"{row.file[:20]:20}{row.sets:7}{'*' if row.sets_proven else ' '}{row.patterns:6}"
        f"{row.bound:6}{'*' if row.proven else ' '}{moves}{row.engine:8}{pool:>6}"
        f"{row.one_pass[0]:8}{row.one_pass[1]:5}{row.seconds:7.1f}  {points}"
        f"{'' if row.least_loss_kept else '  MORE LOSS THAN THE ENGINE'}"
    )


def _mean(family: str, rows: list[Row]) -> str:
    count = len(rows)
    pools = [row.pool for row in rows if row.pool is not None]
    pool = f"{sum(pools) / len(pools):6.1f}" if pools else f"{'-':>6}"
    return (
        f"{family[:14]:14} mean {sum(r.sets for r in rows) / count:7.1f}"
        f" {sum(r.patterns for r in rows) / count:6.1f}{sum(r.bound for r in rows) / count:6.1f} "
        f"{'':12}{sum(r.engine for r in rows) / count:8.1f}{pool}"
        f"{sum(r.one_pass[0] for r in rows) / count:8.1f}"
        f"{sum(r.one_pass[1] for r in rows) / count:5.1f}"
        f"{sum(r.seconds for r in rows) / count:7.1f}"
    )


def main(arguments: list[str] | None = None) -> int:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", help="a folder of instances, or the word mill")
    parser.add_argument("--time-limit", type=float, default=10.0, metavar="S")
    parser.add_argument("--engine-seconds", type=float, default=30.0, metavar="S")
    parser.add_argument("--work", type=int, default=None, help="limit that is repeatable")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--seeds", type=int, default=5, help="of each size of mill-like run")
    parser.add_argument("--only", default="", help="only files whose name holds this")
    parser.add_argument("--at-least", action="store_true", help="demands at least, not exact")
    parser.add_argument("--baselines", action="store_true", help="the program over the pool too")
    parser.add_argument("--moves", action="store_true", help="knife moves too")
    parser.add_argument("--json", action="store_true")
    add_set_option(parser)
    options = parser.parse_args(arguments)
    rows: list[Row] = []
    if not options.json:
        print(
            f"{'':20}{'sets':>7} {'patt':>6}{'bound':>6} {'moves':>6}{'bound':>6}"
            f"{'engine':>8}{'pool':>6}{'1-pass':>8}{'patt':>5}{'s':>7}  patterns:sets"
        )
    for family, file, instance in instances_of(
        options.folder, seeds=options.seeds, at_least=options.at_least
    ):
        if options.only not in file:
            continue
        rows.append(measure(family, file, instance, options))
        if not options.json:
            print(_line(rows[-1]), flush=True)
    if options.json:
        json.dump({"instances": [_as_json(row) for row in rows]}, sys.stdout, indent=1)
        print()
        return _broken(rows)
    for family in dict.fromkeys(row.family for row in rows):
        print(_mean(family, [row for row in rows if row.family == family]))
    return _broken(rows)


def _broken(rows: list[Row]) -> int:
    """The exit code: 1 where some run loses more than the engine's plan."""
    return int(not all(row.least_loss_kept for row in rows))


def _as_json(row: Row) -> dict[str, object]:
    return {
        "class": row.family,
        "file": row.file,
        "sets": row.sets,
        "patterns": row.patterns,
        "patterns_bound": row.bound,
        "proven": row.proven,
        "loss": row.loss,
        "engine_loss": row.engine_loss,
        "least_loss_kept": row.least_loss_kept,
        "moves": row.moves[0] if row.moves else None,
        "moves_bound": row.moves[1] if row.moves else None,
        "seconds": round(row.seconds, 3),
        "engine_patterns": row.engine,
        "pool_patterns": row.pool,
        "one_pass_sets": row.one_pass[0],
        "one_pass_patterns": row.one_pass[1],
        "points": row.points,
    }


if __name__ == "__main__":
    sys.exit(main())
