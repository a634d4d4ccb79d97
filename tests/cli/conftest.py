"""The example shift's plan: as a clone of the repository has it, and as the command makes it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.fit.planned_once import looked_into_by_work
from trimopt.plan.codec import from_json
from trimopt.plan.model import Plan

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clone:
    """A folder with the example books and the plan of the shift."""

    folder: Path
    plan: Plan

    @property
    def json(self) -> Path:
        """The plan's JSON file."""
        return self.folder / "reports" / "shift-1.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made(Clone):
    """What the command left behind."""

    stdout: str
    stderr: str


def copied(folder: Path) -> Path:
    """The folder with a copy of the example books and of the plan that the repository carries."""
    shutil.copytree(ROOT / "orders", folder / "orders")
    (folder / "reports").mkdir()
    for path in (ROOT / "reports").glob("shift-1*"):
        shutil.copy(path, folder / "reports")
    return folder


@pytest.fixture(scope="session")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Clone:
    """The plan that the repository carries; `test_example_plan` holds it to the one made now."""
    folder = copied(tmp_path_factory.mktemp("clone"))
    text = (folder / "reports" / "shift-1.json").read_text(encoding="utf-8")
    return Clone(folder=folder, plan=from_json(text))


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
    looked_into_by_work(monkeypatch)
