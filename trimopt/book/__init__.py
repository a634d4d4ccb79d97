"""The order book: read, check every row, give orders or the full list of faults."""

from trimopt.book.model import Book, JumboInStock, Order, Product, Unit, Wish, WishPiece
from trimopt.book.reading import read
from trimopt.book.template import write_template

__all__ = [
    "Book",
    "JumboInStock",
    "Order",
    "Product",
    "Unit",
    "Wish",
    "WishPiece",
    "read",
    "write_template",
]
