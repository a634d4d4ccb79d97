"""Keeping issued plans: each once, whole or not at all."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, Table, select

from trimopt.errors import LedgerError
from trimopt.ledger.holds import end_taken_up
from trimopt.ledger.ledger_tables import PARTS, balance_kg, pieces, plans, runs, sets
from trimopt.ledger.plan_chain import join_chain, join_those_after, note_beside
from trimopt.ledger.set_shares import RunShare, shares_of
from trimopt.plan.codec import plan_json
from trimopt.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """What became of a plan: its id in the ledger, and the plan that it replaces, if any."""

    id: int
    number: str
    fresh: bool  # False: it was there already and nothing changed
    replaced: str  # number and moment of the plan it replaces; empty where it replaces none
    note: str = ""  # what the reader should know of that


def keep_in(connection: Connection, plan: Plan) -> KeptPlan:
    """Keep an issued plan inside a transaction that writes; keeping it again changes nothing.

    Raises
    ------
    LedgerError
        The plan's sets do not add up to its balance, or a plan of that number and moment is there
        with other contents.
    """
    document = _document(plan)
    print_ = hashlib.sha256(document.encode()).hexdigest()
    there = _same_issue(connection, plan)
    if there is not None:
        if there["fingerprint"] != print_ and not _means(connection, there["id"], document):
            raise LedgerError(
                f"plan {plan.number} made {plan.made_at:%Y-%m-%d %H:%M} is in the ledger with "
                "other contents; an issued plan is never changed: issue the change under a new "
                "number"
            )
        return KeptPlan(id=there["id"], number=plan.number, fresh=False, replaced="")
    shares = shares_of(plan)
    answer = connection.execute(plans.insert().values(**_plan_row(plan, document, print_)))
    assert answer.inserted_primary_key is not None
    plan_id: int = answer.inserted_primary_key[0]
    _write_runs(connection, plan_id, shares)
    end_taken_up(connection, plan)
    replaced, note = join_chain(connection, plan_id)
    join_those_after(connection, plan_id)
    notes = "; ".join(filter(None, (note, note_beside(connection, plan_id))))
    return KeptPlan(id=plan_id, number=plan.number, fresh=True, replaced=replaced, note=notes)


def kept_id(connection: Connection, plan: Plan) -> int | None:
    """Find a plan by its number and moment; None where it is not kept."""
    there = _same_issue(connection, plan)
    return None if there is None else int(there["id"])


def numbers_in(connection: Connection) -> tuple[str, ...]:
    """Give the numbers of all plans, inside a transaction."""
    return tuple(connection.execute(select(plans.c.number).distinct()).scalars())


def _document(plan: Plan) -> str:
    """The plan's JSON without the approval, which is signed after the issue."""
    return plan_json(replace(plan, approved_by=""))


def _means(connection: Connection, key: int, document: str) -> bool:
    """Whether a plan is kept in other words: older versions wrote the figure 0.0 as 0 at times."""
    kept = connection.execute(select(plans.c.document).where(plans.c.id == key)).scalar_one()
    return bool(json.loads(kept) == json.loads(document))


def _utc(moment: datetime) -> datetime:
    return moment if moment.tzinfo is None else moment.astimezone(UTC).replace(tzinfo=None)


def _same_issue(connection: Connection, plan: Plan) -> RowMapping | None:
    found = select(plans.c.id, plans.c.fingerprint).where(
        plans.c.mill_name == plan.mill_name,
        plans.c.winder == plan.winder,
        plans.c.number == plan.number,
        plans.c.made_at == _utc(plan.made_at),
    )
    return connection.execute(found).mappings().first()


def _plan_row(plan: Plan, document: str, print_: str) -> dict[str, Any]:
    same = ("number", "mill_name", "winder", "made_with", "as_of", "replaces")
    return {
        **{name: getattr(plan, name) for name in same},
        "fingerprint": print_,
        "made_at": _utc(plan.made_at),
        "plan_schema": plan.schema,
        "book_name": plan.book.name,
        "book_fingerprint": plan.book.fingerprint,
        "mill_file": plan.mill.name,
        "mill_fingerprint": plan.mill.fingerprint,
        # The document's own wording of the settings, so that fractions read alike.
        "settings": json.dumps(json.loads(document)["settings"]),
        "kept_at": datetime.now(tz=UTC).replace(tzinfo=None),
        "document": document,
    }


def _write_runs(connection: Connection, plan_id: int, shares: tuple[RunShare, ...]) -> None:
    rows: dict[Table, list[dict[str, Any]]] = {runs: [], sets: [], pieces: []}
    for share in shares:
        run, key = share.run, {"plan_id": plan_id, "run": share.place}
        rows[runs].append(
            _row(
                runs,
                run,
                **key,
                jumbo_width_mm=float(run.jumbo_width_mm),
                deckle_mm=float(run.deckle_mm),
                status=run.proof.status,
                objective_kg=run.proof.loss_kg,
                bound_kg=run.proof.bound_kg,
                bound_on=run.proof.bound_on,
                **{name: balance_kg(run.balance, name) for name in PARTS},
            )
        )
        for each in share.sets:
            rows[sets].append(_row(sets, each, **key, **each.parts_kg))
            rows[pieces] += [
                _row(pieces, piece, **key, number=each.number, order_number=piece.order)
                for piece in each.pieces
            ]
    for table, some in rows.items():
        if some:
            connection.execute(table.insert(), some)


def _row(table: Table, source: object, **own: object) -> dict[str, Any]:
    """A row of a table: what is given for a column, else the source's attribute of its name."""
    return {
        column.name: own[column.name] if column.name in own else getattr(source, column.name)
        for column in table.columns
    }
