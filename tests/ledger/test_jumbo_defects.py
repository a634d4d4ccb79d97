"""Plans of jumbos with defects: kept and recorded, their parts add up to the paper used."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from random import Random

import pytest
from sqlalchemy import URL

from tests.ledger.filling import write_csv
from tests.properties.test_defects import book_with, defects_of, lost_kg, planned
from trimopt.ledger.ledger import Ledger
from trimopt.plan.mass_balance import Balance


@pytest.mark.parametrize("seed", [4, 29])
def test_defects_are_a_part(tmp_path: Path, file_ledger: URL, seed: int) -> None:
    """What is cut out and reels with a band: planned, and the same where all was run as planned."""
    draw = Random(seed)
    plan = planned(book_with(draw, defects_of(draw)))
    (run,) = plan.runs
    defects_kg = run.balance.defects_kg
    assert defects_kg > 0
    assert (lost_kg(run) > 0) == (seed == 29)
    ledger = Ledger(file_ledger)
    done = {(1, row.number): {"Done": "yes"} for block in run.blocks for row in block.sets}
    recorded = ledger.record(plan, write_csv(tmp_path / "run.csv", plan, done))
    for name, kg in recorded.planned.items():
        assert recorded.run[name] == pytest.approx(kg, abs=0.1), name
    trend = ledger.trend()
    for side in (trend.whole.planned, trend.whole.run):
        said = asdict(side)
        assert side.defects_kg == pytest.approx(defects_kg, abs=0.1)
        parts = (
            "delivered_kg", "surplus_kg", *Balance.CAUSES, "made_for_stock_kg", "culled_kg",
            "defects_kg",
        )  # fmt: skip
        assert sum(said[name] for name in parts) == pytest.approx(run.balance.used_kg, abs=0.1)
    against = trend.against_run
    summed = sum((
        against.unavoidable_kg, against.unproven_kg, against.for_set_ups_kg, against.valued_kg,
        against.ends_kg,
    ))  # fmt: skip
    assert summed == pytest.approx(against.planned_loss_kg, abs=0.1)
