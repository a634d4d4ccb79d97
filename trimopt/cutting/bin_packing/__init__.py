"""Fewest sets of one class: where the loss is so much a set and nothing else is to choose."""

from trimopt.cutting.bin_packing.bin_problem import Fewest, fewest_of
from trimopt.cutting.bin_packing.fewest_sets import FewestSets

__all__ = ["Fewest", "FewestSets", "fewest_of"]
