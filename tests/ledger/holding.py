"""A process that holds an enquiry, having counted no other: two of them run at once."""

from __future__ import annotations

import sys
from datetime import date

from tests.making.orders import board_reel
from trimopt.errors import HeldMeanwhileError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url

if __name__ == "__main__":
    where, customer = sys.argv[1:]
    order = board_reel("", customer=customer, held_until=date(2026, 3, 6))
    desk = Ledger(ledger_url(where))
    desk.numbers()  # whoever asks first makes the ledger
    print("ready", flush=True)
    sys.stdin.readline()
    try:
        print(desk.hold(order, "Mill", "W", on=date(2026, 3, 1)).number)
    except HeldMeanwhileError as error:
        print(error)
