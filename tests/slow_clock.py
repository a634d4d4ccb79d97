"""A clock on which everything takes longer, as on a machine that many others use.

It counts processor seconds of this process, so that what is found does not depend on who else is at
work while a test runs.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from time import process_time
from unittest.mock import patch


@contextmanager
def slow_clock(times: float) -> Iterator[None]:
    """Budgets count each processor second as so many seconds."""
    with patch("trimopt.budget.monotonic", lambda: times * process_time()):
        yield
