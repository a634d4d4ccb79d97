"""Words of exports in other languages, and the mill's own: what each means here."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from fnmatch import fnmatchcase
from functools import cache
from importlib.resources import files

from trimopt.book.book_columns import name_key

PRODUCTS = ("reel", "sheet")
FLAGS = ("yes", "no")
UNITS = ("reel", "sheet", "ream", "t", "kg", "m", "in", "g/m2", "of")
LATER = "later"
STATES = ("cancelled", "open", LATER)
"""Of a line: not to be made, to be made now, to be made in the next run of its paper."""
HELD_WORDS = frozenset({*PRODUCTS, *FLAGS, *UNITS, *STATES, "free", "total"})
"""The words that a mill file may give others for."""

_List = Mapping[str, Iterable[str]]


@cache
def _table() -> Mapping[str, _List]:
    return tomllib.loads(files("trimopt.book").joinpath("words.toml").read_text(encoding="utf-8"))


def heading_words(key: str) -> Iterable[str]:
    """Headings of an order table's column in other languages than English."""
    return _table()["headings"].get(key, ())


def alike(heading: str) -> tuple[tuple[str, bool], ...]:
    """The columns that an unknown heading may mean, and whether it is asked about in any case.

    False: only where the table has no such column.
    """
    words = name_key(heading).split()
    return tuple(
        (key, always)
        for name, always in (("looks_like_always", True), ("looks_like", False))
        for key, patterns in _table()[name].items()
        if any(fnmatchcase(word, pattern) for pattern in patterns for word in words)
    )


@cache
def _months() -> Mapping[str, int]:
    months = _table()["months"]
    return {
        name_key(name): number
        for number, (short, names) in enumerate(months.items(), start=1)
        for name in (short, *names)
    }


def month_of(name: str) -> int | None:
    """The month that a word names, 1 to 12, in one of ten languages; None where it names none."""
    return _months().get(name_key(name))


@cache
def _of_languages() -> Mapping[str, Mapping[str, str]]:
    return {
        word: dict.fromkeys(map(name_key, others), word)
        for word, others in _table()["words"].items()
    }


class Words:
    """What the words in a book's cells mean; those of the mill file come first."""

    def __init__(self, own: _List | None = None) -> None:
        self._own = {
            word: dict.fromkeys(map(name_key, others), word) for word, others in (own or {}).items()
        }

    def meaning(self, text: str, among: Iterable[str]) -> str:
        """The word of `among` that a text means; the text itself where it means none."""
        key = name_key(text)
        if not key:
            return text
        for table in (self._own, _of_languages()):
            for word in among:
                if key in table.get(word, ()):
                    return word
        return text

    def state(self, text: str) -> str:
        """The one of `STATES` that a line's status means; the text itself where it means none."""
        meant = self.meaning(text, STATES)
        key = name_key(text)
        return key if meant == text and key in STATES else meant

    def begins(self, text: str, word: str) -> bool:
        """Whether a text begins or ends with what means the word: Total, 3 Seiten."""
        parts = name_key(text).split()
        ends = {" ".join(parts[:size]) for size in (1, 2)} | {parts[-1]} if parts else set()
        return any(self.meaning(end, (word,)) == word for end in ends)

    def cell(self, value: object, among: Iterable[str]) -> object:
        """A cell, where it is a text its `meaning`."""
        return self.meaning(value, among) if isinstance(value, str) else value

    def unit(self, text: str) -> str:
        """A unit in the words of trimopt: Ries à 500 is ream of 500."""
        whole = self.meaning(text, UNITS)
        if whole != text:
            return whole
        return " ".join(self.meaning(part, UNITS) for part in text.split())
