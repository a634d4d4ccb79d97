"""Paper used along the jumbo beside the obvious way, for every run of an order book.

    python -m tests.bench.jumbos BOOK MILL [--seconds S] [--json]

The obvious way: every reel at its order's greatest diameter, patterns of least loss for these
lengths, sets laid first fit in the order in which they were found. Ours: all candidate lengths, a
running order that spares butts, last metres balanced. Both by the same engine with the same time.
Loss is paper used (butts in it, the last jumbo's remainder not) less what is delivered, with the
values of a kg under and over, in per cent of paper used; `bound` is proven over every whole length
in range, butts not counted.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path

from trimopt.book import read as read_book
from trimopt.cutting import SCALE, Cut, Limits, Outcome, solve
from trimopt.making import Making, Run, prepare, runs_of
from trimopt.mill import read as read_mill
from trimopt.mill.model import Mill
from trimopt.plan.along import Along, length_blocks, wind_along
from trimopt.winding import Lot, StockJumbo, Strip, arrange, every_length, wind_run
from trimopt.winding.rooms import Case


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One run; metres of jumbo."""

    run: str
    usable_m: int
    obvious_used_m: int
    obvious_butts_m: int
    obvious_loss_m: float
    used_m: int
    butts_m: int
    loss_m: float
    bound_m: float | None
    moves_first: int
    moves: int
    seconds: float

    @property
    def gap_percent(self) -> float | None:
        """From the bound to our loss, in per cent of paper used."""
        return None if self.bound_m is None else 100 * (self.loss_m - self.bound_m) / self.used_m


def _lot(making: Making, number: int, cut: Cut) -> Lot:
    winding = making.classes[cut.pattern.winding_class]
    limits = making.instance.classes[cut.pattern.winding_class]
    pieces = [(k, making.options[k], count) for k, count in cut.pattern.pieces]
    used = sum(making.instance.options[k].width * count for k, _, count in pieces)
    return Lot(
        number=number,
        strips=tuple(
            Strip(key=str(k), width_mm=option.width_mm, no_edge=option.order.no_edge)
            for k, option, count in pieces
            for _ in range(count)
        ),
        sets=cut.sets,
        length_m=winding.length_m,
        core_mm=winding.core_mm,
        broke_reels=limits.broke_reels(used) or 0,
        orders=frozenset(option.order.number for _, option, _ in pieces),
    )


def _longest_only(making: Making, run: Run, mill: Mill) -> Making:
    """The run over the longest length of each order on each core, no other."""
    longest = {(option.core_mm, option.greatest_m): 0 for option in making.options}
    cores_mixed = any(winding.core_mm is None for winding in making.classes)
    kept = sorted(
        {
            (winding.core_mm, winding.length_m)
            for winding in making.classes
            if cores_mixed
            or any(
                core == winding.core_mm and abs(most - winding.length_m) <= most // 500
                for core, most in longest
            )
        },
        key=lambda pair: (pair[0] or 0.0, pair[1]),
    )
    return prepare(run, mill, lengths=kept)


def _solved(making: Making, seconds: float) -> Outcome:
    return solve(making.instance, limits=Limits(seconds=seconds))


