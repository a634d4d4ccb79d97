"""Sheet sizes by name."""

from __future__ import annotations

import pytest

from trimopt.paper import ISO_SERIES, iso_size_mm


@pytest.mark.parametrize("series", sorted(ISO_SERIES))
def test_each_size_is_half_of_the_one_before(series: str) -> None:
    """The longer side becomes half of itself, broken millimetres let go; the shorter one stays."""
    for number in range(ISO_SERIES[series][2]):
        short, long = iso_size_mm(f"{series}{number}")
        assert iso_size_mm(f"{series}{number + 1}") == (long // 2, short)


@pytest.mark.parametrize("name", ["a4", " A 4 ", "A4"])
def test_names_forgive_case_and_spaces(name: str) -> None:
    """A size is known by its letters and number, however they are typed."""
    assert iso_size_mm(name) == (210, 297)


@pytest.mark.parametrize("name", ["", "A", "A11", "RA5", "SRA5", "C4", "A-1", "XA4", "A4 x"])
def test_other_names_are_refused(name: str) -> None:
    """A name that the standards do not have is an error, never a guess."""
    with pytest.raises(ValueError, match="no ISO size"):
        iso_size_mm(name)
