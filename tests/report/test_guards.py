"""A plan whose every name drives terminals, deceives the eye and begins a formula: all outputs."""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from rich.console import Console

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_mill
from tests.test_text import HOSTILE, hidden
from trimopt.plan.model import Plan
from trimopt.progress import RunProgress
from trimopt.report.html.plan_page import page_html
from trimopt.report.labels import labels_csv
from trimopt.report.read_back.plan_from_workbook import read_back
from trimopt.report.terminal.plan_terminal import print_summary
from trimopt.report.terminal.progress import ProgressView
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.text import formula_like
from trimopt.whole_files import write_whole

_EVIL = f" =cmd|'/c x'!A1{HOSTILE[:-1]}<script>alert(1)</script>[red]&P"
_NAMES = {
    "number", "name", "order", "orders", "customer", "destination", "grade", "jumbo", "notes",
    "mill_name", "winder", "why", "run", "sheeter", "made_with", "limit", "reason", "as_written",
}  # fmt: skip


def _evil(value: Any, name: str = "") -> Any:
    """The same data with every name made hostile, alike wherever it stands."""
    if is_dataclass(value) and not isinstance(value, type):
        kept = {f.name: _evil(getattr(value, f.name), f.name) for f in fields(value) if f.init}
        return replace(value, **kept)
    if isinstance(value, tuple):
        return tuple(_evil(part, name) for part in value)
    return _EVIL + value if isinstance(value, str) and value and name in _NAMES else value


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The sample plan, hostile; its number names files and is plain."""
    evil = _evil(sample_plan())
    assert isinstance(evil, Plan)
    return replace(evil, number="p-1", approved_by=_EVIL)


def test_the_terminal_is_not_driven(plan: Plan) -> None:
    """The summary on a terminal holds the colours of its own and nothing else that is not seen."""
    shown = io.StringIO()
    print_summary(plan, Console(file=shown, force_terminal=False, width=100))
    assert "cmd|" in shown.getvalue()
    assert "[red]" in shown.getvalue()  # markup is shown, not obeyed
    assert not hidden(shown.getvalue())


def test_progress_is_not_driven() -> None:
    """The name of a run is that of a grade, which stands in a file."""

    class _Terminal(io.StringIO):
        encoding = "utf-8"

        def isatty(self) -> bool:
            return True

    shown = _Terminal()
    with ProgressView(stream=shown) as view:
        view.report(RunProgress(run="a\x1b]0;b\x07\u202e", phase="patterns", share=0.1))
    assert "\x1b]" not in shown.getvalue()
    assert not hidden(shown.getvalue()) - set("\x1b\r")


def test_the_workbook_holds_no_formula_and_nothing_hidden(plan: Plan, tmp_path: Path) -> None:
    """Cells, headers, titles and properties; what is written reads back as the same plan."""
    write_whole(tmp_path / "p.xlsx", plan_workbook(plan, sample_mill()))
    with zipfile.ZipFile(tmp_path / "p.xlsx") as parts:
        for name in parts.namelist():
            if name.endswith((".xml", ".rels")):
                text = parts.read(name).decode()
                assert not hidden(text) - set("\r\t"), name
                assert "script>alert" not in text.replace("&lt;script&gt;", "")
    book = load_workbook(tmp_path / "p.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    texts = [cell for cell in cells if isinstance(cell.value, str) and formula_like(cell.value)]
    assert len(texts) > 100
    assert {cell.data_type for cell in texts} == {"s"}
    assert all(cell.quotePrefix for cell in texts)
    back = read_back(tmp_path / "p.xlsx")
    assert back.changes == ()
    assert back.issued == plan


def test_the_page_holds_no_script_and_nothing_hidden(plan: Plan, tmp_path: Path) -> None:
    """Every name stands in it as text."""
    write_whole(tmp_path / "p.html", page_html(plan))
    text = (tmp_path / "p.html").read_text(encoding="utf-8")
    assert "&lt;script&gt;alert" in text
    assert "<script>alert" not in text
    assert not hidden(text)


def test_labels_hold_no_formula_and_nothing_hidden(plan: Plan, tmp_path: Path) -> None:
    """No cell of the label file begins a formula in any spreadsheet."""
    write_whole(tmp_path / "l.csv", labels_csv(plan))
    text = (tmp_path / "l.csv").read_text(encoding="utf-8-sig")
    assert not hidden(text)
    rows = list(csv.reader(io.StringIO(text)))
    assert not [cell for row in rows for cell in row if formula_like(cell)]
    assert sum(cell.startswith("'") for row in rows for cell in row) > 20
