"""Random mills and books, planned by the command: what is printed holds, by a second opinion.

`python -m tests.bench.random_books` tries hundreds, large ones among them.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.printed import findings, refusals
from tests.random_books import random_case, small_numbers
from tests.random_books.case import case_with_extras
from tests.random_books.life import lived
from tests.random_books.made import command, make
from tests.slow_clock import slow_clock

#: Exit codes of a book of which nothing can be made, for a reason that names each order.
_REFUSED = {3, 5}


@pytest.fixture(autouse=True)
def _no_solver_speaks(capfd: pytest.CaptureFixture[str]) -> Iterator[None]:
    """What the command says is caught; a solver would write past it, on a user's terminal."""
    yield
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("number", list(small_numbers(40)))
def test_what_is_printed_holds(number: int, tmp_path: Path) -> None:
    """Workbook, page, labels, JSON and terminal agree with each other, the book and the mill."""
    case = random_case(number)
    made = make(case, tmp_path, time_limit_s=0.5)
    assert made.crash == ""
    if made.code in _REFUSED:
        assert [row["Order"] for row in case.orders if f"{row['Order']}:" not in made.stderr] == []
        assert [str(found) for found in refusals(made)] == []
        return
    assert made.code == 0, made.stderr
    assert [str(found) for found in findings(made)] == []


@pytest.mark.parametrize("number", list(small_numbers(8)))
def test_whatever_lies_beside_a_book_what_is_printed_holds(number: int, tmp_path: Path) -> None:
    """Defects, odd jumbos, reels in stock, stock widths, seconds; read back and verified, too."""
    made = make(case_with_extras(number), tmp_path, time_limit_s=0.4)
    assert made.crash == ""
    if made.code in _REFUSED:
        assert "cannot be laid out" not in made.stderr
        return
    words = [str(made.file(".xlsx")), "--book", str(made.book), "--mill", str(made.mill)]
    assert command(["verify", *words])[0] == 0, made.stderr
    assert [str(found) for found in findings(made)] == []


@pytest.mark.parametrize("number", [1, 10, 20, 30])
def test_a_plan_goes_on_as_its_sets_are_run(number: int, tmp_path: Path) -> None:
    """Lines are cancelled, new, changed; sets recorded; plans edited, or only saved again."""
    case = case_with_extras(number)
    made = make(case, tmp_path, time_limit_s=0.4)
    assert (made.code, made.crash) == (0, ""), made.stderr
    assert list(lived(case, made)) == []


@pytest.mark.parametrize("number", [10, 31])
def test_what_is_printed_of_a_plan_that_goes_on_holds(number: int, tmp_path: Path) -> None:
    """Sets that ran, sets as the crew hold them and new ones, in all outputs alike."""
    case = random_case(number)
    made = make(case, tmp_path, time_limit_s=0.4)
    assert (made.code, made.crash) == (0, ""), made.stderr
    assert list(lived(case, made)) == []


@pytest.mark.parametrize("number", [2, 29])
def test_on_a_machine_of_no_speed_there_is_a_plan(number: int, tmp_path: Path) -> None:
    """All that is ordered may be made of the odd jumbos, or a listed one hold not a single set."""
    with slow_clock(1e9):
        made = make(case_with_extras(number), tmp_path, time_limit_s=0.4)
    assert (made.code, made.crash) == (0, ""), made.stderr
