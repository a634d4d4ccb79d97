"""Opening a ledger: where it is, one writer at a time, and errors that say what to do."""

from __future__ import annotations

import re
import sqlite3
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote, quote_plus

from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from trimopt.errors import FilledSheetError, LedgerError
from trimopt.ledger.migrations import bring_up_to_date, has_all_steps, names_applied

_WAIT_S = 60  # for another desk's writing to end; a plan takes milliseconds
_PLAIN = re.compile(r"[\w .,~/\\-]*")  # what may be shown of a URL
# No file, but a URL without its slashes, or another way to name a database.
_MISSPELT = re.compile(r"(?![A-Za-z]:[\\/])(?:[A-Za-z][\w+.-]+:|.*:.*@|.*password *=)")
_KEYS = ("host", "port", "user", "password", "passfile", "sslmode", "connect_timeout")
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
    if "://" not in where and not _MISSPELT.match(where):
        url = URL.create("sqlite", database=where)
    else:
        try:
            url = make_url(where)
        except (ArgumentError, ValueError):  # a port that is no number is the second
            raise LedgerError(f"{_scheme(where)}: not the URL of a ledger; {right}") from None
    kind = url.get_backend_name()
    if kind != "sqlite" and (
        where.count("@") > 1 or "@" in f"{url.host}{url.database}"
    ):  # which of them ends the password cannot be told, so none of it is shown
        raise LedgerError(
            f"{_scheme(where)}: not the URL of a ledger: an @ in it is no end of a password; write "
            "it as %40"
        )
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind != "sqlite":
        raise LedgerError(f"{shown(url)}: {kind} is not kept here; {right}")
    if url.host or url.username:
        raise LedgerError(f"{_scheme(where)}: names a server, but sqlite keeps a file; {right}")
    if not url.database or url.database == ":memory:":
        raise LedgerError(f"{shown(url)}: names no file; {right}")
    path = Path(url.database)
    if folder is not None and not path.is_absolute():
        path = folder / path
    return URL.create("sqlite", database=str(path))


def shown(url: URL) -> str:
    """Give the URL as it may be printed: a file as its path; user, host and database of a server.

    Nothing else of it, since passwords stand in more places than one, and nothing odd.
    """
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    host = url.host or url.query.get("host") or ""
    parts = (url.username or "", host, url.database or "")
    user, host, database = (
        part if isinstance(part, str) and _PLAIN.fullmatch(part) else "…" for part in parts
    )
    port = f":{url.port}" if url.port else ""
    return f"{url.get_backend_name()}://{user}{'@' if user else ''}{host}{port}/{database}"


def _scheme(where: str) -> str:
    """What is shown of a URL that cannot be read: nothing after what it begins with."""
    found = re.match("[A-Za-z0-9+]*", where.strip())
    return f"{found[0] if found else ''}://…"


def _without_secrets(text: str, url: URL) -> str:
    """What a driver said, without what the URL holds beside user, host and database."""
    secrets = {url.password or ""}
    for key, value in url.query.items():
        # A password with an & in it goes on in what looks like the next key.
        secrets |= set() if key in _KEYS else {key}
        for each in (value,) if isinstance(value, str) else value:
            secrets |= set() if key in ("host", "user") else {each, *each.split(",")}
    for secret in sorted(secrets - {""}, key=len, reverse=True):
        for form in (secret, repr(secret)[1:-1], quote(secret, safe=""), quote_plus(secret)):
            text = text.replace(form, "…")
    return text


def writing(url: URL) -> AbstractContextManager[Connection]:
    """Give one transaction that writes; the ledger is made, or brought up to date, first.

    No other writer is in the ledger until it ends. It is kept whole where the block ends, and not
    at all where the block raises or the process dies.

    Raises
    ------
    LedgerError
        The ledger cannot be opened or written, is something else, or is of a newer program.
    """
    return _up_to_date(url, writes=True)


def is_there(url: URL) -> bool:
    """Whether there is a ledger at a place; none is made.

    Raises
    ------
    LedgerError
        It cannot be opened, is something else, or is of a newer program.
    """
    if url.get_backend_name() == "sqlite" and not Path(str(url.database)).is_file():
        return False
    with _errors_named(url), _opened(_engine(_absolute(url)), writes=False) as connection:
        return names_applied(connection) is not None


def reading(url: URL) -> AbstractContextManager[Connection]:
    """Give one transaction that reads. An older ledger is brought up to date; none is made.

    Raises
    ------
    LedgerError
        There is no ledger, or it cannot be opened, is something else, or is of a newer program.
    """
    if not is_there(url):
        how = "keep a plan in it first: trimopt plan BOOK --ledger URL"
        raise LedgerError(f"{shown(url)}: there is no ledger; {how}")
    return _up_to_date(url, writes=False)


def migrate(url: URL) -> tuple[str, ...]:
    """Bring an older ledger up to date, and name the steps that it lacked; none is made.

    Raises
    ------
    LedgerError
        As of `writing`.
    """
    if not is_there(url):
        return ()
    with _errors_named(url):
        engine = _engine(_absolute(url))
        with _opened(engine, writes=False) as connection:
            if has_all_steps(connection):
                return ()
        return bring_up_to_date(engine, _keep_others_out)


@contextmanager
def _up_to_date(url: URL, *, writes: bool) -> Iterator[Connection]:
    """One transaction of a ledger with all steps; those that it lacks are made before."""
    with _errors_named(url):
        engine = _engine(_absolute(url))
        for made in (False, True):
            with _opened(engine, writes=writes) as connection:
                if made or has_all_steps(connection):
                    yield connection
                    return
            bring_up_to_date(engine, _keep_others_out)


@contextmanager
def _opened(engine: Engine, *, writes: bool) -> Iterator[Connection]:
    if not writes:
        with engine.connect().execution_options(reads_only=True) as connection:
            yield connection
        return
    with engine.begin() as connection:
        _keep_others_out(connection)
        yield connection


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
        if isinstance(error, FilledSheetError) or str(error).startswith(where):
            raise
        raise type(error)(f"{where}: {error}") from error
    except (NoSuchModuleError, ModuleNotFoundError) as error:
        raise LedgerError(
            f"{where}: a PostgreSQL ledger needs psycopg, which is not installed; install it with: "
            'pip install "psycopg[binary]"'
        ) from error
    except DBAPIError as error:
        reason = _without_secrets(str(error.orig).strip().split("\n")[0], url)
        raise LedgerError(f"{where}: {reason}; {_cure(reason)}") from error
    except SQLAlchemyError as error:
        reason = _without_secrets(str(error), url)
        raise LedgerError(f"{where}: {reason}; see whether it is a ledger's database") from error


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
