"""Small plans for the ledger's tests."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from tests.plan.sample import sample_plan
from trimopt.plan.model import Plan


def small_plan(number: str, *, replaces: str = "", minutes: int = 0) -> Plan:
    """The sample plan's second run alone, three sets, issued so many minutes later."""
    plan = sample_plan()
    return replace(
        plan,
        number=number,
        replaces=replaces,
        made_at=plan.made_at + timedelta(minutes=minutes),
        runs=plan.runs[1:],
    )
