"""The mill: winder, sheeters, jumbo, grades and values, read from a TOML file and checked."""

from trimopt.mill.mill_file import example_text, read_mill
from trimopt.mill.model import (
    Core,
    Export,
    Grade,
    Jumbo,
    Mill,
    Sheeter,
    StockWidth,
    ToleranceStep,
    UnitChoice,
    Values,
    Winder,
)

__all__ = [
    "Core",
    "Export",
    "Grade",
    "Jumbo",
    "Mill",
    "Sheeter",
    "StockWidth",
    "ToleranceStep",
    "UnitChoice",
    "Values",
    "Winder",
    "example_text",
    "read_mill",
]
