"""What tests of several rooms share."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from trimopt.interrupt import ask_to_stop


@pytest.fixture
def asking() -> Iterator[Callable[[], None]]:
    """Ask what is at work to stop, as Ctrl-C does; taken back after the test."""
    yield ask_to_stop
    ask_to_stop(yes=False)
