"""The engine: widths, lengths, yields and limits in, patterns and a proven bound out. No paper."""

from trimopt.cutting.engine import blocked, generated_patterns, held_demands, solve
from trimopt.cutting.model.cuts import (
    Cut,
    Pattern,
    faults_of,
    loss_of,
    pattern_faults,
    patterns_in,
    residual,
)
from trimopt.cutting.model.instance import SCALE, Demand, Instance, Option, WindingClass
from trimopt.cutting.model.observer import Observer, Progress
from trimopt.cutting.model.outcome import Certificate, Outcome, Status
from trimopt.cutting.params import EngineParams
from trimopt.cutting.small_part_bound import prove

__all__ = [
    "SCALE",
    "Certificate",
    "Cut",
    "Demand",
    "EngineParams",
    "Instance",
    "Observer",
    "Option",
    "Outcome",
    "Pattern",
    "Progress",
    "Status",
    "WindingClass",
    "blocked",
    "faults_of",
    "generated_patterns",
    "held_demands",
    "loss_of",
    "pattern_faults",
    "patterns_in",
    "prove",
    "residual",
    "solve",
]
