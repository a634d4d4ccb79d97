"""History of issued plans and of what was run, and the trend that managers read from it."""

from __future__ import annotations

from trimopt.ledger.kept_plans import Kept, keep, keep_in, numbers_in, numbers_kept
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url, writing
from trimopt.ledger.recorded_sets import Recorded, record

__all__ = [
    "Kept",
    "Ledger",
    "Recorded",
    "keep",
    "keep_in",
    "ledger_url",
    "numbers_in",
    "numbers_kept",
    "record",
    "writing",
]
