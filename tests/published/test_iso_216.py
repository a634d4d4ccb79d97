"""ISO 216:2007, A and B series, trimmed sizes in mm; the table is written from memory."""

from __future__ import annotations

import pytest

from trimopt.paper import iso_size_mm

A = (
    *((841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210)),
    *((105, 148), (74, 105), (52, 74), (37, 52), (26, 37)),
)
B = (
    *((1000, 1414), (707, 1000), (500, 707), (353, 500), (250, 353), (176, 250)),
    *((125, 176), (88, 125), (62, 88), (44, 62), (31, 44)),
)


@pytest.mark.parametrize(("series", "table"), [("A", A), ("B", B)])
def test_the_whole_series(series: str, table: tuple[tuple[int, int], ...]) -> None:
    """Sizes 0 to 10 of the series are the standard's, and there is no size 11."""
    assert tuple(iso_size_mm(f"{series}{number}") for number in range(11)) == table
    with pytest.raises(ValueError, match="ends at"):
        iso_size_mm(f"{series}11")
