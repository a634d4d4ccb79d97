"""Label data, one row a reel: for other programs to read."""

from __future__ import annotations

import csv
from collections.abc import Callable
from io import StringIO
from pathlib import Path

from trimopt.plan.codec import write_whole
from trimopt.plan.model import Plan
from trimopt.plan.reel_rows import ReelRow, reels_of
from trimopt.report.words.figures import number
from trimopt.text import for_csv

__all__ = ["LABEL_COLUMNS", "labels_csv", "write_labels"]


def _use(reel: ReelRow) -> str:
    if reel.kind == "sheeter":
        return reel.sheeter or "sheeter"
    return "stock" if reel.surplus else "customer"


def _figure(value: float | None) -> str:
    return "" if value is None else number(value).replace(",", "")


_COLUMNS: dict[str, Callable[[ReelRow], str | int]] = {
    "order": lambda reel: reel.order,
    "customer": lambda reel: reel.customer,
    "grade": lambda reel: reel.grade,
    "grammage g/m²": lambda reel: _figure(reel.grammage_gsm),
    "width mm": lambda reel: _figure(float(reel.width_mm)),
    "diameter mm": lambda reel: f"{reel.diameter_mm:.0f}",
    "core mm": lambda reel: _figure(reel.core_mm),
    "length m": lambda reel: reel.length_m,
    "mass kg": lambda reel: f"{reel.mass_kg:.1f}",
    "destination": lambda reel: reel.destination,
    "run": lambda reel: reel.run,
    "jumbo": lambda reel: reel.jumbo,
    "set": lambda reel: reel.set_number,
    "position": lambda reel: reel.position,
    "for": _use,
    "joins": lambda reel: reel.joins,
}
LABEL_COLUMNS = ("batch identity", *_COLUMNS)
"""Headings, in English whatever language the report is in: programs read them."""


def write_labels(plan: Plan, path: Path) -> None:
    """Write the label data of every reel of `plan`, UTF-8, comma between, in order of making.

    Parameters
    ----------
    plan : Plan
        A plan that was checked.
    path : Path
        Where to.

    Raises
    ------
    ReportError
        When the file cannot be written.
    """
    write_whole(path, labels_csv(plan))


def labels_csv(plan: Plan) -> str:
    """Give the label data as text. Widths in mm, lengths in m, paper mass in kg."""
    page = StringIO()
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(LABEL_COLUMNS)
    for run in plan.runs:
        for reel in reels_of(run):
            values = (f"{plan.number}-{reel.identity}", *(of(reel) for of in _COLUMNS.values()))
            writer.writerow([for_csv(v) if isinstance(v, str) else v for v in values])
    return page.getvalue()
