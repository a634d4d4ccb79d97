"""From orders to runs to what may be cut: piece widths, set lengths, gains, required ranges."""

from trimopt.book.makeable import narrowed as narrowed, stops as stops
from trimopt.book.reel_lengths import Way as Way, sheeter_width_mm as sheeter_width_mm, ways as ways
from trimopt.making.cut_options import (
    Piece as Piece,
    piece_of as piece_of,
    piece_of_way as piece_of_way,
)
from trimopt.making.model import (
    CutOption as CutOption,
    PreparedRun as PreparedRun,
    Run as Run,
    SalesNote as SalesNote,
)
from trimopt.making.prepare_run import prepare as prepare, runs_of as runs_of
from trimopt.making.required_ranges import kg_of_area as kg_of_area, required as required
from trimopt.making.unplaceable_orders import prepare_placeable as prepare_placeable
