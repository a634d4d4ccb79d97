"""Held enquiries: in force to the end of their day, each once, and no trim promised twice."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy import URL

from tests.ledger.plans import small_plan
from tests.making.orders import board_reel
from trimopt.book.model import Order, TakenUp
from trimopt.errors import HeldMeanwhileError, LedgerError
from trimopt.ledger import ledger_file
from trimopt.ledger.ledger import Ledger

_TODAY = date(2026, 3, 1)
_UNTIL = date(2026, 3, 6)
_ROOT = Path(__file__).parents[2]


def _asked(customer: str = "Wren", **more: object) -> Order:
    return board_reel("", **{"customer": customer, "held_until": _UNTIL, **more})


def _hold(ledger: Ledger, order: Order, counted: tuple[str, ...] = (), winder: str = "W") -> Order:
    return ledger.hold(order, "Mill", winder, on=_TODAY, counted=counted)


def _held(ledger: Ledger, on: date, winder: str = "W") -> list[str]:
    return [each.number for each in ledger.held("Mill", winder, on=on)]


def test_it_ends_by_itself_at_midnight(ledger: URL) -> None:
    """Its last day is in it; what comes back is what was held, with its number."""
    desk = Ledger(ledger)
    held = _hold(desk, _asked())
    assert held == replace(_asked(), number="HELD-1")
    assert desk.held("Mill", "W", on=_UNTIL) == (held,)
    assert _held(desk, _UNTIL + timedelta(days=1)) == []
    assert _hold(desk, _asked("Kelvane"), ("HELD-1",)).number == "HELD-2"
    assert _held(desk, _TODAY) == ["HELD-1", "HELD-2"]


def test_winders_and_mills_have_their_own(ledger: URL) -> None:
    """What another winder has promised takes nothing from this one; numbers are of the ledger."""
    desk = Ledger(ledger)
    _hold(desk, _asked())
    assert _hold(desk, _asked(), winder="V").number == "HELD-2"
    assert _held(desk, _TODAY) == ["HELD-1"]
    assert _held(desk, _TODAY, "V") == ["HELD-2"]
    assert len(desk.holds()) == 2


def test_the_same_hold_twice_is_refused(ledger: URL) -> None:
    """With its number and what to do; for another customer, or afterwards, it is not."""
    desk = Ledger(ledger)
    _hold(desk, _asked())
    with pytest.raises(LedgerError, match="HELD-1 holds just this until 2026-03-06") as caught:
        _hold(desk, _asked(held_until=_UNTIL + timedelta(days=3)), ("HELD-1",))
    assert "trimopt held --release HELD-1" in str(caught.value)
    shouted = _asked(customer=_asked().customer.upper())
    assert shouted != _asked()
    with pytest.raises(LedgerError, match="HELD-1 holds just this"):
        _hold(desk, shouted, ("HELD-1",))
    desk.release("held-1", on=_TODAY)
    assert _hold(desk, _asked()).number == "HELD-2"


def test_what_is_released_or_over_is_not_released_again(ledger: URL) -> None:
    """Nor is what never was; each says why."""
    desk = Ledger(ledger)
    _hold(desk, _asked())
    for number in ("HELD-2", "7", "HELD-", "HELD-0x1", "HELD-99999999999", "\u0667"):
        with pytest.raises(LedgerError, match="is no held enquiry of this ledger"):
            desk.release(number, on=_TODAY)
    with pytest.raises(LedgerError, match="it ended with 2026-03-06"):
        desk.release("HELD-1", on=_UNTIL + timedelta(days=1))
    desk.release("HELD-1", on=_UNTIL)
    with pytest.raises(LedgerError, match="not held any more: released"):
        desk.release("HELD-1", on=_TODAY)
    assert _held(desk, _TODAY) == []


def test_what_was_held_since_the_answer_is_told(ledger: URL) -> None:
    """Nothing is held then; asked again, with it counted, it is. What is over does not stand by."""
    desk = Ledger(ledger)
    _hold(desk, _asked(held_until=_TODAY))
    _hold(desk, _asked("Kelvane"), ("HELD-1",))
    with pytest.raises(HeldMeanwhileError, match="HELD-2 is held since this answer") as caught:
        _hold(desk, _asked("Varnholt"), ("HELD-1",))
    assert caught.value.exit_code == 10
    assert _held(desk, _TODAY) == ["HELD-1", "HELD-2"]
    later = _TODAY + timedelta(days=1)
    assert desk.hold(_asked("Varnholt"), "Mill", "W", on=later, counted=("HELD-2",)).number
    assert _held(desk, later) == ["HELD-2", "HELD-3"]


def test_two_processes_hold_the_last_trim_at_once(ledger: URL) -> None:
    """One gets it, the other is told, whichever comes first."""
    where = ledger.render_as_string(hide_password=False)
    desks = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.ledger.holding", where, name],
            cwd=_ROOT, env={**os.environ, "PYTHONPATH": str(_ROOT)}, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )
        for name in ("Wren", "Kelvane")
    ]  # fmt: skip
    for desk in desks:
        assert desk.stdout is not None
        assert desk.stdout.readline() == "ready\n"
    for desk in desks:
        assert desk.stdin is not None
        desk.stdin.write("now\n")
        desk.stdin.flush()
    said = {desk.communicate(timeout=120)[0].strip() for desk in desks}
    (told,) = said - {"HELD-1"}
    assert "HELD-1 is held since this answer" in told
    assert len(said) == 2
    assert _held(Ledger(ledger), _TODAY) == ["HELD-1"]


def test_an_order_in_a_kept_plan_ends_it_for_good(ledger: URL) -> None:
    """The next book may lack the order, made or cancelled: the enquiry does not come back."""
    desk = Ledger(ledger)
    _hold(desk, _asked())
    _hold(desk, _asked("Kelvane"), ("HELD-1",))
    plan = replace(small_plan("a-1"), taken_up=(TakenUp(held="HELD-1", order="A-12"),))
    desk.keep(plan)
    assert _held(desk, _TODAY) == ["HELD-2"]
    assert desk.holds()[0].ended == "order A-12 in plan a-1"
    with pytest.raises(LedgerError, match="order A-12 in plan a-1"):
        desk.release("HELD-1", on=_TODAY)


def test_a_locked_ledger_says_so(file_ledger: URL, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is promised while another program holds it; when it lets go, all is as before."""
    monkeypatch.setattr(ledger_file, "_WAIT_S", 0.1)
    ledger_file._engine.cache_clear()
    desk = Ledger(file_ledger)
    _hold(desk, _asked())
    other = sqlite3.connect(str(file_ledger.database), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(LedgerError, match="another program holds it"):
        _hold(desk, _asked("Kelvane"), ("HELD-1",))
    other.rollback()
    other.close()
    assert _hold(desk, _asked("Kelvane"), ("HELD-1",)).number == "HELD-2"
    ledger_file._engine.cache_clear()
