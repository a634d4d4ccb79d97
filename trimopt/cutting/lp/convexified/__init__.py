"""Demands in whole pieces, and what the linear program over them proves."""

from trimopt.cutting.lp.convexified.convexified_prices import Guide, whole_values

__all__ = ["Guide", "whole_values"]
