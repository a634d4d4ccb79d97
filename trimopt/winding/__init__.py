"""The winding room: running order, layouts and knives; jumbos, butts and the clock."""

from trimopt.winding.jumbos.clock import RunTimes as RunTimes, timetable as timetable
from trimopt.winding.jumbos.joint_bound import least_loss as least_loss
from trimopt.winding.jumbos.last_metres import balance as balance, balance_at as balance_at
from trimopt.winding.jumbos.laying import Laying as Laying, LengthBlock as LengthBlock
from trimopt.winding.jumbos.order_slack import (
    LengthProblem as LengthProblem,
    OrderSlack as OrderSlack,
    SetGain as SetGain,
    narrowed as narrowed,
)
from trimopt.winding.jumbos.scheduled_run import schedule_run as schedule_run
from trimopt.winding.knives.arrangement import arrange as arrange
from trimopt.winding.knives.order_costs import MovePrices as MovePrices
from trimopt.winding.model import (
    Arrangement as Arrangement,
    Butt as Butt,
    JumboSupply as JumboSupply,
    LaidBlock as LaidBlock,
    LaidSet as LaidSet,
    Layout as Layout,
    Lot as Lot,
    StockJumbo as StockJumbo,
    Strip as Strip,
)
