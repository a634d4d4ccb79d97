"""From a row of the jumbo sheet to a jumbo in stock, or to all that is wrong with it."""

from __future__ import annotations

import math

from trimopt.book.makeable import mm
from trimopt.book.model import JumboInStock
from trimopt.book.row_reader import RowReader, TableLine, needed
from trimopt.mill import Mill


def read_jumbo(reader: RowReader, mill: Mill) -> TableLine[JumboInStock]:
    """The jumbo with every fault that can be seen in it."""
    reader.note_blanks()
    name = reader.text("name")
    grade = reader.grade(mill)
    grammage = reader.measure("grammage")
    width = reader.measure("width")
    if width is not None and width < mill.winder.min_reel_width_mm:
        reader.note(
            "width",
            f"narrower than the winder's narrowest reel ({mm(mill.winder.min_reel_width_mm)} mm)",
            "the width of the web on the jumbo",
        )
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
