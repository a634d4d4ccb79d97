"""The winding room: running order, layouts and knives; jumbos, butts and the clock."""

from trimopt.winding.jumbos.clock import RunTimes, SetTimes, timetable
from trimopt.winding.jumbos.joint_bound import least_loss
from trimopt.winding.jumbos.last_metres import Balanced, balance
from trimopt.winding.jumbos.laying import JumboSupply, Laying, LengthBlock, UnlaidSets, lay_sets
from trimopt.winding.jumbos.length_ends import every_length
from trimopt.winding.jumbos.order_slack import OrderRoom, SetGain, room_faults
from trimopt.winding.jumbos.wound_run import WoundRun, wind_run
from trimopt.winding.knives.arrangement import arrange
from trimopt.winding.knives.knife_moves import moves_between, moves_simple, set_beams
from trimopt.winding.knives.layouts import lay_out
from trimopt.winding.knives.order_costs import Prices
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
