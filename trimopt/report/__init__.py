"""A plan on paper and on screen: workbook, page, labels, JSON, terminal.

The spreadsheet and terminal libraries are imported only when something is written or shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.report.progress import ProgressView

if TYPE_CHECKING:
    from rich.console import Console

    from trimopt.mill.model import Mill
    from trimopt.plan.model import Plan
    from trimopt.report.fit_sheet import FitCurve
    from trimopt.report.reading import ReadBack

__all__ = [
    "ProgressView",
    "print_summary",
    "read_back",
    "read_workbook",
    "write_json",
    "write_labels",
    "write_page",
    "write_workbook",
]


def write_workbook(plan: Plan, path: Path, mill: Mill, *, fit: Sequence[FitCurve] = ()) -> None:
    """Write the workbook; see `trimopt.report.workbook.write_workbook`."""
    from trimopt.report.workbook import write_workbook as write

    write(plan, path, mill, fit=fit)


def read_workbook(path: Path) -> Plan:
    """Give the plan of a workbook as edited; see `trimopt.report.reading.read_workbook`."""
    from trimopt.report.reading import read_workbook as read

    return read(path)


def read_back(path: Path) -> ReadBack:
    """Give the plan as issued, as edited, and the changes; see `trimopt.report.reading`."""
    from trimopt.report.reading import read_back as read

    return read(path)


def write_page(plan: Plan, path: Path) -> None:
    """Write the page; see `trimopt.report.page.write_page`."""
    from trimopt.report.page import write_page as write

    write(plan, path)


def write_labels(plan: Plan, path: Path) -> None:
    """Write the label data; see `trimopt.report.labels.write_labels`."""
    from trimopt.report.labels import write_labels as write

    write(plan, path)


def write_json(plan: Plan, path: Path) -> None:
    """Write the plan as JSON; see `trimopt.report.labels.write_json`."""
    from trimopt.report.labels import write_json as write

    write(plan, path)


def print_summary(plan: Plan, console: Console, *, pictures: bool = True) -> None:
    """Print the plan for the scheduler; see `trimopt.report.terminal.print_summary`."""
    from trimopt.report.terminal import print_summary as show

    show(plan, console, pictures=pictures)
