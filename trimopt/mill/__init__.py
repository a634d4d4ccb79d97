"""The mill: winder, sheeters, jumbo, grades and values, read from a TOML file and checked."""

from trimopt.mill.mill_file import (
    example_mill_text as example_mill_text,
    read_mill as read_mill,
    read_mill_text as read_mill_text,
)
from trimopt.mill.model import (
    Core as Core,
    Export as Export,
    Grade as Grade,
    Jumbo as Jumbo,
    Mill as Mill,
    Sheeter as Sheeter,
    StockWidth as StockWidth,
    ToleranceStep as ToleranceStep,
    UnitChoice as UnitChoice,
    Values as Values,
    Winder as Winder,
)
