"""Bringing ledgers up to date."""

from __future__ import annotations

import pytest
from sqlalchemy import URL, create_engine, event, inspect, text

from tests.ledger.looking import require_whole
from tests.ledger.plans import small_plan
from trimopt.errors import LedgerError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import _begin, _prepare, reading
from trimopt.ledger.ledger_tables import every_table
from trimopt.ledger.migrations import MIGRATIONS, Migration, bring_up_to_date, names_applied


def test_steps_make_the_tables_that_the_program_uses(ledger: URL) -> None:
    """After the last step every table has exactly the columns that the program knows, in order."""
    Ledger(ledger).keep(small_plan("a-1"))
    with reading(ledger) as connection:
        look = inspect(connection)
        assert set(look.get_table_names()) == set(every_table.tables)
        for table in every_table.sorted_tables:
            there = [(c["name"], bool(c["nullable"])) for c in look.get_columns(table.name)]
            ours = [(c.name, bool(c.nullable)) for c in table.columns]
            if connection.dialect.name == "sqlite":
                # SQLite reports its integer key as one that may be null; it never is.
                there = [(n, False if n == "id" else may) for n, may in there]
            assert there == ours, table.name


def test_an_older_ledger_is_brought_up_to_date(ledger: URL) -> None:
    """A ledger at the first step takes the rest when it is opened, and keeps what it had."""
    engine = create_engine(ledger)
    assert bring_up_to_date(engine, lambda _: None, MIGRATIONS[:1]) == (MIGRATIONS[0].name,)
    with engine.begin() as connection:
        assert "as_run" not in inspect(connection).get_table_names()
        connection.execute(text(
            "INSERT INTO plans (fingerprint, number, mill_name, winder, made_at, made_with, "
            "plan_schema, as_of, book_name, book_fingerprint, mill_file, mill_fingerprint, "
            "settings, replaces, kept_at, document) VALUES ('f', 'old-1', 'm', 'w', "
            "'2025-01-01 00:00:00', '0', 1, '2025-01-01', 'b', 'b', 'm', 'm', '{}', '', "
            "'2025-01-01 00:00:00', '{}')"
        ))  # fmt: skip
    engine.dispose()
    assert Ledger(ledger).migrate() == tuple(step.name for step in MIGRATIONS[1:])
    assert Ledger(ledger).migrate() == ()
    with reading(ledger) as connection:
        assert names_applied(connection) == tuple(step.name for step in MIGRATIONS)
        assert "as_run" in inspect(connection).get_table_names()
        assert connection.execute(text("SELECT number FROM plans")).scalar_one() == "old-1"


def test_a_newer_ledger_is_refused(ledger: URL) -> None:
    """A ledger with a step that this program does not know is left alone, and the text says why."""
    Ledger(ledger).keep(small_plan("a-1"))
    engine = create_engine(ledger)
    with engine.begin() as connection:
        connection.execute(text(
            "INSERT INTO ledger_migrations VALUES ('0099 far ahead', '2030-01-01 00:00:00')"
        ))  # fmt: skip
    engine.dispose()
    for attempt in (lambda: Ledger(ledger).keep(small_plan("a-2")), lambda: require_whole(ledger)):
        with pytest.raises(LedgerError, match=r'newer than this program .*"0099 far ahead"'):
            attempt()


def test_a_step_is_applied_whole_or_not_at_all(ledger: URL) -> None:
    """Where a step fails in its middle, nothing of it stays."""
    engine = create_engine(ledger)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
    broken = Migration(
        name="0001 broken", statements=("CREATE TABLE half (a INTEGER)", "CREATE TABLE half (b")
    )
    with pytest.raises(Exception, match=r"half|syntax|incomplete"):
        bring_up_to_date(engine, lambda _: None, (broken,))
    with engine.connect() as connection:
        assert inspect(connection).get_table_names() == []
    engine.dispose()


def test_names_are_in_order_and_never_twice() -> None:
    """Steps are sorted by their names, which start with a number."""
    names = [step.name for step in MIGRATIONS]
    assert names == sorted(set(names))
    assert all(name[:4].isdigit() for name in names)
