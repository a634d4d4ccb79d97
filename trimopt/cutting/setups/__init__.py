"""Few set-ups: the least loss for each number of patterns, and the plans behind it."""

from trimopt.cutting.setups.model import ParetoPoint, TradeOff
from trimopt.cutting.setups.pattern_floor import fewest_patterns
from trimopt.cutting.setups.trade_off_search import trade_off

__all__ = ["ParetoPoint", "TradeOff", "fewest_patterns", "trade_off"]
