"""Making a ledger, and the named steps that bring an older one up to date.

A new ledger is made as `ledger_tables.py` has it. Where the tables change after a release, a step
here changes those that are there: plain SQL that SQLite and PostgreSQL both read, applied in a
transaction of its own with its name. A step that was issued is never edited.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, Engine, inspect, select

from trimopt.errors import LedgerError
from trimopt.ledger.ledger_tables import applied, every_table


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """A step: its name, and the statements that it is made of."""

    name: str
    statements: tuple[str, ...]


FIRST = "0008 sets taken over as issued"  # what a ledger has at least
MIGRATIONS: tuple[Migration, ...] = ()  # named with the numbers from 0009, in order


def names_applied(connection: Connection) -> tuple[str, ...] | None:
    """Give the steps that a ledger has, in order; None where there is no ledger yet.

    Raises
    ------
    LedgerError
        The database holds something else, or the ledger is of a newer program, or of one before
        the first release.
    """
    if not connection.dialect.has_table(connection, applied.name):
        known = set(inspect(connection).get_table_names())
        if known & set(every_table.tables) or (known and connection.dialect.name == "sqlite"):
            raise LedgerError(
                "the database holds tables that are not a ledger's "
                f"({', '.join(sorted(known)[:5])}); name a new file or an empty database"
            )
        return None
    names = tuple(connection.scalars(select(applied.c.name).order_by(applied.c.name)))
    newer = [name for name in names if name > FIRST and name not in _all_names()]
    if newer:
        raise LedgerError(
            f'the ledger is newer than this program (it has the step "{newer[0]}"); use the newer '
            "program that wrote it"
        )
    if FIRST not in names:
        raise LedgerError(
            "the ledger was written before the first release; name a new file or an empty database "
            "and keep the plans in it again"
        )
    return names


def has_all_steps(connection: Connection) -> bool:
    """Whether there is a ledger, and it lacks no step."""
    return len(names_applied(connection) or ()) == len(_all_names())


def bring_up_to_date(engine: Engine, lock: Callable[[Connection], None]) -> tuple[str, ...]:
    """Make a ledger, or apply the steps that it lacks, each in its own transaction.

    Parameters
    ----------
    engine
        Its transactions can write.
    lock
        Called first in each transaction; keeps other writers out until its end.

    Returns
    -------
    tuple of str
        Names of the steps applied; empty for a new ledger.
    """
    with engine.begin() as connection:
        lock(connection)
        if names_applied(connection) is None:
            every_table.create_all(connection)
            for name in _all_names():
                _put_down(connection, name)
    done = []
    for step in MIGRATIONS:
        with engine.begin() as connection:
            lock(connection)
            # Looked up under the lock: another desk may have been here meanwhile.
            if step.name in (names_applied(connection) or ()):
                continue
            for statement in step.statements:
                connection.exec_driver_sql(statement)
            _put_down(connection, step.name)
            done.append(step.name)
    return tuple(done)


def _all_names() -> tuple[str, ...]:
    return FIRST, *(step.name for step in MIGRATIONS)


def _put_down(connection: Connection, name: str) -> None:
    now = datetime.now(tz=UTC).replace(tzinfo=None)
    connection.execute(applied.insert().values(name=name, applied_at=now))