def measure(run: Run, mill: Mill, seconds: float) -> Row | None:
    """Both ways for one run; None where a way finds no plan in its time."""
    grade = mill.grade(run.grade)
    assert grade is not None
    mill = mill.for_paper(grade, run.grammage_gsm)
    usable_m = mill.jumbo.usable_m
    nominal = StockJumbo(
        name="J",
        width_mm=mill.jumbo.width_mm,
        usable_m=usable_m,
        loss_start_m=mill.jumbo.loss_start_m,
        loss_end_m=mill.jumbo.loss_end_m,
    )
    along = Along(stock=(), nominal=nominal)
    making = prepare(run, mill)
    plain = _longest_only(making, run, mill)
    obvious, ours = _solved(plain, seconds), _solved(making, seconds)
    if obvious.loss is None or ours.loss is None:
        return None
    first_fit = wind_along(
        plain,
        mill,
        obvious.cuts,
        tuple(_lot(plain, at, cut) for at, cut in enumerate(obvious.cuts)),
        along,
    ).before
    paper = SCALE * mill.jumbo.width_mm / plain.unit_mm
    obvious_loss = float(Fraction(obvious.loss) / paper) + first_fit.lost_m
    started = time.process_time()
    lots = tuple(_lot(making, at, cut) for at, cut in enumerate(ours.cuts))
    first = arrange(lots, mill.winder, mill.jumbo.width_mm, work=1000)
    case = _case(making, mill, ours.cuts, lots)
    wound = wind_run(
        lots,
        case.blocks,
        mill.winder,
        mill.jumbo.width_mm,
        first=first,
        nominal=nominal,
        rooms=case.rooms,
        gains=case.gains,
        paper_per_m=case.paper_per_m,
    )
    spent = time.process_time() - started
    assert wound.balanced.loss_paper is not None
    wide, _ = every_length(making, mill, (usable_m,))
    proof = solve(wide, limits=Limits(seconds=60.0, gap=1.0))
    return Row(
        run=run.name,
        usable_m=usable_m,
        obvious_used_m=first_fit.used_m,
        obvious_butts_m=first_fit.lost_m,
        obvious_loss_m=round(obvious_loss, 1),
        used_m=wound.balanced.laying.used_m,
        butts_m=wound.balanced.laying.lost_m,
        loss_m=round(float(wound.balanced.loss_paper / case.paper_per_m), 1),
        bound_m=None
        if proof.certificate is None
        else round(
            float(Fraction(proof.price_bound) * making.unit_mm / mill.jumbo.width_mm / SCALE), 1
        ),
        moves_first=first.moves,
        moves=wound.arrangement.moves,
        seconds=round(spent, 1),
    )


def _case(making: Making, mill: Mill, cuts: tuple[Cut, ...], lots: tuple[Lot, ...]) -> Case:
    # The plan's own reckoning of what an order has and what a metre gives it.
    from trimopt.plan import along as plan_along  # noqa: PLC0415  private to the plan otherwise

    return Case(
        blocks=length_blocks(making, mill, lots),
        rooms=plan_along.rooms_of(making, mill, cuts),
        gains=tuple(plan_along.gains_of(making, mill, lot) for lot in lots),
        paper_per_m=mill.jumbo.width_mm / making.unit_mm,
    )


def main(words: list[str] | None = None) -> int:
    """Print a line a run, and the sums."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("book", type=Path)
    parser.add_argument("mill", type=Path)
    parser.add_argument("--seconds", type=float, default=10.0, help="for each solve")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    mill = read_mill(asked.mill)
    rows = [
        row
        for run in runs_of(read_book(asked.book, mill), mill)
        if (row := measure(run, mill, asked.seconds)) is not None
    ]
    if asked.json:
        sys.stdout.write(json.dumps({"runs": [asdict(row) for row in rows]}, indent=1) + "\n")
        return 0
    head = f"{'run':30} {'obvious':>9} {'butts':>8} {'ours':>9} {'butts':>7} {'gap %':>6} {'s':>5}"
    sys.stdout.write(head + "\n")
    for row in rows:
        gap = "" if row.gap_percent is None else f"{row.gap_percent:.2f}"
        sys.stdout.write(
            f"{row.run:30} {row.obvious_used_m:9,} {row.obvious_butts_m:8,} "
            f"{row.used_m:9,} {row.butts_m:7,} {gap:>6} {row.seconds:5.1f}\n"
        )
    before = sum(row.obvious_loss_m for row in rows)
    after = sum(row.loss_m for row in rows)
    sys.stdout.write(f"loss, metres of jumbo: {before:,.0f} the obvious way, {after:,.0f} ours\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
