"""Keeps plans one after another: run as a program, with a ledger's URL, a name and a count."""

from __future__ import annotations

import sys

from tests.ledger.plans import small_plan
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url

if __name__ == "__main__":
    url, name, count = ledger_url(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    for each in range(count):
        # Every second one replaces the one before it, and every tenth is kept twice.
        replaces = f"{name}-{each - 1}" if each % 2 else ""
        plan = small_plan(f"{name}-{each}", replaces=replaces, minutes=each)
        assert Ledger(url).keep(plan).fresh
        if each % 10 == 0:
            assert not Ledger(url).keep(plan).fresh
