"""From orders to runs to what may be cut: piece widths, set lengths, gains, required ranges."""

from trimopt.book.makeable import stops
from trimopt.book.reel_lengths import Span, Way, sheeter_width_mm, ways
from trimopt.making.cut_options import Piece, piece_of, piece_of_way
from trimopt.making.model import CutOption, PreparedRun, Run, SalesNote, WindingLength
from trimopt.making.prepare_run import prepare, runs_of
from trimopt.making.required_ranges import Required, kg_of_area, required
from trimopt.making.unplaceable_orders import prepare_placeable

__all__ = [
    "CutOption",
    "Piece",
    "PreparedRun",
    "Required",
    "Run",
    "SalesNote",
    "Span",
    "Way",
    "WindingLength",
    "kg_of_area",
    "piece_of",
    "piece_of_way",
    "prepare",
    "prepare_placeable",
    "required",
    "runs_of",
    "sheeter_width_mm",
    "stops",
    "ways",
]
