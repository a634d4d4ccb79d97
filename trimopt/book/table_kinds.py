"""The kinds of tables that a book holds: the sheet of each, and how its headings are known."""

from __future__ import annotations

from dataclasses import dataclass

from trimopt.book import sheet_columns
from trimopt.book.book_columns import BookColumn
from trimopt.book.match_headings import Vocabulary
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.book.trade_words import HELD_WORDS, Words
from trimopt.errors import Fault
from trimopt.mill import Mill


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """A kind of table: its sheet in the empty book, and how its row of headings is known in any."""

    name: str  # of several: "instructions"
    columns: tuple[BookColumn, ...]
    title: str = ""  # of its sheet
    heading_row: int = 0
    settings: tuple[BookColumn, ...] = ()  # above the table
    marks: tuple[frozenset[str], ...]  # its row of headings has a column of each of these
    min_known: int = 0  # and so many known ones
    right: str = ""  # what that row looks like
    fills_down: bool = False  # blanks may be left under a repeated key
    any_language: bool = False  # of the headings, asking about what looks like one
    of_orders: bool = False  # the same, and what is no line is left out
    alone: bool = False  # no other kind but instructions is looked for on its sheet

    @property
    def tab(self) -> str:
        return self.name.capitalize()

    @property
    def offered(self) -> tuple[BookColumn, ...]:
        """The columns of the empty book, from the left; the others are for exports."""
        return tuple(column for column in self.columns if column.in_template)

    @property
    def others(self) -> tuple[BookColumn, ...]:
        """Columns that are read where a book has them."""
        return tuple(column for column in self.columns if not column.in_template)

    def vocabulary(self, mill: Mill) -> Vocabulary:
        """The words for its columns, the mill's own among them."""
        return Vocabulary(
            self.columns,
            mill.headings,
            ignored=mill.export.ignored,
            words=Words(mill.export.words),
            of_orders=self.of_orders or self.any_language,
        )


ORDERS = TableKind(
    name="orders", title="Order book", heading_row=5, columns=ORDER_COLUMNS,
    settings=sheet_columns.BOOK_SETTINGS, marks=(frozenset({"quantity"}),), min_known=4,
    right=f"a row with {', '.join(one.heading for one in ORDER_COLUMNS if one.dark)}",
    fills_down=True, of_orders=True, alone=True,
)  # fmt: skip
JUMBOS = TableKind(
    name="jumbos", title="Jumbos in stock", heading_row=4, columns=sheet_columns.JUMBO_COLUMNS,
    settings=sheet_columns.JUMBO_SETTINGS, marks=(frozenset({"name"}), frozenset({"length"})),
    right="a row with Jumbo, Grade, Grammage, Width and Length",
    of_orders=True, alone=True,
)  # fmt: skip
DEFECTS = TableKind(
    name="defects", title="Defects of jumbos", heading_row=4, columns=sheet_columns.DEFECT_COLUMNS,
    settings=sheet_columns.DEFECT_SETTINGS,
    marks=(frozenset({"jumbo"}), frozenset({"from_length"}), frozenset({"to_length"})),
    right="a row with Jumbo, From length, To length, From width, To width and What it is",
)  # fmt: skip
STOCK = TableKind(
    name="stock", title="Reels in stock", heading_row=3, columns=sheet_columns.STOCK_COLUMNS,
    marks=(frozenset({"reel"}), frozenset({"length", "mass", "diameter"})),
    right="a row with Reel, Grade, Grammage, Width, Core and one of Length, Mass and Diameter",
    of_orders=True,
)  # fmt: skip
INSTRUCTIONS = TableKind(
    name="instructions", title="Instructions for the plan", heading_row=3,
    columns=sheet_columns.INSTRUCTION_COLUMNS,
    marks=(frozenset({"instruction"}), frozenset({"pattern", "orders", "number"})),
    right="a row with Instruction and Pattern or Orders, as in a plan's workbook",
)  # fmt: skip
RUN_DAYS = TableKind(
    name="run days", title="When each paper is run", heading_row=3,
    columns=sheet_columns.RUN_DAY_COLUMNS,
    marks=tuple(frozenset({key}) for key in ("grade", "begins", "ends")),
    right="a row with "
    + ", ".join(one.heading for one in sheet_columns.RUN_DAY_COLUMNS if one.required),
)  # fmt: skip
KINDS = (ORDERS, JUMBOS, DEFECTS, STOCK, INSTRUCTIONS, RUN_DAYS)


def unknown_mappings(mill: Mill) -> list[Fault]:
    """What the mill file says of columns and words that no table has."""
    nowhere = set.intersection(*(set(kind.vocabulary(mill).unknown_mappings) for kind in KINDS))
    columns = [column.key for column in ORDER_COLUMNS]
    stated = (
        ("headings", {ours: mill.headings[ours] for ours in nowhere}, (), "column", columns),
        ("words", mill.export.words, HELD_WORDS, "word", sorted(HELD_WORDS)),
        ("export, fill_down", dict.fromkeys(mill.export.fill_down or (), ""), columns, "column",
         columns),
    )  # fmt: skip
    return [
        Fault(
            where=f"mill file, [{section}]",
            column=ours,
            value=theirs if isinstance(theirs, str) else ", ".join(theirs),
            wrong=f"names no {noun} of the order book",
            right=f"one of {', '.join(right)}",
        )
        for section, pairs, known, noun, right in stated
        for ours, theirs in sorted(pairs.items())
        if ours not in known
    ]
