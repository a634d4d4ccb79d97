"""Finding a table's heading row and what each of its columns is.

A heading is known by its words: case, spaces, points and the order of columns do not matter. What
stands in brackets, or behind the words, is its unit.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

from trimopt.book.book_columns import BookColumn, name_key
from trimopt.book.raw_tables import Cells, is_ruled
from trimopt.book.trade_words import Words, alike, heading_words
from trimopt.book.units_of_measure import (
    MEASURED,
    Dimension,
    QuantityUnit,
    measure_of,
    pounds_alone,
    quantity_unit_of,
)
from trimopt.book.written_figures import as_text
from trimopt.errors import Fault
from trimopt.paper.measures import Measure, unit_key
from trimopt.paper.typed import CellFaultError

_BRACKETS = re.compile(r"\[([^\]]*)\]|\(([^)]*)\)|\{([^}]*)\}")
_REMARKS = frozenset(  # words in brackets that say what the column is, not its unit
    {
        *("across", "across the web", "along", "cd", "md", "cross direction", "machine direction"),
        *("least", "greatest", "min", "max", "reels", "sheets", "each"),
        *("outside", "inside", "inside diameter", "id", "od", "o.d", "i.d"),
    }
)
_LIMITS = frozenset({"least", "greatest", "min", "max"})  # in brackets: Diameter (max)
_NEAR = 0.85  # likeness of a slip of the pen to the word that is meant


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A known column of a table: where it stands, what it says, its unit.

    `left_open` is the fault of a basis weight that does not say what its pounds are for, where no
    line says it either.
    """

    key: str
    index: int
    text: str
    measure: Measure | None = None
    quantity_unit: QuantityUnit | None = None
    unit_stated: bool = False
    left_open: CellFaultError | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Headings:
    """What a heading row says."""

    known: Mapping[str, Heading]
    width: int  # cells up to the last heading
    unknown: tuple[str, ...] = ()
    alike: Mapping[str, BookColumn] = field(default_factory=dict)  # unknown, but may be that column
    faults: tuple[Fault, ...] = ()  # without their place
    left_open: Fault | None = None  # the one of them that the lines may mend


