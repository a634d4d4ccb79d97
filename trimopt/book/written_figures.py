"""What a cell holds, as a text, a flag or a figure: read exactly or not at all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from functools import lru_cache

from trimopt.paper.typed import CellFaultError, WordsBeside, of_size, read_number
from trimopt.text import one_form

_REMEMBERED = 20_000  # readings kept: a book repeats its sizes, grammages and counts
_YES = frozenset({"yes", "y", "true", "x", "1", "✓", "✔"})
_NO = frozenset({"no", "n", "false", "-", "0"})


@dataclass(frozen=True, slots=True)
class Percent:
    """A number in a cell that the spreadsheet shows as a percentage: 0.05 shown as 5 %."""

    share: float | int


class ZeroPadded(int):
    """A whole number that the spreadsheet shows with leading zeros: 4711 shown as 0004711."""

    def __new__(cls, value: int, figures: int) -> ZeroPadded:
        """Of so many figures at the least."""
        padded = super().__new__(cls, value)
        padded.figures = figures
        return padded

    figures: int

    def __str__(self) -> str:
        """As it is shown."""
        return format(int(self), f"0{self.figures}d")


@dataclass(frozen=True, slots=True)
class Disguised:
    """A number that its format shows as another, in thousands, say: 12000 shown as 12."""

    figure: float | int
    number_format: str

    def __str__(self) -> str:
        """What it holds."""
        return format(self.figure, ".15g")


class Midnight(datetime):
    """The first moment of a day in a cell that shows its time, and so is no date alone."""


@dataclass(frozen=True, slots=True)
class NoValue:
    """A cell that shows an error such as #REF!, or a formula saved without its result."""

    text: str
    wrong: str = "the cell shows an error"
    right: str = "mend the formula or type the value"

    @classmethod
    def of_formula(cls, formula: str) -> NoValue:
        """The second."""
        right = "open the book in a spreadsheet program, save it again, or type the value"
        return cls(formula, "the formula was saved without its result", right)


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
        case NoValue():
            text = value.text
        case datetime():
            text = value.isoformat(sep=" ", timespec="minutes")
            text = text if isinstance(value, Midnight) else text.removesuffix(" 00:00")
        case _:
            text = " ".join(str(value).split())
    return text if len(text) <= max_characters else text[: max_characters - 1] + "…"


def _refuse_unreadable(value: object) -> None:
    if isinstance(value, NoValue):
        raise CellFaultError(value.wrong, value.right)


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
    raise CellFaultError("neither yes nor no", "write yes, y or x, or no, n or 0")


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
        return of_size(_of_number(value) if math.isfinite(value) else None)
    if isinstance(value, Percent):
        raise CellFaultError(
            "the cell is formatted as a percentage", "format it as a number and write the number"
        )
    if isinstance(value, Disguised):
        raise CellFaultError(
            f"the format of the cell, {value.number_format}, shows another figure than it holds",
            "format it as a plain number and write the figure in the unit of its column",
        )
    if isinstance(value, WordsBeside):
        raise CellFaultError(
            f'the format of the cell shows words: "{as_text(value)}"',
            "format it as a plain number and write the number alone",
        )
    if isinstance(value, (date, time, timedelta)):
        raise CellFaultError(
            "a date or time where a number belongs", "format the cell as a number and write it"
        )
    return read_number(str(value), decimal_sign=decimal_sign, fractions=fractions)


@lru_cache(maxsize=_REMEMBERED)
def _of_number(value: float) -> Fraction:
    return Fraction(int(value)) if isinstance(value, int) else Fraction(format(value, ".15g"))
