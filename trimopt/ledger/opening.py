"""Opening a ledger: where it is, one writer at a time, and errors that say what to do."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from trimopt.errors import LedgerError
from trimopt.ledger.migrations import MIGRATIONS, bring_up_to_date, names_applied

__all__ = ["ledger_url", "reading", "shown", "writing"]

_WAIT_S = 60  # for another desk's writing to end; a plan takes milliseconds
_LOCK = 0x7472696D  # PostgreSQL's advisory locks are numbers: "trim"


def ledger_url(where: str, folder: Path | None = None) -> URL:
    """Give the URL of a ledger that is named by URL or as a file.

    Parameters
    ----------
    where
        ``sqlite:///file``, ``postgresql://user@host/database``, or the path of a file.
    folder
        What a relative path is relative to: the mill file's folder where the mill file names the
        ledger. Default: the current folder.

    Raises
    ------
    LedgerError
        It is neither.

    Examples
    --------
    >>> str(ledger_url("plans.sqlite")), ledger_url("postgresql://desk@db/mill").drivername
    ('sqlite:///plans.sqlite', 'postgresql+psycopg')
    """
    right = "name a file, sqlite:///FILE or postgresql://USER@HOST/DATABASE"
    if not where.strip():
        raise LedgerError(f"the ledger has no name; {right}")
    if "://" not in where:
        url = URL.create("sqlite", database=where)
    else:
        try:
            url = make_url(where)
        except ArgumentError as error:
            raise LedgerError(f"{where}: not the URL of a ledger; {right}") from error
    kind = url.get_backend_name()
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind != "sqlite":
        raise LedgerError(f"{shown(url)}: {kind} is not kept here; {right}")
    if not url.database or url.database == ":memory:":
        raise LedgerError(f"{shown(url)}: names no file; {right}")
    path = Path(url.database)
    if folder is not None and not path.is_absolute():
        path = folder / path
    return URL.create("sqlite", database=str(path))


def shown(url: URL) -> str:
    """Give the URL as it may be printed: a file as its path, a password never."""
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    return url.render_as_string(hide_password=True)


@contextmanager
def writing(url: URL) -> Iterator[Connection]:
    """Give one transaction that writes; the ledger is made, or brought up to date, first.

    No other writer is in the ledger until it ends. It is kept whole where the block ends, and not
    at all where the block raises or the process dies.

    Raises
    ------
    LedgerError
        The ledger cannot be opened or written, is something else, or is of a newer program.
    """
    with _errors_named(url):
        engine = _engine(_absolute(url))
        with engine.begin() as connection:
            _keep_others_out(connection)
            if _up_to_date(connection):
                yield connection
                return
        bring_up_to_date(engine, _keep_others_out)
        with engine.begin() as connection:
            _keep_others_out(connection)
            yield connection


@contextmanager
def reading(url: URL) -> Iterator[Connection]:
    """Give one transaction that reads. An older ledger is brought up to date; none is made.

    Raises
    ------
    LedgerError
        There is no ledger, or it cannot be opened, is something else, or is of a newer program.
    """
    how = "keep a plan in it first: trimopt plan BOOK --ledger URL"
    if url.get_backend_name() == "sqlite" and not Path(str(url.database)).is_file():
        raise LedgerError(f"{shown(url)}: there is no ledger; {how}")
    with _errors_named(url):
        engine = _engine(_absolute(url))
        with engine.connect().execution_options(reads_only=True) as connection:
            if names_applied(connection) is None:
                raise LedgerError(f"{shown(url)}: there is no ledger in it; {how}")
            if _up_to_date(connection):
                yield connection
                return
        bring_up_to_date(engine, _keep_others_out)
        with engine.connect().execution_options(reads_only=True) as connection:
            yield connection


def _up_to_date(connection: Connection) -> bool:
    return len(names_applied(connection) or ()) == len(MIGRATIONS)


def _keep_others_out(connection: Connection) -> None:
    # SQLite's transactions begin with the write lock already (see _begin).
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})


def _absolute(url: URL) -> URL:
    """The URL with its file named in full: an engine outlives a change of folder."""
    if url.get_backend_name() != "sqlite":
        return url
    return url.set(database=str(Path(str(url.database)).absolute()))


@lru_cache(maxsize=8)
def _engine(url: URL) -> Engine:
    """The engine of a ledger. It holds no connection open, only statements made ready."""
    if url.get_backend_name() == "sqlite":
        engine = create_engine(url, poolclass=NullPool, connect_args={"timeout": _WAIT_S})
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
        return engine
    return create_engine(url, poolclass=NullPool, connect_args={"connect_timeout": 10})


def _prepare(connection: sqlite3.Connection, record: Any) -> None:
    """Set a new SQLite connection up."""
    del record
    # The driver would begin transactions late and without the lock; _begin does it instead.
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys = ON")
    # FULL: what was said to be kept is on the disk, also when the power fails.
    connection.execute("PRAGMA synchronous = FULL")
    if connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal":
        return
    # A write-ahead log lets managers read while a desk writes. Changing to it does not wait for
    # other connections by itself; on a file system that cannot share memory it stays as it is.
    for turn in range(200):
        try:
            connection.execute("PRAGMA journal_mode = WAL").fetchone()
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or turn == 199:
                raise
            time.sleep(0.02)
        else:
            return


def _begin(connection: Connection) -> None:
    reads_only = connection.get_execution_options().get("reads_only", False)
    connection.exec_driver_sql("BEGIN" if reads_only else "BEGIN IMMEDIATE")


@contextmanager
def _errors_named(url: URL) -> Iterator[None]:
    where = shown(url)
    try:
        yield
    except LedgerError as error:
        if str(error).startswith(where):
            raise
        raise LedgerError(f"{where}: {error}") from error
    except (NoSuchModuleError, ModuleNotFoundError) as error:
        raise LedgerError(
            f"{where}: a PostgreSQL ledger needs psycopg, which is not installed; install it with: "
            'pip install "psycopg[binary]"'
        ) from error
    except DBAPIError as error:
        reason = str(error.orig).strip().split("\n")[0]
        raise LedgerError(f"{where}: {reason}; {_cure(reason)}") from error
    except SQLAlchemyError as error:
        raise LedgerError(f"{where}: {error}; see whether it is a ledger's database") from error


def _cure(reason: str) -> str:
    cures = (
        ("not a database", "it is no ledger: name another file"),
        ("malformed", "the file is damaged: put the last copy of it back"),
        ("unable to open", "name a file in a folder that can be written to"),
        ("readonly", "name a file that can be written to"),
        ("locked", "another program holds it: close that one and try again"),
        ("password", "put user and password right in the URL"),
        ("authentication", "put user and password right in the URL"),
        ("does not exist", "create the database, or put its name right in the URL"),
        ("onnection", "see whether the server runs and the URL names its host and port"),
    )
    return next((cure for words, cure in cures if words in reason), "nothing was written")
