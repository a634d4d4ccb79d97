"""The order book: read, check every row, give orders or the full list of faults."""

from trimopt.book.model import (
    Book,
    Instruction,
    InstructionPiece,
    JumboInStock,
    Order,
    Product,
    Unit,
)
from trimopt.book.reading import read_book
from trimopt.book.template import write_template

__all__ = [
    "Book",
    "Instruction",
    "InstructionPiece",
    "JumboInStock",
    "Order",
    "Product",
    "Unit",
    "read_book",
    "write_template",
]
