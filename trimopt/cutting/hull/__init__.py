"""Demands in whole pieces, and what the linear program over them proves."""

from trimopt.cutting.hull.steps import whole_values

__all__ = ["whole_values"]
