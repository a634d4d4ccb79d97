"""Demands in whole pieces, and what the linear program over them proves."""

from trimopt.cutting.lp.convexified.convexified_prices import (
    Guide as Guide,
    convexified_guide as convexified_guide,
    guide_of_tables as guide_of_tables,
)
