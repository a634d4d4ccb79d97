"""The kinds of tables that a book holds: sheet and columns of each, and how its row of headings is
known; those of order lines stand in `order_columns.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

from trimopt.book.book_columns import (
    AS_TEXT,
    COUNT,
    DAY_FORMAT,
    FREE,
    GRADE,
    GRAMMAGE,
    LENGTH,
    MOMENT_FORMAT,
    REMARK_NAMES,
    TEXT,
    WIDTH,
    BookColumn,
    column,
)
from trimopt.book.match_headings import Vocabulary
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.book.trade_words import HELD_WORDS, Words
from trimopt.book.units_of_measure import Dimension
from trimopt.errors import Fault
from trimopt.mill import Mill

JUMBO_COLUMNS: tuple[BookColumn, ...] = (
    column(
        "name", "Jumbo", TEXT, "The jumbo's own number or name.",
        "jumbo name, jumbo number, jumbo no, jumbo id, machine reel",
        required="the jumbo's own number", cell_format=AS_TEXT,
    ),
    GRADE,
    GRAMMAGE,
    column(
        "width", "Width [mm]", WIDTH, "Width of the web on it, before any edge trim.",
        "jumbo width, web width", required="the width of the web on it",
    ),
    column(
        "length", "Length [m]", LENGTH,
        "Metres wound on it now, start and end loss within them.",
        "jumbo length, length wound, wound length, length left, length on it",
        required="the metres wound on it",
    ),
    column(
        "loss_start", "Start loss [m]", LENGTH,
        "Metres lost before the first set. Blank: as the mill file says.",
        "loss at start, loss start, start loss length", zero=True,
    ),
    column(
        "loss_end", "End loss [m]", LENGTH,
        "Metres lost on the spool. Blank: as the mill file says.",
        "loss at end, loss end, end loss length", zero=True,
    ),
)  # fmt: skip

STOCK_COLUMNS: tuple[BookColumn, ...] = (
    column(
        "reel", "Reel", TEXT, "The reel's own number.",
        "reel number, reel no, reel id, stock reel, roll, roll number, roll no",
        required="the reel's own number", cell_format=AS_TEXT,
    ),
    GRADE,
    GRAMMAGE,
    column(
        "width", "Width [mm]", WIDTH, "Width of the reel. It serves orders of just this width.",
        "reel width", required="the reel's width",
    ),
    column(
        "length", "Length [m]", LENGTH, "Metres on it. Length, mass or diameter must be stated.",
        "reel length",
    ),
    column("mass", "Mass [kg]", Dimension.MASS, "Its paper, without core and packing.",
           "reel mass, weight, reel weight, net weight"),
    column("diameter", "Diameter [mm]", WIDTH, "Outside diameter.", "reel diameter, dia"),
    column(
        "core", "Core [mm]", WIDTH, "The core's inside diameter.",
        "core diameter, core inside diameter, core inside, core id, core size",
        required="the core's inside diameter", cell_width=8,
    ),
    column("place", "Place", TEXT, "Where it lies.", "location, bay, warehouse, stored at"),
    column("made_on", "Made on", Dimension.MOMENT, "Of reels alike the oldest goes first.",
           "made, date made, production date", cell_format=DAY_FORMAT),
    column("joins", "Joins", COUNT, "How many joins it has. Blank: none.",
           "splices, number of joins", min_count=0, cell_width=8),
    column(
        "reserved_for", "Reserved for", TEXT,
        "An order or a customer: it serves no other. Blank: it serves anybody.",
        "reserved, reservation", cell_format=AS_TEXT, cell_width=18,
    ),
)  # fmt: skip

INSTRUCTION_COLUMNS: tuple[BookColumn, ...] = (
    column(
        "instruction", "Instruction", TEXT,
        "pin: these sets as they are. forbid: never this pattern, for whichever orders. together: "
        "in every set that holds one of them. apart: never in one set. set-ups: no more than so "
        "many. free: nothing is asked (rows copied from a plan).",
        "wish", required="pin, forbid, together, apart, set-ups, or free where nothing is asked",
        choices={
            "pin": ("pinned", "keep"),
            "forbid": ("forbidden", "never"),
            "together": ("ride together", "made together"),
            "apart": ("never together",),
            "set-ups": ("most set-ups", "max. set-ups"),
            FREE: (),
        },
    ),
    column(
        "run", "Run", TEXT,
        "set-ups: the paper, grade and grammage. Blank: every run. For others their orders say it.",
        "paper", cell_width=26,
    ),
    column(
        "orders", "Orders", TEXT, "together and apart: two or more orders, with commas.",
        cell_format=AS_TEXT, cell_width=22,
    ),
    column(
        "pattern", "Pattern", TEXT,
        "pin and forbid: counts and orders as a plan's workbook writes them, such as "
        "2 × A12 + 1 × B7, 3 ups on Sheeter 1. forbid may name widths: 2 × 735 mm.",
        cell_format=AS_TEXT, cell_width=60,
    ),
    column(
        "core", "Core [mm]", WIDTH, "pin: inside diameter. Blank: the core of its orders.",
        "core inside, core diameter", cell_width=9,
    ),
    column(
        "length", "Set length [m]", LENGTH,
        "pin: metres of every pinned set. Blank: whatever the plan winds them to. A forbidden "
        "pattern is so at every length.",
        "length", cell_width=11,
    ),
    column(
        "number", "Number", COUNT, "pin: how many sets; blank: one. set-ups: no more than these.",
        "sets, at most", min_count=0, cell_width=9,
    ),
    column("remarks", "Remarks", TEXT, "Why; not read.", REMARK_NAMES, cell_width=30),
)  # fmt: skip

RUN_DAY_COLUMNS: tuple[BookColumn, ...] = (
    GRADE,
    GRAMMAGE,
    column(
        "begins", "From", Dimension.MOMENT,
        "When the winder begins with this paper. Without a time: with the day.", "begins, start",
        required="the day, or day and time", cell_format=MOMENT_FORMAT, cell_width=17,
    ),
    column(
        "ends", "To", Dimension.MOMENT,
        "When it has run it. Without a time: at the end of that day.", "ends, end, until",
        required="the day, or day and time", cell_format=MOMENT_FORMAT, cell_width=17,
    ),
    column("remarks", "Remarks", TEXT, "Why; not read.", REMARK_NAMES, cell_width=30),
)  # fmt: skip

DEFECT_COLUMNS: tuple[BookColumn, ...] = (
    column(
        "jumbo", "Jumbo", TEXT, "The jumbo's number or name, as the sheet Jumbos has it.",
        "on jumbo, jumbo with defect", required="a jumbo of the sheet Jumbos", cell_format=AS_TEXT,
    ),
    column(
        "from_length", "From length [m]", LENGTH,
        "Where it begins, counted as stated above the table.", "from metre, from metres",
        required="the metre at which it begins", zero=True,
    ),
    column(
        "to_length", "To length [m]", LENGTH, "Where it ends.", "to metre, to metres",
        required="the metre at which it ends",
    ),
    column(
        "from_width", "From width [mm]", WIDTH,
        "Of a band: from the front side. Blank: from the front edge.", "from mm", zero=True,
    ),
    column(
        "to_width", "To width [mm]", WIDTH, "Of a band. Blank: to the back edge.", "to mm",
    ),
    column("what", "What it is", TEXT, "For the crew: hole, streak, bad edge.", "defect, kind",
           cell_width=26),
)  # fmt: skip

DEFECT_SETTINGS: tuple[BookColumn, ...] = (
    column(
        "metres_from", "Metres counted from", TEXT,
        "outside: from where the winder begins to unwind, what the machine made last. spool: from "
        "the machine's first metre, next to the spool.",
        "metres from",
        choices={
            "outside": ("unwinding", "unwind", "winder", "last made"),
            "spool": ("making", "machine", "first made", "inside"),
        },
    ),
)  # fmt: skip

BOOK_SETTINGS: tuple[BookColumn, ...] = (
    column(
        "as_of", "As of", Dimension.MOMENT, "The day at which overdue lines are judged.",
        "as of date, date of the book", cell_format=DAY_FORMAT,
    ),
    column(
        "decimal_sign", "Decimal sign", TEXT,
        "Needed where a figure is a text that can be read two ways, such as 1,250. Cells that "
        "hold real numbers do not need it.",
        "decimal point", choices={"comma": (",", "decimal comma"), "point": (".", "dot")},
    ),
    column(
        "date_order", "Date order", TEXT,
        "Needed where a date is a text that can be read two ways, such as 03/04/2026. Cells that "
        "hold real dates do not need it.",
        choices={"d/m/y": ("dd/mm/yyyy",), "m/d/y": ("mm/dd/yyyy",)},
    ),
    column(
        "shift_ends", "Shift ends", Dimension.MOMENT,
        "What cannot be finished by then is carried over. Blank: there is no end.", "shift end",
        cell_format=MOMENT_FORMAT,
    ),
)  # fmt: skip

JUMBO_SETTINGS: tuple[BookColumn, ...] = (
    column(
        "only_listed_jumbos", "Only these jumbos", Dimension.FLAG,
        "yes: no other jumbos may be used.", "only listed jumbos",
    ),
    column(
        "jumbos_in_order", "Keep this order", Dimension.FLAG,
        "yes: opened in list order; a jumbo that was skipped is not revisited. no: one that is too "
        "short for the next set waits for a shorter set.",
        "jumbos in this order",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """A kind of table: its sheet in the empty book, and how its row of headings is known in any."""

    name: str  # of several: "instructions"
    columns: tuple[BookColumn, ...]
    title: str = ""  # of its sheet
    heading_row: int = 0
    settings: tuple[BookColumn, ...] = ()  # above the table
    marks: tuple[frozenset[str], ...]  # its row of headings has a column of each of these
    min_known: int = 0  # and so many known ones
    right: str = ""  # what that row looks like
    fills_down: bool = False  # blanks may be left under a repeated key
    any_language: bool = False  # of the headings, asking about what looks like one
    of_orders: bool = False  # the same, and what is no line is left out
    alone: bool = False  # no other kind but instructions is looked for on its sheet

    @property
    def tab(self) -> str:
        return self.name.capitalize()

    @property
    def offered(self) -> tuple[BookColumn, ...]:
        """The columns of the empty book, from the left; the others are for exports."""
        return tuple(column for column in self.columns if column.in_template)

    @property
    def others(self) -> tuple[BookColumn, ...]:
        """Columns that are read where a book has them."""
        return tuple(column for column in self.columns if not column.in_template)

    def vocabulary(self, mill: Mill) -> Vocabulary:
        """The words for its columns, the mill's own among them."""
        return Vocabulary(
            self.columns,
            mill.headings,
            ignored=mill.export.ignored,
            words=Words(mill.export.words),
            of_orders=self.of_orders or self.any_language,
        )


