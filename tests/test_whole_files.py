"""Files written whole, and the look beforehand whether they can be."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.conftest import ROOT
from trimopt.cli import trimopt
from trimopt.errors import ReportError
from trimopt.whole_files import require_writable, write_whole

_BOOK = str(ROOT / "orders" / "shift.xlsx")
_PLAN = str(ROOT / "reports" / "shift-1.json")


def test_folders_that_are_not_there_are_made(tmp_path: Path) -> None:
    """Only as the file is written: a look beforehand leaves nothing behind."""
    file = tmp_path / "a" / "b" / "x.csv"
    require_writable(file)
    assert list(tmp_path.iterdir()) == []
    write_whole(file, "x")
    assert file.read_text() == "x"


def test_a_look_leaves_a_file_and_a_folder_as_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A relative folder, here the one worked in, is looked into as any other."""
    file = tmp_path / "x.csv"
    file.write_text("kept")
    monkeypatch.chdir(tmp_path)
    for path in (file, tmp_path, Path(), Path("new")):
        require_writable(path)
    assert [each.name for each in tmp_path.iterdir()] == ["x.csv"]
    assert file.read_text() == "kept"


def test_a_file_that_another_program_holds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As a spreadsheet program does on Windows: neither append nor replace is allowed."""
    file = tmp_path / "x.xlsx"
    file.write_bytes(b"")

    def held(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", held)
    with pytest.raises(ReportError, match=r"x\.xlsx: cannot be written: Permission denied"):
        require_writable(file)


def test_a_folder_that_takes_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is tried, not asked for its rights: shares and other systems have rules of their own."""

    def refused(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refused)
    with pytest.raises(ReportError, match="Permission denied; choose another folder"):
        require_writable(tmp_path / "new" / "x.csv")


@pytest.mark.parametrize(
    "words",
    [
        ("fit", _BOOK, "--width", "735", "--reels", "12", "--page", "{}/x.html"),
        ("fit", _BOOK, "--list", _BOOK, "--into", "{}/x.csv"),
        ("plan", _BOOK, "--out", "{}/plans"),
        ("plan", _BOOK, "--crew", "{}/crew.xlsx"),
        ("replan", _PLAN, "--done", "1-3", "--issue", "--by", "A", "--why", "B", "--out", "{}/p"),
        ("trend", "--ledger", "none.sqlite", "--out", "{}/x.xlsx"),
    ],
)
def test_no_command_works_for_a_file_that_cannot_be(words: tuple[str, ...], tmp_path: Path) -> None:
    """It is said at once: minutes of planning for an answer that nothing can hold are lost."""
    (tmp_path / "file").write_text("")
    asked = [word.format(tmp_path / "file") for word in words]
    result = CliRunner().invoke(trimopt, asked)
    assert isinstance(result.exception, ReportError), result.output
    assert "cannot be written: " in str(result.exception)
    assert "quick estimate" not in result.stderr
