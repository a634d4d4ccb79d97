"""What tests of several rooms share."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from trimopt.interrupt import ask_to_stop

#: Where tests share what a function remembers: the room or file, and which they go with.
_REMEMBERED = {
    "tests/fit/": "tests/fit",
    "tests/report/test_fit_outputs.py": "tests/fit",
    "tests/ledger/": "tests/ledger",  # a database server
    "tests/plan/test_from_stock.py": "tests/plan/from stock",
    "tests/plan/test_sheets_from_stock.py": "tests/plan/from stock",
    "tests/plan/planning/replanning/test_stock_as_picked.py": "tests/plan/from stock",
    "tests/plan/test_instructions.py": "tests/plan/instructions",
    "tests/plan/test_ways_out": "tests/plan/ways out",
}


@pytest.hookimpl(tryfirst=True)  # xdist reads the marks in its own
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests that share what takes long to make go to one worker, so that it is made once.

    What they share is a fixture of a module or of the session; all other tests go where there is
    time, after these.
    """
    for item in items:
        known = getattr(item, "_fixtureinfo", None)
        shared = {
            given[-1].baseid
            for given in (known.name2fixturedefs.values() if known else ())
            if given[-1].scope != "function" and given[-1].baseid
        }
        kept = [of for start, of in _REMEMBERED.items() if item.nodeid.startswith(start)]
        if kept or shared:
            item.add_marker(pytest.mark.xdist_group(*kept or [min(shared)]))


@pytest.fixture
def asking() -> Iterator[Callable[[], None]]:
    """Ask what is at work to stop, as Ctrl-C does; taken back after the test."""
    yield ask_to_stop
    ask_to_stop(yes=False)
