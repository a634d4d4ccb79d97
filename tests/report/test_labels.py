"""Label data, JSON, and what importing the report costs."""

from __future__ import annotations

import csv
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from tests.plan.sample import sample_plan
from trimopt.plan.reel_rows import reels_of
from trimopt.report.labels import labels_csv
from trimopt.whole_files import write_whole


def test_a_label_for_every_reel(tmp_path: Path) -> None:
    """Rows are the plan's reels in order of making, under headings that programs know."""
    plan = sample_plan()
    write_whole(tmp_path / "l.csv", labels_csv(plan))
    with (tmp_path / "l.csv").open(newline="", encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file))
    reels = [reel for run in plan.runs for reel in reels_of(run)]
    assert len(rows) == len(reels)
    assert " ".join(rows[0]) == (
        "batch identity order customer grade grammage g/m² width mm diameter mm core mm length m "
        "mass kg destination run jumbo set position for joins"
    )
    for row, reel in zip(rows, reels, strict=True):
        assert row["batch identity"] == f"{plan.number}-{reel.identity}"
        assert float(row["grammage g/m²"]) == reel.grammage_gsm
    assert {row["for"] for row in rows} == {"customer", "Sheeter A", "stock"}


def test_reels_that_were_run_have_their_labels_already() -> None:
    """A replanned plan's file has the labels that may be printed, not those of sets run before."""
    plan = sample_plan()
    run = plan.runs[0]
    first = run.blocks[0]
    sets = (replace(first.sets[0], done=True), *first.sets[1:])
    run = replace(run, blocks=(replace(first, sets=sets), *run.blocks[1:]))
    rest = replace(plan, runs=(run, *plan.runs[1:]))
    rows = csv.DictReader(labels_csv(rest).splitlines())
    before = csv.DictReader(labels_csv(plan).splitlines())
    done = (run.name, str(sets[0].number))
    assert list(rows) == [row for row in before if (row["run"], row["set"]) != done]


def test_the_room_is_light_to_import() -> None:
    """A command that writes nothing does not pay for the spreadsheet and terminal libraries."""
    code = (
        "import sys, trimopt.report.labels; "
        "print([m for m in ('openpyxl', 'rich', 'numpy', 'ortools') if m in sys.modules])"
    )
    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert shown.stdout.strip() == "[]"
