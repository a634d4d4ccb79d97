"""The winding room: running order, layouts and knives; jumbos, butts and the clock."""

from trimopt.winding.jumbos.clock import RunTimes, SetTimes, timetable
from trimopt.winding.jumbos.joint_bound import least_loss
from trimopt.winding.jumbos.last_metres import Balanced, balance
from trimopt.winding.jumbos.laying import Laying, LengthBlock, UnlaidSets, lay_sets
from trimopt.winding.jumbos.order_slack import LengthProblem, OrderSlack, SetGain
from trimopt.winding.jumbos.scheduled_run import ScheduledRun, schedule_run
from trimopt.winding.knives.arrangement import arrange
from trimopt.winding.knives.order_costs import MovePrices
from trimopt.winding.model import (
    Arrangement,
    Butt,
    JumboSegment,
    JumboSupply,
    LaidBlock,
    LaidSet,
    Layout,
    Lot,
    StockJumbo,
    Strip,
)

__all__ = [
    "Arrangement",
    "Balanced",
    "Butt",
    "JumboSegment",
    "JumboSupply",
    "LaidBlock",
    "LaidSet",
    "Laying",
    "Layout",
    "LengthBlock",
    "LengthProblem",
    "Lot",
    "MovePrices",
    "OrderSlack",
    "RunTimes",
    "ScheduledRun",
    "SetGain",
    "SetTimes",
    "StockJumbo",
    "Strip",
    "UnlaidSets",
    "arrange",
    "balance",
    "lay_sets",
    "least_loss",
    "schedule_run",
    "timetable",
]
