"""The sheet on which sales types a width: recalculated by a spreadsheet program, no macros."""

from __future__ import annotations

import shutil
import subprocess
from fractions import Fraction
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_mill
from trimopt.report.xlsx.fit_sheet import FitCurve
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.whole_files import write_whole


def _curve(name: str, valley: int, steepness: int) -> FitCurve:
    """Widths from 300 to 400 mm; the least use 0.25 stands `valley` steps from the first."""
    return name, tuple(
        (
            Fraction(300 + k),
            0.25 + abs(k - valley) / steepness,
            152.0,
            3150,
            2.0 if k % 2 else None,
            1 + k % 3,
        )
        for k in range(101)
    )


CURVES: tuple[FitCurve, ...] = tuple(
    _curve(run.name, valley, steepness)
    for run, valley, steepness in zip(sample_plan().runs, (60, 30), (100, 10), strict=True)
)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample plan's workbook with its curves."""
    path = tmp_path_factory.mktemp("fit") / "plan.xlsx"
    write_whole(path, plan_workbook(sample_plan(), sample_mill(), fit=lambda: CURVES))
    return path


def test_the_figures_behind_it_are_out_of_sight(written: Path) -> None:
    """Thousands of rows that are looked up and never printed."""
    book = load_workbook(written)
    assert book["Fit widths"].sheet_state == "hidden"
    assert book["Fit"].sheet_state == "visible"


_HALF, _LITTLE, _LAST, _WHOLE = 340.5, 340.001, 400, 340
_NONE = (5000, 0, -340, "340 mm", None)
_LOOKED_UP = ((0, 340), (1, 330), (1, 372))
_Typed = tuple[int, float | str | None]  # which run, and the width


@pytest.fixture(scope="module")
def typed(written: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[_Typed, Worksheet]:
    """The sheet with each width typed, as the spreadsheet program reckons it, started once.

    Of the workbook both sheets are left: the others, which take long, have no part in it.
    """
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("LibreOffice is not installed: nothing recalculates the workbook")
    folder = tmp_path_factory.mktemp("typed")
    cases = [(0, width) for width in (_HALF, _LITTLE, *_NONE, _LAST)]
    names = {case: f"typed-{k}.xlsx" for k, case in enumerate((*cases, *_LOOKED_UP))}
    book = load_workbook(written)
    for title in set(book.sheetnames) - {"Fit", "Fit widths"}:
        del book[title]
    for (run, width), name in names.items():
        book["Fit"]["B4"] = CURVES[run][0]
        book["Fit"]["B5"] = width
        book.save(folder / name)
    subprocess.run(
        [soffice, "--headless", f"-env:UserInstallation={(folder / 'home').as_uri()}",
         "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", "out", *names.values()],
        cwd=folder, check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    found: dict[_Typed, Worksheet] = {}
    for case, name in names.items():
        found[case] = load_workbook(folder / "out" / name, data_only=True)["Fit"]
    return found


def test_a_width_that_is_no_step_is_not_passed_off_as_one(
    typed: dict[_Typed, Worksheet],
) -> None:
    """Half a millimetre is not rounded, nor is a little more; no pasted value gives an error."""
    for width in (_HALF, _LITTLE):
        sheet = typed[0, width]
        assert sheet["C5"].value == "between two steps of the mill: 340 / 341 mm"
        assert sheet["B6"].value == "no such width"
    for none in _NONE:
        sheet = typed[0, none]
        assert {sheet["C5"].value, sheet["B6"].value} == {"no such width"}
        shown = [cell.value for row in sheet["A1:H20"] for cell in row]
        assert not [value for value in shown if str(value).startswith(("#", "Err:"))]
    for whole in (_WHOLE, _LAST):
        assert not typed[0, whole]["C5"].value
    assert typed[0, _LAST]["B6"].value == pytest.approx(0.25 + 40 / 100)


@pytest.mark.parametrize(("run", "width"), _LOOKED_UP)
def test_a_typed_width_is_looked_up(typed: dict[_Typed, Worksheet], run: int, width: int) -> None:
    """Marginal use and the best neighbours on either side, as the spreadsheet program reckons."""
    sheet = typed[run, width]
    uses = {int(row[0]): row[1] for row in CURVES[run][1] if row[1] is not None}
    assert sheet["B6"].value == pytest.approx(uses[width])
    lower = {w: use for w, use in uses.items() if width - 40 <= w < width}
    upper = {w: use for w, use in uses.items() if width < w <= width + 40}
    for row, near in ((15, lower), (16, upper)):
        assert sheet.cell(row, 3).value == pytest.approx(min(near.values()))
        assert near[int(str(sheet.cell(row, 2).value))] == pytest.approx(min(near.values()))
