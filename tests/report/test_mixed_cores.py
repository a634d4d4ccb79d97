"""A single-drum winder with mixed cores: every output gives each reel the diameter it is wound to.

A set has one length, so reels on a small core are smaller. The labels once said the diameter on
another core, 105 mm off.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace

import pytest

from tests.plan.sample import sample_plan
from tests.report.conftest import opened
from tests.report.terminal.test_plan_terminal import said
from trimopt.plan.model import Plan
from trimopt.report.html.plan_page import page_html
from trimopt.report.labels import labels_csv
from trimopt.report.words.plan_words import alike


@pytest.fixture
def mixed() -> Plan:
    """The sample plan, the first reel of its first block on the core of 76 mm."""
    plan = sample_plan()
    run = plan.runs[0]
    first, *rest = run.blocks
    positions = (replace(first.positions[0], core_mm=76.0), *first.positions[1:])
    block = replace(first, core_mm=None, positions=positions)
    return replace(plan, runs=(replace(run, blocks=(block, *rest)), *plan.runs[1:]))


def test_labels_say_what_is_wound(mixed: Plan) -> None:
    """3,150 m on 76 mm (100 outside) is 1,239 mm, on 152 mm (180 outside) 1,248 mm."""
    rows = list(csv.DictReader(io.StringIO(labels_csv(mixed))))
    of_first = [row for row in rows if (row["run"], row["set"]) == (mixed.runs[0].name, "1")]
    sizes = {row["core mm"]: row["diameter mm"] for row in of_first}
    assert sizes == {"76": "1239", "152": "1248"}


def test_page_and_terminal_name_cores_and_diameters(mixed: Plan) -> None:
    """The heading has the range, each line its own core and diameter; other blocks have one."""
    page = page_html(mixed)
    assert "cores 76, 152 mm, diameter 1,239–1,248 mm" in page
    assert re.search(r'<td class="n"[^>]*>76</td><td class="n"[^>]*>1,239</td>', page)
    assert re.search(r'<td class="n"[^>]*>152</td><td class="n"[^>]*>1,248</td>', page)
    assert "core 152 mm, diameter 1,248 mm" in page
    shown = " ".join(said(mixed).split())
    assert "cores 76, 152 mm, ø 1,239–1,248 mm" in shown
    assert "core 76 mm, ø 1,239 mm" in shown


def test_the_slitter_plan_names_the_core_of_each_place(mixed: Plan) -> None:
    """The crew sees which core goes where."""
    book = opened(mixed)
    (title,) = (name for name in book.sheetnames if name.startswith("Slitter 1"))
    cells = [[cell for cell in row if cell is not None] for row in book[title].values]
    head = next(at for at, row in enumerate(cells) if "Core mm" in row)
    places = [row[3:5] for row in cells[head + 1 : head + 4]]
    assert [76, "1,239"] in places
    assert [152, "1,248"] in places


def test_reels_for_two_sheeters_are_listed_apart() -> None:
    """Of one order, width and ups, in one set: the crew is told which reel goes where."""
    run = sample_plan().runs[0]
    block = next(b for b in run.blocks if any(p.kind == "sheeter" for p in b.positions))
    reels = [position for position in block.positions if position.kind == "sheeter"]
    other = replace(reels[0], sheeter="Sheeter B", number=len(block.positions) + 1)
    found = alike(replace(block, positions=(*block.positions, other)))
    sheeters = {position.sheeter: count for count, position in found if position.sheeter}
    assert sheeters == {"Sheeter A": len(reels), "Sheeter B": 1}
