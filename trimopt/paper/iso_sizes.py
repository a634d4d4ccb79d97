"""Sheet sizes by name: A and B (ISO 216), RA and SRA (ISO 217).

Each size is the one before it cut in half across its longer side, a broken millimetre let go.
The standards' names say nothing about the machine direction, and nor does the pair given here.

References
----------
ISO 216, Writing paper and certain classes of printed matter: trimmed sizes, A and B series.
ISO 217, Paper: untrimmed sizes, designation and tolerances for primary and supplementary ranges.
"""

from __future__ import annotations

import re

ISO_SERIES: dict[str, tuple[int, int, int]] = {
    # series: shorter and longer side of size 0 in mm, and the last number that is standardised
    "A": (841, 1189, 10),
    "B": (1000, 1414, 10),
    "RA": (860, 1220, 4),
    "SRA": (900, 1280, 4),
}

_NAME = re.compile(r"\s*(SRA|RA|A|B)\s*(\d{1,2})\s*", re.IGNORECASE)


def iso_size_mm(name: str) -> tuple[int, int]:
    """Shorter and longer side, mm, of a size such as ``A4`` or ``SRA 3``.

    Raises
    ------
    ValueError
        The name is not one of ISO 216's A and B or ISO 217's RA and SRA.

    Examples
    --------
    >>> iso_size_mm("A4")
    (210, 297)
    >>> iso_size_mm("sra2")
    (450, 640)
    """
    match = _NAME.fullmatch(name)
    if match is None:
        raise ValueError(f"{name!r} is no ISO size; write A0 to A10, B0 to B10, RA0 to SRA4")
    series, number = match[1].upper(), int(match[2])
    short, long, last = ISO_SERIES[series]
    if number > last:
        raise ValueError(f"{name!r} is no ISO size; {series} ends at {series}{last}")
    for _ in range(number):
        short, long = long // 2, short
    return short, long
