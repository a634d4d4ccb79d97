"""Few set-ups: the least loss for each number of patterns, and the plans behind it."""

from trimopt.cutting.setups.model import ParetoPoint as ParetoPoint, TradeOff as TradeOff
from trimopt.cutting.setups.pattern_floor import fewest_patterns as fewest_patterns
from trimopt.cutting.setups.trade_off_search import trade_off as trade_off
