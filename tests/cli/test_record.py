"""`trimopt record`, from the command line."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.ledger.filling import write_csv
from tests.ledger.plans import small_plan
from trimopt.cli import trimopt
from trimopt.errors import LedgerError, ReportError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url
from trimopt.paper import UnitSystem, Written
from trimopt.plan.codec import plan_json


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a plan and a filled-in sheet, in which commands are called."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("TRIMOPT_LEDGER", raising=False)
    plan = small_plan("a-1")
    Path("a-1.json").write_text(plan_json(plan), encoding="utf-8")
    filled: dict[tuple[int, int], dict[str, object]] = {
        (1, 1): {"Done": "yes", "Length wound m": 6150},
        (1, 2): {"Done": "yes", "Reels rejected": 1, "Reason": "starred", "Minutes stopped": 9},
    }
    write_csv(Path("run.csv"), plan, filled)
    return tmp_path


def _call(*words: str) -> Result:
    return CliRunner().invoke(trimopt, ["record", *words])


def test_a_sheet_is_recorded(folder: Path) -> None:
    """The answer has planned and run kilograms by part; that the plan was kept goes to stderr."""
    answer = _call("a-1.json", "run.csv", "--ledger", "l.sqlite")
    assert answer.exit_code == 0, answer.output
    assert (folder / "l.sqlite").is_file()
    assert "plan a-1: 2 of 3 sets recorded, 2 of them done (2 new, 0 unchanged, 0 replaced)" in (
        answer.stdout
    )
    culled = next(line for line in answer.stdout.splitlines() if line.startswith("culled"))
    assert culled.split()[-3:] == ["0", "883", "+883"]  # 1186.5 mm × 6200 m × 120 g/m²
    assert "was not in the ledger; it is kept now" in answer.stderr
    again = _call("a-1", "run.csv", "--ledger", "l.sqlite", "--quiet")
    assert "(0 new, 2 unchanged, 0 replaced)" in again.stdout
    assert again.stderr == ""


@pytest.mark.usefixtures("folder")
def test_a_plan_in_pounds_is_answered_in_pounds() -> None:
    """By its own number too: the ledger has its units."""
    inch = replace(small_plan("a-1"), written=Written(system=UnitSystem.INCH_POUND))
    Path("a-1.json").write_text(plan_json(inch), encoding="utf-8")
    for plan in ("a-1.json", "a-1"):
        lines = _call(plan, "run.csv", "--ledger", "l.sqlite").stdout.splitlines()
        assert any("planned lb" in line for line in lines)
        culled = next(line for line in lines if line.startswith("culled"))
        assert culled.split()[-3:] == ["0", "1,946", "+1,946"]  # 883 kg


@pytest.mark.usefixtures("folder")
def test_a_plan_that_was_replaced_is_said_to_be() -> None:
    """What ran from the newer sheets belongs under the newer plan; the record is taken."""
    newer = replace(small_plan("a-2", minutes=60), replaces="a-1")
    Ledger(ledger_url("l.sqlite")).keep(newer)
    answer = _call("a-1.json", "run.csv", "--ledger", "l.sqlite")
    assert answer.exit_code == 0, answer.output
    assert "warning: plan a-2 stands in place of a-1" in answer.stderr
    Path("a-2.json").write_text(plan_json(newer), encoding="utf-8")  # known in the folder alone
    answer = _call("a-1.json", "run.csv", "--ledger", "l2.sqlite")
    assert "warning: plan a-2 stands in place of a-1" in answer.stderr


@pytest.mark.usefixtures("folder")
def test_json() -> None:
    """With --json only JSON goes to stdout, with the same figures."""
    answer = _call("a-1.json", "run.csv", "--ledger", "l.sqlite", "--json")
    found = json.loads(answer.stdout)
    assert (found["recorded"], found["minutes_stopped"], found["plan_kept"]) == (2, 9.0, True)
    assert found["run"]["culled_kg"] == pytest.approx(1186.5 * 6200 * 120 / 1e6)


@pytest.mark.usefixtures("folder")
def test_the_ledger_by_environment_variable(monkeypatch: pytest.MonkeyPatch) -> None:
    """TRIMOPT_LEDGER names the ledger where no option does."""
    monkeypatch.setenv("TRIMOPT_LEDGER", "sqlite:///from-variable.sqlite")
    assert _call("a-1.json", "run.csv").exit_code == 0
    assert Path("from-variable.sqlite").is_file()


def test_the_ledger_by_mill_file(folder: Path) -> None:
    """The mill file's ledger stands beside the mill file, wherever the command is called."""
    mill = folder / "mill"
    mill.mkdir()
    example = Path(__file__).parents[2] / "orders" / "mill.toml"
    shutil.copy(example, mill / "mill.toml")
    with (mill / "mill.toml").open("a", encoding="utf-8") as file:
        file.write('\n[ledger]\nurl = "kept.sqlite"\n')
    answer = _call("a-1.json", "run.csv", "--mill", "mill/mill.toml")
    assert answer.exit_code == 0, answer.output
    assert (mill / "kept.sqlite").is_file()


