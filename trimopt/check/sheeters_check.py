"""The check of the sheeters' side: loads and their timetable.

- Every sheeter reel stands in one load; those from stock too, which are ready when the plan begins.
  The reels of a load are of one run, order, width and number
  of ups, no more than the sheeter's stands, and as like in length as the mill file asks.
- Reels that leave stands empty are too few, or too unlike in length, to fill a load.
- A load starts when its last reel has left the winder or later, one load of a sheeter at a time;
  it takes the change of reels and its length at the sheeter's speed, or at the speed at which the
  most cuts a minute give the order's chop, where that is less.

A run that somebody edited has no times, and no loads are asked for.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from trimopt.book.model import Order
from trimopt.check.check_formulas import exact, later, minutes_between, sheets_of_reel
from trimopt.check.findings import MINUTES_WITHIN, Findings
from trimopt.mill.model import Mill, Sheeter
from trimopt.plan.model import Plan
from trimopt.plan.sheeter_load import Load

_Key = tuple[str, int, int, str]  # run, set, place across the set, or number in stock


@dataclass(frozen=True, slots=True, kw_only=True)
class _ReelAtSheeter:
    kind: tuple[str, str, Fraction, int | None]  # sheeter, order, width and ups
    length_m: int
    ready: datetime | None


def cut_by(plan: Plan, run: str) -> dict[str, datetime]:
    """When the last load of each sheet order of a run is cut."""
    cut: dict[str, datetime] = {}
    for load in plan.loads:
        if load.run == run:
            cut[load.order] = later(cut.get(load.order), load.finish)
    return cut


def check_loads(plan: Plan, orders: Mapping[str, Order], mill: Mill, notes: Findings) -> None:
    """Check every load, that every sheeter reel is in one, and the timetable of each sheeter."""
    reels = _sheeter_reels(plan)
    names = {run.name for run in plan.runs}
    timed = {run.name for run in plan.runs if run.start is not None}
    loaded: Counter[_Key] = Counter()
    before: dict[str, Load] = {}
    for load in plan.loads:
        where = _where(load)
        sheeter = mill.sheeter(load.sheeter)
        if sheeter is None:
            notes.add(where, "sheeter", load.sheeter, "not in the mill file")
            continue
        keys = [(load.run, reel.set_number, reel.position, reel.stock) for reel in load.reels]
        loaded.update(keys)
        found = [reels[key] for key in keys if key in reels]
        for key in (key for key in keys if key not in reels):
            notes.add(where, f"sheeter reel, {_said(key)}", load.run, "no such reel")
        _check_reels(load, found, sheeter, notes)
        if load.order in orders:
            _check_work(load, found, sheeter, orders[load.order], notes)
        last = before.get(load.sheeter)
        next_number = 1 if last is None else last.number + 1
        # Loads of an edited run have fallen away: then numbers only rise.
        if load.number < next_number or (load.number > next_number and timed == names):
            notes.add(where, "number", load.number, next_number)
        if last is not None and minutes_between(last.finish, load.start) < -MINUTES_WITHIN:
            notes.add(where, "starts after the load before it", load.start, last.finish)
        before[load.sheeter] = load
    for key in reels:
        times, known = loaded[key], timed if key[-1] else timed & {key[0]}
        if times != 1 and (times or known):
            notes.add(f"{key[0]}, {_said(key)}", "a sheeter reel is in one load", times, 1)
    _check_left_over(plan, reels, mill, notes)


def _where(load: Load) -> str:
    return f"{load.sheeter}, load {load.number}"


def _said(key: _Key) -> str:
    _, set_number, position, stock = key
    return f"stock reel {stock}" if stock else f"set {set_number}, place {position}"


def _sheeter_reels(plan: Plan) -> dict[_Key, _ReelAtSheeter]:
    """The reels that go to sheeters, wound and from stock."""
    starts = [run.start for run in plan.runs if run.start is not None]
    begin = min(starts, key=lambda start: minutes_between(starts[0], start), default=None)
    reels: dict[_Key, _ReelAtSheeter] = {}
    for run in plan.runs:
        for block, row in run.sets_in_blocks:
            for each in block.positions:
                if each.kind == "sheeter" and each.number not in row.spoiled:
                    kind = each.sheeter, each.order, each.width_mm, each.ups
                    reel = _ReelAtSheeter(kind=kind, length_m=row.length_m, ready=row.finish)
                    reels[run.name, row.number, each.number, ""] = reel
        for line in run.orders:
            for stock in line.stock:
                if (use := stock.at_sheeter) is not None:
                    kind = use.sheeter, line.number, stock.width_mm, use.ups
                    reel = _ReelAtSheeter(kind=kind, length_m=stock.length_m, ready=begin)
                    reels[run.name, 0, 0, stock.name] = reel
    return reels


def _check_reels(
    load: Load, found: list[_ReelAtSheeter], sheeter: Sheeter, notes: Findings
) -> None:
    """That its reels match each other, the load and the sheeter's stands."""
    where = _where(load)
    notes.same(where, "stands", load.stands, sheeter.unwinds)
    if not 0 < len(load.reels) <= sheeter.unwinds:
        notes.add(where, "reels unwound together", len(load.reels), f"1 to {sheeter.unwinds}")
    said = (load.sheeter, load.order, load.width_mm, load.ups)
    for reel in found:
        if reel.kind != said:
            notes.add(where, "sheeter, order, width and ups of a reel", said, reel.kind)
    lengths = [reel.length_m for reel in found]
    if not lengths:
        return
    notes.same(where, "length of its shortest reel, m", load.length_m, min(lengths))
    if max(lengths) - min(lengths) > sheeter.max_length_difference_m:
        notes.add(
            where, "reels unwound together differ in length, m", max(lengths) - min(lengths),
            f"at most {sheeter.max_length_difference_m}",
        )  # fmt: skip


