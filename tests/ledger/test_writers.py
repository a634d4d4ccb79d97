"""Several writers at once, and writers that are killed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from sqlalchemy import URL, func, select

from tests.ledger.looking import require_whole
from trimopt.ledger.ledger_file import reading
from trimopt.ledger.ledger_tables import plans

_PLANS = 80
_KILLS = {"sqlite": 50, "postgresql": 12}
_ROOT = Path(__file__).parents[2]


def _start(module: str, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", module, *words],
        cwd=_ROOT,
        env={**os.environ, "PYTHONPATH": str(_ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_two_writers_lose_nothing(ledger: URL) -> None:
    """Two processes keep 80 plans each, from an empty ledger on: all are there, whole, once."""
    where = ledger.render_as_string(hide_password=False)
    desks = [_start("tests.ledger.writing", where, name, str(_PLANS)) for name in ("a", "b")]
    for desk in desks:
        _, errors = desk.communicate(timeout=300)
        assert desk.returncode == 0, errors
    expected = {f"{name}-{n}" for name in ("a", "b") for n in range(_PLANS)}
    assert require_whole(ledger) == expected
    with reading(ledger) as connection:
        kept = connection.scalar(select(func.count()).select_from(plans))
        replaced = connection.scalar(
            select(func.count()).select_from(plans).where(plans.c.replaced_by.is_not(None))
        )
    assert (kept, replaced) == (2 * _PLANS, _PLANS)


def test_killed_writers_leave_whole_plans(ledger: URL) -> None:
    """After each of 50 kills at random moments the ledger opens, and every plan in it is whole.

    Against PostgreSQL a dozen do: the server, which nobody kills, undoes what was not finished.
    """
    kills = _KILLS[ledger.get_backend_name()]
    where = ledger.render_as_string(hide_password=False)
    killer = _start("tests.ledger.killing", where, str(kills), "7")
    said, errors = killer.communicate(timeout=300)
    assert killer.returncode == 0, errors
    begun, kept = (int(figure) for figure in said.split())
    # A kill between two plans would prove nothing: most fell while one was being written.
    assert kept < begun
    assert begun - kept >= kills // 2
