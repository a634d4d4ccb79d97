"""Figures as people write them: decimal comma or point, groups of thousands, fractions of an inch.

A cell is read exactly or not at all. What can be read two ways, such as ``1,250``, is a fault
unless the book states its decimal sign.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from functools import lru_cache

from trimopt.paper.typed import CellFaultError
from trimopt.text import one_form

__all__ = [
    "CellFaultError",
    "ErrorValue",
    "NoResult",
    "Percent",
    "as_text",
    "read_figure",
    "read_flag",
    "read_text",
    "split_figure_and_unit",
]

_SPACES = re.compile("[\\s\u00a0\u2007\u2009\u202f]+")
_VULGAR = re.compile("([\u00bc-\u00be\u2150-\u215e])")
_DASHES = str.maketrans({"\u2212": "-", "\u2013": "-", "\u2012": "-", "\u2010": "-", "\u2011": "-"})
_MIXED = re.compile(r"(?:(\d+)[ -])?(\d+) ?[/\u2044] ?(\d+)")
_SIGNED_UNIT = re.compile(r"([-+(]?[\d.,'’ /\u2044-]*\d\)?)\s*([^\d\s].*)?")
_REMEMBERED = 20_000  # readings kept: a book repeats its sizes, grammages and counts
_MAX_CHARACTERS = 60  # of a figure; a longer text is none
_LARGEST = Fraction(10**12)  # so that no formula of paper runs out of numbers
_YES = frozenset({"yes", "y", "true", "x", "1", "✓", "✔"})
_NO = frozenset({"no", "n", "false", "-", "0"})


@dataclass(frozen=True, slots=True)
class Percent:
    """A number in a cell that the spreadsheet shows as a percentage: 0.05 shown as 5 %."""

    share: float | int


@dataclass(frozen=True, slots=True)
class ErrorValue:
    """A cell that shows an error such as #REF!."""

    text: str


@dataclass(frozen=True, slots=True)
class NoResult:
    """A formula saved without its result."""

    formula: str


def as_text(value: object, max_characters: int = 60) -> str:
    """The cell as the spreadsheet shows it, cut to `max_characters`.

    Examples
    --------
    >>> as_text(29.5), as_text("  a   b "), as_text(None)
    ('29.5', 'a b', '')
    """
    if isinstance(value, str) and len(value) <= max_characters and value.isalnum():
        return value
    match value:
        case None:
            text = ""
        case bool():
            text = "TRUE" if value else "FALSE"
        case float():
            text = format(value, ".15g")
        case Percent():
            text = f"{format(value.share * 100, '.12g')} %"
        case ErrorValue():
            text = value.text
        case NoResult():
            text = value.formula
        case datetime():
            text = value.isoformat(sep=" ", timespec="minutes")
            text = text.removesuffix(" 00:00")
        case _:
            text = " ".join(str(value).split())
    return text if len(text) <= max_characters else text[: max_characters - 1] + "…"


def _refuse_unreadable(value: object) -> None:
    if isinstance(value, ErrorValue):
        raise CellFaultError("the cell shows an error", "mend the formula or type the value")
    if isinstance(value, NoResult):
        raise CellFaultError(
            "the formula was saved without its result",
            "open the book in a spreadsheet program, save it again, or type the value",
        )


def read_text(value: object) -> str:
    """The cell as one line of text; numbers as they are shown.

    Raises
    ------
    CellFaultError
        Where the cell holds an error or a formula without a result.
    """
    _refuse_unreadable(value)
    return one_form(as_text(value, max_characters=1000))


def read_flag(value: object) -> bool:
    """A yes or a no; blank is no.

    Raises
    ------
    CellFaultError
        Where the cell says anything else.
    """
    _refuse_unreadable(value)
    if value is None:
        return False
    if isinstance(value, bool):
        return value
    word = as_text(value).casefold()
    if word in _YES:
        return True
    if word in _NO or not word:
        return False
    raise CellFaultError("neither yes nor no", "write yes or no")


def read_figure(
    value: object, *, decimal_sign: str | None = None, fractions: bool = False
) -> Fraction:
    """The cell's number, exactly.

    Parameters
    ----------
    value
        What the cell holds. A float is taken to the 15 figures that a spreadsheet shows.
    decimal_sign
        ``"."`` or ``","`` where the book states it; ``None`` where it does not.
    fractions
        Whether 29 1/2, 29-1/2 and 29½ are read too.

    Raises
    ------
    CellFaultError
        Where the cell holds no number, or one that can be read two ways.

    Examples
    --------
    >>> read_figure("1 250,5"), read_figure("29 1/2", fractions=True), read_figure("1.250,00")
    (Fraction(2501, 2), Fraction(59, 2), Fraction(1250, 1))
    >>> read_figure("1,250", decimal_sign=",")
    Fraction(5, 4)
    """
    _refuse_unreadable(value)
    if isinstance(value, bool):
        raise CellFaultError("yes or no where a number belongs", "write the number")
    if isinstance(value, (int, float)):
        return _of_size(_of_number(value) if math.isfinite(value) else None)
    if isinstance(value, Percent):
        raise CellFaultError(
            "the cell is formatted as a percentage", "format it as a number and write the number"
        )
    if isinstance(value, (date, time, timedelta)):
        raise CellFaultError(
            "a date or time where a number belongs", "format the cell as a number and write it"
        )
    text = str(value)
    return _of_size(
        _of_text(text, decimal_sign, fractions) if len(text) <= _MAX_CHARACTERS else None
    )


