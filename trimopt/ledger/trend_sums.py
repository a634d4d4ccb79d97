"""The trend: sums over the sets that count, never averages of percentages."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from datetime import datetime, timedelta
from functools import partial
from numbers import Real
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import URL, Row as Selected

from trimopt.errors import LedgerError
from trimopt.ledger.ledger_file import shown
from trimopt.ledger.ledger_tables import PARTS
from trimopt.ledger.set_history import read_history
from trimopt.ledger.trend_model import (
    Against,
    Asked,
    Carrier,
    Culled,
    Figures,
    MeasuredSets,
    Row,
    Trend,
    TrendLine,
)

PERIODS = ("shift", "day", "week", "month", "year")
SHIFTS = (6, 14, 22)
"""Hours at which shifts begin, where the caller names none (common practice)."""

_AREAS = ("wound", "deckle", "edge_trim", "pattern_trim", "surplus")
_SUMMED = (
    "sets", "length_m", *PARTS, *(f"{name}_m2" for name in _AREAS),
    "set_ups", "knife_moves", "minutes", "minutes_stopped",
)  # fmt: skip
_COUNTS = frozenset({"sets", "set_ups", "knife_moves"})
_SIDES = ("Planned", "Planned of run", "Run")

_Set = Selected[Any]
_Sums = NDArray[np.float64]  # shape (sides, names of _SUMMED); of many sets with a first axis
_Key = TypeVar("_Key", bound=Hashable)


def trend(
    url: URL,
    asked: Asked,
    *,
    by: str = "month",
    target_percent: float | None = None,
    shifts: Sequence[int] = SHIFTS,
) -> Trend:
    """Sum a ledger's history, as `trimopt.ledger.ledger.Ledger.trend` says.

    Raises
    ------
    LedgerError
        The ledger cannot be read, or holds nothing of what was asked.
    """
    if by not in PERIODS:
        raise LedgerError(f"{by} is no period; one of {', '.join(PERIODS)}")
    if asked.begins and asked.ends and asked.ends < asked.begins:
        raise LedgerError(f"the last day, {asked.ends}, lies before the first, {asked.begins}")
    target, hours = _share(target_percent), _shift_hours(shifts)
    history = read_history(url, asked)
    sets = history.sets
    sums = _sums_of(sets)
    labels = {
        period: [label(each.at) for each in sets] for period, label in _labellers(hours).items()
    }
    lines = partial(_lines, sets=sets, sums=sums, target=target)
    (whole,) = lines(["all"] * len(sets))
    ran = [each for each in sets if each.run_length_m > 0]
    return Trend(
        ledger=shown(url),
        mills=tuple(sorted({each.mill_name for each in sets})),
        asked=asked,
        first=min(each.at for each in sets),
        last=max(each.at for each in sets),
        by=by,
        target_percent=target_percent,
        plans=len({each.plan_id for each in sets}),
        replaced_plans=history.replaced_plans,
        replaced_sets=sum(bool(each.replaced) for each in sets),
        whole=whole,
        lines=lines(labels[by]),
        months=lines(labels["month"]),
        grades=lines([each.grade for each in sets]),
        winders=lines([each.winder for each in sets]),
        widths=_carriers(history.pieces, ("width_mm",)),
        orders=_carriers(history.pieces, ("order_number", "customer")),
        culled=_culled(ran),
        against_planned=_against(sets, whole.planned),
        against_run=_against(ran, whole.planned_of_run, whole.run),
        measured=_measured(ran),
        row_headings=_ROW_HEADINGS,
        rows=_rows(sets, sums, labels),
    )


def _share(target_percent: float | None) -> float | None:
    if target_percent is None:
        return None
    if not isinstance(target_percent, Real) or not 0 <= target_percent <= 100:
        wrong = f"a target of {target_percent} % is no trim loss"
        raise LedgerError(f"{wrong}; name one from 0 to 100")
    return target_percent / 100


def _sums_of(sets: Sequence[_Set]) -> _Sums:
    """All that is summed of each set: planned, planned of run, and run."""
    gsm, minutes, stopped, run_m = (
        _columns(sets, [name])[:, 0]
        for name in ("gsm", "minutes", "run_minutes_stopped", "run_length_m")
    )
    ran = (run_m > 0)[:, None]
    planned = _side(sets, "", gsm, minutes=minutes, stopped=np.zeros_like(minutes))
    run = _side(sets, "run_", gsm, minutes=minutes + stopped, stopped=stopped)
    return np.stack([planned, planned * ran, run * ran], axis=1)


def _side(
    sets: Sequence[_Set], before: str, gsm: _Sums, *, minutes: _Sums, stopped: _Sums
) -> _Sums:
    """Figures of sets in the order of `_SUMMED`; `before` is what their names begin with."""
    known = partial(_columns, sets)
    # kg / (g/m²) is thousands of m².
    areas = 1000 * known([f"{before}{name}_kg" for name in _AREAS]) / gsm[:, None]
    first = known([f"{before}{name}" for name in ("length_m", *PARTS)])
    changes = known([f"{before}{name}" for name in ("set_ups", "knife_moves")])
    return np.column_stack([np.ones_like(minutes), first, areas, changes, minutes, stopped])


def _columns(sets: Sequence[_Set], names: Sequence[str]) -> _Sums:
    """Give figures of sets by name, one row for each set."""
    fields = sets[0]._fields
    at = [fields.index(name) for name in names]
    return np.array([[each[place] for place in at] for each in sets], dtype=np.float64)


def _summed(keys: Sequence[_Key], sums: _Sums) -> list[tuple[_Key, _Sums]]:
    """Sums of the sets with the same key, in the order of keys."""
    places: dict[_Key, list[int]] = defaultdict(list)
    for place, key in enumerate(keys):
        places[key].append(place)
    return [(key, sums[places[key]].sum(axis=0)) for key in sorted(places)]  # type: ignore[type-var]


def _shift_hours(shifts: Sequence[int]) -> list[int]:
    hours = set(shifts) if isinstance(shifts, Iterable) else set()
    if not hours or not hours <= set(range(24)):
        raise LedgerError("shifts begin at hours from 0 to 23, such as 6,14,22")
    return sorted(hours)


def _labellers(hours: Sequence[int]) -> dict[str, Callable[[datetime], str]]:
    """What each period that a moment stands in is called."""

    def shift(at: datetime) -> str:
        # Before the day's first shift it is still the last one of the day before.
        day = at if at.hour >= hours[0] else at - timedelta(days=1)
        begins = max((hour for hour in hours if hour <= at.hour), default=hours[-1])
        return f"{day.date().isoformat()} {begins:02d}:00"

    def week(at: datetime) -> str:
        year, number, _ = at.isocalendar()
        return f"{year}-W{number:02d}"

    return {
        "shift": shift,
        "day": lambda at: at.date().isoformat(),
        "week": week,
        "month": lambda at: at.date().isoformat()[:7],
        "year": lambda at: f"{at.year:04d}",
    }


def _lines(
    keys: Sequence[str], *, sets: Sequence[_Set], sums: _Sums, target: float | None
) -> tuple[TrendLine, ...]:
    """A line for each key, which the sets have in their order."""
    bounds: dict[str, float] = defaultdict(float)
    for key, each in zip(keys, sets, strict=True):
        bounds[key] += each.unavoidable_kg
    lines = []
    for key, total in _summed(keys, sums):
        planned, of_run, run = map(_figures, total)
        line = TrendLine(
            label=key,
            planned=planned,
            planned_of_run=of_run,
            run=run,
            unavoidable_kg=bounds[key],
            planned_missed=_missed(planned, target),
            run_missed=_missed(run, target),
        )
        lines.append(line)
    return tuple(lines)


def _figures(side: _Sums) -> Figures:
    values: dict[str, Any] = dict(zip(_SUMMED, side.tolist(), strict=True))
    return Figures(**values | {name: round(values[name]) for name in _COUNTS})


def _missed(figures: Figures, target: float | None) -> bool | None:
    share = figures.trim_loss.share
    return None if target is None or share is None else share > target


_CARRIED = ("reels", "reels_kg", "planned_kg", "planned_of_run_kg", "run_kg")


def _carriers(pieces: Sequence[Selected[Any]], keys: tuple[str, ...]) -> tuple[Carrier, ...]:
    """Pattern trim by width or by order, the most first."""
    sums: dict[tuple[Any, ...], list[float]] = defaultdict(lambda: [0.0] * len(_CARRIED))
    for piece in pieces:
        total = sums[tuple(getattr(piece, key) for key in keys)]
        for k, name in enumerate(_CARRIED):
            total[k] += getattr(piece, name)
    carried = [
        (dict(zip(keys, key, strict=True)), dict(zip(_CARRIED, total, strict=True)))
        for key, total in sorted(sums.items())
    ]
    carried.sort(key=lambda each: -each[1]["planned_kg"])
    whole = sum(figures["planned_kg"] for _, figures in carried)
    carriers, cumulative = [], 0.0
    for key, figures in carried:
        share = figures["planned_kg"] / whole if whole else 0.0
        cumulative += share
        carriers.append(
            Carrier(
                width_mm=key.get("width_mm"),
                order=key.get("order_number", ""),
                customer=key.get("customer", ""),
                reels=int(figures.pop("reels")),
                **figures,
                share=share,
                cumulative=min(1.0, cumulative),
            )
        )
    return tuple(carriers)


def _culled(ran: Sequence[_Set]) -> tuple[Culled, ...]:
    """Reels lost in running by reason, the most kilograms first."""
    lost: dict[str, list[_Set]] = defaultdict(list)
    for each in ran:
        if each.run_culled_kg > 0:
            lost[each.run_reason or "set not finished"].append(each)
    found = [
        Culled(
            reason=reason,
            sets=len(sets),
            reels=int(sum(s.run_reels_rejected if s.run_done else s.reels for s in sets)),
            culled_kg=sum(s.run_culled_kg for s in sets),
        )
        for reason, sets in lost.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.culled_kg, each.reason)))


def _against(sets: Sequence[_Set], planned: Figures, run: Figures | None = None) -> Against:
    running: tuple[tuple[str, float], ...] = ()
    if run is not None and run.sets:
        running = (
            ("culled reels", run.culled_kg - planned.culled_kg),
            ("edge trim", run.edge_trim_kg - planned.edge_trim_kg),
            ("pattern trim", run.pattern_trim_kg - planned.pattern_trim_kg),
            ("butts, jumbo start and end", run.butts_kg + run.start_end_kg
             - planned.butts_kg - planned.start_end_kg),
            ("surplus, sheeter trim and waste",
             run.surplus_kg + run.sheeter_kg - planned.surplus_kg - planned.sheeter_kg),
            ("made for stock", run.made_for_stock_kg - planned.made_for_stock_kg),
            ("defects of jumbos", run.defects_kg - planned.defects_kg),
        )  # fmt: skip
    return Against(
        unavoidable_kg=sum(each.unavoidable_kg for each in sets),
        unproven_kg=sum(each.unproven_kg for each in sets),
        for_set_ups_kg=sum(each.for_set_ups_kg for each in sets),
        valued_kg=sum(each.valued_kg for each in sets),
        ends_kg=planned.used_kg - planned.wound_kg,
        planned_loss_kg=planned.used_kg - planned.delivered_kg,
        used_kg=planned.used_kg,
        running_kg=running,
    )


def _measured(ran: Sequence[_Set]) -> MeasuredSets:
    edges = [(each.run_edge_front_mm, each.run_edge_back_mm) for each in ran]
    wide = [each.run_jumbo_width_mm is not None for each in ran]
    return MeasuredSets(
        sets=len(ran),
        length=sum(each.run_length_wound_m is not None for each in ran),
        width=sum(known or None not in both for known, both in zip(wide, edges, strict=True)),
        jumbo_length=sum(each.run_jumbo_length_m is not None for each in ran),
    )


_KEYS = ("mill_name", "winder", "plan", "run_name", "grade", "gsm")
_TIMES = ("year", "month", "week", "day", "shift")


def _rows(sets: Sequence[_Set], sums: _Sums, labels: dict[str, list[str]]) -> list[Row]:
    """One row for each run of a plan and shift, with all sums: what pivots are made from."""
    keys = [
        (shift, each.plan_id, each.run) for shift, each in zip(labels["shift"], sets, strict=True)
    ]
    # A night shift has two days, so two months at their end: the row takes those of its first set.
    first = {key: place for place, key in reversed(list(enumerate(keys)))}
    rows: list[Row] = []
    for key, total in _summed(keys, sums):
        place = first[key]
        each = sets[place]
        rows.append(
            (
                *(labels[name][place] for name in _TIMES),
                *(getattr(each, name) for name in _KEYS),
                "yes" if each.replaced else "no",
                *total.ravel().round(3).tolist(),
            )
        )
    return rows


def _heading(name: str) -> str:
    stem, _, unit = name.rpartition("_")
    units = {"kg": "kg", "m2": "m²", "m": "m"}
    if unit in units:
        return f"{stem.replace('_', ' ')} {units[unit]}"
    return name.replace("_", " ").replace("set ups", "set-ups")


_ROW_HEADINGS = (
    *(name.capitalize() for name in _TIMES),
    *("Mill", "Winder", "Plan", "Run", "Grade", "Grammage g/m²", "Replaced"),
    *(f"{words} {_heading(name)}" for words in _SIDES for name in _SUMMED),
)