class Vocabulary:
    """The words for a table's columns, the mill's own among them.

    Parameters
    ----------
    columns
        The table's columns.
    mapped
        The mill file's headings: our column, by its key or its heading, to the export's heading. A
        unit in its brackets is that of an export's heading which states none.
    ignored
        Headings that the mill file says not to read.
    words
        What unit words mean, the mill's own among them; none: those of other languages.
    of_orders
        Whether the headings of other languages and what looks like a column are those of orders.
    """

    def __init__(
        self,
        columns: tuple[BookColumn, ...],
        mapped: Mapping[str, str],
        *,
        ignored: Iterable[str] = (),
        words: Words | None = None,
        of_orders: bool = False,
    ) -> None:
        self._columns = {column.key: column for column in columns}
        self._of_orders = of_orders
        self._ignored = frozenset(map(name_key, ignored))
        self._words = words or Words()
        self._names: dict[str, str] = {}
        for column in columns:
            others = heading_words(column.key) if of_orders else ()
            for name in (column.heading, column.key, *column.names, *others):
                self._names.setdefault(name_key(_BRACKETS.sub(" ", name)), column.key)
        self._mapped: dict[str, str] = {}
        self._said_for: dict[str, tuple[str, ...]] = {}  # a mapped heading without a unit: its unit
        self.unknown_mappings: list[str] = []
        for ours, theirs in mapped.items():
            key = self._names.get(name_key(_BRACKETS.sub(" ", ours)))
            if key is None:
                self.unknown_mappings.append(ours)
                continue
            self._mapped[name_key(theirs)] = key
            unit = tuple(_inside(found).strip() for found in _BRACKETS.finditer(theirs))
            if len(unit) == 1 and _states_unit(self._columns[key].dimension, unit[0]):
                bare = name_key(_BRACKETS.sub(" ", theirs))
                self._mapped.setdefault(bare, key)
                self._said_for.setdefault(bare, unit)

    def known_in(self, cells: Iterable[object]) -> frozenset[str]:
        """The keys of the columns that a row names, whatever their units say."""
        keys = set()
        for cell in cells:
            if isinstance(cell, str) and len(cell) <= 120 and not self._is_ignored(cell):
                key, _ = self._identify(cell)
                if key is not None:
                    keys.add(key)
        return frozenset(keys)

    def match(self, cells: Sequence[object]) -> Headings:
        """What each cell of a heading row names, with its unit.

        A column that the mill file maps is taken by the mill's heading where the row has it; the
        usual words for it then name nothing.
        """
        texts = [as_text(cell, max_characters=120) if cell is not None else "" for cell in cells]
        claimed = {self._mapped_key(text) for text in texts} - {None}
        known: dict[str, Heading] = {}
        unknown: list[str] = []
        faults: list[Fault] = []
        left_open: Fault | None = None
        for index, text in enumerate(texts):
            if not text or self._is_ignored(text):
                continue
            key, units = self._identify(text)
            if key is None or (key in claimed and self._mapped_key(text) is None):
                unknown.append(text)
                continue
            column = self._columns[key]
            if key in known:
                faults.append(_second(text, column, known[key]))
                continue
            try:
                mapped = self._mapped_key(text) is not None
                units = tuple(map(self._words.unit, units))
                known[key] = _heading(column, index, text, units, mapped=mapped)
            except CellFaultError as fault:
                known[key] = Heading(key=key, index=index, text=text)
                faults.append(_heading_fault(text, column, fault))
                continue
            if (unsaid := known[key].left_open) is not None:
                left_open = _heading_fault(text, column, unsaid)
                faults.append(left_open)
        width = max((index + 1 for index, text in enumerate(texts) if text), default=0)
        return Headings(
            known=known,
            width=width,
            unknown=tuple(unknown),
            alike=self._alike(unknown, known),
            faults=tuple(faults),
            left_open=left_open,
        )

    def with_units(self, cells: Sequence[object], below: Sequence[object]) -> Cells | None:
        """The headings with the units of the row below in brackets; None where it is no such row.

        Every cell of it is a unit of the column that it stands under, or a dash.
        """
        joined: list[object] = [*cells, *[None] * (len(below) - len(cells))]
        units = 0
        for index, cell in enumerate(below):
            if cell is None or (isinstance(cell, str) and is_ruled(cell)):
                continue
            text, unit = (
                joined[index],
                _BRACKETS.sub(_inside, cell) if isinstance(cell, str) else "",
            )
            key, stated = self._identify(text) if isinstance(text, str) else (None, ())
            meant = self._words.unit(unit)
            if key is None or not _states_unit(self._columns[key].dimension, meant):
                return None
            units += 1
            if meant not in map(self._words.unit, stated):
                joined[index] = f"{text} [{unit.strip()}]"
        return tuple(joined) if units else None

    def _alike(self, unknown: Iterable[str], known: Mapping[str, Heading]) -> dict[str, BookColumn]:
        """Unknown headings that may be a column; one that the mill file maps is not in doubt."""
        decided = set(self._mapped.values()) & set(known)
        found: dict[str, BookColumn] = {}
        for text in unknown if self._of_orders else ():
            bare = name_key(_BRACKETS.sub(" ", text))
            near = get_close_matches(bare, list(self._names), n=1, cutoff=_NEAR)
            near += [name for name in self._names if _letters_swapped(bare, name)]
            keys = [(self._names[name], False) for name in near] + list(alike(text))
            key, always = next((pair for pair in keys if pair[0] in self._columns), ("", False))
            if key and key not in decided and (always or key not in known):
                found[text] = self._columns[key]
        return found

    def _is_ignored(self, text: str) -> bool:
        return bool(self._ignored) and name_key(text) in self._ignored

    def _mapped_key(self, text: str) -> str | None:
        """The key of the column that the mill file maps a heading to, with or without its unit."""
        whole, bare = name_key(text), name_key(_BRACKETS.sub(" ", text))
        return self._mapped.get(whole) or self._mapped.get(bare)

    def _identify(self, text: str) -> tuple[str | None, tuple[str, ...]]:
        """The key of the column that a heading names, and the texts that may state its unit."""
        brackets = tuple(_inside(found).strip() for found in _BRACKETS.finditer(text))
        bare = _BRACKETS.sub(" ", text)
        if (key := self._mapped_key(text)) is not None:
            return key, brackets or self._said_for.get(name_key(text), ())
        bare = " ".join((bare, *(part for part in brackets if unit_key(part) in _LIMITS)))
        if (key := self._names.get(name_key(bare))) is not None:
            return key, brackets
        words = unicodedata.normalize("NFKC", bare).replace("_", " ").split()
        for size in range(1, len(words)):  # a unit behind the words, without brackets
            head, tail = words[:-size], " ".join(words[-size:])
            if len(head) > 1 and head[-1].casefold() == "in":
                head = head[:-1]
            key = self._names.get(name_key(" ".join(head)))
            if key is not None and _states_unit(
                self._columns[key].dimension, self._words.unit(tail)
            ):
                return key, (*brackets, tail.strip(",;:/ "))
        return None, brackets


