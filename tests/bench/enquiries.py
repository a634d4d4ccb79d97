"""Answers to enquiries against doing it: ``python -m tests.bench.enquiries DIR``, or ``--table``.

Each of 60 enquiries becomes an order line of its book; the run is planned with and without it at
thorough effort, and the extra paper that comes of it is held against the answer: inside the proven
range, and how far off. Runs: those of both example books, and the published mill orders where
TRIMOPT_DATA names the folder of open data. Widths: the lowest of the run's curve (fills trim), that
of its largest order (competes), one just above half the deckle (wide), one drawn with a fixed seed,
and one wider than the winder takes (cannot).

What is done is kept in DIR, a file an enquiry, so that parts (``--first``, ``--last``) may run one
after another; ``--table``
prints what all of them come to. True is the least of the two plans made with the enquiry, the
planner's and the answer's own: no search is perfect.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from random import Random
from statistics import median

import numpy as np
from numpy.typing import NDArray

from tests.fit.programs import ROOT
from tests.fit.small_books import paper_by_doing
from tests.mill_files import mill_file, mill_files
from trimopt.api import cannot_be_made
from trimopt.book import Book, Unit, read_book
from trimopt.budget import Budget
from trimopt.fit import Enquiry, EnquiryService, as_order, basis_of_plan, curve_of
from trimopt.fit.enquiry import with_tolerance
from trimopt.making import Run, runs_of
from trimopt.mill import read_mill
from trimopt.mill.model import Mill
from trimopt.plan.codec import from_json, plan_json
from trimopt.plan.model import Effort, Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.run_jumbos import jumbos_in_book

_COUNT = 60
_KINDS = ("fills trim", "competes", "drawn", "wide", "cannot")
_TONNES = (8, 12, 20)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunCase:
    """A run as a book of its own."""

    name: str
    book: Book
    mill: Mill

    @property
    def run(self) -> Run:
        """Its only run."""
        return runs_of(self.book, self.mill)[0]


def _cases() -> Iterator[RunCase]:
    mill = read_mill(ROOT / "orders" / "mill.toml")
    for source in ("shift", "week"):
        book = read_book(ROOT / "orders" / f"{source}.xlsx", mill)
        book = replace(book, shift_ends=None, instructions=(), run_days=())
        for run in runs_of(book, mill):
            alone = replace(book, orders=run.orders, fingerprint=f"{source} {run.name}")
            yield RunCase(name=f"{source} {run.name}", book=alone, mill=mill)
    for name in sorted(mill_files(), key=lambda name: name.startswith("P")):
        book, own = mill_file(name)
        yield RunCase(name=name, book=book, mill=own)


def _planned(case: RunCase, folder: Path, effort: Effort) -> Plan:
    path = folder / f"{case.name.replace('/', ' ')}-{effort}.json"
    if path.is_file():
        return from_json(path.read_text(encoding="utf-8"))
    plan = make_plan(case.book, case.mill, Request(effort=effort, time_limit_s=1800))
    plan = replace(plan, number="bench-1")
    path.write_text(plan_json(plan), encoding="utf-8")
    return plan


def _enquiry(case: RunCase, plan: Plan, kind: str, draw: Random) -> Enquiry:
    run, (planned,) = case.run, plan.runs
    jumbos = jumbos_in_book(run, (run,), case.book, case.mill)
    mill = jumbos.mill
    step_mm = mill.width_step_mm
    least = mill.winder.min_reel_width_mm
    most = min(mill.winder.max_reel_width_mm, mill.deckle_mm)
    largest = max(run.orders, key=lambda order: order.width_mm * order.quantity)
    width_mm = {
        "competes": min(most, max(least, largest.width_mm)),
        "drawn": Fraction(draw.randint(int(least), int(most) // 2)),
        "wide": (mill.deckle_mm / 2 + 20) // step_mm * step_mm,
        "cannot": most + 100,
        "fills trim": least,
    }[kind]
    enquiry = Enquiry(
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        width_mm=width_mm,
        quantity=Fraction(1000 * draw.choice(_TONNES)),
        unit=Unit.KG,
        under=Fraction(1, 20),
        over=Fraction(1, 20),
    )
    if kind != "fills trim":
        return enquiry
    basis = basis_of_plan(planned, run, jumbos, plan.settings, grid_mm=step_mm, budget=Budget())
    assert basis is not None
    points = curve_of(basis, as_order(enquiry), step_mm=step_mm).points
    best = min(points, key=lambda point: (point.marginal_use, draw.random()))
    return replace(enquiry, width_mm=best.width_mm)


def _measured(
    case: RunCase, kind: str, seed: int, folder: Path, effort: Effort
) -> dict[str, object]:
    plan = _planned(case, folder, effort)
    enquiry = with_tolerance(_enquiry(case, plan, kind, Random(seed)), case.mill)
    begun = time.process_time()
    # Work ends the search, as on a machine of its own, whatever else runs.
    service = EnquiryService(case.mill, case.book, plan, seconds=300, effort=Effort.QUICK)
    answer = service.answer(enquiry)
    row: dict[str, object] = {
        "run": case.name,
        "kind": kind,
        "effort": effort.value,
        "width_mm": float(enquiry.width_mm),
        "tonnes": float(enquiry.quantity / 1000),
        "verdict": answer.verdict.value,
        "cpu_s": round(time.process_time() - begun, 1),
    }
    order = as_order(answer.enquiry)
    book = replace(case.book, orders=(*case.book.orders, order))
    if answer.stop:
        row["left_out"] = order.number in cannot_be_made(book, case.mill)
        return row
    begun = time.process_time()
    both = make_plan(book, case.mill, Request(effort=effort, time_limit_s=1800))
    row["planned_s"] = round(time.process_time() - begun, 1)
    assert answer.extra is not None
    mill = jumbos_in_book(case.run, (case.run,), case.book, case.mill).mill
    return row | {
        "min": answer.extra.min_use,
        "max": answer.extra.max_use,
        "held": answer.extra.held_use,
        "thorough": paper_by_doing(plan, both, mill, order.number),
    }


def _table(rows: list[dict[str, object]]) -> None:
    made = [row for row in rows if "thorough" in row]
    cannot = [row for row in rows if "left_out" in row]
    least, most, held, done = (
        np.array([row[key] for row in made], dtype=float)
        for key in ("min", "max", "held", "thorough")
    )
    true = np.minimum(done, most)
    # Rounded outwards to a hundredth, as it is printed.
    low, high = np.floor(100 * least) / 100, np.ceil(100 * most) / 100

    def correlation(told: NDArray[np.float64]) -> float:
        ranks = [np.argsort(np.argsort(values)).astype(float) for values in (told, true)]
        return float(np.corrcoef(ranks[0], ranks[1])[0, 1])

    wide = most - least
    print(f"{len(rows)} enquiries, {len(made)} made, {len(cannot)} that cannot be made, of which")
    print(f"  left out by the planner too: {sum(bool(row['left_out']) for row in cannot)}")
    print(f"inside the range: {int(((low <= true) & (true <= high)).sum())} of {len(made)}")
    inside = (low <= done) & (done <= high)
    print(f"  by the thorough plan alone: {int(inside.sum())}; above by at most "
          f"{float(np.max(done - high, initial=0)):.3f}")  # fmt: skip
    near = abs(most - true) <= 0.05
    print(f"headline within 0.05: {int(near.sum())}; by the thorough plan alone: "
          f"{int((abs(most - done) <= 0.05).sum())}; held estimate: "
          f"{int((abs(held - true) <= 0.05).sum())}")  # fmt: skip
    print(f"width of the range: median {median(wide):.3f}, at most {wide.max():.3f}")
    ranks = correlation(most), correlation(held)
    print(f"rank correlation: {ranks[0]:.3f}; of the held estimate {ranks[1]:.3f}")
    for row in made:
        asked = f"{row['kind']!s:10}  {row['width_mm']:7g}  {row['tonnes']:3g} t"
        found = f"{row['min']:.3f}–{row['max']:.3f}  {row['effort']} {row['thorough']:.3f}"
        spent = f"{row['cpu_s']} s, {row['planned_s']} s"
        print(
            f"  {row['run']!s:32.32}  {asked}  {found}  held {row['held']:.3f}  {row['verdict']}  "
            f"{spent}"
        )


def main(words: list[str] | None = None) -> None:
    """Do what the module text says."""
    asked = argparse.ArgumentParser()
    asked.add_argument("folder", type=Path)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--last", type=int, default=_COUNT)
    asked.add_argument("--effort", type=Effort, default=Effort.THOROUGH)
    asked.add_argument("--table", action="store_true")
    given = asked.parse_args(words)
    given.folder.mkdir(parents=True, exist_ok=True)
    if given.table:
        paths = sorted(given.folder.glob("row-*.json"))
        _table([json.loads(path.read_text(encoding="utf-8")) for path in paths])
        return
    cases = tuple(_cases())
    for place in range(given.first, min(given.last, _COUNT)):
        path = given.folder / f"row-{place:02}.json"
        if path.is_file():
            continue
        case, kind = cases[place % len(cases)], _KINDS[(place + place // len(cases)) % len(_KINDS)]
        row = _measured(case, kind, place, given.folder, given.effort)
        path.write_text(json.dumps(row), encoding="utf-8")
        print(json.dumps(row, ensure_ascii=False), flush=True)


if __name__ == "__main__":
    main()
