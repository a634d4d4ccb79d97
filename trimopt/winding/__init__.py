"""The winding room: running order, layouts and knives; jumbos, butts and the clock."""

from trimopt.winding.arrange import arrange
from trimopt.winding.knives import moves_between, moves_simple, set_beams
from trimopt.winding.layout import lay_out
from trimopt.winding.model import (
    Arrangement,
    Butt,
    LaidBlock,
    LaidSet,
    Layout,
    Lot,
    StockJumbo,
    Stretch,
    Strip,
)
from trimopt.winding.running import Prices

__all__ = [
    "Arrangement",
    "Butt",
    "LaidBlock",
    "LaidSet",
    "Layout",
    "Lot",
    "Prices",
    "StockJumbo",
    "Stretch",
    "Strip",
    "arrange",
    "lay_out",
    "moves_between",
    "moves_simple",
    "set_beams",
]
