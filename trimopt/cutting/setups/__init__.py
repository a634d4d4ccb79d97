"""Few set-ups: the least loss for each number of patterns, and the plans behind it."""

from trimopt.cutting.setups.model import Point, TradeOff
from trimopt.cutting.setups.trade import fewest, trade_off

__all__ = ["Point", "TradeOff", "fewest", "trade_off"]
