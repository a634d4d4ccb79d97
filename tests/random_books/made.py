"""A case's plan, made by the command itself, in this process: what it wrote and what it said."""

from __future__ import annotations

import io
import os
import traceback
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from tests.random_books.case import RandomCase
from trimopt.cli import main


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What the command left behind; the four files stand there when `code` is 0."""

    mill: Path
    book: Path
    folder: Path
    code: int
    stdout: str
    stderr: str
    crash: str  # a traceback; empty where there is none
    number: int = 1

    def file(self, ending: str) -> Path:
        """The plan's file with that ending, such as ``.xlsx`` or ``-labels.csv``."""
        return self.folder / f"{self.book.stem}-{self.number}{ending}"


def make(case: RandomCase, folder: Path, *, time_limit_s: float = 60) -> Made:
    """Write a case's files and plan them; lines with faults are left out."""
    mill, book = case.write(folder)
    out = folder / "reports"
    words = ["plan", str(book), "--out", str(out), "--processes", "1", "--quiet"]
    words += ["--leave-out-faulty", "--time-limit", str(time_limit_s), *case.flags]
    code, stdout, stderr, crash = command(words)
    return Made(
        mill=mill,
        book=book,
        folder=out,
        code=code,
        stdout=stdout,
        stderr=stderr,
        crash=crash,
    )


def command(words: list[str]) -> tuple[int, str, str, str]:
    """Run `trimopt` with these words: exit code, what it said, and a traceback if there was one."""
    out, err, crash, code = io.StringIO(), io.StringIO(), "", 0
    with (
        patch("sys.argv", ["trimopt", *words]),
        patch.dict(os.environ, {"COLUMNS": "100"}),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as done:
            code = done.code if isinstance(done.code, int) else 1
        except Exception:
            crash, code = traceback.format_exc(), 1
    return code, out.getvalue(), err.getvalue(), crash
