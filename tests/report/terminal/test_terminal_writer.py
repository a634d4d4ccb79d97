"""Tables on a terminal: columns narrow without breaking words and figures."""

from __future__ import annotations

from io import StringIO

from rich.console import Console

from trimopt.report.terminal.terminal_writer import TerminalWriter
from trimopt.report.words.units import METRIC

_HEADINGS = (
    "Core [in]", "Set up to [ft]", "Diameter [in]", "Reel [in]", "Ups", "Across", "Broke reels",
    "Trim [in]", "Trim of deckle",
)  # fmt: skip


def test_no_heading_and_no_figure_is_broken_inside() -> None:
    """Nine columns in inches need all of 80 characters: headings break between words alone."""
    row = ("3", "35,023", "50 13/128", "129 101/128", "12", "5", "1", "137 113/128", "20.4 %")
    out = StringIO()
    say = TerminalWriter(Console(file=out, width=80), METRIC)
    say.table(_HEADINGS, [row], "n" * len(row))
    *above, last = out.getvalue().splitlines()
    assert max(map(len, (*above, last))) <= 80
    assert sorted(" ".join(above).split()) == sorted(" ".join(_HEADINGS).split())
    assert all(cell in last for cell in row)


def test_what_has_no_room_is_folded() -> None:
    """A word longer than the room goes on below; nothing of it is lost."""
    out = StringIO()
    word = "x" * 120
    TerminalWriter(Console(file=out, width=80), METRIC).table(["", "kg"], [[word, "12"]], "tn")
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= 80
    assert sum(line.count("x") for line in lines) == 120
