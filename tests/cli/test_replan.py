"""`trimopt replan`: times as a person says them, and the number of the next plan."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.cli.conftest import Made
from trimopt import read_plan
from trimopt.cli import trimopt
from trimopt.errors import RequestError

pytestmark = pytest.mark.usefixtures("folder")

LIMIT = ("--time-limit", "3")


@pytest.fixture
def folder(made: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the made plan's folder, to be worked in."""
    shutil.copytree(made.folder, tmp_path / "mill")
    monkeypatch.chdir(tmp_path / "mill")
    return tmp_path / "mill"


def _replan(*words: str) -> Result:
    return CliRunner().invoke(trimopt, ["replan", "reports/shift-1.json", *LIMIT, *words])


def test_the_next_plan_is_numbered_after_the_one_it_goes_on_from() -> None:
    """Also in a folder that has no plan; an hour is one of the day of the last set that was run."""
    result = _replan("--done", "1", "--issue", "--out", "r2", "--now", "09:00", "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    plan = read_plan("r2/shift-2.json")
    assert (plan.number, plan.replaces) == ("shift-2", "shift-1")
    first = read_plan("reports/shift-1.json").runs[0].blocks[0].sets[0]
    assert first.start is not None
    assert found["now"] == f"{first.start:%Y-%m-%d}T09:00:00"


def test_times_that_cannot_be_are_wrong_usage() -> None:
    """Before now, or not written as a time: said at once, with what would be right."""
    result = _replan("--done", "1", "--now", "09:00", "--keep-until", "08:00")
    assert isinstance(result.exception, RequestError)
    assert "08:00, which is before now" in str(result.exception)
    result = _replan("--done", "1", "--now", "9 am")
    assert result.exit_code == 2
    assert "%Y" not in result.output
    assert "2026-11-23 09:00" in result.output
