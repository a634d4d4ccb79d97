"""The order book: read, check every row, give orders or the full list of faults."""

from trimopt.book.book_file import read_book as read_book
from trimopt.book.book_template import write_template as write_template
from trimopt.book.model import (
    Book as Book,
    Instruction as Instruction,
    InstructionPiece as InstructionPiece,
    JumboInStock as JumboInStock,
    Order as Order,
    Product as Product,
    RunDay as RunDay,
    StockReel as StockReel,
    Unit as Unit,
)
