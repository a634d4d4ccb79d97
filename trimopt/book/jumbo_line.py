"""From a row of the jumbo sheet to a jumbo in stock, or to all that is wrong with it."""

from __future__ import annotations

import math

from trimopt.book.makeable import mm
from trimopt.book.model import JumboInStock
from trimopt.book.row_reader import RowReader, TableLine
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
    # Without a fault every one of these was read.
    assert grade is not None
    assert grammage is not None
    assert width is not None
    assert length is not None
    assert start is not None
    assert end is not None
    jumbo = JumboInStock(
        name=name,
        grade=grade.name,
        grammage_gsm=float(grammage),
        width_mm=width,
        length_m=length,
        loss_start_m=start,
        loss_end_m=end,
    )
    return reader.line(name, jumbo)
