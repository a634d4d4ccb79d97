"""ISO 217:2013, RA and SRA series, untrimmed sizes in mm; the table is written from memory."""

from __future__ import annotations

import pytest

from trimopt.paper import iso_size_mm

RA = ((860, 1220), (610, 860), (430, 610), (305, 430), (215, 305))
SRA = ((900, 1280), (640, 900), (450, 640), (320, 450), (225, 320))


@pytest.mark.parametrize(("series", "table"), [("RA", RA), ("SRA", SRA)])
def test_the_whole_series(series: str, table: tuple[tuple[int, int], ...]) -> None:
    """Sizes 0 to 4 of the series are the standard's, and there is no size 5."""
    assert tuple(iso_size_mm(f"{series}{number}") for number in range(5)) == table
    with pytest.raises(ValueError, match="ends at"):
        iso_size_mm(f"{series}5")
