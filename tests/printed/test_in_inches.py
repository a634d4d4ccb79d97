"""A plan in inches and pounds, read by the plain checker: it holds, and one slip in it is found."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.printed import findings
from tests.random_books import random_case
from tests.random_books.made import Made, make
from trimopt.paper.printed_figures import inches_text


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """A small plan of a book in inches, in which nothing is found."""
    case = random_case(154)
    assert "inches" in case.traits
    found = make(case, tmp_path_factory.mktemp("inches"), time_limit_s=5)
    assert '"system": "inch-pound"' in found.file(".json").read_text(encoding="utf-8")
    assert findings(found) == ()
    return found


def off(text: str) -> str:
    """A printed figure with a sixteenth of an inch more."""
    whole = sum((Fraction(part) for part in text.replace(",", "").split()), Fraction(1, 16))
    return inches_text(whole)


def test_a_knife_a_sixteenth_off_is_found_on_the_slitter_sheet(made: Made) -> None:
    """The figure under the picture, though the JSON and all other outputs are right."""
    book = load_workbook(made.file(".xlsx"))
    sheet = next(sheet for sheet in book if sheet.title.startswith("Slitter"))
    head = next(
        at for at, row in enumerate(sheet.iter_rows(), start=1)
        if str(row[0].value).startswith(" BLOCK ")
    )  # fmt: skip
    knife = next(
        cell
        for row in sheet.iter_rows(min_row=head + 4)
        for cell in row
        if isinstance(cell.value, str) and re.fullmatch(r"[\d /.]+", cell.value)
    )
    knife.value = off(str(knife.value))
    book.save(made.file(".xlsx").with_name("wrong.xlsx"))
    wrong = _Wrong(made, made.file(".xlsx").with_name("wrong.xlsx"))
    assert {found.kind for found in findings(wrong)} == {"knives of a block"}


def test_a_knife_a_sixteenth_off_is_found_on_the_terminal(made: Made) -> None:
    """Of the line that lists them."""
    said = re.sub(r"(knives at ▲?)([\d /.]+)", lambda m: m[1] + off(m[2]), made.stdout, count=1)
    assert said != made.stdout
    assert {found.kind for found in findings(replace(made, stdout=said))} == {"knives of a block"}


class _Wrong:
    """A plan whose workbook is another."""

    def __init__(self, made: Made, workbook: Path) -> None:
        self.mill, self.book, self.stdout, self.stderr = (
            made.mill, made.book, made.stdout, made.stderr,
        )  # fmt: skip
        self._made, self._workbook = made, workbook

    def file(self, ending: str) -> Path:
        """The plan's file with that ending."""
        return self._workbook if ending == ".xlsx" else self._made.file(ending)
