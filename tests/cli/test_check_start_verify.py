"""check, start and verify from the command line."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from tests.book.books import REEL, write_csv, write_xlsx
from tests.cli.conftest import ROOT, Clone, Made
from trimopt.book import read_book
from trimopt.cli import main, trimopt
from trimopt.errors import MillFileError, ReportError
from trimopt.mill import read_mill


def test_check_passes_a_clean_book() -> None:
    """Exit code 0, with the number of lines and runs."""
    result = CliRunner().invoke(trimopt, ["check", str(ROOT / "orders" / "shift.xlsx")])
    assert result.exit_code == 0
    assert "12 order lines in 1 run" in result.output


def test_check_lists_every_fault(capsys: pytest.CaptureFixture[str]) -> None:
    """All faults of the faulty book at once on stderr, exit code 3."""
    book = ROOT / "orders" / "faulty.xlsx"
    faults = read_book(book, read_mill(ROOT / "orders" / "mill.toml")).faults
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["trimopt", "check", str(book)])
        with pytest.raises(SystemExit) as stop:
            main()
    assert stop.value.code == 3
    shown = capsys.readouterr().err
    assert [str(fault) for fault in faults if str(fault) not in shown] == []
    assert len(faults) > 10


def test_check_as_json() -> None:
    """A program reads the same faults, with the same exit code."""
    result = CliRunner().invoke(trimopt, ["check", str(ROOT / "orders" / "faulty.xlsx"), "--json"])
    assert result.exit_code == 3
    assert {"where", "row", "column", "value", "wrong", "right"} <= set(
        json.loads(result.stdout)["faults"][0]
    )


def test_json_is_printed_as_it_is_written(
    tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every command's JSON is UTF-8, without escapes for what can be shown; so are faults."""
    book = write_csv(tmp_path / "Bücher.csv", [{**REEL, "Order": "Ω-7", "Quantity": "viele"}])
    mill = str(ROOT / "orders" / "mill.toml")
    for command in ("check", "plan"):
        monkeypatch.setattr("sys.argv", ["trimopt", command, str(book), "--mill", mill, "--json"])
        with pytest.raises(SystemExit):
            main()
        assert "Bücher.csv" in capsysbinary.readouterr().out.decode()


def test_check_names_what_no_set_can_hold(tmp_path: Path) -> None:
    """What stops an order when it is planned is said by the check of its book, too."""
    row = {**REEL, "Width across [mm]": 2500, "Keep off edge": "yes"}
    book = write_csv(tmp_path / "book.csv", [row])
    mill = str(ROOT / "orders" / "mill.toml")
    result = CliRunner().invoke(trimopt, ["check", str(book), "--mill", mill])
    assert "order R1 cannot be made: no pattern can hold it: it may not lie at an edge" in (
        result.stdout
    )


def test_check_takes_the_jumbos_of_the_orders_own_paper(tmp_path: Path) -> None:
    """A short jumbo of another paper stops nothing, nor does one of its own beside nominal ones."""
    book = write_xlsx(tmp_path / "book.xlsx", [REEL])
    workbook = load_workbook(book)
    jumbos = workbook.create_sheet("Jumbos")
    jumbos.append(["Jumbo", "Grade", "Grammage [g/m²]", "Width [mm]", "Length [m]"])
    jumbos.append(["M1", "Kraft liner", 175, 4680, 1200])
    jumbos.append(["M2", "Folding boxboard", 250, 4680, 1200])
    workbook.save(book)
    mill = str(ROOT / "orders" / "mill.toml")
    result = CliRunner().invoke(trimopt, ["check", str(book), "--mill", mill])
    assert "cannot be made" not in result.output
    assert "1 order line in 1 run can be planned" in result.output


def test_start_lays_down_files_that_read_back(tmp_path: Path) -> None:
    """The mill file is whole and the empty order book has no faults in its headings."""
    result = CliRunner().invoke(trimopt, ["start", str(tmp_path / "ours")])
    assert result.exit_code == 0
    mill = read_mill(tmp_path / "ours" / "mill.toml")
    assert mill.winder.knives > 1
    assert (tmp_path / "ours" / "orders.xlsx").is_file()


def test_the_empty_book_follows_the_mill_file(tmp_path: Path) -> None:
    """Written again for the mill file as edited; a book with anything in it is left alone."""
    folder = tmp_path / "ours"
    CliRunner().invoke(trimopt, ["start", str(folder)])
    mill = folder / "mill.toml"
    mill.write_text(mill.read_text().replace("Folding boxboard", "Rook board"))
    result = CliRunner().invoke(trimopt, ["start", str(folder), "--book"])
    assert result.exit_code == 0
    workbook = load_workbook(folder / "orders.xlsx")
    assert workbook["Lists"]["A2"].value == "Rook board"
    workbook["Jumbos"]["A5"] = "M-1"
    workbook.save(folder / "orders.xlsx")
    again = CliRunner().invoke(trimopt, ["start", str(folder), "--book"])
    assert isinstance(again.exception, ReportError)
    assert "filled in already" in str(again.exception)