def test_the_mill_file_beside_the_plan(folder: Path) -> None:
    """It comes before the one in the working folder, and the command says which it took."""
    example = (Path(__file__).parents[2] / "orders" / "mill.toml").read_text(encoding="utf-8")
    (folder / "plans").mkdir()
    (folder / "a-1.json").rename(folder / "plans" / "a-1.json")
    for place in (folder, folder / "plans"):
        text = f'{example}\n[ledger]\nurl = "kept.sqlite"\n'
        (place / "mill.toml").write_text(text, encoding="utf-8")
    answer = _call("plans/a-1.json", "run.csv")
    assert answer.exit_code == 0, answer.output
    assert f"mill file: {Path('plans', 'mill.toml')}" in answer.stderr
    assert (folder / "plans" / "kept.sqlite").is_file()
    (folder / "plans" / "mill.toml").unlink()
    assert "mill file: mill.toml" in _call("plans/a-1.json", "run.csv").stderr
    assert (folder / "kept.sqlite").is_file()


@pytest.mark.usefixtures("folder")
def test_no_ledger_is_wrong_usage() -> None:
    """Without a ledger the command says the three ways to name one."""
    answer = _call("a-1.json", "run.csv")
    assert answer.exit_code == 2
    assert "give --ledger URL, set TRIMOPT_LEDGER, or name one under [ledger]" in answer.stderr


@pytest.mark.usefixtures("folder")
def test_what_does_not_match() -> None:
    """Rows that do not match are a ledger error that lists them."""
    write_csv(Path("run.csv"), small_plan("a-1"), {(1, 1): {"Done": "yes", "Jumbo": "X"}})
    answer = _call("a-1.json", "run.csv", "--ledger", "l.sqlite")
    assert isinstance(answer.exception, LedgerError)
    assert answer.exception.exit_code == 9
    assert 'run.csv, row 2, Jumbo: "X" is not the set\'s jumbo' in str(answer.exception)


@pytest.mark.usefixtures("folder")
def test_other_figures_need_replace() -> None:
    """A second sheet with other figures is refused; --replace says what changes and what stays."""
    assert _call("a-1.json", "run.csv", "--ledger", "l.sqlite").exit_code == 0
    write_csv(Path("run.csv"), small_plan("a-1"), {(1, 1): {"Done": "yes", "Length wound m": 6140}})
    refused = _call("a-1.json", "run.csv", "--ledger", "l.sqlite")
    assert "give --replace" in str(refused.exception)
    taken = _call("a-1.json", "run.csv", "--ledger", "l.sqlite", "--replace")
    assert "2 of 3 sets recorded, 2 of them done (0 new, 0 unchanged, 1 replaced)" in taken.stdout
    assert "Sack kraft 120 g/m², set 1, Length wound m: now 6140, was 6150" in taken.stdout
    assert "1 recorded sets are not on this sheet and stay as they are" in taken.stdout
    assert _call("a-1.json", "run.csv", "--ledger", "l.sqlite", "--take-back").exit_code == 2


@pytest.mark.usefixtures("folder")
def test_a_column_of_its_own_is_named() -> None:
    """Entries under a heading that the sheet does not have are said not to be read."""
    text = Path("run.csv").read_text(encoding="utf-8").splitlines()
    more = [f"{line};{end}" for line, end in zip(text, ("Good reels", "9", "", ""), strict=True)]
    Path("run.csv").write_text("\n".join(more), encoding="utf-8")
    answer = _call("a-1.json", "run.csv", "--ledger", "l.sqlite")
    assert "warning: run.csv, Good reels: no heading of the sheet" in answer.stderr


@pytest.mark.usefixtures("folder")
def test_a_file_that_is_no_plan() -> None:
    """A plan that cannot be read is named with what would do."""
    Path("no.json").write_text("{}", encoding="utf-8")
    for name in ("no.json", "missing.json"):
        answer = _call(name, "run.csv", "--ledger", "l.sqlite")
        assert isinstance(answer.exception, ReportError)
        assert f"{name}: " in str(answer.exception)
        assert "name the plan's .json file or its workbook" in str(answer.exception)
