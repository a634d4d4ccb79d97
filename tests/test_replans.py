"""What was run of a plan, as a person names it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ledger.filling import write_csv
from tests.ledger.plans import small_plan
from trimopt import what_ran
from trimopt.errors import LedgerError, PlanError


def _numbers(done: list[str] | str) -> list[int]:
    return [each.number for each in what_ran(small_plan("a-1"), done).sets]


def test_one_text_may_stand_alone() -> None:
    """It is not read letter by letter, which makes sets 1 and 3 of "1-3"."""
    assert _numbers("1-3") == _numbers(["1-3"]) == [1, 2, 3]
    ran = what_ran(small_plan("a-1"), "1-3", spoiled="2-3")
    assert [len(each.spoiled) > 0 for each in ran.sets] == [False, True, True]


@pytest.mark.parametrize("named", ["0", "4", "1-999999999999", "2-4"])
def test_a_set_that_is_none_of_the_plan_is_refused_at_once(named: str) -> None:
    """However long the range is that names it."""
    with pytest.raises(PlanError, match=r"has no set [04]: its sets are 1 to 3"):
        what_ran(small_plan("a-1"), [named])
    with pytest.raises(PlanError, match=r"has no set [04]: its sets are 1 to 3"):
        what_ran(small_plan("a-1"), ["1-3"], spoiled=[named])
    with pytest.raises(PlanError, match=r"the reels of set 1 lie at 1"):
        what_ran(small_plan("a-1"), ["1-3"], spoiled=["1: 1-99999999999"])


def test_a_sheet_that_says_nothing_is_not_taken_as_nothing_run(tmp_path: Path) -> None:
    """Whoever names a sheet means the filled one; one that says no of a set says something."""
    plan = small_plan("a-1")
    with pytest.raises(LedgerError, match="no set has yes or no"):
        what_ran(plan, as_run=write_csv(tmp_path / "a.csv", plan, {}))
    path = write_csv(tmp_path / "b.csv", plan, {(1, 1): {"Done": "no"}})
    assert what_ran(plan, as_run=path).sets == ()