def _check_work(
    load: Load, found: list[_ReelAtSheeter], sheeter: Sheeter, order: Order, notes: Findings
) -> None:
    """Its sheets, and its times after the winder's."""
    where = _where(load)
    sheets = sum(sheets_of_reel(order, load.ups, sheeter, reel.length_m) for reel in found)
    notes.same(where, "sheets", load.sheets, sheets)
    wound = [reel.ready for reel in found if reel.ready is not None]
    for finish in wound:
        if minutes_between(finish, load.start) < -MINUTES_WITHIN:
            notes.add(where, "starts after its reels are wound", load.start, finish)
    if wound:
        notes.same(where, "ready when its last reel is wound", load.ready, max(wound))
    speed = exact(sheeter.speed_m_min)
    if sheeter.max_cuts_per_min is not None and order.chop_mm is not None:
        speed = min(speed, exact(sheeter.max_cuts_per_min) * order.chop_mm / 1000)
    minutes = float(exact(sheeter.load_change_min) + load.length_m / speed)
    notes.near(
        where, "minutes from start to finish", minutes_between(load.start, load.finish), minutes,
        MINUTES_WITHIN,
    )  # fmt: skip


def _check_left_over(
    plan: Plan, reels: Mapping[_Key, _ReelAtSheeter], mill: Mill, notes: Findings
) -> None:
    """No load that leaves stands empty could have been filled from others that do."""
    sheeters = {sheeter.name: sheeter for sheeter in mill.sheeters}
    left: dict[tuple[str, str, str, Fraction, int], list[int]] = defaultdict(list)
    for load in plan.loads:
        sheeter = sheeters.get(load.sheeter)
        if sheeter is None or len(load.reels) >= sheeter.unwinds:
            continue
        for reel in load.reels:
            known = reels.get((load.run, reel.set_number, reel.position, reel.stock))
            if known is not None:
                kind = load.sheeter, load.run, load.order, load.width_mm, load.ups
                left[kind].append(known.length_m)
    for (name, run, order, width_mm, _), lengths in left.items():
        stands, differs = sheeters[name].unwinds, sheeters[name].max_length_difference_m
        rising = sorted(lengths)
        if any(b - a <= differs for a, b in zip(rising, rising[stands - 1 :], strict=False)):
            notes.add(
                f"{run}, order {order}",
                f"reels of {float(width_mm):g} mm that leave stands of {name} empty",
                len(lengths), "they fill a load",
            )  # fmt: skip