ORDERS = TableKind(
    name="orders", title="Order book", heading_row=5, columns=ORDER_COLUMNS,
    settings=BOOK_SETTINGS, marks=(frozenset({"quantity"}),), min_known=4,
    right=f"a row with {', '.join(one.heading for one in ORDER_COLUMNS if one.dark)}",
    fills_down=True, of_orders=True, alone=True,
)  # fmt: skip
JUMBOS = TableKind(
    name="jumbos", title="Jumbos in stock", heading_row=4, columns=JUMBO_COLUMNS,
    settings=JUMBO_SETTINGS, marks=(frozenset({"name"}), frozenset({"length"})),
    right="a row with Jumbo, Grade, Grammage, Width and Length",
    of_orders=True, alone=True,
)  # fmt: skip
DEFECTS = TableKind(
    name="defects", title="Defects of jumbos", heading_row=4, columns=DEFECT_COLUMNS,
    settings=DEFECT_SETTINGS,
    marks=(frozenset({"jumbo"}), frozenset({"from_length"}), frozenset({"to_length"})),
    right="a row with Jumbo, From length, To length, From width, To width and What it is",
)  # fmt: skip
STOCK = TableKind(
    name="stock", title="Reels in stock", heading_row=3, columns=STOCK_COLUMNS,
    marks=(frozenset({"reel"}), frozenset({"length", "mass", "diameter"})),
    right="a row with Reel, Grade, Grammage, Width, Core and one of Length, Mass and Diameter",
    of_orders=True,
)  # fmt: skip
INSTRUCTIONS = TableKind(
    name="instructions", title="Instructions for the plan", heading_row=3,
    columns=INSTRUCTION_COLUMNS,
    marks=(frozenset({"instruction"}), frozenset({"pattern", "orders", "number"})),
    right="a row with Instruction and Pattern or Orders, as in a plan's workbook",
)  # fmt: skip
RUN_DAYS = TableKind(
    name="run days", title="When each paper is run", heading_row=3,
    columns=RUN_DAY_COLUMNS,
    marks=tuple(frozenset({key}) for key in ("grade", "begins", "ends")),
    right="a row with "
    + ", ".join(one.heading for one in RUN_DAY_COLUMNS if one.required),
)  # fmt: skip
KINDS = (ORDERS, JUMBOS, DEFECTS, STOCK, INSTRUCTIONS, RUN_DAYS)


def unknown_mappings(mill: Mill) -> list[Fault]:
    """What the mill file says of columns and words that no table has."""
    nowhere = set.intersection(*(set(kind.vocabulary(mill).unknown_mappings) for kind in KINDS))
    columns = [column.key for column in ORDER_COLUMNS]
    stated = (
        ("headings", {ours: mill.headings[ours] for ours in nowhere}, (), "column", columns),
        ("words", mill.export.words, HELD_WORDS, "word", sorted(HELD_WORDS)),
        ("export, fill_down", dict.fromkeys(mill.export.fill_down or (), ""), columns, "column",
         columns),
    )  # fmt: skip
    return [
        Fault(
            where=f"mill file, [{section}]",
            column=ours,
            value=theirs if isinstance(theirs, str) else ", ".join(theirs),
            wrong=f"names no {noun} of the order book",
            right=f"one of {', '.join(right)}",
        )
        for section, pairs, known, noun, right in stated
        for ours, theirs in sorted(pairs.items())
        if ours not in known
    ]
