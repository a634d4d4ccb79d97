"""Tables of a workbook: a column too narrow for a figure would print ###."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import pytest
from openpyxl import load_workbook

from trimopt.ledger.as_run_file import AS_RUN_COLUMNS
from trimopt.report.plan_tables import JUMBOS, REEL_LIST, RUNS
from trimopt.report.table_columns import TableColumn
from trimopt.report.words.units import METRIC
from trimopt.report.xlsx.workbook_writer import Workbook, text_lines

_COLUMNS = (
    TableColumn("customer", 8, "text", lambda kg: f"a customer of {kg} kg of paper"),
    TableColumn("mass", 8, "kg", lambda kg: kg),
    TableColumn("share", 8, "share", lambda kg: -kg),
    TableColumn("width", 8, "mm", lambda kg: kg),
)


@pytest.mark.parametrize(
    ("kg", "shown"),
    [
        (12.0, ("12", "-1,200.00%", "12")),
        (1_234_567.25, ("1,234,567", "-123,456,725.00%", "1,234,567.25")),
    ],
)
def test_a_column_is_as_wide_as_its_longest_figure(kg: float, shown: tuple[str, ...]) -> None:
    """Whatever is planned: texts are wrapped in the width that a column has, figures are not."""
    book = Workbook(METRIC)
    sheet = book.add("Table")
    sheet.columns(_COLUMNS)
    sheet.table(1, _COLUMNS, [1.0, kg])
    opened = load_workbook(BytesIO(book.saved()))["Table"]
    text, *figures = (opened.column_dimensions[letter].width for letter in "ABCD")
    assert text == pytest.approx(8, abs=0.1)
    for width, figure in zip(figures, shown, strict=True):
        assert width >= max(7.9, len(figure.replace(",", "")) + 1)
        assert width < 2 * max(8, len(figure))


@pytest.mark.parametrize("columns", [RUNS[:1], JUMBOS[:1], REEL_LIST[1:2], AS_RUN_COLUMNS[1:2]])
def test_a_run_of_a_common_name_takes_one_line(columns: Sequence[TableColumn]) -> None:
    """A list of reels takes fewer pages then."""
    (run,) = columns
    strong = run.kind == "strong"
    assert text_lines("Kraft linerboard 42 lb/1000 ft²", run.width, bold=strong) == 1
