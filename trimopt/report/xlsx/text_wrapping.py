"""How many lines a text takes in a cell; a row that was given too few of them is clipped.

Widths of letters are those of the sans-serif face that the workbook is set in, in thousandths of
the type size, rounded up within groups of like letters.
"""

from __future__ import annotations

import re

__all__ = ["text_lines", "text_pixels"]

_GROUPS = (
    ("ijl'|", 225),
    (" !,./:;ftI[]\\", 280),
    ("()-r`°·", 335),
    ("cksvxyzJ", 500),
    ("abdeghnopqu0123456789L$?_–²³µø", 560),
    ("+<=>~FTZ×÷", 612),
    ("ABEKPSVXY&", 667),
    ("wCDHNRU", 722),
    ("GOQ", 780),
    ("mM", 835),
    ("%W@—…", 1000),
)
_WIDTH = {sign: width for signs, width in _GROUPS for sign in signs}
_OTHER = 667
_BOLD = 1.07
_PIECE = re.compile(r"[^\s-]*-+|[^\s-]+|\s+")


def text_pixels(text: str, *, size: float = 11, bold: bool = False) -> float:
    """Give the width of a line of text, pixels at 96 to the inch; `size` is in points.

    >>> round(text_pixels("1,000 mm"))
    66
    """
    width = sum(_WIDTH.get(sign, _OTHER) for sign in text) / 1000
    return width * size * 96 / 72 * (_BOLD if bold else 1.0)


def text_lines(text: str, width: float, *, size: float = 11, bold: bool = False) -> int:
    """Give the lines that `text` takes, wrapped in a column of `width` characters.

    >>> text_lines("Folding board 250 g/m²", 25), text_lines("Folding board 250 g/m²", 15)
    (1, 2)
    """
    room = max(width * 7 - 14, 14.0)  # less the indent and the cell's own margins
    return sum(_lines(part, room, size, bold=bold) for part in text.split("\n"))


def _lines(text: str, room: float, size: float, *, bold: bool) -> int:
    lines, used = 1, 0.0
    for piece in _PIECE.findall(text):
        wide = text_pixels(piece, size=size, bold=bold)
        if used + wide <= room or piece.isspace():
            used += wide
        elif wide <= room:
            lines, used = lines + 1, wide
        else:
            # A word longer than the line is broken where the line ends.
            whole, rest = divmod(wide, room)
            lines, used = lines + int(whole) + (used > 0), rest
    return lines
