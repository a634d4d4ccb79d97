"""Enquiries of the command line and the guide: looked into by work, and the same one once."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from trimopt.book.model import Order
from trimopt.fit import Basis
from trimopt.fit.replanned import RunWithEnquiry, replan_with
from trimopt.making import Run
from trimopt.plan.model import Effort
from trimopt.plan.planning.run_jumbos import RunJumbos

_SERVICE = "trimopt.fit.enquiry_service"
_NOT_ASKED = {"budget", "held", "proven"}
_PLANNED: dict[str, RunWithEnquiry | None] = {}


def looked_into_by_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in five seconds, and work ends the search, not the clock.

    A run with an enquiry in it is planned once for all who ask the same of the same plan.
    """
    monkeypatch.setattr(f"{_SERVICE}.effort_for", lambda _seconds: Effort.QUICK)
    monkeypatch.setattr(f"{_SERVICE}.replan_with", _planned_once)


def _planned_once(
    basis: Basis, run: Run, order: Order, jumbos: RunJumbos, **more: Any
) -> RunWithEnquiry | None:
    """What `replan_with` gives; budget, which is never spent, and who asks have no part."""
    told = {name: value for name, value in more.items() if name not in _NOT_ASKED}
    whose = replace(order, customer="")
    asked = repr((basis.planned, basis.settings, run, whose, jumbos, more["held"].cuts, told))
    if asked not in _PLANNED:
        _PLANNED[asked] = replan_with(basis, run, order, jumbos, **more)
    return _PLANNED[asked]
