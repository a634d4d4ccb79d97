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


def _typed(written: Path, folder: Path, run: int, *widths: float | str | None) -> list[Worksheet]:
    """The sheet with each width typed, as the spreadsheet program reckons it."""
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("LibreOffice is not installed: nothing recalculates the workbook")
    names = [f"typed-{k}.xlsx" for k in range(len(widths))]
    book = load_workbook(written)
    for name, width in zip(names, widths, strict=True):
        book["Fit"]["B4"] = CURVES[run][0]
        book["Fit"]["B5"] = width
        book.save(folder / name)
    subprocess.run(
        [soffice, "--headless", f"-env:UserInstallation={(folder / 'home').as_uri()}",
         "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", "out", *names],
        cwd=folder, check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return [load_workbook(folder / "out" / name, data_only=True)["Fit"] for name in names]


def test_a_width_that_is_no_step_is_not_passed_off_as_one(written: Path, tmp_path: Path) -> None:
    """Half a millimetre is not rounded, nor is a little more; no pasted value gives an error."""
    typed = (340.5, 340.001, 5000, 0, -340, "340 mm", None, 400, 340)
    half, little, *none, last, whole = _typed(written, tmp_path, 0, *typed)
    for sheet in (half, little):
        assert sheet["C5"].value == "between two steps of the mill: 340 / 341 mm"
        assert sheet["B6"].value == "no such width"
    for sheet in none:
        assert {sheet["C5"].value, sheet["B6"].value} == {"no such width"}
        shown = [cell.value for row in sheet["A1:H20"] for cell in row]
        assert not [value for value in shown if str(value).startswith(("#", "Err:"))]
    assert not whole["C5"].value
    assert not last["C5"].value
    assert last["B6"].value == pytest.approx(0.25 + 40 / 100)


@pytest.mark.parametrize(("run", "width"), [(0, 340), (1, 330), (1, 372)])
def test_a_typed_width_is_looked_up(written: Path, tmp_path: Path, run: int, width: int) -> None:
    """Marginal use and the best neighbours on either side, as the spreadsheet program reckons."""
    sheet = _typed(written, tmp_path, run, width)[0]
    uses = {int(row[0]): row[1] for row in CURVES[run][1] if row[1] is not None}
    assert sheet["B6"].value == pytest.approx(uses[width])
    lower = {w: use for w, use in uses.items() if width - 40 <= w < width}
    upper = {w: use for w, use in uses.items() if width < w <= width + 40}
    for row, near in ((15, lower), (16, upper)):
        assert sheet.cell(row, 3).value == pytest.approx(min(near.values()))
        assert near[int(str(sheet.cell(row, 2).value))] == pytest.approx(min(near.values()))
