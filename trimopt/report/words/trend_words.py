"""How the trend is worded, alike in its workbook and on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.ledger.trend_model import Against, Figures, Trend
from trimopt.report.words.plan_words import number

__all__ = [
    "CAUSES",
    "against_rows",
    "asked_text",
    "measured_text",
    "missed_text",
    "share_text",
]

CAUSES = (
    ("Edge trim", "edge_trim_kg"),
    ("Pattern trim", "pattern_trim_kg"),
    ("Sheeter trim and waste", "sheeter_kg"),
    ("Butts", "butts_kg"),
    ("Jumbo start and end", "start_end_kg"),
    ("Surplus", "surplus_kg"),
    ("Culled reels", "culled_kg"),
)
"""Causes of loss: with the paper delivered they add up to the paper used."""

_NAMED = 12  # of the periods that missed the target


def share_text(share: float | None) -> str:
    """Give a share as per cent, or a dash where there is none.

    >>> share_text(0.0251), share_text(-0.000001), share_text(None)
    ('2.51 %', '0.00 %', '–')
    """
    return "–" if share is None else f"{round(100 * share, 2) + 0.0:.2f} %"


def asked_text(trend: Trend) -> str:
    """Say what the trend is of: mill, period, grade, winder."""
    parts = [", ".join(trend.mills)]
    if trend.first and trend.last:
        parts.append(f"sets from {trend.first:%Y-%m-%d} to {trend.last:%Y-%m-%d}")
    parts.append(f"grade {trend.grade}" if trend.grade else "all grades")
    parts.append(trend.winder or "all winders")
    return "; ".join(parts)


def missed_text(trend: Trend) -> str:
    """Say which of the periods asked for missed the target, the last of them by name."""
    if trend.target_percent is None:
        return "no target: name one in the mill file (trim_target_percent) or with --target"

    def said(judged: Sequence[bool | None]) -> str:
        missed = [line.label for line, flag in zip(trend.lines, judged, strict=True) if flag]
        of = sum(flag is not None for flag in judged)
        before = "…, " if len(missed) > _NAMED else ""
        named = f" ({before}{', '.join(missed[-_NAMED:])})" if missed else ""
        return f"{len(missed)} of {of} missed{named}"

    return (
        f"{number(trend.target_percent)} % of full web width; {trend.by}s planned: "
        f"{said([line.planned_missed for line in trend.lines])}; {trend.by}s as run: "
        f"{said([line.run_missed for line in trend.lines])}"
    )


def measured_text(trend: Trend) -> str:
    """Say how many sets were run and what was measured on them."""
    measured, planned = trend.measured, trend.whole.planned.sets
    if not measured.sets:
        return f"{planned:,} sets planned; none recorded as run"
    return (
        f"{planned:,} sets planned, {measured.sets:,} recorded as run; measured: length on "
        f"{measured.length:,}, web width on {measured.width:,}, jumbo length on "
        f"{measured.jumbo_length:,} of them; the rest counts as planned"
    )


def against_rows(against: Against, run: Figures | None) -> list[tuple[str, float, bool]]:
    """Give the steps from the proven bound to the loss: words, kg, and whether it is a sum."""
    rows = [
        ("Unavoidable for these books: the proven bound", against.unavoidable_kg, False),
        ("Between bound and best plan found, proven neither way",
         against.unproven_kg, False),
        ("Given for fewer set-ups", against.for_set_ups_kg, False),
        ("Value of kg below and above the order, no paper",
         against.valued_kg, False),
        ("Loss across the width, planned", against.planned_loss_kg - against.ends_kg, True),
        ("Butts, jumbo start and end", against.ends_kg, False),
        ("Planned loss", against.planned_loss_kg, True),
    ]  # fmt: skip
    if run is not None and against.running_kg:
        rows += [(f"Lost in running: {words}", kg, False) for words, kg in against.running_kg]
        rows.append(("Loss as run", run.used_kg - run.delivered_kg, True))
    return rows
