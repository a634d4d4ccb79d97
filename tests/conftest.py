"""What tests of several rooms share."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator

import pytest
from hypothesis import settings

from trimopt.interrupt import ask_to_stop

# As the command sets it: plans are many small objects that live on, and looking through them for
# cycles at Python's own pace is a seventh of the suite's time.
gc.set_threshold(100_000, 20, 50)

# Property tests are judged by what holds, not by the clock of a busy machine.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


@pytest.fixture
def asking() -> Iterator[Callable[[], None]]:
    """Ask what is at work to stop, as Ctrl-C does; taken back after the test."""
    yield ask_to_stop
    ask_to_stop(yes=False)
