"""Both dimensions of a sheet in one cell: taken apart as the mill file says, or not at all."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from trimopt.book.match_headings import Heading
from trimopt.book.raw_tables import Cells

ACROSS_FIRST, ALONG_FIRST = "across x along", "along x across"
_SIZE = re.compile(r"(\d[^x×*]*?)\s*[x×*]\s*(\d[^x×*]*)", re.IGNORECASE)
_UNIT = re.compile(r"\s*([^\d\s.,/]+)$")


def dimensions_in(value: object) -> tuple[str, str] | None:
    """The two dimensions in a cell, each with the unit that stands behind them; None for one.

    Examples
    --------
    >>> dimensions_in('24" x 36"'), dimensions_in("720 x 1020 mm"), dimensions_in("720")
    (('24"', '36"'), ('720 mm', '1020 mm'), None)
    """
    found = _SIZE.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        return None
    first, second = found.groups()
    unit = _UNIT.search(second)
    return first if _UNIT.search(first) or not unit else f"{first} {unit[1]}", second


def split_sizes(
    lines: list[tuple[int, Cells]], headings: Mapping[str, Heading], order: str | None
) -> tuple[list[tuple[int, Cells]], Mapping[str, Heading]]:
    """The lines with the dimension along the web under Chop, and the headings with that column.

    Parameters
    ----------
    order
        `ACROSS_FIRST` or `ALONG_FIRST`; None: nothing is taken apart.
    """
    width = headings.get("width")
    if order is None or width is None:
        return lines, headings
    chop = headings.get("chop")
    if chop is None:
        beyond = max(one.index + 1 for one in headings.values())
        beyond = max([beyond, *(len(cells) for _, cells in lines)])
        chop = replace(width, key="chop", index=beyond)
    made = []
    for row, cells in lines:
        whole = [*cells, *[None] * (chop.index + 1 - len(cells))]
        parts = dimensions_in(whole[width.index])
        if parts is not None and whole[chop.index] is None:
            across, along = parts if order == ACROSS_FIRST else parts[::-1]
            whole[width.index], whole[chop.index] = across, along
        made.append((row, tuple(whole)))
    return made, {**headings, "chop": chop}
