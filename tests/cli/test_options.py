"""Options that ask for what cannot be are wrong usage, whatever they say."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.conftest import ROOT
from trimopt import Effort
from trimopt.cli import trimopt
from trimopt.cli.options import EFFORTS
from trimopt.errors import OrderBookError

_ENDLESS = "9" * 400
_FIGURES = ("nan", "inf", "-inf", "1e308", "1e400", "-1", _ENDLESS, "9" * 5000, "١" * 400, "1,5")
_COUNTS = (_ENDLESS, f"-{_ENDLESS}", "9" * 5000, "1e3", "0x10", "99999999999999999999")
_MOMENTS = ("9999-12-31", "0001-01-01", "2026-02-30", "tomorrow")
_BOOK = str(ROOT / "orders" / "shift.xlsx")
_FIT = ("fit", _BOOK, "--width", "735", "--reels", "12")
_CASES = [
    *((("plan", _BOOK), option, _FIGURES) for option in ("--time-limit", "--hours", "--give-up")),
    *((("plan", _BOOK), f"--{name}", _COUNTS) for name in ("seed", "processes", "set-ups")),
    *((("plan", _BOOK), o, [f"{day}T23:59" for day in _MOMENTS]) for o in ("--from", "--until")),
    (("plan", _BOOK), "--effort", ("2", "normally", "", "QUICK ")),
    (("plan", _BOOK), "--as-of", _MOMENTS),
    (("check", _BOOK), "--as-of", _MOMENTS),
    (_FIT, "--time-limit", _FIGURES),
    *((_FIT, f"--{name}", _FIGURES[:-1]) for name in ("width", "diameter", "core", "reels")),
    (("trend", "--ledger", "none.sqlite"), "--target", _FIGURES),
    *((("trend", "--ledger", "none.sqlite"), option, _MOMENTS) for option in ("--from", "--to")),
]


@pytest.mark.parametrize(("words", "option", "values"), _CASES, ids=lambda part: str(part)[:20])
def test_what_no_option_takes(
    words: tuple[str, ...],
    option: str,
    values: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Exit code 2 and the option named, before anything is read, planned or written."""
    monkeypatch.chdir(tmp_path)
    for value in values:
        result = CliRunner().invoke(trimopt, [*words, option, value])
        assert result.exit_code == 2, (value, result.output, result.exception)
        assert option in result.output
    assert not list(tmp_path.iterdir())


def test_every_effort_may_be_asked_for() -> None:
    """The words of --effort are those of the library."""
    assert tuple(effort.value for effort in Effort) == EFFORTS


@pytest.mark.parametrize("words", [("plan",), ("check",), ("fit", "--width", "735"), ()])
@pytest.mark.parametrize("ending", [".xlsx", ".json"])
def test_a_plan_where_an_order_book_belongs(words: tuple[str, ...], ending: str) -> None:
    """It names its own book; its sheets are not read for orders, and no mill file is missed."""
    plan = str(ROOT / "reports" / f"shift-1{ending}")
    ask = [*words, plan] if words else ["verify", plan, "--book", plan]
    result = CliRunner().invoke(trimopt, ask)
    assert result.exit_code == 2
    said = " ".join(result.stderr.split())
    assert "shift-1" in said
    assert "is a plan; name the order book that it was made from, orders/shift.xlsx" in said


def test_another_json_file_is_no_plan(tmp_path: Path) -> None:
    """What it is not is said of it as of any file."""
    (tmp_path / "x.json").write_text("{}")
    mill = str(ROOT / "orders" / "mill.toml")
    result = CliRunner().invoke(trimopt, ["check", str(tmp_path / "x.json"), "--mill", mill])
    assert isinstance(result.exception, OrderBookError)
    assert "not a workbook" in str(result.exception)
