"""The order book: read, check every row, give orders or the full list of faults."""

from trimopt.book.book_file import read_book
from trimopt.book.book_template import write_template
from trimopt.book.model import (
    Book,
    Instruction,
    InstructionPiece,
    JumboInStock,
    Order,
    Product,
    RunDay,
    StockReel,
    Unit,
)

__all__ = [
    "Book",
    "Instruction",
    "InstructionPiece",
    "JumboInStock",
    "Order",
    "Product",
    "RunDay",
    "StockReel",
    "Unit",
    "read_book",
    "write_template",
]
