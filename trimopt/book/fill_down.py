"""Blank cells under a repeated key: filled from the line above where the mill says so, else asked.

A pivot-like export prints customer, due date, diameter and core on the first of several lines only.
Read as they stand, the lines below would have any core and no date.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trimopt.book.book_columns import name_key
from trimopt.book.book_settings import BookSettings
from trimopt.book.match_headings import Heading, Vocabulary
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.book.raw_tables import Cells, spans
from trimopt.book.trade_words import PRODUCTS
from trimopt.errors import Fault

_KEYS = ("number", "customer")
_REELS = frozenset({"min_diameter", "max_diameter", "diameter", "core", "max_reel_mass"})
_WEIGHTY = (  # what a plan would take for free, or for not known
    "customer", "grade", "grammage", "product", "due", "diameter", "min_diameter", "max_diameter",
    "core",
)  # fmt: skip
# Blanks, counted over columns and lines, that no book leaves by chance: where the customer is left
# out too, where it stands on every line, and where only the table's first line has something.
_ENOUGH_UNDER_BLANK, _ENOUGH_UNDER_SAME, _ENOUGH_UNDER_FIRST = 3, 6, 5


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledLines:
    """The lines with what was filled, and what is said or asked of it."""

    lines: list[tuple[int, Cells]]
    warnings: tuple[Fault, ...] = ()
    faults: tuple[Fault, ...] = ()
    spoilt: frozenset[int] = frozenset()


def fill_down(
    lines: list[tuple[int, Cells]],
    headings: Mapping[str, Heading],
    settings: BookSettings,
    where: str,
) -> FilledLines:
    """The lines of an order table, filled down by the mill's setting; without one, asked about."""
    grid = _Grid(lines, headings, settings)
    if settings.fill_down is None:
        return _asked(grid, where)
    words = Vocabulary(ORDER_COLUMNS, {}, of_orders=True)
    keys = [key for name in settings.fill_down for key in words.known_in([name])]
    return _filled(grid, [key for key in dict.fromkeys(keys) if key in headings], where)


class _Grid:
    def __init__(
        self,
        lines: list[tuple[int, Cells]],
        headings: Mapping[str, Heading],
        settings: BookSettings,
    ) -> None:
        self.lines = lines
        self.headings = headings
        self.rows = [row for row, _ in lines]
        self._at = {key: one.index for key, one in headings.items()}
        self.settings = settings

    def cell(self, line: int, key: str) -> object:
        cells, index = self.lines[line][1], self._at[key]
        return cells[index] if index < len(cells) else None

    def blank(self, line: int, key: str) -> bool:
        """Whether something that this line could have is not there."""
        if self.cell(line, key) is not None:
            return False
        return key not in _REELS or self._product(line) != "sheet"

    def _product(self, line: int) -> object:
        value = self.cell(line, "product") if "product" in self._at else None
        meant = self.settings.words.cell(value, PRODUCTS)
        return (
            "sheet" if isinstance(meant, str) and name_key(meant) in {"sheet", "sheets"} else meant
        )

    def same(self, line: int, key: str) -> bool:
        """Whether the key is that of the line above."""
        value = self.cell(line, key)
        return value is not None and value == self.cell(line - 1, key)

    def first_of_groups(self, continued: list[bool]) -> list[int]:
        """For each line, the line that its group begins with."""
        firsts: list[int] = []
        for line, goes_on in enumerate(continued):
            firsts.append(firsts[-1] if goes_on and firsts else line)
        return firsts

    def put(self, line: int, key: str, value: object) -> None:
        row, cells = self.lines[line]
        before, after = cells[: self._at[key]], cells[self._at[key] + 1 :]
        self.lines[line] = row, (*before, *[None] * (self._at[key] - len(before)), value, *after)


def _filled(grid: _Grid, keys: Sequence[str], where: str) -> FilledLines:
    made = _Grid(list(grid.lines), grid.headings, grid.settings)
    # The product comes first: what a sheet cannot have is not filled into it.
    ordered = sorted(keys, key=lambda key: key != "product")
    rows_of: dict[str, list[int]] = {key: [] for key in keys}
    above: dict[str, object] = {}
    for line, row in enumerate(grid.rows):
        if line == 0 or not _continues(grid, line, keys):
            above = {}
        for key in ordered:
            if made.blank(line, key) and key in above:
                made.put(line, key, above[key])
                rows_of[key].append(row)
            elif made.cell(line, key) is not None:
                above[key] = made.cell(line, key)
    said = tuple(
        Fault(
            where=where,
            column=grid.headings[key].text,
            wrong=f"blank in row{'s' if len(rows) > 1 else ''} {spans(rows)}: as on the line above",
            right="nothing to do; fill_down in the mill file says so",
        )
        for key, rows in rows_of.items()
        if rows
    )
    return FilledLines(lines=made.lines, warnings=said)


