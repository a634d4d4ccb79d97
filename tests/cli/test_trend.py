"""`trimopt trend`, from the command line."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook

from tests.ledger.filling import load
from tests.ledger.history import shifts
from trimopt.cli import trimopt
from trimopt.errors import LedgerError
from trimopt.ledger import migrations
from trimopt.ledger.ledger_file import ledger_url
from trimopt.ledger.migrations import Migration
from trimopt.whole_files import write_whole


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger of four days on both sides of a month's end."""
    path = tmp_path_factory.mktemp("ledger") / "ledger.sqlite"
    load(ledger_url(str(path)), shifts(4, first=date(2024, 1, 30)))
    return path


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("TRIMOPT_LEDGER", raising=False)


def _call(*words: str) -> Result:
    return CliRunner().invoke(trimopt, ["trend", *words])


def test_on_the_terminal(file: Path) -> None:
    """Figures side by side, a bar for each period with the target, the rules: plain in a pipe."""
    answer = _call("--ledger", str(file), "--by", "day", "--target", "2.2")
    assert answer.exit_code == 0, answer.output
    lines = answer.stdout.splitlines()
    assert "\x1b" not in answer.stdout
    assert all(len(line) <= 80 for line in lines)
    assert lines[0] == "Trim loss, planned and run"
    for day in ("2024-01-30", "2024-01-31", "2024-02-01", "2024-02-02"):
        (bar,) = (line for line in lines if line.startswith(f"{day} "))
        assert "planned" in bar
        assert "%" in bar
    assert any("target 2.2 %" in line for line in lines)
    assert any("Lower bound: unavoidable for these books" in line for line in lines)
    assert any("shared over the pieces of its set by their width" in line for line in lines)


@pytest.mark.parametrize("marked", [True, False])
def test_bars_say_what_missed(file: Path, *, marked: bool) -> None:
    """Months above the target are marked and named; under a high one none is."""
    target = "0.5" if marked else "60"
    answer = _call("--ledger", str(file), "--target", target)
    months = "2 of 2 missed (2024-01, 2024-02)" if marked else "0 of 2 missed;"
    assert months in " ".join(answer.stdout.split())
    bars = [line for line in answer.stdout.splitlines() if re.match(r".{16} (planned|run ) ", line)]
    assert len(bars) == 4
    assert all(line.endswith(" missed") == marked for line in bars)


def test_json_and_workbook(file: Path) -> None:
    """JSON alone on stdout, the workbook beside it with the same figures and native charts."""
    answer = _call("--ledger", str(file), "--json", "--out", "trend.xlsx", "--target", "2.2")
    found = json.loads(answer.stdout)
    assert [line["label"] for line in found["months"]] == ["2024-01", "2024-02"]
    assert "written: trend.xlsx" in answer.stderr
    book = load_workbook("trend.xlsx")
    assert book.sheetnames[:3] == ["Trim loss", "Charts", "Periods"]
    assert book.sheetnames[-1] == "Rows"
    charts = [type(c).__name__ for s in book.worksheets for c in s._charts]  # type: ignore[attr-defined]
    assert charts == ["LineChart", "BarChart", "BarChart"]
    periods = book["Periods"]
    assert [periods.cell(row, 1).value for row in (2, 3)] == ["2024-01", "2024-02"]
    share = found["months"][0]["run"]["trim_loss"]["share"]
    assert periods.cell(2, 3).value == pytest.approx(share)
    assert periods.cell(2, 4).value == pytest.approx(0.022)


def test_many_periods_are_drawn_by_month(file: Path) -> None:
    """A chart of more periods than can be read is drawn by month; the table has them all."""
    from trimopt.ledger.trend_model import Asked  # noqa: PLC0415
    from trimopt.ledger.trend_sums import trend  # noqa: PLC0415
    from trimopt.report.xlsx import trend_workbook  # noqa: PLC0415

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(trend_workbook, "MAX_CHART", 5)
        found = trend(ledger_url(str(file)), Asked(), by="shift")
        write_whole(Path("trend.xlsx"), trend_workbook.trend_workbook(found))
    book = load_workbook("trend.xlsx")
    assert book["Periods"].max_row == 1 + 12
    assert book["Months"].max_row == 1 + 2


def test_the_target_of_the_mill_file(file: Path) -> None:
    """The mill file in the folder gives ledger and target where no option does."""
    example = Path(__file__).parents[2] / "orders" / "mill.toml"
    text = example.read_text(encoding="utf-8").partition("\n[ledger]")[0]
    Path("mill.toml").write_text(f'{text}\n[ledger]\nurl = "{file}"\n', encoding="utf-8")
    found = json.loads(_call("--json").stdout)
    assert found["target_percent"] == 2.5
    assert json.loads(_call("--json", "--target", "3").stdout)["target_percent"] == 3.0


def test_the_mill_file_beside_the_ledger(file: Path) -> None:
    """Its target counts, before that of the working folder; the command says which it took."""
    example = (Path(__file__).parents[2] / "orders" / "mill.toml").read_text(encoding="utf-8")
    for place, target in ((file.parent, "1.75"), (Path(), "9")):
        text = example.replace("trim_target_percent = 2.5", f"trim_target_percent = {target}")
        (place / "mill.toml").write_text(text, encoding="utf-8")
    answer = _call("--ledger", str(file), "--json")
    (file.parent / "mill.toml").unlink()
    assert json.loads(answer.stdout)["target_percent"] == 1.75
    assert f"mill file: {file.parent / 'mill.toml'}" in answer.stderr
    assert "mill file" not in _call("--ledger", str(file), "--quiet").stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "2024-02-02", "--to", "2024-01-30"), "swap them"),
        (("--out", "trend.csv"), "name a file that ends in .xlsx"),
        (("--shifts", "6,25"), "hours from 0 to 23"),
        (("--by", "moon"), "'moon' is not one of"),
    ],
)
def test_wrong_usage(file: Path, words: tuple[str, ...], said: str) -> None:
    """What contradicts itself is wrong usage, and the text says what would do."""
    answer = _call("--ledger", str(file), *words)
    assert answer.exit_code == 2
    assert said in answer.stderr


def test_no_ledger() -> None:
    """A ledger that is not there is an error, and no file appears."""
    answer = _call("--ledger", "none.sqlite")
    assert isinstance(answer.exception, LedgerError)
    assert "there is no ledger" in str(answer.exception)
    assert not Path("none.sqlite").exists()
    assert _call().exit_code == 2


def test_an_older_ledger_is_said_to_be_migrated(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once, on stderr, with the step that it lacked."""
    load(ledger_url("old.sqlite"), shifts(1, first=date(2024, 1, 30)))
    step = Migration(name="0009 more", statements=("CREATE TABLE more (a INTEGER)",))
    monkeypatch.setattr(migrations, "MIGRATIONS", (step,))
    said = [_call("--ledger", "old.sqlite").stderr for _ in range(2)]
    assert ["brought up to date: 0009 more" in each for each in said] == [True, False]


def test_an_error_leaves_its_exit_code(file: Path) -> None:
    """Called as a program, an empty choice leaves exit code 9 and one message on stderr."""
    done = subprocess.run(
        [sys.executable, "-m", "trimopt", "trend", "--ledger", str(file), "--grade", "Newsprint"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert (done.returncode, done.stdout) == (9, "")
    assert "no set counts for grade Newsprint" in done.stderr
    assert "Traceback" not in done.stderr
