"""The trend on a terminal."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date

import pytest
from rich.console import Console

from tests.ledger.filling import load
from tests.ledger.history import shifts
from trimopt.ledger.ledger_file import ledger_url
from trimopt.ledger.trend_model import Asked, Trend
from trimopt.ledger.trend_sums import trend
from trimopt.report.terminal.trend_terminal import print_trend


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Trend:
    """The trend of three days, by day, with a target that some of them miss."""
    url = ledger_url(str(tmp_path_factory.mktemp("ledger") / "ledger.sqlite"))
    load(url, shifts(3, first=date(2025, 3, 1)))
    return trend(url, Asked(), by="day", target_percent=0.1)


def _printed(trend: Trend, *, encoding: str = "utf-8", width: int = 80, **console: bool) -> str:
    file = io.TextIOWrapper(io.BytesIO(), encoding=encoding, write_through=True)
    print_trend(trend, Console(file=file, width=width, **console))  # type: ignore[arg-type]
    assert isinstance(file.buffer, io.BytesIO)
    return file.buffer.getvalue().decode(encoding)


def test_colour_only_where_it_is_wanted(found: Trend) -> None:
    """A terminal gets colour; with NO_COLOR, and in a pipe, the same text comes plain."""
    coloured = _printed(found, force_terminal=True)
    plain = _printed(found, force_terminal=True, no_color=True)
    assert "\x1b[" in coloured
    assert "\x1b" not in plain
    assert _printed(found) == plain


def test_a_locale_without_the_characters(found: Trend) -> None:
    """Bars and units are spelt in ASCII where the locale has nothing more."""
    text = _printed(found, encoding="ascii")
    assert "#####" in text
    assert "1000 m2" in text
    assert "?" not in text


def test_a_bar_is_as_long_as_its_share(found: Trend) -> None:
    """The longest bar fills its room, and the others stand to it as their losses do."""
    shares = [
        share
        for line in found.lines
        for share in (line.planned.trim_loss.share, line.run.trim_loss.share)
        if share is not None
    ]
    no_target = replace(found, target_percent=None)
    bars = [line.count("█") for line in _printed(no_target).splitlines() if "%  █" in line]
    assert len(bars) == len(shares)
    assert bars == [pytest.approx(30 * share / max(shares), abs=0.51) for share in shares]


def test_control_characters_of_names_are_not_passed_on(found: Trend) -> None:
    """A mill's name that would drive the terminal is shown with question marks."""
    text = _printed(replace(found, mills=("Mill\x1b[2J of somebody",)))
    assert "\x1b" not in text
    assert "Mill?[2J of somebody" in text
