"""The trend: sums over the sets that count, never averages of percentages."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from trimopt.errors import LedgerError
from trimopt.ledger.ledger_file import shown
from trimopt.ledger.ledger_tables import RUN_PARTS
from trimopt.ledger.set_history import Asked, History, read_history
from trimopt.ledger.trend_model import (
    Against,
    Carrier,
    Culled,
    Figures,
    Line,
    Measured,
    Row,
    Trend,
)

if TYPE_CHECKING:
    from pandas import DataFrame, Series
    from sqlalchemy import URL

__all__ = ["PERIODS", "RULES", "SHIFTS", "trend"]

PERIODS = ("shift", "day", "week", "month", "year")
SHIFTS = (6, 14, 22)
"""Hours at which shifts begin, where the caller names none (common practice)."""

RULES = (
    (
        "A set counts once: every set of a plan that stands, and of a plan that was replaced those "
        "that were run. It stands in the period in which it was planned to begin."
    ),
    (
        "Planned: all sets that count. Planned of run: the plan's figures for the sets that were "
        "run. Run: those sets as the crew recorded them."
    ),
    "What the crew did not measure counts as planned; how many sets were measured is shown.",
    (
        "Trim losses are areas divided by areas, summed over sets before they are divided: sets "
        "weigh by length and width, whatever their grade. Total loss is kilograms of paper used."
    ),
    (
        "An order's surplus and what the sheeter takes of it go to sets by the mass of the order's "
        "reels in them; a jumbo's butt, start and end loss by the metres wound from it."
    ),
    "Pattern trim is shared over the pieces of its set by their width, broke reels left out.",
    (
        "Rejected reels weigh the mean of their set's reels. A set not done, but wound in part, is "
        "lost with all its reels."
    ),
    (
        "Unavoidable is the bound proven for each run, shared over its sets by their loss across "
        "the width. Given for fewer set-ups is the loss of the chosen plan above the least found. "
        "What lies between is not proven either way."
    ),
    (
        "Set-ups and knife moves are per 100 t of web wound; a run's first set-up counts apart. "
        "Minutes as run are the planned ones and those stopped."
    ),
)

_AREAS = ("wound", "deckle", "edge_trim", "pattern_trim", "surplus")
_SUMMED = (
    "sets", "length_m", *RUN_PARTS, *(f"{name}_m2" for name in _AREAS),
    "set_ups", "knife_moves", "minutes", "minutes_stopped",
)  # fmt: skip
_COUNTS = frozenset({"sets", "set_ups", "knife_moves"})


def trend(
    url: URL,
    asked: Asked,
    *,
    by: str = "month",
    target_percent: float | None = None,
    shifts: Sequence[int] = SHIFTS,
) -> Trend:
    """Sum a ledger's history.

    Parameters
    ----------
    url
        The ledger.
    asked
        Which sets.
    by
        Length of a period: one of `PERIODS`.
    target_percent
        Trim loss of the full web width that the mill aims at.
    shifts
        Hours at which shifts begin.

    Raises
    ------
    LedgerError
        The ledger cannot be read, or holds nothing of what was asked.
    """
    if by not in PERIODS:
        raise LedgerError(f"{by} is no period; one of {', '.join(PERIODS)}")
    history = read_history(url, asked)
    frame = history.sets
    sums = _sums(frame)
    labels = _labels(frame, shifts)
    target = None if target_percent is None else target_percent / 100
    whole = _line("all", sums.sum(), target)
    return Trend(
        ledger=shown(url),
        mills=tuple(sorted(frame["mill_name"].unique())),
        begins=asked.begins,
        ends=asked.ends,
        first=frame["at"].min().to_pydatetime(),
        last=frame["at"].max().to_pydatetime(),
        by=by,
        grade=asked.grade,
        winder=asked.winder,
        target_percent=target_percent,
        plans=int(frame["plan_id"].nunique()),
        replaced_plans=history.replaced_plans,
        replaced_sets=int(frame["replaced"].astype(bool).sum()),
        whole=whole,
        lines=_lines(sums, labels[by], target),
        months=_lines(sums, labels["month"], target),
        grades=_lines(sums, frame["grade"], target),
        winders=_lines(sums, frame["winder"], target),
        widths=_carriers(history.pieces, ["width_mm"]),
        orders=_carriers(history.pieces, ["order_number", "customer"]),
        culled=_culled(frame),
        against_planned=_against(frame, whole.planned),
        against_run=_against(frame[frame["ran"]], whole.planned_of_run, whole.run),
        measured=_measured(frame[frame["ran"]]),
        rules=RULES,
        **_rows(history, sums, labels),
    )


def _sums(frame: DataFrame) -> DataFrame:
    """For each set all that is summed: planned, planned of run, and run."""
    import pandas as pd  # noqa: PLC0415

    ran = frame["ran"].astype(float)
    columns: dict[str, Any] = {}
    for side, before in (("planned", ""), ("run", "run_")):
        for name in RUN_PARTS:
            known = before or name != "culled_kg"
            columns[f"{side}_{name}"] = frame[f"{before}{name}"] if known else 0.0 * ran
        for name in _AREAS:
            # kg / (g/m²) is thousands of m².
            columns[f"{side}_{name}_m2"] = 1000 * columns[f"{side}_{name}_kg"] / frame["gsm"]
        columns[f"{side}_length_m"] = frame[f"{before}length_m"].astype(float)
        for name in ("set_ups", "knife_moves"):
            columns[f"{side}_{name}"] = frame[f"{before}{name}"].astype(float)
    stopped = frame["run_minutes_stopped"]
    columns |= {"planned_sets": ran * 0 + 1, "run_sets": ran}
    columns |= {"planned_minutes": frame["minutes"], "planned_minutes_stopped": 0.0 * ran}
    columns |= {"run_minutes": frame["minutes"] * ran + stopped, "run_minutes_stopped": stopped}
    for name in _SUMMED:
        columns[f"planned_of_run_{name}"] = columns[f"planned_{name}"] * ran
    return pd.DataFrame(columns)


def _labels(frame: DataFrame, shifts: Sequence[int]) -> dict[str, Series[str]]:
    at = frame["at"]
    hours = sorted(set(shifts))
    if not hours or min(hours) < 0 or max(hours) > 23:
        raise LedgerError("shifts begin at hours from 0 to 23, such as 6,14,22")
    # Before the day's first shift it is still the last one of the day before.
    hour = at.dt.hour
    begins = hour.map(lambda h: max((s for s in hours if s <= h), default=hours[-1]))
    day = at.dt.normalize().where(hour >= hours[0], at.dt.normalize() - timedelta(days=1))
    week = at.dt.isocalendar()
    return {
        "shift": day.dt.strftime("%Y-%m-%d ") + begins.map(lambda h: f"{h:02d}:00"),
        "day": at.dt.strftime("%Y-%m-%d"),
        "week": week["year"].astype(str) + "-W" + week["week"].map(lambda w: f"{w:02d}"),
        "month": at.dt.strftime("%Y-%m"),
        "year": at.dt.strftime("%Y"),
    }


def _figures(sums: Series[float], side: str) -> Figures:
    values: dict[str, Any] = {name: float(sums[f"{side}_{name}"]) for name in _SUMMED}
    values |= {name: round(values[name]) for name in _COUNTS}
    return Figures(**values)


def _line(label: str, sums: Series[float], target: float | None) -> Line:
    planned, run = _figures(sums, "planned"), _figures(sums, "run")
    return Line(
        label=label,
        planned=planned,
        planned_of_run=_figures(sums, "planned_of_run"),
        run=run,
        planned_missed=_missed(planned, target),
        run_missed=_missed(run, target),
    )


def _missed(figures: Figures, target: float | None) -> bool | None:
    share = figures.trim_loss.share
    return None if target is None or share is None else share > target


def _lines(sums: DataFrame, labels: Series[str], target: float | None) -> tuple[Line, ...]:
    grouped = sums.groupby(labels.to_numpy(), sort=True).sum()
    return tuple(_line(str(label), row, target) for label, row in grouped.iterrows())


def _carriers(pieces: DataFrame, keys: list[str]) -> tuple[Carrier, ...]:
    """Pattern trim by width or by order, the most first."""
    names = ["reels", "reels_kg", "planned_kg", "planned_of_run_kg", "run_kg"]
    grouped = pieces.groupby(keys, as_index=False)[names].sum()
    grouped = grouped.sort_values(["planned_kg", *keys], ascending=[False, *[True] * len(keys)])
    whole = float(grouped["planned_kg"].sum())
    carriers, cumulative = [], 0.0
    for row in grouped.to_dict("records"):
        share = float(row["planned_kg"]) / whole if whole else 0.0
        cumulative += share
        carriers.append(
            Carrier(
                width_mm=float(row["width_mm"]) if "width_mm" in row else None,
                order=str(row.get("order_number", "")),
                customer=str(row.get("customer", "")),
                reels=int(row["reels"]),
                reels_kg=float(row["reels_kg"]),
                planned_kg=float(row["planned_kg"]),
                planned_of_run_kg=float(row["planned_of_run_kg"]),
                run_kg=float(row["run_kg"]),
                share=share,
                cumulative=min(1.0, cumulative),
            )
        )
    return tuple(carriers)


def _culled(frame: DataFrame) -> tuple[Culled, ...]:
    lost = frame[frame["run_culled_kg"] > 0]
    found = []
    done = lost["run_done"].astype(bool)
    reason = lost["run_reason"].where(lost["run_reason"] != "", "set not finished")
    reels = lost["run_reels_rejected"].where(done, lost["reels"])
    grouped = lost.assign(reason=reason, lost_reels=reels).groupby("reason")
    for name, rows in grouped:
        found.append(
            Culled(
                reason=str(name),
                sets=len(rows),
                reels=int(rows["lost_reels"].sum()),
                culled_kg=float(rows["run_culled_kg"].sum()),
            )
        )
    return tuple(sorted(found, key=lambda each: (-each.culled_kg, each.reason)))


def _against(frame: DataFrame, planned: Figures, run: Figures | None = None) -> Against:
    running: tuple[tuple[str, float], ...] = ()
    if run is not None and run.sets:
        running = (
            ("culled reels", run.culled_kg),
            ("edge trim", run.edge_trim_kg - planned.edge_trim_kg),
            ("pattern trim", run.pattern_trim_kg - planned.pattern_trim_kg),
            ("butts, jumbo start and end", run.butts_kg + run.start_end_kg
             - planned.butts_kg - planned.start_end_kg),
            ("surplus, sheeter trim and waste",
             run.surplus_kg + run.sheeter_kg - planned.surplus_kg - planned.sheeter_kg),
        )  # fmt: skip
    return Against(
        unavoidable_kg=float(frame["unavoidable_kg"].sum()),
        unproven_kg=float(frame["unproven_kg"].sum()),
        for_set_ups_kg=float(frame["for_set_ups_kg"].sum()),
        valued_kg=float(frame["valued_kg"].sum()),
        ends_kg=planned.butts_kg + planned.start_end_kg,
        planned_loss_kg=planned.used_kg - planned.delivered_kg,
        used_kg=planned.used_kg,
        running_kg=running,
    )


def _measured(ran: DataFrame) -> Measured:
    edges = ran["run_edge_front_mm"].notna() & ran["run_edge_back_mm"].notna()
    return Measured(
        sets=len(ran),
        length=int(ran["run_length_wound_m"].notna().sum()),
        width=int((ran["run_jumbo_width_mm"].notna() | edges).sum()),
        jumbo_length=int(ran["run_jumbo_length_m"].notna().sum()),
    )


_KEYS = ("mill_name", "winder", "plan", "run_name", "grade", "gsm", "replaced")
_KEY_HEADINGS = ("Mill", "Winder", "Plan", "Run", "Grade", "Grammage g/m²", "Replaced")
_TIMES = ("year", "month", "week", "day", "shift")
_SIDES = (("planned", "Planned"), ("planned_of_run", "Planned of run"), ("run", "Run"))


def _rows(history: History, sums: DataFrame, labels: dict[str, Series[str]]) -> dict[str, Any]:
    """One row for each run of a plan and shift, with all sums: what pivots are made from."""
    frame = history.sets
    keys = frame[["plan_id", "run", *_KEYS]].assign(**{name: labels[name] for name in _TIMES})
    by = ["shift", "plan_id", "run"]
    grouping = [keys[name].to_numpy() for name in by]
    first = keys.groupby(grouping, sort=True).first()
    # A night shift has two days, so two months at their end: the row takes those of its first set.
    summed = sums.groupby(grouping, sort=True).sum()
    columns = [f"{side}_{name}" for side, _ in _SIDES for name in _SUMMED]
    headings = (
        *(name.capitalize() for name in _TIMES),
        *_KEY_HEADINGS,
        *(f"{words} {_heading(name)}" for _, words in _SIDES for name in _SUMMED),
    )
    texts = first[[*_TIMES, *_KEYS]].to_numpy().tolist()
    numbers = summed[columns].round(3).to_numpy().tolist()
    rows: list[Row] = [
        (*text[:-1], "yes" if text[-1] else "no", *figures)
        for text, figures in zip(texts, numbers, strict=True)
    ]
    return {"row_headings": headings, "rows": rows}


def _heading(name: str) -> str:
    stem, _, unit = name.rpartition("_")
    units = {"kg": "kg", "m2": "m²", "m": "m"}
    if unit in units:
        return f"{stem.replace('_', ' ')} {units[unit]}"
    return name.replace("_", " ").replace("set ups", "set-ups")
