"""A small plan worked out by hand, with the mill and the book that it was made from.

An invented mill; two runs. The board run has reels by number and by mass, sheets, a broke reel, a
no-edge reel and one surplus reel, on three nominal jumbos. The kraft run has reels by length with
half millimetres, on a jumbo from stock and a nominal one; one line of the book is left out. Mill
and book stand in `sample_book`, the runs in `sample_runs`, built from `sample_parts`.
"""

from __future__ import annotations

from datetime import date, datetime

from tests.plan.sample_book import BOOK_PRINT, MILL_PRINT
from tests.plan.sample_runs import board_loads, board_run, kraft_run
from trimopt.book.model import LeftOut
from trimopt.plan.model import SCHEMA, Plan, Request, Settings, Source


def sample_plan() -> Plan:
    """The plan: two runs one after the other, from Monday 06:00."""
    board = board_run(datetime.fromisoformat("2026-03-02T06:00"))
    assert board.finish is not None
    kraft = kraft_run(board.finish)
    return Plan(
        schema=SCHEMA,
        number="2026-0007",
        replaces="2026-0006",
        made_at=datetime.fromisoformat("2026-03-02T05:10:42"),
        made_with="0.1.0",
        mill_name="Mill of the sample plan",
        winder="Winder 1",
        book=Source(name="shift.xlsx", fingerprint=BOOK_PRINT),
        mill=Source(name="mill.toml", fingerprint=MILL_PRINT),
        as_of=date(2026, 3, 2),
        request=Request(seed=1, time_limit_s=60.0, leave_out_faulty=True),
        settings=Settings(
            seed=1, time_limit_s=60.0, start=datetime.fromisoformat("2026-03-02T06:00")
        ),
        runs=(board, kraft),
        left_out=(LeftOut(order="4107", why="Orders, row 8: a width of -5"),),
        loads=board_loads(board.blocks),
        notes=("4107 is not planned: row 8 has a fault",),
    )
