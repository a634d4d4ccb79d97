"""Demands in whole pieces, and what the linear program over them proves."""

from trimopt.cutting.lp.convexified.convexified_prices import Guide, convexified_guide

__all__ = ["Guide", "convexified_guide"]
