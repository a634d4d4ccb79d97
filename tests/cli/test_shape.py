"""Every command: help, an example that parses, a place in the README; and what loads when."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from trimopt.cli import COMMANDS, trimopt

ROOT = Path(__file__).parents[2]
HEAVY = ("ortools", "openpyxl", "numpy", "rich", "sqlalchemy")


def _command(name: str) -> click.Command:
    command = trimopt.get_command(click.Context(trimopt), name)
    assert command is not None
    return command


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name: str) -> None:
    """Help exits with 0 and shows how the command is called."""
    result = CliRunner().invoke(trimopt, [name, "--help"])
    assert result.exit_code == 0
    assert f"Example: trimopt {name}" in result.output


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_readme(name: str) -> None:
    """A command that the README does not show is a command that nobody finds."""
    assert f"trimopt {name}" in (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_the_example_in_the_help_parses(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The words of the example are options and arguments that the command takes."""
    monkeypatch.chdir(ROOT)
    command = _command(name)
    example = re.search(r"Example: trimopt \S+ ?(.*)", command.help or "")
    assert example is not None
    words = [word for word in shlex.split(example[1]) if not word.startswith("[")]
    missing = ""
    try:
        command.make_context(name, words)
    except click.BadParameter as error:  # a file that the example only imagines
        missing = error.message
    assert not missing or "does not exist" in missing


def test_help_loads_nothing_heavy() -> None:
    """`trimopt --help` answers without solver, tables or workbook libraries."""
    code = (
        "import sys; from trimopt.cli import trimopt\n"
        "try: trimopt(['--help'])\nexcept SystemExit: pass\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_an_unknown_command_is_wrong_usage() -> None:
    """Exit code 2 is left to wrong usage."""
    result = CliRunner().invoke(trimopt, ["slit"])
    assert result.exit_code == 2