def _heading_fault(text: str, column: BookColumn, fault: CellFaultError) -> Fault:
    return Fault(value=text, column=column.heading, wrong=fault.wrong, right=fault.right)


def _second(text: str, column: BookColumn, first: Heading) -> Fault:
    wrong = f'a second column for the same as "{first.text}"'
    which = f'{column.key} = "{text}", or ignore = ["{text}"]'
    right = f"keep one of them, or say in the mill file under [headings] which: {which}"
    return Fault(value=text, column=column.heading, wrong=wrong, right=right)


def _letters_swapped(text: str, name: str) -> bool:
    """Coer for core: the likeness of short words says little."""
    return len(text) == len(name) > 3 and text != name and sorted(text) == sorted(name)


def _inside(found: re.Match[str]) -> str:
    return next(part for part in found.groups() if part is not None)


def _states_unit(dimension: Dimension, text: str) -> bool:
    text = text.strip(",;:/ ")
    try:
        if dimension is Dimension.QUANTITY:
            return quantity_unit_of(text) is not None
        return bool(text) and dimension in MEASURED and measure_of(dimension, text) is not None
    except CellFaultError:
        return True  # a unit, though one that leaves something open: the match says what


def _heading(
    column: BookColumn, index: int, text: str, units: tuple[str, ...], *, mapped: bool
) -> Heading:
    stated = [unit for unit in units if unit_key(unit) and unit_key(unit) not in _REMARKS]
    bare = Heading(key=column.key, index=index, text=text)
    if column.dimension is Dimension.QUANTITY:
        return _of_quantity(column, bare, units, stated)
    if column.dimension not in MEASURED:
        return bare
    if len(stated) > 1:
        raise CellFaultError("two units in one heading", "state one unit")
    unsaid = not stated and not mapped and "basis" in name_key(text)
    if column.dimension is Dimension.GRAMMAGE and (unsaid or any(map(pounds_alone, stated))):
        right = "write it like Basis weight [lb 25x38, 500 sheets]"
        wrong = "a basis weight without its unit"
        if stated:
            wrong = "a basis weight in pounds needs the size and count of its ream"
        return replace(bare, left_open=CellFaultError(wrong, right))
    measure = measure_of(column.dimension, *stated)
    if measure is None:
        assumed = measure_of(column.dimension)
        raise CellFaultError(
            f'the unit "{stated[0]}" is not known here',
            f"state one such as [{assumed.shown if assumed else ''}]",
        )
    return replace(bare, measure=measure, unit_stated=bool(stated))


def _of_quantity(
    column: BookColumn, bare: Heading, units: Iterable[str], stated: Iterable[str]
) -> Heading:
    named = [unit for unit in map(quantity_unit_of, units) if unit is not None]
    implied = quantity_unit_of(column.key)
    if implied is not None:
        kinds = {None if unit is None else unit.unit for unit in map(quantity_unit_of, stated)}
        if kinds - {implied.unit}:
            raise CellFaultError(
                f"another unit in a column of {column.key}", f"head it {column.heading} alone"
            )
    if len(named) > 1:
        raise CellFaultError("two units in one heading", "state one unit")
    return replace(bare, quantity_unit=named[0] if named else implied, unit_stated=bool(named))