def test_start_overwrites_nothing(tmp_path: Path) -> None:
    """A folder that holds a mill file is left as it is."""
    (tmp_path / "mill.toml").write_text("ours", encoding="utf-8")
    result = CliRunner().invoke(trimopt, ["start", str(tmp_path)])
    assert result.exit_code == 1
    assert "stand there already" in str(result.exception)
    assert (tmp_path / "mill.toml").read_text(encoding="utf-8") == "ours"


def test_verify_passes_what_was_written(made: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    """The JSON and the workbook that the plan command wrote hold."""
    monkeypatch.chdir(made.folder)
    for name in ("shift-1.json", "shift-1.xlsx"):
        result = CliRunner().invoke(trimopt, ["verify", f"reports/{name}"])
        assert result.exit_code == 0, result.output
        assert "everything holds" in result.output


def test_verify_finds_an_edited_width(clone: Clone, monkeypatch: pytest.MonkeyPatch) -> None:
    """One width changed by hand: exit code 7, and the place is named."""
    monkeypatch.chdir(clone.folder)
    plan = json.loads(clone.json.read_text(encoding="utf-8"))
    plan["runs"][0]["blocks"][0]["positions"][0]["width_mm"] += 1
    Path("edited.json").write_text(json.dumps(plan), encoding="utf-8")
    result = CliRunner().invoke(trimopt, ["verify", "edited.json"])
    assert result.exit_code == 7
    assert "do not hold" in result.output


def test_verify_needs_the_book(
    clone: Clone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan away from its book says which option names it."""
    monkeypatch.chdir(tmp_path)
    text = clone.json.read_text(encoding="utf-8")
    Path("alone.json").write_text(text, encoding="utf-8")
    result = CliRunner().invoke(trimopt, ["verify", "alone.json"])
    assert result.exit_code == 2
    assert "--mill FILE" in result.output


ANSWERS = """Rook Mill
184 1/4 in
20
15600
300
14
600 to 1500
76 x 10, 3 in x 13
Folding boxboard 1.6, Rook board 200 1.3
"""


def test_start_asks_nine_values(tmp_path: Path) -> None:
    """They make a mill file and its order book; times are typical, and the plan says so."""
    folder = tmp_path / "ours"
    result = CliRunner().invoke(trimopt, ["start", str(folder), "--ask"], input=ANSWERS)
    assert result.exit_code == 0, result.output
    assert result.output.count("(such as") == 9
    mill = read_mill(folder / "mill.toml")
    assert mill.deckle_mm == Fraction(737, 4) * Fraction(254, 10) - 40
    assert [grade.name for grade in mill.grades] == ["Folding boxboard", "Rook board 200"]
    assert [core.inside_mm for core in mill.winder.cores] == [76, 76.2]
    assert not mill.sheeters
    assert set(mill.winder.typical) == set(mill.winder.TIMES)
    workbook = load_workbook(folder / "orders.xlsx")
    assert workbook["Lists"]["A3"].value == "Rook board 200"


def test_start_asks_again_what_cannot_be(tmp_path: Path) -> None:
    """A value that is none is named with what would be right; nothing else is asked twice."""
    wrong = ANSWERS.replace("14\n600 to", "one\n14\n600 and 1500\n600 to")
    folder = tmp_path / "ours"
    result = CliRunner().invoke(trimopt, ["start", str(folder), "--ask"], input=wrong)
    assert result.exit_code == 0, result.output
    assert "is not like 600 to 1500" in result.output
    assert "a whole number" in result.output


def test_a_mill_that_cannot_be_leaves_nothing(tmp_path: Path) -> None:
    """Figures that contradict each other are a fault of the mill file, and no file is there."""
    wrong = ANSWERS.replace("600 to 1500", "1500 to 600")
    result = CliRunner().invoke(trimopt, ["start", str(tmp_path / "a"), "--ask"], input=wrong)
    assert isinstance(result.exception, MillFileError)
    assert not (tmp_path / "a").exists()


def test_start_from_an_export_writes_nothing(tmp_path: Path) -> None:
    """What is sure stands there to be copied, what is asked as a comment with its number."""
    export = tmp_path / "ours.csv"
    write_csv(export, [{**REEL, "Unit": "To", "Salesperson": "MK"}])
    before = sorted(tmp_path.rglob("*"))
    result = CliRunner().invoke(trimopt, ["start", str(tmp_path), "--from", str(export)])
    assert result.exit_code == 0
    assert 'ignore = ["Salesperson"]' in result.output
    assert '# t = ["To"]' in result.output
    assert "# 1 asked." in result.output
    assert sorted(tmp_path.rglob("*")) == before
