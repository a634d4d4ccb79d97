"""Ledgers for the tests: a SQLite file, and a database of a private PostgreSQL server.

The server is started from the system's own binaries on a Unix socket in a temporary folder; where
that cannot be done, the tests against it are skipped and say why.
"""

from __future__ import annotations

import importlib
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import URL

from trimopt.ledger.ledger_file import ledger_url

_numbers = count(1)


@pytest.fixture(params=["sqlite", "postgresql"])
def ledger(request: pytest.FixtureRequest, tmp_path: Path) -> URL:
    """An empty ledger of each kind."""
    if request.param == "sqlite":
        return ledger_url(str(tmp_path / "ledger.sqlite"))
    return _database(request.getfixturevalue("postgres_socket"))


@pytest.fixture
def file_ledger(tmp_path: Path) -> URL:
    """An empty ledger in a file."""
    return ledger_url(str(tmp_path / "ledger.sqlite"))


def _database(socket: Path) -> URL:
    psycopg = importlib.import_module("psycopg")  # not there on every machine
    name = f"ledger{next(_numbers)}"
    with psycopg.connect(f"host={socket} user=postgres dbname=postgres", autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}".encode())
    return ledger_url(f"postgresql://postgres@/{name}?host={socket}")


@pytest.fixture(scope="session")
def postgres_socket() -> Iterator[Path]:
    """The folder of the private server's socket."""
    pytest.importorskip("psycopg", reason="psycopg is not installed")
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not programs:
        pytest.skip("no PostgreSQL server is installed under /usr/lib/postgresql")
    folder = Path(tempfile.mkdtemp(prefix="ledger-pg-"))
    server = _Server(programs[-1].parent, folder)
    try:
        server.start()
        yield folder
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)


class _Server:
    def __init__(self, programs: Path, folder: Path) -> None:
        self.programs = programs
        self.folder = folder
        self.user: list[str] = []
        if os.geteuid() == 0:  # the server refuses to run as root
            try:
                who = pwd.getpwnam("postgres")
            except KeyError:
                pytest.skip("PostgreSQL does not run as root, and there is no user postgres")
            os.chown(folder, who.pw_uid, who.pw_gid)
            self.user = ["runuser", "-u", "postgres", "--"]
            if shutil.which("runuser") is None:
                pytest.skip("PostgreSQL does not run as root, and there is no runuser")

    def start(self) -> None:
        data = str(self.folder / "data")
        self._run("initdb", "-D", data, "-U", "postgres", "-A", "trust", "--no-sync", "-E", "UTF8")
        settings = f"-F -k {self.folder} -c listen_addresses= -c max_connections=20"
        self._run(
            "pg_ctl", "-D", data, "-w", "-l", str(self.folder / "log"), "-o", settings, "start"
        )

    def stop(self) -> None:
        if (self.folder / "data" / "postmaster.pid").exists():
            self._run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "stop")

    def _run(self, program: str, *options: str) -> None:
        done = subprocess.run(
            [*self.user, str(self.programs / program), *options],
            cwd=self.folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
        if done.returncode:
            pytest.skip(f"PostgreSQL could not be started: {done.stderr.strip()[-200:]}")
