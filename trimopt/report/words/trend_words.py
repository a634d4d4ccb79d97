"""How the trend is worded, alike in its workbook and on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.ledger.trend_model import Against, Figures, Trend
from trimopt.paper import number
from trimopt.plan.mass_balance import Balance
from trimopt.report.words.texts import text

CAUSES = (*Balance.CAUSES, "surplus_kg", "made_for_stock_kg", "culled_kg", "defects_kg")
"""Causes of loss: with the paper delivered they add up to the paper used."""


def rules() -> tuple[str, ...]:
    """Give the rules that the figures follow."""
    return tuple(text("trend.figures_follow").split("\n"))


_NAMED = 12  # of the periods that missed the target


def asked_text(trend: Trend) -> str:
    """Say what the trend is of: mill, period, grade, winder."""
    parts = [", ".join(trend.mills)]
    if trend.first and trend.last:
        parts.append(
            text("trend.period", first=f"{trend.first:%Y-%m-%d}", last=f"{trend.last:%Y-%m-%d}")
        )
    grade, winder = trend.asked.grade, trend.asked.winder
    parts.append(text("trend.grade", grade=grade) if grade else text("trend.grades"))
    parts.append(winder or text("trend.winders"))
    return "; ".join(parts)


def missed_text(trend: Trend) -> str:
    """Say which of the periods asked for missed the target, the last of them by name."""
    if trend.target_percent is None:
        return text("trend.no_target")

    def said(judged: Sequence[bool | None]) -> str:
        missed = [line.label for line, flag in zip(trend.lines, judged, strict=True) if flag]
        of = sum(flag is not None for flag in judged)
        before = "…, " if len(missed) > _NAMED else ""
        named = f" ({before}{', '.join(missed[-_NAMED:])})" if missed else ""
        return text("trend.missed", missed=len(missed), of=of) + named

    return text(
        "trend.periods_missed",
        target=number(trend.target_percent),
        by=trend.by,
        planned=said([line.planned_missed for line in trend.lines]),
        run=said([line.run_missed for line in trend.lines]),
    )


def measured_text(trend: Trend) -> str:
    """Say how many sets were run and what was measured on them."""
    measured, planned = trend.measured, trend.whole.planned.sets
    if not measured.sets:
        return text("trend.none_run", planned=planned)
    return text(
        "trend.measured",
        planned=planned,
        run=measured.sets,
        length=measured.length,
        width=measured.width,
        jumbo=measured.jumbo_length,
    )


def side_rows(sides: Sequence[Figures]) -> list[tuple[str, tuple[float | None, ...], str, str]]:
    """Give what stands side by side of planned, planned of run, and run.

    Rows of what it is, its values, their kind ("t", "share", "rate", "count"), and a note; each
    loss is followed by its numerator and denominator.
    """

    def values(of: str, scale: float = 1.0) -> tuple[float | None, ...]:
        found = (getattr(side, of) for side in sides)
        return tuple(None if value is None else value / scale for value in found)

    notes = {"used_kg": text("trend.used_sum"), "broke_kg": text("trend.broke_in")}
    rows = [
        (text("trend.tonnes", what=text(f"balance.{of}")), values(of, 1000), "t", notes.get(of, ""))
        for of in ("used_kg", "delivered_kg", *CAUSES, "broke_kg")
    ]
    for ratios in zip(*(side.ratios for side in sides), strict=True):
        unit = "t" if ratios[0].unit == "kg" else "1000 m²"
        shares = tuple(ratio.share for ratio in ratios)
        rows.append(
            (text(f"loss.{ratios[0].key}"), shares, "share", text(f"loss.{ratios[0].key}_of"))
        )
        for part in ("numerator", "denominator"):
            figures = tuple(getattr(ratio, part) / 1000 for ratio in ratios)
            rows.append((text(f"trend.{part}", unit=unit), figures, "t", ""))
    for of, kind, note in _WORK:
        rows.append((text(f"trend.{of}"), values(of), kind, text(f"trend.{note}") if note else ""))
    return rows


_WORK = (
    ("sets", "count", ""),
    ("set_ups", "count", "first_apart"),
    ("set_ups_100_t", "rate", "of_web"),
    ("knife_moves", "count", ""),
    ("knife_moves_100_t", "rate", "of_web"),
    ("minutes", "count", "minutes_note"),
    ("minutes_stopped", "count", "unplanned"),
)


def against_rows(against: Against, run: Figures | None) -> list[tuple[str, float, bool]]:
    """Give the steps from the lower bound to the loss: words, kg, and whether it is a sum."""
    steps = (
        ("bound", against.unavoidable_kg, False),
        ("unproven", against.unproven_kg, False),
        ("for_set_ups", against.for_set_ups_kg, False),
        ("valued", against.valued_kg, False),
        ("across", against.planned_loss_kg - against.ends_kg, True),
        ("ends", against.ends_kg, False),
        ("planned", against.planned_loss_kg, True),
    )
    rows = [(text(f"against.{key}"), mass, is_sum) for key, mass, is_sum in steps]
    if run is not None and against.running_kg:
        rows += [(text("against.running", part=part), kg, False) for part, kg in against.running_kg]
        rows.append((text("against.run"), run.used_kg - run.delivered_kg, True))
    return rows
