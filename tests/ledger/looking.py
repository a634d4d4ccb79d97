"""Looking a ledger through: whether every plan in it is whole, counted from its own JSON."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import URL, func, select

from trimopt.ledger.ledger_file import reading
from trimopt.ledger.ledger_tables import PARTS, pieces, plans, runs, sets


def require_whole(url: URL) -> set[str]:
    """See that every plan has all runs, sets and pieces of its JSON and balances; give numbers."""
    with reading(url) as connection:
        documents = {
            row.id: (row.number, json.loads(row.document))
            for row in connection.execute(select(plans.c.id, plans.c.number, plans.c.document))
        }
        counted = {
            name: dict(
                tuple(row)
                for row in connection.execute(
                    select(table.c.plan_id, func.sum(amount)).group_by(table.c.plan_id)
                )
            )
            for name, table, amount in (
                ("runs", runs, runs.c.run * 0 + 1),
                ("sets", sets, sets.c.run * 0 + 1),
                ("positions", pieces, pieces.c.reels),
            )
        }
        masses = {
            (row.plan_id, row.run): row
            for row in connection.execute(
                select(sets.c.plan_id, sets.c.run, *(func.sum(sets.c[n]).label(n) for n in PARTS))
                .group_by(sets.c.plan_id, sets.c.run)
            )
        }  # fmt: skip
    for plan_id, (number, document) in documents.items():
        found = {name: counted[name].get(plan_id, 0) for name in counted}
        assert found == _counts(document), number
        for place, run in enumerate(document["runs"], start=1):
            for name in PARTS:
                summed = getattr(masses[plan_id, place], name)
                said = run["balance"]["culls_kg" if name == "culled_kg" else name]
                assert abs(summed - said) < 0.01, (number, name)
    assert set(counted["sets"]) == set(documents), "sets without their plan"
    return {number for number, _ in documents.values()}


def _counts(document: dict[str, Any]) -> dict[str, int]:
    blocks = [block for run in document["runs"] for block in run["blocks"]]
    return {
        "runs": len(document["runs"]),
        "sets": sum(len(block["sets"]) for block in blocks),
        "positions": sum(len(block["sets"]) * len(block["positions"]) for block in blocks),
    }
