"""Label data, one row a reel, and the plan as JSON: for other programs to read."""

from __future__ import annotations

import csv
from io import StringIO
from pathlib import Path

from trimopt.mill.model import Mill
from trimopt.plan.codec import to_json, write_whole
from trimopt.plan.model import Plan
from trimopt.plan.reels import ReelRow, reels_of
from trimopt.report.words import number

__all__ = ["LABEL_COLUMNS", "guarded", "labels_csv", "write_json", "write_labels"]

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
    "place",
    "for",
    "joins",
)

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def guarded(text: str) -> str:
    """Give text that no spreadsheet program takes for a formula: led by an apostrophe if need be.

    >>> guarded("=1+1"), guarded("Rook Sacks")
    ("'=1+1", 'Rook Sacks')
    """
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text


def write_labels(plan: Plan, path: Path, mill: Mill | None = None) -> None:
    """Write the label data of every reel of `plan`, UTF-8, comma between, in order of making.

    Parameters
    ----------
    plan : Plan
        A plan that was checked.
    path : Path
        Where to.
    mill : Mill, optional
        Needed only for the diameters of a set that mixes cores.

    Raises
    ------
    ReportError
        When the file cannot be written.
    """
    write_whole(path, labels_csv(plan, mill))


def labels_csv(plan: Plan, mill: Mill | None = None) -> str:
    """Give the label data as text. Widths in mm, lengths in m, paper mass in kg."""
    page = StringIO()
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(LABEL_COLUMNS)
    for run in plan.runs:
        for reel in reels_of(run, mill.winder if mill else None):
            writer.writerow(_label(reel, plan.number))
    return page.getvalue()


def _label(reel: ReelRow, plan: str) -> tuple[str | int, ...]:
    use = "stock" if reel.surplus else "customer"
    if reel.kind == "sheeter":
        use = reel.sheeter or "sheeter"
    return (
        guarded(f"{plan}-{reel.identity}"),
        guarded(reel.order),
        guarded(reel.customer),
        guarded(reel.grade),
        _figure(reel.grammage_gsm),
        _figure(float(reel.width_mm)),
        f"{reel.diameter_mm:.0f}",
        "" if reel.core_mm is None else _figure(reel.core_mm),
        reel.length_m,
        f"{reel.mass_kg:.1f}",
        guarded(reel.destination),
        guarded(reel.run),
        guarded(reel.jumbo),
        reel.set_number,
        reel.position,
        guarded(use),
        reel.joins,
    )


def _figure(value: float) -> str:
    return number(value).replace(",", "")


def write_json(plan: Plan, path: Path) -> None:
    """Write `plan` as JSON with its schema version. Raises `ReportError` where it cannot."""
    write_whole(path, to_json(plan))
