"""Named steps that bring a ledger from nothing, or from an older program, up to date.

Each step is plain SQL that SQLite and PostgreSQL both read, and what must be read from kept plans
follows it; it is applied in a transaction of its
own with its name. A step that was issued is never edited: a change of the tables is a new step at
the end, and `ledger_tables.py` says what stands after the last one.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, Engine, inspect, select, text

from trimopt.errors import LedgerError
from trimopt.ledger.ledger_tables import applied
from trimopt.ledger.plan_chain import join_chain


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """A step: its name, the statements that it is made of, and what is filled in after them."""

    name: str
    statements: tuple[str, ...]
    fill: Callable[[Connection], None] | None = None


_PARTS = """
    used_kg DOUBLE PRECISION NOT NULL, delivered_kg DOUBLE PRECISION NOT NULL,
    surplus_kg DOUBLE PRECISION NOT NULL, edge_trim_kg DOUBLE PRECISION NOT NULL,
    pattern_trim_kg DOUBLE PRECISION NOT NULL, sheeter_kg DOUBLE PRECISION NOT NULL,
    butts_kg DOUBLE PRECISION NOT NULL, start_end_kg DOUBLE PRECISION NOT NULL,
    broke_kg DOUBLE PRECISION NOT NULL, wound_kg DOUBLE PRECISION NOT NULL,
    deckle_kg DOUBLE PRECISION NOT NULL"""

_PLANS = (
    """CREATE TABLE plans (
    id {key}, fingerprint TEXT NOT NULL UNIQUE, number TEXT NOT NULL, mill_name TEXT NOT NULL,
    winder TEXT NOT NULL, made_at TIMESTAMP NOT NULL, made_with TEXT NOT NULL,
    plan_schema INTEGER NOT NULL, as_of DATE NOT NULL, book_name TEXT NOT NULL,
    book_fingerprint TEXT NOT NULL, mill_file TEXT NOT NULL, mill_fingerprint TEXT NOT NULL,
    settings TEXT NOT NULL, replaces TEXT NOT NULL, replaced_by INTEGER REFERENCES plans (id),
    kept_at TIMESTAMP NOT NULL, document TEXT NOT NULL,
    UNIQUE (mill_name, winder, number, made_at))""",
    f"""CREATE TABLE runs (
    plan_id INTEGER NOT NULL REFERENCES plans (id), run INTEGER NOT NULL, name TEXT NOT NULL,
    grade TEXT NOT NULL, grammage_gsm DOUBLE PRECISION NOT NULL,
    jumbo_width_mm DOUBLE PRECISION NOT NULL, deckle_mm DOUBLE PRECISION NOT NULL,
    status TEXT NOT NULL, objective_kg DOUBLE PRECISION NOT NULL,
    bound_kg DOUBLE PRECISION NOT NULL, bound_on TEXT NOT NULL, set_ups INTEGER NOT NULL,
    set_ups_bound INTEGER, knife_moves INTEGER NOT NULL, knife_moves_bound INTEGER,
    minutes DOUBLE PRECISION NOT NULL, {_PARTS},
    PRIMARY KEY (plan_id, run))""",
    f"""CREATE TABLE sets (
    plan_id INTEGER NOT NULL, run INTEGER NOT NULL, number INTEGER NOT NULL,
    block INTEGER NOT NULL, at TIMESTAMP NOT NULL, jumbos TEXT NOT NULL,
    length_m INTEGER NOT NULL, reels INTEGER NOT NULL, set_ups INTEGER NOT NULL,
    knife_moves INTEGER NOT NULL, minutes DOUBLE PRECISION NOT NULL, {_PARTS},
    unavoidable_kg DOUBLE PRECISION NOT NULL, unproven_kg DOUBLE PRECISION NOT NULL,
    for_set_ups_kg DOUBLE PRECISION NOT NULL, valued_kg DOUBLE PRECISION NOT NULL,
    PRIMARY KEY (plan_id, run, number),
    FOREIGN KEY (plan_id, run) REFERENCES runs (plan_id, run))""",
    "CREATE INDEX sets_at ON sets (at)",
    """CREATE TABLE pieces (
    plan_id INTEGER NOT NULL, run INTEGER NOT NULL, number INTEGER NOT NULL,
    place INTEGER NOT NULL, kind TEXT NOT NULL, order_number TEXT NOT NULL,
    customer TEXT NOT NULL, width_mm DOUBLE PRECISION NOT NULL, ups INTEGER,
    reels INTEGER NOT NULL, reels_kg DOUBLE PRECISION NOT NULL,
    pattern_trim_kg DOUBLE PRECISION NOT NULL,
    PRIMARY KEY (plan_id, run, number, place),
    FOREIGN KEY (plan_id, run, number) REFERENCES sets (plan_id, run, number))""",
)

_AS_RUN = (
    f"""CREATE TABLE as_run (
    plan_id INTEGER NOT NULL, run INTEGER NOT NULL, number INTEGER NOT NULL,
    recorded_at TIMESTAMP NOT NULL, source TEXT NOT NULL, done BOOLEAN NOT NULL,
    length_wound_m DOUBLE PRECISION, reels_rejected INTEGER, reason TEXT NOT NULL,
    jumbo_width_mm DOUBLE PRECISION, jumbo_length_m DOUBLE PRECISION,
    edge_front_mm DOUBLE PRECISION, edge_back_mm DOUBLE PRECISION,
    minutes_stopped DOUBLE PRECISION, remark TEXT NOT NULL,
    length_m DOUBLE PRECISION NOT NULL, set_ups INTEGER NOT NULL,
    knife_moves INTEGER NOT NULL, {_PARTS}, culled_kg DOUBLE PRECISION NOT NULL,
    PRIMARY KEY (plan_id, run, number),
    FOREIGN KEY (plan_id, run, number) REFERENCES sets (plan_id, run, number))""",
)

_WINDERS = tuple(
    statement.format(table=table)
    for table in ("runs", "sets", "as_run")
    for statement in (
        "ALTER TABLE {table} ADD COLUMN winder TEXT NOT NULL DEFAULT ''",
        "UPDATE {table} SET winder = (SELECT winder FROM plans WHERE plans.id = {table}.plan_id)",
    )
)

_HOLDS = (
    """CREATE TABLE holds (
    id {key}, mill_name TEXT NOT NULL, winder TEXT NOT NULL, held_at TIMESTAMP NOT NULL,
    until DATE NOT NULL, document TEXT NOT NULL, ended TEXT NOT NULL)""",
)

_MADE_FOR_STOCK = tuple(
    f"ALTER TABLE {table} ADD COLUMN made_for_stock_kg DOUBLE PRECISION NOT NULL DEFAULT 0"
    for table in ("runs", "sets", "as_run")
)

_GOES_ON = (
    "ALTER TABLE runs ADD COLUMN culled_kg DOUBLE PRECISION NOT NULL DEFAULT 0",
    "ALTER TABLE sets ADD COLUMN culled_kg DOUBLE PRECISION NOT NULL DEFAULT 0",
    "ALTER TABLE sets ADD COLUMN done BOOLEAN NOT NULL DEFAULT FALSE",
)

_DEFECTS = tuple(
    f"ALTER TABLE {table} ADD COLUMN defects_kg DOUBLE PRECISION NOT NULL DEFAULT 0"
    for table in ("runs", "sets", "as_run")
)

_ISSUED = ("ALTER TABLE sets ADD COLUMN issued TEXT NOT NULL DEFAULT ''",)


def _fill_issued(connection: Connection) -> None:
    """Say of sets that were taken over with which plan they were issued, and line plans up."""
    kept = connection.execute(text(
        "SELECT id, replaces, document FROM plans WHERE replaces <> '' ORDER BY made_at, id"
    )).all()  # fmt: skip
    put = text("UPDATE sets SET issued = :issued WHERE plan_id = :plan_id AND run = :run "
               "AND number = :number")  # fmt: skip
    for plan_id, replaces, document in kept:
        for place, run in enumerate(json.loads(document).get("runs", ()), start=1):
            for row in (row for block in run["blocks"] for row in block["sets"]):
                if issued := row.get("issued") or replaces * row.get("done", False):
                    key = {"plan_id": plan_id, "run": place, "number": row["number"]}
                    connection.execute(put, {"issued": issued, **key})
    linked = set(connection.scalars(text("SELECT replaced_by FROM plans")))
    for plan_id, *_ in kept:
        if plan_id not in linked:
            join_chain(connection, plan_id)


MIGRATIONS = (
    Migration(name="0001 plans, sets and pieces", statements=_PLANS),
    Migration(name="0002 sets as run", statements=_AS_RUN),
    Migration(name="0003 winders of runs and sets", statements=_WINDERS),
    Migration(name="0004 held enquiries", statements=_HOLDS),
    Migration(name="0005 made for stock", statements=_MADE_FOR_STOCK),
    Migration(name="0006 sets of plans that go on", statements=_GOES_ON),
    Migration(name="0007 defects of jumbos", statements=_DEFECTS),
    Migration(name="0008 sets taken over as issued", statements=_ISSUED, fill=_fill_issued),
)

_KEYS = {
    "sqlite": "INTEGER PRIMARY KEY",
    "postgresql": "INTEGER GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY",
}


def names_applied(connection: Connection) -> tuple[str, ...] | None:
    """Give the steps that a ledger has, in order; None where there is no ledger yet.

    Raises
    ------
    LedgerError
        The database holds something else, or the ledger is of a newer program.
    """
    if not connection.dialect.has_table(connection, applied.name):
        known = set(inspect(connection).get_table_names())
        ours = {"plans", "runs", "sets", "pieces", "as_run", "holds"}
        if known & ours or (known and connection.dialect.name == "sqlite"):
            raise LedgerError(
                "the database holds tables that are not a ledger's "
                f"({', '.join(sorted(known)[:5])}); name a new file or an empty database"
            )
        return None
    names = tuple(connection.scalars(select(applied.c.name).order_by(applied.c.name)))
    newer = sorted(set(names) - {step.name for step in MIGRATIONS})
    if newer:
        raise LedgerError(
            f'the ledger is newer than this program (it has the step "{newer[0]}"); use the newer '
            "program that wrote it"
        )
    return names


def bring_up_to_date(
    engine: Engine,
    lock: Callable[[Connection], None],
    steps: tuple[Migration, ...] = MIGRATIONS,
) -> tuple[str, ...]:
    """Apply the steps that a ledger lacks, each in its own transaction, and give their names.

    Parameters
    ----------
    engine
        Its transactions can write.
    lock
        Called first in each transaction; keeps other writers out until its end.
    """
    done = []
    for step in steps:
        with engine.begin() as connection:
            lock(connection)
            # Looked up under the lock: another desk may have been here meanwhile.
            names = names_applied(connection)
            if names is None:
                applied.create(connection)
            elif step.name in names:
                continue
            for statement in step.statements:
                key = _KEYS[connection.dialect.name]
                connection.exec_driver_sql(statement.replace("{key}", key))
            if step.fill is not None:
                step.fill(connection)
            now = datetime.now(tz=UTC).replace(tzinfo=None)
            connection.execute(applied.insert().values(name=step.name, applied_at=now))
            done.append(step.name)
    return tuple(done)
