"""The guide and the README: every chapter is reached, every command and snippet in them runs."""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from importlib.resources import files
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from tests.cli.conftest import copied
from tests.fit.planned_once import looked_into_by_work
from trimopt.cli import COMMANDS, main, trimopt
from trimopt.guide import CHAPTERS, chapter_text
from trimopt.report.xlsx.form_sheets import AS_RUN_HEADING_ROW as HEADING_ROW

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(r"^```(sh|python|csv|toml) ?(\S*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
ANY_BLOCK = re.compile(r"^```.*?^```$", re.DOTALL | re.MULTILINE)
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_chapter_is_listed_and_shown() -> None:
    """The list names each file, and a chapter is printed as it stands."""
    known = {path.name for path in files("trimopt.guide").iterdir() if path.name.endswith(".md")}
    assert known == {f"{name}.md" for name in CHAPTERS}
    listed = CliRunner().invoke(trimopt, ["guide"])
    assert listed.exit_code == 0
    for name in CHAPTERS:
        assert name in listed.output
        assert f"trimopt/guide/{name}.md" in README
        assert CliRunner().invoke(trimopt, ["guide", name]).output == chapter_text(name)


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example books and the plan of the shift, as a clone has them.

    Of the week three orders, for it is only planned beside the shift.
    """
    folder = copied(tmp_path_factory.mktemp("clone"))
    week = load_workbook(folder / "orders" / "week.xlsx")
    orders = week["Orders"]
    first = next(cell.row for cell in orders["A"] if cell.value == "Order") + 1
    orders.delete_rows(first + 3, orders.max_row)
    week.save(folder / "orders" / "week.xlsx")
    return folder


@pytest.mark.parametrize("name", CHAPTERS)
def test_every_command_and_snippet_runs(
    name: str,
    clone: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Run in their order in a copy of the clone, as a reader would.

    A csv or toml block with a name is saved under it. A toml block without one is a part of a mill
    file: the example, which explains every key, has each of its keys.
    """
    shutil.copytree(clone, tmp_path / "clone")
    monkeypatch.chdir(tmp_path / "clone")
    known: dict[str, object] = {}
    for kind, saved_as, text in BLOCK.findall(chapter_text(name)):
        if saved_as:
            Path(saved_as).write_text(text, encoding="utf-8")
        elif kind == "toml":
            _every_key_is_explained(text)
        elif kind == "python":
            exec(compile(text, f"{name}.md", "exec"), known)
        else:
            for line in text.replace("\\\n", " ").splitlines():
                _runs(line, monkeypatch)
                capsys.readouterr()


def _every_key_is_explained(text: str) -> None:
    example = files("trimopt.mill").joinpath("example.toml").read_text(encoding="utf-8")
    for section, values in tomllib.loads(text).items():
        assert f"[{section}]" in example
        for key in values[0] if isinstance(values, list) else values:
            assert re.search(rf"^(# )?{key} = ", example, re.MULTILINE), key


def _runs(line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Run one line; a comment `# exit code N` says how it ends, else with 0."""
    expected = re.search(r"# exit code (\d+)$", line)
    words = shlex.split(line, comments=True)
    if not words:
        return
    assert words[0] == "trimopt", line
    if words[1:2] == ["plan"] and "--effort" not in words:
        words += ["--effort", "quick"]
    if words[1:2] == ["fit"]:
        # Work ends the search, and not the clock: a verdict is of the plan that was made.
        words += ["--time-limit", "300"]
        looked_into_by_work(monkeypatch)
    monkeypatch.setattr("sys.argv", words)
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == (int(expected[1]) if expected else 0), line


@pytest.mark.parametrize("text", [README, *map(chapter_text, CHAPTERS)], ids=["README", *CHAPTERS])
def test_commands_in_the_text_are_commands(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands named within a sentence have arguments and options that exist."""
    monkeypatch.chdir(ROOT)
    options = {
        option
        for name in COMMANDS
        for parameter in _command(name).params
        for option in parameter.opts
    } | {"--help"}
    for code in re.findall(r"`([^`]+)`", ANY_BLOCK.sub("", text)):
        words = shlex.split(code, comments=True)
        given = {word for word in words if word.startswith("--")}
        assert given <= options, code
        if words[0] == "trimopt" and len(words) > 1 and words[1] != "COMMAND":
            known = {option for each in _command(words[1]).params for option in each.opts}
            assert given <= known | {"--help"}, code


def test_the_managers_commands_do_what_the_readme_says(
    clone: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What step 1 writes is what step 2 keeps as run; the trend stands against the target.

    A clone holds shift-1, and the plan of *Set up and run* is shift-2 by then.
    """
    shutil.copytree(clone, tmp_path / "clone")
    monkeypatch.chdir(tmp_path / "clone")
    shutil.copy("reports/shift-1.json", "reports/shift-2.json")
    plan, record, trend = re.findall(
        r"`(trimopt (?:plan|record|trend) [^`]*--ledger [^`]+)`", README
    )
    _runs(plan, monkeypatch)
    name = shlex.split(record)[3]
    book = load_workbook(name)
    (done,) = (cell for cell in book["As run"][HEADING_ROW] if cell.value == "Done")
    done.offset(row=1).value = "yes"
    book.save(name)
    _runs(record, monkeypatch)
    _runs(trend, monkeypatch)
    shown = capsys.readouterr().out
    assert "target: 2.5 % of full web width" in shown
    assert "1 recorded as run" in shown


def _command(name: str) -> click.Command:
    command = trimopt.get_command(click.Context(trimopt), name)
    assert command is not None, name
    return command


NOTES = [*sorted(ROOT.glob("trimopt/*/**/*.md")), ROOT / "README.md", ROOT / "DEVELOPERS.md"]


@pytest.mark.parametrize("notes", NOTES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_file_that_is_named_is_there(notes: Path) -> None:
    """A path in a text of the project leads to a file, from the root or within the package."""
    named = re.findall(r"`([\w/-]+\.(?:py|md|toml|css|j2))`", notes.read_text(encoding="utf-8"))
    ours = {"mill.toml", "ourmill/mill.toml", "ours.toml"}  # files of a reader
    lost = {
        name
        for name in set(named) - ours
        if not (ROOT / name).is_file() and not list((ROOT / "trimopt").glob(f"**/{name}"))
    }
    assert lost == set()
