"""From a row of the jumbo sheet to a jumbo in stock, or to all that is wrong with it."""

from __future__ import annotations

import math
from fractions import Fraction

from trimopt.book.makeable import mm
from trimopt.book.model import JumboInStock
from trimopt.book.row_reader import RowReader, TableLine, needed
from trimopt.mill import Mill
from trimopt.mill.model import Winder


def read_jumbo(reader: RowReader, mill: Mill) -> TableLine[JumboInStock]:
    """The jumbo with every fault that can be seen in it."""
    reader.note_blanks()
    name = reader.text("name")
    grade = reader.grade(mill)
    grammage = reader.measure("grammage")
    width = reader.measure("width")
    if width is not None:
        _note_width(reader, width, mill.winder)
    # From feet, the side is taken on which no metre is promised that is not there.
    length = reader.metres("length", from_feet=math.floor)
    losses = {"loss_start": mill.jumbo.loss_start_m, "loss_end": mill.jumbo.loss_end_m}
    lost = {
        key: by_mill if reader.raw(key) is None else reader.metres(key, from_feet=math.ceil)
        for key, by_mill in losses.items()
    }
    start, end = lost["loss_start"], lost["loss_end"]
    if length is not None and start is not None and end is not None and length <= start + end:
        wrong = f"its start and end loss take {start + end} m of it"
        reader.note("length", wrong, f"more than {start + end} m")
    if reader.faults:
        return reader.line(name, None)
    jumbo = JumboInStock(
        name=name,
        grade=needed(grade).name,
        grammage_gsm=float(needed(grammage)),
        width_mm=needed(width),
        length_m=needed(length),
        loss_start_m=needed(start),
        loss_end_m=needed(end),
    )
    return reader.line(name, jumbo)


def _note_width(reader: RowReader, width_mm: Fraction, winder: Winder) -> None:
    """What the winder cannot wind anything from: too narrow for a reel, or beyond its web."""
    narrowest_mm = winder.min_reel_width_mm + 2 * winder.min_edge_trim_mm
    if width_mm < narrowest_mm:
        wrong = f"the narrowest reel and the edge trim on both sides take {mm(narrowest_mm)} mm"
        reader.note("width", wrong, "the width of the web on the jumbo")
    if winder.max_edge_trim_mm is None:
        return
    widest_mm = winder.max_web_mm + 2 * winder.max_edge_trim_mm
    if width_mm > widest_mm:
        wrong = f"the winder's web and the max. edge trim on both sides are {mm(widest_mm)} mm"
        reader.note("width", wrong, f"{mm(widest_mm)} mm or less, or take the jumbo out")