def _of_size(figure: Fraction | None) -> Fraction:
    """The figure, where it is of a size that a mill has; None: of no size at all."""
    if figure is None or abs(figure) > _LARGEST or 0 < abs(figure) < 1 / _LARGEST:
        raise CellFaultError(
            "not of a size that any mill has", "write the number alone, in the unit of its column"
        )
    return figure


@lru_cache(maxsize=_REMEMBERED)
def _of_number(value: float) -> Fraction:
    return Fraction(value) if isinstance(value, int) else Fraction(format(value, ".15g"))


@lru_cache(maxsize=_REMEMBERED)
def _of_text(written: str, decimal_sign: str | None, fractions: bool) -> Fraction:
    text = _plain(written)
    negative = False
    if text.startswith("(") and text.endswith(")"):
        negative, text = True, text[1:-1].strip()
    elif text[:1] in {"-", "+"}:
        negative, text = text[0] == "-", text[1:].strip()
    number = _read_unsigned(text, decimal_sign, fractions)
    return -number if negative else number


def _plain(text: str) -> str:
    """One kind of dash and of space, no composed fractions, no outer spaces."""
    text = _VULGAR.sub(r" \1", text.translate(_DASHES))
    return _SPACES.sub(" ", unicodedata.normalize("NFKC", text)).strip()


def _read_unsigned(text: str, decimal_sign: str | None, fractions: bool) -> Fraction:
    mixed = _MIXED.fullmatch(text)
    if mixed is not None:
        if not fractions:
            raise CellFaultError("a fraction where a plain number belongs", "write it as a decimal")
        whole, above, below = mixed.groups()
        if int(below) == 0 or (whole is not None and int(above) >= int(below)):
            raise CellFaultError("not a proper fraction", "write it like 29 1/2")
        return int(whole or 0) + Fraction(int(above), int(below))
    compact = text.replace(" ", "").replace("'", "").replace("’", "")
    if not re.fullmatch(r"[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+", compact):
        raise CellFaultError("text where a number belongs", "write the number alone")
    if compact != text and not re.fullmatch(r"[0-9]{1,3}(?:[ '’][0-9]{3})+(?:[.,][0-9]+)?", text):
        raise CellFaultError(
            "the digits are not grouped in threes", "write the number without spaces"
        )
    sign = _decimal_sign_of(compact, decimal_sign, grouped=compact != text)
    group = "," if sign == "." else "."
    whole, _, part = compact.partition(sign)
    if sign in part or group in part:
        raise CellFaultError("not a number", "write it with one decimal sign")
    if group in whole and not re.fullmatch(rf"[0-9]{{1,3}}(?:\{group}[0-9]{{3}})+", whole):
        raise CellFaultError(
            f"not a number in a book whose decimal sign is {sign}"
            if decimal_sign
            else "the digits are not grouped in threes",
            f"write it with {sign} as its only sign",
        )
    digits = whole.replace(group, "") or "0"
    return Fraction(f"{digits}.{part}") if part else Fraction(digits)


def _decimal_sign_of(compact: str, stated: str | None, *, grouped: bool) -> str:
    """Which of the two signs is the decimal sign of this figure."""
    if stated is not None:
        return stated
    commas, points = compact.count(","), compact.count(".")
    if not commas or not points:
        sign = "," if commas else "."
        count = commas + points
        if count > 1:  # 1,250,000: a decimal sign stands once
            return "." if sign == "," else ","
        if count == 1 and not grouped:
            whole, part = compact.split(sign)
            if len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0"):
                other, short = f"{whole}{part}", part.rstrip("0") or "0"
                small = f"{whole}.{short}" if len(short) < 3 else f"{whole}.{short}0"
                raise CellFaultError(
                    f"can be read as {whole}.{part} or as {other}",
                    f"write {other} or {small}, or state the book's decimal sign "
                    "in a pair of cells above the table: Decimal sign | , or .",
                )
        return sign
    return "," if compact.rfind(",") > compact.rfind(".") else "."


def split_figure_and_unit(value: object) -> tuple[object, str]:
    """A text such as ``735 mm`` as its figure and its unit; anything else with no unit.

    Examples
    --------
    >>> split_figure_and_unit("735 mm"), split_figure_and_unit('29 1/2"'), split_figure_and_unit(5)
    (('735', 'mm'), ('29 1/2', '"'), (5, ''))
    """
    if not isinstance(value, str):
        return value, ""
    return _split_text(value)


@lru_cache(maxsize=_REMEMBERED)
def _split_text(value: str) -> tuple[str, str]:
    found = _SIGNED_UNIT.fullmatch(_plain(value))
    if found is None or found.group(2) is None:
        return value, ""
    return found.group(1).strip(), found.group(2).strip()
