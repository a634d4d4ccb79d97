"""The example plan that the repository carries is what the README's first command makes."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from tests.cli.conftest import ROOT, Made
from trimopt.cli import trimopt
from trimopt.plan.codec import from_json
from trimopt.plan.model import OrderLine, Plan


@pytest.fixture(scope="module")
def kept() -> Plan:
    """The plan under reports/."""
    return from_json((ROOT / "reports" / "shift-1.json").read_text(encoding="utf-8"))


def test_all_its_files_are_kept() -> None:
    """Workbook, page, labels and JSON of one plan."""
    names = {path.name for path in (ROOT / "reports").glob("shift-1*")}
    assert names == {"shift-1.json", "shift-1.xlsx", "shift-1.html", "shift-1-labels.csv"}


def test_it_was_made_from_these_files(kept: Plan, made: Made) -> None:
    """Fingerprints of book and mill file are those of the examples as they stand."""
    assert (kept.book, kept.mill) == (made.plan.book, made.plan.mill)
    assert kept.settings == made.plan.settings


def _asked(line: OrderLine) -> tuple[object, ...]:
    """What an order line asks, nothing of what it gets."""
    return (
        line.number,
        line.width_mm,
        line.asked,
        line.min_quantity,
        line.max_quantity,
        line.ordered_kg,
    )


def test_making_it_again_gives_the_same_proof(kept: Plan, made: Made) -> None:
    """Orders, set lengths and the proven bound do not depend on time."""
    (old,), (new,) = kept.runs, made.plan.runs
    assert old.set_lengths == new.set_lengths
    assert [_asked(line) for line in old.orders] == [_asked(line) for line in new.orders]
    assert new.proof.price_bound_kg == pytest.approx(old.proof.price_bound_kg, abs=1.0)


def test_making_it_again_gives_the_same_plan_unless_the_clock_stopped_it(
    kept: Plan, made: Made
) -> None:
    """Same input, seed and work: the same blocks, to the millimetre and the metre."""
    (old,), (new,) = kept.runs, made.plan.runs
    if old.proof.clock_stopped or new.proof.clock_stopped:
        pytest.skip("the clock stopped a search: this machine was too busy to compare")
    assert [(b.length_m, len(b.sets), b.positions) for b in new.blocks] == [
        (b.length_m, len(b.sets), b.positions) for b in old.blocks
    ]


@pytest.mark.parametrize("name", ["shift-1.xlsx", "shift-1.json"])
def test_it_verifies(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the README tells a reader to try, on the workbook and the JSON as they are kept."""
    monkeypatch.chdir(ROOT)
    result = CliRunner().invoke(trimopt, ["verify", f"reports/{name}"])
    assert result.exit_code == 0, result.output
