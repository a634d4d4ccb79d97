"""Ctrl-C at any moment: the best plan so far, checked and whole, or a line that there is none."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.bench.interrupts import interrupted, plan_command
from tests.cli.conftest import ROOT
from tests.slowness import slowness


@pytest.mark.parametrize(
    ("after_s", "to_all"), [(0, False), (0.1, False), (0.7, True), (1.6, False), (2.6, True)]
)
def test_ctrl_c_keeps_the_best_plan_or_says_that_there_is_none(
    after_s: float, to_all: bool, tmp_path: Path
) -> None:
    """While modules are loaded, the book is read, patterns and layouts are sought, files made."""
    book = ROOT / "orders" / "shift.xlsx"
    command = plan_command(book, tmp_path / "out", ["--time-limit", "30"])
    ended = interrupted(command, book, tmp_path / "out", after_s=after_s, to_all=to_all)
    assert ended.how in {"kept", "nothing", "done before"}
    assert ended.cpu_s < 6 * slowness()


def test_ctrl_c_reaches_the_runs_in_workers(tmp_path: Path) -> None:
    """Also where it is sent to the command alone; two are not ended, they end, and one waits."""
    book = _three_runs(tmp_path)
    command = plan_command(book, tmp_path / "out", ["--effort", "thorough", "--processes", "2"])
    ended = interrupted(command, book, tmp_path / "out", after_s=4)
    assert ended.how in {"kept", "nothing"}
    assert ended.cpu_s < 9 * slowness()  # minutes, where they went on


def _three_runs(folder: Path) -> Path:
    """The week's book with half of its papers, and the mill file beside it."""
    book = load_workbook(ROOT / "orders" / "week.xlsx")
    lines = book["Orders"]
    for row in range(lines.max_row, 5, -1):
        if lines.cell(row, 4).value not in {140, 175, 300}:
            lines.delete_rows(row)
    shutil.copy(ROOT / "orders" / "mill.toml", folder)
    book.save(folder / "half.xlsx")
    return folder / "half.xlsx"
