"""What stays fixed while code is moved and merged: figures of plans that work alone stops.

Cases are the example books, the published mill files (where `TRIMOPT_DATA` names them) and 24
generated runs for the engine alone. Figures are whole or exact where the plan has them so, and
floats as the plan prints them to the gram and the second.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.bench.mill_like import KINDS, mill_like
from tests.mill_files import mill_file, mill_files
from trimopt import Budget, Plan, Request, RunPlan, make_plan, read_book, read_mill
from trimopt.cutting import Instance, solve
from trimopt.cutting.search.search_state import paper_cost
from trimopt.cutting.setups import trade_off

Figures = dict[str, Any]

ORDERS = Path(__file__).parents[2] / "orders"
BOOKS = {"shift": "shift.xlsx", "inches": "inches/shift.csv", "week": "week.xlsx"}
NUMBERS = range(20, 23)  # of the generator's runs, of each kind
TRADE_WORK = 500


def golden_cases(
    limit_s: float | None = None,
) -> Iterator[tuple[str, Callable[[], Figures]]]:
    """Name of each case, and what makes its figures; quick ones first.

    Books are planned without a clock, or within a limit that should not end any search.
    """
    for kind in KINDS:
        for number in NUMBERS:
            instance = mill_like(kind, number)
            yield f"run {kind.name}_{number:03d}", _of_instance(instance)
    for name, file in BOOKS.items():
        yield f"book {name}", _of_book(ORDERS / file, limit_s)
    for name in mill_files():
        yield f"mill file {name}", _of_mill_file(name, limit_s)


def _of_instance(instance: Instance) -> Callable[[], Figures]:
    def figures() -> Figures:
        outcome = solve(instance, budget=Budget())  # no clock
        trade = trade_off(instance, outcome, budget=Budget(max_work=TRADE_WORK))
        return {
            "loss": outcome.loss,
            "bound": outcome.bound,
            "price_bound": outcome.price_bound,
            "paper": paper_cost(instance, outcome.cuts),
            "sets": sum(cut.sets for cut in outcome.cuts),
            "trade_off": [[point.patterns, point.loss] for point in trade.points],
            "patterns_bound": trade.patterns_bound,
        }

    return figures


def _of_book(path: Path, limit_s: float | None) -> Callable[[], Figures]:
    def figures() -> Figures:
        mill = read_mill(path.with_name("mill.toml"))
        return _plan_figures(make_plan(read_book(path, mill), mill, Request(time_limit_s=limit_s)))

    return figures


def _of_mill_file(name: str, limit_s: float | None) -> Callable[[], Figures]:
    def figures() -> Figures:
        book, mill = mill_file(name)
        return _plan_figures(make_plan(book, mill, Request(time_limit_s=limit_s)))

    return figures


def _plan_figures(plan: Plan) -> Figures:
    stopped = {f"{run.name}: the clock": True for run in plan.runs if run.proof.clock_stopped}
    return {run.name: run_figures(run) for run in plan.runs} | stopped


def run_figures(run: RunPlan) -> Figures:
    """The figures of a run that no move of code may change."""
    balance = run.balance
    return {
        "loss_kg": round(run.proof.loss_kg, 3),
        "bound_kg": round(run.proof.bound_kg, 3),
        "sets": sum(len(block.sets) for block in run.blocks),
        "blocks": len(run.blocks),
        "set_ups": run.set_ups,
        "set_ups_bound": run.set_ups_bound,
        "knife_moves": run.knife_moves,
        "knife_moves_bound": run.knife_moves_bound,
        "metres_used": run.proof.metres_used,
        "metres_bound": run.proof.metres_bound,
        "used_kg": round(balance.used_kg, 3),
        "delivered_kg": round(balance.delivered_kg, 3),
        "surplus_kg": round(balance.surplus_kg, 3),
        "edge_trim_kg": round(balance.edge_trim_kg, 3),
        "pattern_trim_kg": round(balance.pattern_trim_kg, 3),
        "sheeter_kg": round(balance.sheeter_kg, 3),
        "butts_kg": round(balance.butts_kg, 3),
        "start_end_kg": round(balance.start_end_kg, 3),
        "minutes": round(run.minutes, 3),
    }
