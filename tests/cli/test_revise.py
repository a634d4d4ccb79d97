"""`trimopt revise`: both parts of the answer, exit codes, and the next plan."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from openpyxl import load_workbook

from tests.cli.conftest import Clone
from tests.ledger.filling import write_csv
from trimopt import read_plan
from trimopt.cli import trimopt
from trimopt.errors import ReportError
from trimopt.plan.codec import from_json, plan_schema
from trimopt.report.xlsx.sets_sheet import HEADING_ROW

pytestmark = pytest.mark.usefixtures("folder")

WHO = ("--by", "R. Larch", "--why", "Kelvane <first>")


@pytest.fixture(scope="module")
def slim(clone: Clone, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan's workbook without what nobody edits, which takes long to open."""
    book = load_workbook(clone.json.with_suffix(".xlsx"))
    for title in [name for name in book.sheetnames if name.startswith(("Slitter", "Fit"))]:
        del book[title]
    path = tmp_path_factory.mktemp("slim") / "slim.xlsx"
    book.save(path)
    return path


@pytest.fixture
def folder(clone: Clone, slim: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the plan's folder, to be worked in."""
    shutil.copytree(clone.folder, tmp_path / "mill")
    shutil.copy(slim, tmp_path / "mill")
    monkeypatch.chdir(tmp_path / "mill")
    return tmp_path / "mill"


def _edited(last_first: bool = False, set_less: bool = False) -> str:
    """The workbook with its last set run first, or without its first set."""
    book = load_workbook("slim.xlsx")
    sheet = book["Sets"]
    names = [cell.value for cell in sheet[HEADING_ROW]]
    rows = [row for row in sheet.iter_rows(min_row=HEADING_ROW + 1) if row[0].value]
    if last_first:
        rows[-1][names.index("Runs as")].value = 0.5
    if set_less:
        sheet.delete_rows(HEADING_ROW + 1)
    book.save("edited.xlsx")
    return "edited.xlsx"


def test_an_untouched_workbook_changes_nothing() -> None:
    """All figures as they were; there is nothing to issue."""
    done = CliRunner().invoke(trimopt, ["revise", "reports/shift-1.xlsx"])
    assert done.exit_code == 0, done.output
    assert "no set was changed" in done.output
    refused = CliRunner().invoke(trimopt, ["revise", "reports/shift-1.xlsx", "--issue", *WHO])
    assert refused.exit_code == 2
    assert "nothing was changed of plan shift-1" in refused.output


def test_a_legal_edit_is_issued_with_who_and_why() -> None:
    """The next plan names the plan that it replaces, who and why, wherever it is read."""
    path = _edited(last_first=True)
    done = CliRunner().invoke(trimopt, ["revise", path, "--issue", *WHO])
    assert done.exit_code == 0, done.output
    assert "knife moves" in done.output
    plan = from_json(Path("reports/shift-2.json").read_text(encoding="utf-8"))
    assert (plan.number, plan.replaces) == ("shift-2", "shift-1")
    assert (plan.revised_by, plan.revised_why) == ("R. Larch", "Kelvane <first>")
    page = Path("reports/shift-2.html").read_text(encoding="utf-8")
    assert "Replaces plan shift-1, revised by R. Larch: Kelvane &lt;first&gt;." in page
    summary = load_workbook("reports/shift-2.xlsx", read_only=True).worksheets[0]
    said = [str(cell.value) for row in summary.iter_rows() for cell in row if cell.value]
    assert "plan shift-1, revised by R. Larch: Kelvane <first>" in said
    for name in ("shift-2.json", "shift-2.xlsx"):
        checked = CliRunner().invoke(trimopt, ["verify", f"reports/{name}"])
        assert checked.exit_code == 0, checked.output
    again = CliRunner().invoke(trimopt, ["revise", path, "--issue", *WHO])
    assert isinstance(again.exception, ReportError)
    assert "shift-2 is newer than shift-1" in str(again.exception)


def test_a_set_that_stays_is_recorded_once(tmp_path: Path) -> None:
    """On the sheet of either plan; the files say what changed, why paper is lost, which labels."""
    path = Path("reports/shift-1.json")
    data = json.loads(path.read_text(encoding="utf-8"))
    last = data["runs"][0]["blocks"][-1]
    last["positions"] = last["positions"][::-1]
    Path("edited.json").write_text(json.dumps(data), encoding="utf-8")
    ledger = ("--ledger", str(tmp_path / "ledger.sqlite"))
    first = read_plan(path)
    write_csv(Path("first.csv"), first, {(1, 1): {"Done": "yes"}})
    done = CliRunner().invoke(trimopt, ["record", str(path), "first.csv", *ledger])
    assert done.exit_code == 0, done.output
    named = ("--plan", str(path), "--issue", *WHO, *ledger)
    done = CliRunner().invoke(trimopt, ["revise", "edited.json", *named])
    assert done.exit_code == 0, done.output
    second = read_plan("reports/shift-2.json")
    write_csv(Path("second.csv"), second, {(1, n): {"Done": "yes"} for n in (1, 2)})
    twice = CliRunner().invoke(trimopt, ["record", "reports/shift-2.json", "second.csv", *ledger])
    assert "set 1" not in twice.output
    assert "is recorded under plan shift-1" in str(twice.exception)
    spoken = " ".join(done.stdout.split())
    page = Path("reports/shift-2.html").read_text(encoding="utf-8")
    changes = load_workbook("reports/shift-2.xlsx", read_only=True)["Changes"]
    sheet = "\n".join(str(row[0].value) for row in changes.iter_rows())
    rows = last["sets"]
    labels = f"print the labels of sets {rows[0]['number']}–{rows[-1]['number']}"
    for said in (spoken, page, sheet):
        assert labels in said
        assert "paper lost, kg" in said
    assert ("set-ups", "9", "9", "0") in changes.iter_rows(max_col=4, values_only=True)


def test_nothing_is_issued_that_does_not_hold() -> None:
    """Exit code 7 with the orders that are short; figures are given all the same."""
    done = CliRunner().invoke(trimopt, ["revise", _edited(set_less=True), "--issue", *WHO])
    assert done.exit_code == 7
    assert "short: " in done.output
    assert "paper lost" in done.output
    assert not Path("reports/shift-2.json").exists()


def test_issuing_asks_for_who_and_why() -> None:
    """Both stand on the plan, so neither may be left out."""
    done = CliRunner().invoke(trimopt, ["revise", "reports/shift-1.xlsx", "--issue", "--by", "A"])
    assert done.exit_code == 2
    assert "--why TEXT" in done.output
    done = CliRunner().invoke(trimopt, ["revise", "reports/shift-1.xlsx", "--by", "A"])
    assert done.exit_code == 2
    assert "go with --issue" in done.output


def test_a_json_file_edited_in_its_place() -> None:
    """The workbook of its number has the plan as issued; the answer as JSON fits the schema."""
    path = Path("reports/shift-1.json")
    data = json.loads(path.read_text(encoding="utf-8"))
    data["runs"][0]["blocks"].reverse()
    path.write_text(json.dumps(data), encoding="utf-8")
    done = CliRunner().invoke(trimopt, ["revise", str(path), "--json"])
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert found["faults"] == []
    schema = {**plan_schema(), "$ref": "#/$defs/PlanDifference"}
    Draft202012Validator(schema).validate(found["difference"])
    assert (
        found["difference"]["figures_before"]["sets"]
        == found["difference"]["figures_after"]["sets"]
    )
    Path("reports/shift-1.xlsx").unlink()
    lost = CliRunner().invoke(trimopt, ["revise", str(path)])
    assert isinstance(lost.exception, ReportError)
    assert "--plan FILE" in str(lost.exception)


def test_a_plan_that_the_crew_filled_in_is_replanned() -> None:
    """Its sets were run: a revision would run them again, and says so."""
    done = CliRunner().invoke(trimopt, ["revise", _edited()])
    assert "As run" not in done.stderr
    book = load_workbook("edited.xlsx")
    sheet = book["As run"]
    rows = list(sheet.iter_rows())
    at = next(at for at, row in enumerate(rows) if row[0].value == "Plan")
    rows[at + 1][[cell.value for cell in rows[at]].index("Done")].value = "yes"
    book.save("edited.xlsx")
    done = CliRunner().invoke(trimopt, ["revise", "edited.xlsx"])
    assert "trimopt replan --as-run edited.xlsx goes on" in done.stderr


def test_an_edited_file_is_of_the_plan_that_is_named() -> None:
    """Two plans that are none the other's edit are not compared."""
    text = Path("reports/shift-1.json").read_text(encoding="utf-8")
    Path("edited.json").write_text(text, encoding="utf-8")
    Path("two.json").write_text(text.replace('"number": "shift-1"', '"number": "shift-2"'))
    done = CliRunner().invoke(trimopt, ["revise", "edited.json", "--plan", "two.json"])
    assert "edited.json is of plan shift-1, and two.json is shift-2" in str(done.exception)


def test_verify_names_a_book_that_is_not_the_plans() -> None:
    """It says so in words, and sends nobody to revise."""
    shutil.copy("orders/stock.xlsx", "another.xlsx")
    words = ["verify", "reports/shift-1.json", "--book", "another.xlsx"]
    done = CliRunner().invoke(trimopt, words)
    assert done.exit_code == 7
    assert "it was made from another order book, or that was changed since" in done.stderr
    assert "trimopt revise" not in done.stderr


def test_verify_sends_an_edited_plan_to_revise() -> None:
    """It judges the plan as issued, names what was changed, and says what judges that."""
    done = CliRunner().invoke(trimopt, ["verify", _edited(last_first=True)])
    assert done.exit_code == 7
    assert "shift-1 as issued: everything holds" in done.output
    assert "trimopt revise edited.xlsx" in done.output
    with pytest.raises(ReportError, match=r"changed since plan shift-1 .*trimopt revise"):
        read_plan("edited.xlsx")
