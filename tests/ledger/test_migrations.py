"""Bringing ledgers up to date."""

from __future__ import annotations

import pytest
from sqlalchemy import URL, create_engine, inspect, text

from tests.ledger.looking import require_whole
from tests.ledger.plans import small_plan
from trimopt.errors import LedgerError
from trimopt.ledger import migrations
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import reading
from trimopt.ledger.ledger_tables import every_table
from trimopt.ledger.migrations import FIRST, Migration, names_applied

_STEPS = (
    Migration(name="0009 one column", statements=("ALTER TABLE holds ADD COLUMN one INTEGER",)),
    Migration(name="0010 another", statements=("CREATE TABLE another (a INTEGER)",)),
)


def test_a_new_ledger_has_the_tables_that_the_program_uses(ledger: URL) -> None:
    """Every table is there with its keys, and it is said that it lacks no step."""
    Ledger(ledger).keep(small_plan("a-1"))
    assert Ledger(ledger).migrate() == ()
    with reading(ledger) as connection:
        look = inspect(connection)
        assert set(look.get_table_names()) == set(every_table.tables)
        assert [index["name"] for index in look.get_indexes("sets")] == ["sets_at"]
        assert [key["referred_table"] for key in look.get_foreign_keys("pieces")] == ["sets"]
        assert names_applied(connection) == (FIRST,)


def test_an_older_ledger_is_brought_up_to_date(
    ledger: URL, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A ledger takes the steps that it lacks when it is opened, and keeps what it had."""
    Ledger(ledger).keep(small_plan("a-1"))
    monkeypatch.setattr(migrations, "MIGRATIONS", _STEPS)
    assert Ledger(ledger).migrate() == tuple(step.name for step in _STEPS)
    assert Ledger(ledger).migrate() == ()
    with reading(ledger) as connection:
        assert names_applied(connection) == (FIRST, *(step.name for step in _STEPS))
        assert "another" in inspect(connection).get_table_names()
    assert Ledger(ledger).numbers() == ("a-1",)


def test_a_new_ledger_lacks_no_step(ledger: URL, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its tables are made as they are now, so no step is applied to them."""
    monkeypatch.setattr(migrations, "MIGRATIONS", _STEPS)
    Ledger(ledger).keep(small_plan("a-1"))
    assert Ledger(ledger).migrate() == ()
    with reading(ledger) as connection:
        assert "another" not in inspect(connection).get_table_names()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            "INSERT INTO ledger_migrations VALUES ('0099 far ahead', '2030-01-01 00:00:00')",
            r'newer than this program .*"0099 far ahead"',
        ),
        ("DELETE FROM ledger_migrations", "written before the first release"),
    ],
)
def test_a_ledger_of_another_program_is_refused(ledger: URL, change: str, said: str) -> None:
    """A ledger with a step not known, or before the first, is left alone, and the text says why."""
    Ledger(ledger).keep(small_plan("a-1"))
    engine = create_engine(ledger)
    with engine.begin() as connection:
        connection.execute(text(change))
    engine.dispose()
    for attempt in (lambda: Ledger(ledger).keep(small_plan("a-2")), lambda: require_whole(ledger)):
        with pytest.raises(LedgerError, match=said):
            attempt()


def test_a_step_is_applied_whole_or_not_at_all(
    ledger: URL, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a step fails in its middle, nothing of it stays."""
    Ledger(ledger).keep(small_plan("a-1"))
    broken = ("CREATE TABLE half (a INTEGER)", "CREATE TABLE half (b")
    monkeypatch.setattr(
        migrations, "MIGRATIONS", (Migration(name="0009 broken", statements=broken),)
    )
    with pytest.raises(LedgerError, match=r"half|syntax|incomplete"):
        Ledger(ledger).migrate()
    monkeypatch.setattr(migrations, "MIGRATIONS", ())
    with reading(ledger) as connection:
        assert "half" not in inspect(connection).get_table_names()
        assert names_applied(connection) == (FIRST,)


def test_names_are_in_order_and_never_twice() -> None:
    """Steps are sorted by their names, which start with a number."""
    names = [FIRST, *(step.name for step in migrations.MIGRATIONS)]
    assert names == sorted(set(names))
    assert all(name[:4].isdigit() for name in names)
