"""What a column of an order book is: one description for reading, headings, template and help.

The columns themselves stand in `order_columns.py` and `table_kinds.py`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from trimopt.book.units_of_measure import Dimension
from trimopt.book.written_figures import read_text
from trimopt.paper.typed import CellFaultError

FREE = "free"
"""The word that leaves a min. diameter open, and with which an instruction asks nothing."""


_DIAMETER_SIGN = re.compile(r"(?<![^\W_])[øØ∅⌀](?![^\W_])")


@lru_cache(maxsize=20_000)  # a book repeats its words
def name_key(text: str) -> str:
    """The words of a heading as they are compared, accents left out.

    Examples
    --------
    >>> name_key("  Order-No. "), name_key("Tolerance +"), name_key("DUE_DATE:"), name_key("Größe")
    ('order no', 'tolerance plus', 'due date', 'grosse')
    """
    text = unicodedata.normalize("NFKC", text).casefold().strip()
    if not text.isascii():
        text = _DIAMETER_SIGN.sub(" diameter ", text)
        text = "".join(
            s for s in unicodedata.normalize("NFKD", text) if not unicodedata.combining(s)
        )
        text = text.replace("ł", "l")
    text = text.replace("\u2212", "-").replace("\u2013", "-").replace("±", " tolerance ")
    text = re.sub(r"-$", " minus", re.sub(r"\+", " plus ", text).strip())
    return " ".join(re.findall(r"[^\W_]+", text))


@dataclass(frozen=True, slots=True, kw_only=True)
class BookColumn:
    """A column, or a setting that stands in a pair of cells above the table."""

    key: str  # in `Order.as_written`, in the code and in the mill file
    heading: str  # what the template writes
    dimension: Dimension
    explained: str  # the note on the template's heading, and the help sheet
    names: tuple[str, ...] = ()  # other headings that name it
    required: str = ""  # what every row must state here; empty where it may be blank
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # word -> other spellings
    min_count: int | None = None  # of a whole number
    zero: bool = False  # a figure may be 0
    or_free: bool = False  # the word free may stand in place of the figure
    in_template: bool = True
    cell_format: str = ""  # of the spreadsheet
    cell_width: int = 12  # of the template, in characters

    @property
    def dark(self) -> bool:
        """Whether the template marks it as needed; the unit may stand in another heading too."""
        return bool(self.required) or self.key == "unit"

    def choice(self, value: object) -> str:
        """The word of `choices` that a cell means.

        Raises
        ------
        CellFaultError
            Where it means none of them.
        """
        text = read_text(value)
        key = name_key(text) or text  # a sign such as a comma has no words
        for word, others in self.choices.items():
            if any(key == (name_key(name) or name) for name in (word, *others)):
                return word
        words = list(self.choices)
        listed = f"{', '.join(words[:-1])} or {words[-1]}"
        wrong = f"neither {words[0]} nor {words[1]}" if len(words) == 2 else "no known word"
        raise CellFaultError(wrong, f"write {listed}")


def column(
    key: str, heading: str, dimension: Dimension, explained: str, names: str = "", **more: Any
) -> BookColumn:
    """A column; `names` has commas between them."""
    parted = tuple(names.split(", ")) if names else ()
    return BookColumn(
        key=key, heading=heading, dimension=dimension, explained=explained, names=parted, **more
    )


def limit_names(words: str, *nouns: str) -> str:
    """Names of a limit: every word before and behind every noun."""
    return ", ".join(
        name
        for noun in nouns
        for word in words.split()
        for name in (f"{word} {noun}", f"{noun} {word}")
    )


MIN_WORDS = "min minimum least smallest from"
MAX_WORDS = "max maximum greatest largest to"
TEXT, WIDTH, LENGTH = Dimension.TEXT, Dimension.WIDTH, Dimension.LENGTH
QUANTITY, SHARE, COUNT = Dimension.QUANTITY, Dimension.SHARE, Dimension.COUNT
_GRADE_NAMES = "quality, paper grade, board grade"
_GRAMMAGE_NAMES = "substance, basis weight, mass per area, gsm, g/m2, g/m²"
REMARK_NAMES = "remark, note, notes, comment, comments"
AS_TEXT = "@"  # 2-1 would become a date
DAY_FORMAT, MOMENT_FORMAT = "yyyy-mm-dd", "yyyy-mm-dd hh:mm"

GRADE = column("grade", "Grade", TEXT, "A grade of the mill file.", _GRADE_NAMES,
               required="a grade of the mill file", cell_width=18)  # fmt: skip
GRAMMAGE = column(
    "grammage", "Grammage [g/m²]", Dimension.GRAMMAGE,
    "Mass per area. A heading such as Basis weight [lb 25x38, 500 sheets] or [lb/1000 ft²] is "
    "converted exactly.",
    _GRAMMAGE_NAMES, required="the mass per area",
)  # fmt: skip


def columns_by_key(columns: tuple[BookColumn, ...]) -> Mapping[str, BookColumn]:
    return {column.key: column for column in columns}
