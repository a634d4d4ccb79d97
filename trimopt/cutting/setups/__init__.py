"""Few set-ups: the least loss for each number of patterns, and the plans behind it."""

from trimopt.cutting.setups.model import Point, Refusal, TradeOff
from trimopt.cutting.setups.trade import fewest, trade_off

__all__ = ["Point", "Refusal", "TradeOff", "fewest", "trade_off"]
