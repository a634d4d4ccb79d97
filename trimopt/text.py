"""Text as it leaves: nothing in it drives a terminal, a spreadsheet or a page; names in one form.

Order numbers, customers and remarks come from a book, names of files from anywhere. Each kind of
output has its function here, and all text that leaves goes through it. Marks that nobody sees
(control codes, turns of the writing direction, byte-order marks) are shown as a replacement sign.
"""

from __future__ import annotations

import csv
import html
import json
import re
import unicodedata
from collections.abc import Iterable
from io import StringIO
from pathlib import PurePath

_MAX_CELL_TEXT = 32_000  # a cell of a workbook holds 32,767 characters

_RARE = re.compile(r"[^\n -~]")  # what some encoding lacks, or nobody sees
_JOINERS = "\u200c\u200d"  # some scripts cannot be written without them
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?")
_AFTER_SEPARATOR = re.compile(r"([;\t]\s*)(?=[=@+-])(?![-+]\d+(?:[.,]\d+)?(?:\s|$))")
_PLAIN = str.maketrans(
    {
        "×": "x", "–": "-", "—": "-", "·": "-", "²": "2", "³": "3", "µ": "u", "μ": "u",
        "ø": "dia.", "…": "...", "≥": ">=", "≤": "<=", "▲": "^", "◄": "<", "’": "'",
        "«": '"', "»": '"', "−": "-", "±": "+/-", "✓": "x", "\N{REPLACEMENT CHARACTER}": "?",
    }
)  # fmt: skip


def one_form(text: str) -> str:
    """Give `text` with each letter and its accents in one character, as they are compared.

    A Mac writes them apart in the names of files; both look alike.
    """
    return unicodedata.normalize("NFC", text)


def file_name(path: PurePath) -> str:
    """Give the path of a file as a plan names it, alike on every system.

    Examples
    --------
    >>> from pathlib import PureWindowsPath
    >>> file_name(PureWindowsPath(r"orders\\shift.xlsx"))
    'orders/shift.xlsx'
    """
    return one_form(path.as_posix())


def for_terminal(text: str, encoding: str = "utf-8") -> str:
    """Give `text` as a terminal of that encoding can show it; lines stay lines.

    Examples
    --------
    >>> for_terminal("2 × 735\\x1b[2J", "ascii")
    '2 x 735?[2J'
    """
    lines = ("".join(" " if ch.isspace() else ch for ch in line) for line in text.split("\n"))
    clean = _seen("\n".join(lines), "?")
    try:
        clean.encode(encoding)
    except LookupError:
        encoding = "ascii"
    except UnicodeEncodeError:
        pass
    else:
        return clean
    return clean.translate(_PLAIN).encode(encoding, "replace").decode(encoding)


def for_workbook(text: str) -> str:
    """Give `text` for a cell, a header or a title of a workbook, no longer than a cell holds.

    Whoever writes it into a cell says that it is a text.
    """
    clean = _seen(text)
    return clean if len(clean) <= _MAX_CELL_TEXT else clean[: _MAX_CELL_TEXT - 2] + " …"


def for_csv(text: str) -> str:
    """Give `text` for a cell of a text file that a spreadsheet may open.

    One that would be taken for a formula, there or behind a separator of another country, is led
    by an apostrophe.

    Examples
    --------
    >>> for_csv("=1+1"), for_csv("\\ufeff ＝1+1"), for_csv("-4.5"), for_csv("Rook Sacks")
    ("'=1+1", "'� ＝1+1", '-4.5', 'Rook Sacks')
    """
    lead = "'" if formula_like(text) else ""
    return lead + _AFTER_SEPARATOR.sub(r"\1'", _seen(text))


def csv_text(rows: Iterable[Iterable[object]]) -> str:
    """Give rows as the text of a csv file; texts in them are as of `for_csv`.

    The mark in front tells spreadsheets, and programs that print labels, that it is UTF-8.
    """
    page = StringIO()
    writer = csv.writer(page, lineterminator="\n")
    for row in rows:
        writer.writerow([for_csv(each) if isinstance(each, str) else each for each in row])
    return "\ufeff" + page.getvalue()


def for_page(text: str) -> str:
    """Give `text` for a page, between its marks or in an attribute."""
    return html.escape(_seen(text), quote=True)


def for_json(text: str, encoding: str = "utf-8") -> str:
    """Give JSON of the same meaning, without marks that nobody sees or that encoding lacks."""
    return _RARE.sub(lambda found: _json_sign(found[0], encoding), text)


def _fits(text: str, encoding: str) -> bool:
    try:
        text.encode(encoding)
    except (LookupError, UnicodeEncodeError):
        return False
    return text.isprintable()


def _json_sign(ch: str, encoding: str) -> str:
    return ch if _fits(ch, encoding) else json.dumps(ch)[1:-1]


def formula_like(text: str) -> bool:
    """Whether a spreadsheet would take `text` for a formula; a plain number is none.

    What stands before the first sign that is seen does not count, and wide signs count as narrow.
    """
    seen = (ch for ch in text if not ch.isspace() and _is_seen(ch) and ch not in _JOINERS)
    first = unicodedata.normalize("NFKC", next(seen, ""))
    return first.startswith(("=", "+", "-", "@")) and not _NUMBER.fullmatch(text)


def _seen(text: str, instead: str = "\N{REPLACEMENT CHARACTER}") -> str:
    if text.isprintable():
        return text
    return "".join(ch if _is_seen(ch) else " " if ch.isspace() else instead for ch in text)


def _is_seen(ch: str) -> bool:
    """Whether a character is what it looks like: printable, a kind of space, the end of a line."""
    return ch.isprintable() or ch == "\n" or ch in _JOINERS or unicodedata.category(ch) == "Zs"
