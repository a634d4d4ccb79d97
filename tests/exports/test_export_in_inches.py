"""An export of a mill in inches whose headings state no unit: asked about, and read when told."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from tests.book.books import AS_OF
from trimopt.book import read_book
from trimopt.book.propose_export import proposal_for
from trimopt.mill import read_mill

ROOM = Path("orders/inches")
IN_INCHES = {"width", "chop", "max_diameter", "core"}


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """The example book in inches without the units of its headings."""
    path = tmp_path / "ours.csv"
    text = (ROOM / "shift.csv").read_text(encoding="utf-8-sig").replace(" [in]", "")
    path.write_text(text.replace("65 7/8", "65.875"), encoding="utf-8")
    return path


def test_what_no_heading_says_is_asked_and_told_by_the_mill_file(bare: Path) -> None:
    """As millimetres nothing could be made: the lines proposed are right once they are taken."""
    mill = read_mill(ROOM / "mill.toml")
    proposal = proposal_for(bare, mill)
    lines = (line for line in proposal.asked["headings"] if " = " in line)
    asked = tomllib.loads("\n".join(lines))
    assert {key for key, heading in asked.items() if heading.endswith(" [in]")} == IN_INCHES
    (sign,) = proposal.asked["export"]
    assert sign == 'decimal_sign = "."  # or ,: row 4, Width, 65.875'
    export = replace(mill.export, decimal_sign=".")
    told = read_book(bare, replace(mill, headings=asked, export=export), as_of=AS_OF)
    right = read_book(ROOM / "shift.csv", mill, as_of=AS_OF)
    assert len(right.orders) > 10
    again = proposal_for(bare, replace(mill, headings=asked, export=export))
    assert set(again.sure["headings"]) >= {f'{key} = "{asked[key]}"' for key in asked}
    assert [(each.number, each.width_mm, each.chop_mm, each.core_mm) for each in told.orders] == [
        (each.number, each.width_mm, each.chop_mm, each.core_mm) for each in right.orders
    ]
    assert told.faults == right.faults


def test_a_unit_in_the_book_goes_before_the_mill_file_s(bare: Path) -> None:
    """What stands in a heading, or in a cell, is what holds."""
    mill = read_mill(ROOM / "mill.toml")
    text = bare.read_text(encoding="utf-8").replace("Width", "Width [mm]").replace("87 1/2", "2200")
    bare.write_text(re.sub(r"65\.875", "1600", text), encoding="utf-8")
    headings = {"width": "Width [in]", "max_diameter": "Max. diameter [in]", "core": "Core [in]"}
    told = replace(mill, headings=headings)
    widths = [each.width_mm for each in read_book(bare, told, as_of=AS_OF).orders]
    assert widths[:2] == [2200, 1600]
