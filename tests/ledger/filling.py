"""Filling ledgers and sheets for tests."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from pathlib import Path

from sqlalchemy import URL

from tests.ledger.history import Shift
from trimopt.ledger.kept_plans import keep_in
from trimopt.ledger.ledger_file import writing
from trimopt.ledger.recorded_sets import MatchedSheet, record_in
from trimopt.plan.model import Plan
from trimopt.report.xlsx.form_sheets import COLUMNS


def load(url: URL, history: Iterable[Shift]) -> int:
    """Keep and record a history in one transaction, and give how many plans it had."""
    count = 0
    with writing(url) as connection:
        for shift in history:
            for plan, entries in shift.plans:
                kept = keep_in(connection, plan)
                count += 1
                if entries:
                    sheet = MatchedSheet(
                        source=Path("sheet.xlsx"), plan_id=kept.id, plan=plan, rows=(),
                        entries=entries,
                    )  # fmt: skip
                    record_in(connection, sheet)
    return count


def write_csv(
    path: Path, plan: Plan, filled: Mapping[tuple[int, int], Mapping[str, object]]
) -> Path:
    """Write a csv of the sheet "As run": the given columns, and what `filled` says of some sets."""
    headings = [column.heading for column in COLUMNS]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, headings, delimiter=";")
        writer.writeheader()
        for place, run in enumerate(plan.runs, start=1):
            for block in run.blocks:
                for row in block.sets:
                    given: dict[str, object] = {
                        "Plan": plan.number,
                        "Run": run.name,
                        "Set": row.number,
                        "Jumbo": " + ".join(part.jumbo for part in row.stretches),
                        "Planned length m": row.length_m,
                    }
                    writer.writerow(given | dict(filled.get((place, row.number), {})))
    return path
