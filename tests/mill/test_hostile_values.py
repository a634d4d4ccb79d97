"""Any key of a mill file may hold anything: a fault of its own, and never in place of others."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from trimopt.errors import MillFileError
from trimopt.mill import example_mill_text, read_mill

_LINES = example_mill_text().split("\n")
_KEYS = {
    number: found[1]
    for number, line in enumerate(_LINES)
    if (found := re.match(r"(\w+) *= *[^ ]", line))
}
_VALUES = (
    "1e308", "-1e308", "1e400", "-1e400", "1e-400", "5e-324", "inf", "-inf", "nan", "9" * 400,
    "-" + "9" * 400, "9" * 5000, "1_" * 900 + "0", "0." + "0" * 5000 + "1", "1" + "0" * 30, "true",
    "2026-11-28", "2026-11-28T06:00:00", "06:00:00", '"9"', f'"{"9" * 400}"', '""', '"x"',
    "[1e308]", "[]", "{}", "{a = 1}", "[[]]", "0", "-1", "-0.0", "0x1F", "0.0000001", "1e12",
    '"\\u0000"', '"\\u202e"', "'''\na'''",
)  # fmt: skip
_NO_FIGURES = _VALUES[:15]


@pytest.mark.parametrize("line", _KEYS, ids=[f"{key}-{line}" for line, key in _KEYS.items()])
def test_every_key(tmp_path: Path, line: int) -> None:
    """The value is a fault at its key or is read; the fault of another key is told either way."""
    key = _KEYS[line]
    other, wrong = ("knives", "knives = -5")
    if key == other:
        other, wrong = ("jumbo_change_min", "jumbo_change_min = -5")
    for value in _VALUES:
        lines = [wrong if re.match(rf"{other} *=", one) else one for one in _LINES]
        lines[line] = f"{key} = {value}"
        (tmp_path / "mill.toml").write_text("\n".join(lines), encoding="utf-8")
        with pytest.raises(MillFileError) as refused:
            read_mill(tmp_path / "mill.toml")
        told = {fault.column for fault in refused.value.faults}
        assert other in told, value
        if value in _NO_FIGURES:
            assert key in told, value
        assert all(len(fault.value) <= 60 for fault in refused.value.faults)


@pytest.mark.parametrize(
    ("key", "value", "wrong"),
    [
        ("min_edge_trim_mm", "0.0000001", "is finer than hundredths"),
        ("min_edge_trim_mm", '"1/300 in"', "is finer than hundredths"),
        ("speed_m_min", "0.0000001", "is below 1"),
    ],
)
def test_figures_that_no_winder_has(tmp_path: Path, key: str, value: str, wrong: str) -> None:
    """They would fill the memory, or carry a plan beyond the last day of the calendar."""
    text = re.sub(rf"(?m)^{key} *=.*$", f"{key} = {value}", example_mill_text())
    (tmp_path / "mill.toml").write_text(text, encoding="utf-8")
    with pytest.raises(MillFileError, match=wrong):
        read_mill(tmp_path / "mill.toml")


def test_widths_of_a_mill_in_inches_are_fine_enough(tmp_path: Path) -> None:
    """Sixteenths and 128ths of an inch are read exactly, and so are hundredths of a millimetre."""
    for value in ('"1 1/128 in"', "10.01", '"0.125 in"'):
        text = re.sub(
            r"(?m)^min_edge_trim_mm *=.*$", f"min_edge_trim_mm = {value}", example_mill_text()
        )
        (tmp_path / "mill.toml").write_text(text, encoding="utf-8")
        read_mill(tmp_path / "mill.toml")
