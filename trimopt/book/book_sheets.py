"""The sheets of an order book, as the empty book has them and its help explains them."""

from __future__ import annotations

from dataclasses import dataclass

from trimopt.book.book_columns import BookColumn
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.book.sheet_columns import (
    BOOK_SETTINGS,
    DEFECT_COLUMNS,
    DEFECT_SETTINGS,
    INSTRUCTION_COLUMNS,
    JUMBO_COLUMNS,
    JUMBO_SETTINGS,
    RUN_DAY_COLUMNS,
    STOCK_COLUMNS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookSheet:
    """A sheet: the name on its tab and its title, its settings, and the table below them."""

    name: str
    title: str
    heading_row: int
    columns: tuple[BookColumn, ...]
    settings: tuple[BookColumn, ...] = ()

    @property
    def offered(self) -> tuple[BookColumn, ...]:
        """The columns of the empty book, from the left; the others are for exports."""
        return tuple(column for column in self.columns if column.in_template)

    @property
    def others(self) -> tuple[BookColumn, ...]:
        """Columns that are read where a book has them."""
        return tuple(column for column in self.columns if not column.in_template)


ORDERS = BookSheet(
    name="Orders", title="Order book", heading_row=5, columns=ORDER_COLUMNS, settings=BOOK_SETTINGS
)
JUMBOS = BookSheet(
    name="Jumbos", title="Jumbos in stock", heading_row=4, columns=JUMBO_COLUMNS,
    settings=JUMBO_SETTINGS,
)  # fmt: skip
DEFECTS = BookSheet(
    name="Defects", title="Defects of jumbos", heading_row=4, columns=DEFECT_COLUMNS,
    settings=DEFECT_SETTINGS,
)  # fmt: skip
STOCK = BookSheet(name="Stock", title="Reels in stock", heading_row=3, columns=STOCK_COLUMNS)
INSTRUCTIONS = BookSheet(
    name="Instructions", title="Instructions for the plan", heading_row=3,
    columns=INSTRUCTION_COLUMNS,
)  # fmt: skip
RUN_DAYS = BookSheet(
    name="Run days", title="When each paper is run", heading_row=3, columns=RUN_DAY_COLUMNS
)

BOOK_SHEETS = (ORDERS, JUMBOS, DEFECTS, STOCK, INSTRUCTIONS, RUN_DAYS)
