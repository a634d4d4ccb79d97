"""Figures as people type them: decimal comma or point, groups of thousands, fractions of an inch.

A figure is read exactly or not at all. What can be read two ways, such as ``1,250``, is a fault
unless the decimal sign is known.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

_SPACES = re.compile("[\\s\u00a0\u2007\u2009\u202f]+")
_VULGAR = re.compile("([\u00bc-\u00be\u2150-\u215e])")
_DASHES = str.maketrans({"\u2212": "-", "\u2013": "-", "\u2012": "-", "\u2010": "-", "\u2011": "-"})
_MIXED = re.compile(r"(?:(\d+)[ -])?(\d+) ?[/\u2044] ?(\d+)")
_SIGNED_UNIT = re.compile(r"([-+(]?[\d.,'’ /\u2044-]*\d\)?)\s*([^\d\s].*)?")
_REMEMBERED = 20_000  # readings kept: a book repeats its sizes, grammages and counts
_MAX_CHARACTERS = 60  # of a figure; a longer text is none
_LARGEST = Fraction(10**12)  # so that no formula of paper runs out of numbers


class CellFaultError(Exception):
    """A figure, unit or word that cannot be read: what is wrong and what would be right.

    Who reads the cell, option or key turns it into a `Fault` with its place; it leaves no command.
    """

    def __init__(self, wrong: str, right: str) -> None:
        self.wrong = wrong
        self.right = right
        super().__init__(f"{wrong}; {right}")


@dataclass(frozen=True, slots=True)
class WordsBeside:
    """A number that a cell's format shows with words, most often its unit: 32 shown as 32 in."""

    figure: float | int
    before: str
    behind: str

    def __str__(self) -> str:
        """As it is shown, to all its digits."""
        figure = self.figure
        shown = str(figure) if isinstance(figure, int) else format(figure, ".15g")
        return f"{self.before}{shown}{self.behind}"


def read_number(text: str, *, decimal_sign: str | None = None, fractions: bool = False) -> Fraction:
    """The number of a text, exactly; parameters and errors as of a cell's figure.

    Raises
    ------
    CellFaultError
        Where it holds no number, or one that can be read two ways.

    Examples
    --------
    >>> read_number("1 250,5"), read_number("29½", fractions=True)
    (Fraction(2501, 2), Fraction(59, 2))
    """
    if len(text) > _MAX_CHARACTERS:
        return of_size(None)
    return of_size(_of_text(text, decimal_sign, fractions))


def is_fraction(text: str) -> bool:
    """Whether a figure is written as inches are, with a fraction: 29 1/2, 29-1/2, 29½."""
    return _MIXED.fullmatch(_plain(text)) is not None


def of_size(figure: Fraction | None) -> Fraction:
    """The figure, where it is of a size that a mill has; None: of no size at all.

    Raises
    ------
    CellFaultError
        Where it is not.
    """
    if figure is None or abs(figure) > _LARGEST or 0 < abs(figure) < 1 / _LARGEST:
        raise CellFaultError(
            "not of a size that any mill has", "write the number alone, in the unit of its column"
        )
    return figure


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
                    "in a pair of cells above the table (Decimal sign | , or .) or under [export] "
                    'in the mill file (decimal_sign = "," or ".")',
                )
        return sign
    return "," if compact.rfind(",") > compact.rfind(".") else "."


def split_figure_and_unit(value: object) -> tuple[object, str]:
    """A text such as ``735 mm`` as its figure and its unit; anything else with no unit.

    A number with its unit by the format of its cell is split like that text.

    Examples
    --------
    >>> split_figure_and_unit("735 mm"), split_figure_and_unit('29 1/2"'), split_figure_and_unit(5)
    (('735', 'mm'), ('29 1/2', '"'), (5, ''))
    """
    if isinstance(value, WordsBeside) and not value.before:
        return value.figure, value.behind.strip()
    if not isinstance(value, str):
        return value, ""
    return _split_text(value)


@lru_cache(maxsize=_REMEMBERED)
def _split_text(value: str) -> tuple[str, str]:
    found = _SIGNED_UNIT.fullmatch(_plain(value))
    if found is None or found.group(2) is None:
        return value, ""
    return found.group(1).strip(), found.group(2).strip()
