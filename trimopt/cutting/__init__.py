"""The engine: widths, lengths, yields and limits in, patterns and a proven bound out. No paper."""

from trimopt.cutting.instance import SCALE, Demand, Instance, Option, WindingClass
from trimopt.cutting.observer import Observer, Progress
from trimopt.cutting.outcome import (
    Certificate,
    Cut,
    Outcome,
    Pattern,
    Status,
    faults_of,
    loss_of,
    pattern_faults,
    patterns_in,
)
from trimopt.cutting.proving import prove
from trimopt.cutting.solve import blocked, held, solve

__all__ = [
    "SCALE",
    "Certificate",
    "Cut",
    "Demand",
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
    "held",
    "loss_of",
    "pattern_faults",
    "patterns_in",
    "prove",
    "solve",
]
