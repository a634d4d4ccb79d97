"""The winding room: running order, layouts and knives; jumbos, butts and the clock."""

from trimopt.winding.all_lengths import every_length
from trimopt.winding.arrange import arrange
from trimopt.winding.clock import RunTimes, SetTimes, timetable
from trimopt.winding.joint import least_loss
from trimopt.winding.jumbos import JumboSupply, Laying, LengthBlock, UnlaidSets, lay_sets
from trimopt.winding.knives import moves_between, moves_simple, set_beams
from trimopt.winding.layout import lay_out
from trimopt.winding.lengths import Balanced, balance
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
from trimopt.winding.rooms import OrderRoom, SetGain, room_faults
from trimopt.winding.running import Prices
from trimopt.winding.wound import WoundRun, wind_run

__all__ = [
    "Arrangement",
    "Balanced",
    "Butt",
    "JumboSupply",
    "LaidBlock",
    "LaidSet",
    "Laying",
    "Layout",
    "LengthBlock",
    "Lot",
    "OrderRoom",
    "Prices",
    "RunTimes",
    "SetGain",
    "SetTimes",
    "StockJumbo",
    "Stretch",
    "Strip",
    "UnlaidSets",
    "WoundRun",
    "arrange",
    "balance",
    "every_length",
    "lay_out",
    "lay_sets",
    "least_loss",
    "moves_between",
    "moves_simple",
    "room_faults",
    "set_beams",
    "timetable",
    "wind_run",
]
