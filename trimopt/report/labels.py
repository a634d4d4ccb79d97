"""Label data, one row a reel, and the plan as JSON: for other programs to read."""

from __future__ import annotations

import csv
from io import StringIO
from pathlib import Path

from trimopt.plan.codec import write_whole
from trimopt.plan.model import Plan
from trimopt.plan.reel_rows import ReelRow, reels_of
from trimopt.report.words.figures import number
from trimopt.text import for_csv

__all__ = ["LABEL_COLUMNS", "labels_csv", "write_labels"]

LABEL_COLUMNS = (
    "batch identity",
    "order",
    "customer",
    "grade",
    "grammage g/m²",
    "width mm",
    "diameter mm",
    "core mm",
    "length m",
    "mass kg",
    "destination",
    "run",
    "jumbo",
    "set",
    "position",
    "for",
    "joins",
)


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
            writer.writerow(_label(reel, plan.number))
    return page.getvalue()


def _label(reel: ReelRow, plan: str) -> tuple[str | int, ...]:
    use = "stock" if reel.surplus else "customer"
    if reel.kind == "sheeter":
        use = reel.sheeter or "sheeter"
    return (
        for_csv(f"{plan}-{reel.identity}"),
        for_csv(reel.order),
        for_csv(reel.customer),
        for_csv(reel.grade),
        _figure(reel.grammage_gsm),
        _figure(float(reel.width_mm)),
        f"{reel.diameter_mm:.0f}",
        "" if reel.core_mm is None else _figure(reel.core_mm),
        reel.length_m,
        f"{reel.mass_kg:.1f}",
        for_csv(reel.destination),
        for_csv(reel.run),
        for_csv(reel.jumbo),
        reel.set_number,
        reel.position,
        for_csv(use),
        reel.joins,
    )


def _figure(value: float) -> str:
    return number(value).replace(",", "")
