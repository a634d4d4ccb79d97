"""Few set-ups: the least loss for each number of patterns, and the plans behind it."""

from trimopt.cutting.setups.model import Point, TradeOff
from trimopt.cutting.setups.pattern_floor import fewest_patterns
from trimopt.cutting.setups.trade_off_search import fewest, trade_off

__all__ = ["Point", "TradeOff", "fewest", "fewest_patterns", "trade_off"]
