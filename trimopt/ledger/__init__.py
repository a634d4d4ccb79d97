"""History of issued plans and of what was run, and the trend that managers read from it."""

from __future__ import annotations

from trimopt.ledger.keeping import Kept, keep
from trimopt.ledger.opening import ledger_url
from trimopt.ledger.recording import Recorded, record

__all__ = ["Kept", "Recorded", "keep", "ledger_url", "record"]
