"""The guide: every chapter is reached, and every command and snippet in it runs."""

from __future__ import annotations

import re
import shlex
import shutil
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from trimopt.cli import trimopt
from trimopt.guide import CHAPTERS, chapter_text

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(r"^```(sh|python)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def _blocks(chapter: str) -> list[tuple[str, str]]:
    return [(kind, text) for kind, text in BLOCK.findall(chapter_text(chapter))]


def test_every_chapter_is_listed_and_shown() -> None:
    """The list names each file, and a chapter is printed as it stands."""
    known = {path.name for path in files("trimopt.guide").iterdir() if path.name.endswith(".md")}
    assert known == {f"{name}.md" for name in CHAPTERS}
    listed = CliRunner().invoke(trimopt, ["guide"])
    assert listed.exit_code == 0
    for name in CHAPTERS:
        assert name in listed.output
        assert CliRunner().invoke(trimopt, ["guide", name]).output == chapter_text(name)


@pytest.mark.parametrize("name", [name for name in CHAPTERS if _blocks(name)])
def test_every_command_and_snippet_runs(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Run in their order beside a copy of the example books, as a reader would."""
    shutil.copytree(ROOT / "orders", tmp_path / "orders")
    monkeypatch.chdir(tmp_path)
    known: dict[str, object] = {}
    for kind, text in _blocks(name):
        if kind == "python":
            exec(compile(text, f"{name}.md", "exec"), known)
            continue
        for line in text.replace("\\\n", " ").splitlines():
            words = shlex.split(line, comments=True)
            if words:
                assert words[0] == "trimopt", line
                done = CliRunner().invoke(trimopt, words[1:])
                assert done.exit_code == 0, (line, done.output, done.exception)