def _continues(grid: _Grid, line: int, keys: Sequence[str]) -> bool:
    """Whether a line belongs to the one above: its key is left out, or the same."""
    for key in _KEYS:
        if key not in grid.headings:
            continue
        if key in keys:
            if key == "number" or grid.cell(line, key) is not None:
                return grid.cell(line, key) is None
            return True
        if grid.same(line, key):
            return True
    return not any(key in grid.headings for key in _KEYS)


def _asked(grid: _Grid, where: str) -> FilledLines:
    """A question for each way in which blanks stand as a pivot table leaves them."""
    faults: list[Fault] = []
    spoilt: set[int] = set()
    asked: set[str] = set()
    for suspect in (_under_orders, _under_customers, _under_the_first):
        keys, lines = suspect(grid)
        if not set(keys) - asked:
            continue
        asked.update(keys)
        rows = [grid.rows[line] for line in lines]
        spoilt.update(rows)
        listed = ", ".join(f'"{key}"' for key in keys)
        same = f"if the same, say in the mill file under [export]: fill_down = [{listed}]"
        if suspect is _under_the_first:  # it goes beyond what one key holds together
            same = "if the same, fill in the cells"
        faults.append(
            Fault(
                where=where,
                row=rows[0],
                column=", ".join(grid.headings[key].text for key in keys),
                wrong=f"blank under a line that has them, in row{'s' if len(rows) > 1 else ''} "
                f"{spans(rows)}: the same as above, or free?",
                right=f"{same}; if not, say in the mill file under [export]: fill_down = []",
            )
        )
    return FilledLines(lines=grid.lines, faults=tuple(faults), spoilt=frozenset(spoilt))


def _under_orders(grid: _Grid) -> tuple[list[str], list[int]]:
    """Lines whose order number is left out, or is that of the line above, and lack what it has."""
    if "number" not in grid.headings:
        return [], []
    continued = [
        line > 0 and (grid.cell(line, "number") is None or grid.same(line, "number"))
        for line in range(len(grid.rows))
    ]
    keys = [key for key in ("number", *_WEIGHTY) if key in grid.headings]
    blank, lines = _blank_under(grid, grid.first_of_groups(continued), keys)
    # A number that alone is missing is a blank like any other, unless lines have numbers of theirs.
    return ([], []) if blank == ["number"] and "line" not in grid.headings else (blank, lines)


def _under_customers(grid: _Grid) -> tuple[list[str], list[int]]:
    """Lines under a customer that lack, every one of them, what the first line has."""
    if "customer" not in grid.headings:
        return [], []
    left_out = [line > 0 and grid.cell(line, "customer") is None for line in range(len(grid.rows))]
    same = [line > 0 and grid.same(line, "customer") for line in range(len(grid.rows))]
    for continued, enough in ((left_out, _ENOUGH_UNDER_BLANK), (same, _ENOUGH_UNDER_SAME)):
        firsts = grid.first_of_groups(continued)
        under = [line for line, first in enumerate(firsts) if first != line]
        heads = {firsts[line] for line in under}
        keys = [
            key
            for key in _WEIGHTY
            if key in grid.headings
            and any(grid.blank(line, key) for line in under)
            and all(grid.cell(line, key) is None for line in under)
            and all(grid.cell(head, key) is not None for head in heads)
        ]
        others = [key for key in keys if key != "customer"]
        if len(others) * len(under) >= enough:
            return _blank_under(grid, firsts, keys)
    return [], []


def _under_the_first(grid: _Grid) -> tuple[list[str], list[int]]:
    """Every line but the first, where that alone has a diameter or a core."""
    keys = []
    for key in ("diameter", "max_diameter", "core"):
        if key not in grid.headings or not grid.lines or grid.cell(0, key) is None:
            continue
        rest = range(1, len(grid.lines))
        blank = sum(grid.blank(line, key) for line in rest)
        if blank >= _ENOUGH_UNDER_FIRST and all(grid.cell(line, key) is None for line in rest):
            keys.append(key)
    return _blank_under(grid, [0] * len(grid.lines), keys)


def _blank_under(
    grid: _Grid, firsts: Sequence[int], keys: Sequence[str]
) -> tuple[list[str], list[int]]:
    found = {
        key: [
            line
            for line, first in enumerate(firsts)
            if first != line and grid.blank(line, key) and grid.cell(first, key) is not None
        ]
        for key in keys
    }
    lines = sorted({line for under in found.values() for line in under})
    return [key for key in keys if found[key]], lines
