"""One plan of the example shift, made by the command itself, for every test that reads it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from trimopt.plan.codec import from_json
from trimopt.plan.model import Effort, Plan

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What the command left behind."""

    folder: Path
    stdout: str
    stderr: str
    plan: Plan

    @property
    def json(self) -> Path:
        """The plan's JSON file."""
        return self.folder / "reports" / "shift-1.json"


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The README's first command, run where a copy of the example books stands."""
    folder = tmp_path_factory.mktemp("mill")
    shutil.copytree(ROOT / "orders", folder / "orders")
    done = subprocess.run(
        [sys.executable, "-m", "trimopt", "plan", "orders/shift.xlsx"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    text = (folder / "reports" / "shift-1.json").read_text(encoding="utf-8")
    return Made(folder=folder, stdout=done.stdout, stderr=done.stderr, plan=from_json(text))


#: Of `trimopt fit`, with `by_work`: more than any search takes.
NO_CLOCK = ("--time-limit", "300")


@pytest.fixture
def by_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Enquiries are looked into as in five seconds, and work ends the search, not the clock."""
    monkeypatch.setattr("trimopt.fit.enquiry_service.effort_for", lambda _seconds: Effort.QUICK)
