"""Where a ledger is, and what is said when it cannot be opened."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import URL

from tests.ledger.plans import small_plan
from trimopt.errors import LedgerError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url, reading


@pytest.mark.parametrize(
    ("named", "driver", "database"),
    [
        ("plans.sqlite", "sqlite", "plans.sqlite"),
        ("sqlite:///plans.sqlite", "sqlite", "plans.sqlite"),
        ("sqlite:////var/plans.sqlite", "sqlite", "/var/plans.sqlite"),
        ("postgresql://desk@host/mill", "postgresql+psycopg", "mill"),
        ("postgresql+psycopg://desk@host/mill", "postgresql+psycopg", "mill"),
    ],
)
def test_names_of_a_ledger(named: str, driver: str, database: str) -> None:
    """A file, or the URL of either database, is understood."""
    url = ledger_url(named)
    assert (url.drivername, url.database) == (driver, database)


def test_a_relative_file_stands_beside_the_mill_file() -> None:
    """What the mill file names is found wherever the command is called."""
    assert ledger_url("sqlite:///plans.sqlite", Path("/mill")).database == "/mill/plans.sqlite"
    assert ledger_url("/var/plans.sqlite", Path("/mill")).database == "/var/plans.sqlite"


@pytest.mark.parametrize(
    ("named", "words"),
    [
        (" ", "the ledger has no name"),
        ("oracle://host/mill", "oracle is not kept here"),
        ("sqlite://", "names no file"),
        ("sqlite:///:memory:", "names no file"),
        ("://", "not the URL of a ledger"),
    ],
)
def test_what_is_no_ledger(named: str, words: str) -> None:
    """Any other name is refused with the names that would do."""
    with pytest.raises(LedgerError, match=words) as error:
        ledger_url(named)
    assert "postgresql://USER@HOST/DATABASE" in str(error.value)


def test_reading_makes_no_ledger(file_ledger: URL) -> None:
    """Reading where there is no file says so and makes none."""
    with pytest.raises(LedgerError, match="there is no ledger; keep a plan"), reading(file_ledger):
        pass
    assert not Path(str(file_ledger.database)).exists()


def test_a_file_that_is_no_database(file_ledger: URL) -> None:
    """A file of another kind is named as such and left alone."""
    path = Path(str(file_ledger.database))
    path.write_text("no database " * 100)
    with pytest.raises(LedgerError, match="not a database; it is no ledger: name another file"):
        Ledger(file_ledger).keep(small_plan("a-1"))
    assert path.read_text().startswith("no database")


def test_a_database_of_something_else(file_ledger: URL) -> None:
    """Tables that are not a ledger's are left alone."""
    with sqlite3.connect(str(file_ledger.database)) as other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    other.close()
    with pytest.raises(LedgerError, match=r"tables that are not a ledger's \(recipes\)"):
        Ledger(file_ledger).keep(small_plan("a-1"))


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    """A ledger in a missing folder says what to do."""
    with pytest.raises(LedgerError, match="name a file in a folder that can be written to"):
        Ledger(ledger_url(str(tmp_path / "no" / "ledger.sqlite"))).keep(small_plan("a-1"))


def test_a_server_that_is_not_there(tmp_path: Path) -> None:
    """An unreachable server is named with the cure, and no trace of its driver."""
    pytest.importorskip("psycopg")
    url = ledger_url(f"postgresql://desk:secret@/mill?host={tmp_path}")
    with pytest.raises(LedgerError, match="see whether the server runs") as error:
        Ledger(url).keep(small_plan("a-1"))
    assert "secret" not in str(error.value)


def test_managers_read_while_a_desk_writes(file_ledger: URL) -> None:
    """A reader sees the ledger as it was while a plan is being written beside it."""
    Ledger(file_ledger).keep(small_plan("a-1"))
    desk = sqlite3.connect(str(file_ledger.database), isolation_level=None)
    try:
        desk.execute("BEGIN IMMEDIATE")
        desk.execute("UPDATE plans SET winder = 'half done'")
        with reading(file_ledger) as connection:
            seen = connection.exec_driver_sql("SELECT winder FROM plans").scalar_one()
        assert seen == "Winder 1"
        desk.execute("ROLLBACK")
    finally:
        desk.close()


def test_the_same_name_in_another_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A relative name means the file in the folder that the program is in now."""
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        monkeypatch.chdir(tmp_path / folder)
        assert Ledger(ledger_url("plans.sqlite")).keep(small_plan("a-1")).fresh
        assert (tmp_path / folder / "plans.sqlite").is_file()
