"""Every column and setting of an order book: one table for reading, headings, template and help."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from trimopt.book.units_of_measure import Dimension
from trimopt.book.written_figures import read_text
from trimopt.paper.typed import CellFaultError

FREE = "free"
"""The word that leaves a min. diameter open, and with which an instruction asks nothing."""


_DIAMETER_SIGN = re.compile(r"(?<![^\W_])[øØ∅⌀](?![^\W_])")


@lru_cache(maxsize=20_000)  # a book repeats its words
def name_key(text: str) -> str:
    """The words of a heading as they are compared, accents left out.

    Examples
    --------
    >>> name_key("  Order-No. "), name_key("Tolerance +"), name_key("DUE_DATE:"), name_key("Größe")
    ('order no', 'tolerance plus', 'due date', 'grosse')
    """
    text = unicodedata.normalize("NFKC", text).casefold().strip()
    if not text.isascii():
        text = _DIAMETER_SIGN.sub(" diameter ", text)
        text = "".join(
            s for s in unicodedata.normalize("NFKD", text) if not unicodedata.combining(s)
        )
        text = text.replace("ł", "l")
    text = text.replace("\u2212", "-").replace("\u2013", "-").replace("±", " tolerance ")
    text = re.sub(r"-$", " minus", re.sub(r"\+", " plus ", text).strip())
    return " ".join(re.findall(r"[^\W_]+", text))


@dataclass(frozen=True, slots=True, kw_only=True)
class BookColumn:
    """A column, or a setting that stands in a pair of cells above the table."""

    key: str  # in `Order.as_written`, in the code and in the mill file
    heading: str  # what the template writes
    dimension: Dimension
    explained: str  # the note on the template's heading, and the help sheet
    names: tuple[str, ...] = ()  # other headings that name it
    required: str = ""  # what every row must state here; empty where it may be blank
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # word -> other spellings
    min_count: int | None = None  # of a whole number
    zero: bool = False  # a figure may be 0
    or_free: bool = False  # the word free may stand in place of the figure
    in_template: bool = True
    cell_format: str = ""  # of the spreadsheet
    cell_width: int = 12  # of the template, in characters

    @property
    def dark(self) -> bool:
        """Whether the template marks it as needed; the unit may stand in another heading too."""
        return bool(self.required) or self.key == "unit"

    def choice(self, value: object) -> str:
        """The word of `choices` that a cell means.

        Raises
        ------
        CellFaultError
            Where it means none of them.
        """
        text = read_text(value)
        key = name_key(text) or text  # a sign such as a comma has no words
        for word, others in self.choices.items():
            if any(key == (name_key(name) or name) for name in (word, *others)):
                return word
        words = list(self.choices)
        listed = f"{', '.join(words[:-1])} or {words[-1]}"
        wrong = f"neither {words[0]} nor {words[1]}" if len(words) == 2 else "no known word"
        raise CellFaultError(wrong, f"write {listed}")


def _column(
    key: str, heading: str, dimension: Dimension, explained: str, names: str = "", **more: Any
) -> BookColumn:
    """A column; `names` has commas between them."""
    parted = tuple(names.split(", ")) if names else ()
    return BookColumn(
        key=key, heading=heading, dimension=dimension, explained=explained, names=parted, **more
    )


def _limit(words: str, *nouns: str) -> str:
    """Names of a limit: every word before and behind every noun."""
    return ", ".join(
        name
        for noun in nouns
        for word in words.split()
        for name in (f"{word} {noun}", f"{noun} {word}")
    )


_MIN = "min minimum least smallest from"
_MAX = "max maximum greatest largest to"
_TEXT, _WIDTH, _LENGTH = Dimension.TEXT, Dimension.WIDTH, Dimension.LENGTH
_QUANTITY, _SHARE, _COUNT = Dimension.QUANTITY, Dimension.SHARE, Dimension.COUNT
_GRADE_NAMES = "quality, paper grade, board grade"
_GRAMMAGE_NAMES = "substance, basis weight, mass per area, gsm"
_REMARK_NAMES = "remark, note, notes, comment, comments"
_AS_TEXT = "@"  # 2-1 would become a date
_DAY, _MOMENT = "yyyy-mm-dd", "yyyy-mm-dd hh:mm"

_GRADE = _column("grade", "Grade", _TEXT, "A grade of the mill file.", _GRADE_NAMES,
                 required="a grade of the mill file", cell_width=18)  # fmt: skip
_GRAMMAGE = _column(
    "grammage", "Grammage [g/m²]", Dimension.GRAMMAGE,
    "Mass per area. A heading such as Basis weight [lb 25x38, 500 sheets] or [lb/1000 ft²] is "
    "converted exactly.",
    _GRAMMAGE_NAMES, required="the mass per area",
)  # fmt: skip

_GRAMMAGE_UNIT = _column(
    "grammage_unit", "Basis weight unit", _TEXT,
    "Optional: what the line's basis weight is for, such as lb/1000 ft² or lb 25x38, 500 sheets.",
    "grammage unit, basis, basis size, basic size, basis weight basis", in_template=False,
)  # fmt: skip

ORDER_COLUMNS: tuple[BookColumn, ...] = (
    _column(
        "number", "Order", _TEXT,
        "The order's own number. No two lines may share one (with a Line column, no two lines of "
        "one order).",
        "order number, order no, order nr, order num, order id, order ref, order reference, "
        "works order",
        required="the order's number", cell_format=_AS_TEXT,
    ),
    _column(
        "line", "Line", _TEXT,
        "Optional: the line within the order; the number becomes order/line.",
        "order line, line no, line number, item, position, pos", in_template=False,
    ),
    _column(
        "customer", "Customer", _TEXT, "Who ordered it.",
        "customer name, client, buyer, sold to", cell_width=22,
    ),
    _GRADE,
    _GRAMMAGE,
    _GRAMMAGE_UNIT,
    _column(
        "product", "Product", _TEXT, "reel or sheet.",
        "reel or sheet, reels or sheets, reel sheet, form, product form",
        required="reel or sheet", cell_width=10,
        choices={"reel": ("reels", "roll", "rolls"), "sheet": ("sheets",)},
    ),
    _column(
        "width", "Width across [mm]", _WIDTH,
        "Across the web: the reel's width, or the sheet's dimension across. The heading may say "
        "[in]; then 29 1/2 may be written.",
        "width, across, width across the web, across the web, across web, dimension across, "
        "reel width, cross direction, cross machine direction",
        required="the dimension across the web", cell_width=11,
    ),
    _column(
        "chop", "Chop [mm]", _WIDTH, "Sheets only: the dimension along the machine direction.",
        "chop length, along, along the web, dimension along, machine direction, "
        "along the machine direction, cut off, cutoff, cut off length",
        cell_width=9,
    ),
    _column(
        "min_diameter", "Min. diameter [mm]", _WIDTH,
        "Reels: the smallest diameter, or the word free. Blank: the mill's tolerance.",
        _limit(_MIN, "diameter", "reel diameter") + ", diameter at least, min dia", or_free=True,
    ),
    _column(
        "max_diameter", "Max. diameter [mm]", _WIDTH,
        "Reels: the largest diameter that the customer takes. Blank: the winder's.",
        _limit(_MAX, "diameter", "reel diameter") + ", diameter at most, max dia",
    ),
    _column(
        "diameter", "Diameter [mm]", _WIDTH,
        "Reels: the ordered diameter. None is larger; the mill's tolerance is below it.",
        "reel diameter, roll diameter, ordered diameter, target diameter, nominal diameter, "
        "outside diameter, dia, reel dia, roll dia", in_template=False,
    ),
    _column(
        "core", "Core [mm]", _WIDTH,
        "Reels only: the core's inside diameter. Blank: any core of the winder.",
        "core diameter, core inside diameter, core inside, core id, core size", cell_width=8,
    ),
    _column(
        "quantity", "Quantity", _QUANTITY, "How much was ordered, in the unit beside it.",
        "qty, ordered, ordered quantity, quantity ordered, order quantity",
        required="a quantity above 0",
    ),
    _column(
        "unit", "Unit", _TEXT,
        "Reels: reels, t, kg, m. Sheets: sheets, reams (with the count beside it, or as reams of "
        "250), t, kg. lb, short tons, ft, MSF … are converted exactly.",
        "units, uom, unit of measure, quantity unit, unit of quantity", cell_width=9,
        choices=dict.fromkeys(("reels", "t", "kg", "m", "sheets", "reams"), ()),
    ),
    _column(
        "sheets_a_ream", "Sheets per ream", _COUNT,
        "Sheets only: how many sheets make a ream, where the order is in reams.",
        "sheets in a ream, sheets a ream, ream count", min_count=1, cell_width=8,
    ),
    _column(
        "under", "Under tolerance [%]", _SHARE,
        "How much less may be delivered, in per cent of the quantity. Blank: the mill's custom "
        "by tonnage.",
        "under, tolerance under, minus tolerance, tolerance minus, under delivery", cell_width=10,
    ),
    _column(
        "over", "Over tolerance [%]", _SHARE,
        "How much more may be delivered, in per cent of the quantity. Blank: the mill's custom "
        "by tonnage.",
        "over, tolerance over, plus tolerance, tolerance plus, over delivery", cell_width=10,
    ),
    _column(
        "tolerance", "Tolerance [%]", _SHARE,
        "Under and over alike, in per cent of the quantity.",
        "tolerance under and over, under and over tolerance", in_template=False,
    ),
    _column(
        "made", "Already made", _QUANTITY,
        "What is made of it already, in the unit of the line. Blank: nothing.",
        "made, made before, made so far, quantity made, produced, already produced",
        zero=True, cell_width=10,
    ),
    _column(
        "due", "Due", Dimension.MOMENT,
        "A date, with or without a time. Without one: by the end of that day.",
        "due date, date due, delivery date, delivery, required by, ship date",
        cell_format=_MOMENT, cell_width=17,
    ),
    _column(
        "status", "Status", _TEXT,
        "Optional: a line with a word for cancelled is left out, and that is said.",
        "order status, line status", in_template=False,
    ),
    _column(
        "held_as", "Held enquiry", _TEXT,
        "Optional: the number of the held enquiry that has become this order.",
        "held, held as, held number, hold, hold number", in_template=False, cell_format=_AS_TEXT,
    ),
    _column(
        "priority", "Priority", _COUNT, "A whole number; 1 is the most urgent.",
        "prio, urgency", min_count=1, cell_width=8,
    ),
    _column(
        "no_edge", "Keep off edge", Dimension.FLAG, "yes: may not be cut at the edge of the web.",
        "no edge, not at edge, not at the edge, no edge reel, off edge", cell_width=8,
    ),
    _column(
        "takes_seconds", "Takes seconds", Dimension.FLAG,
        "yes: takes reels with a band of defects in them.",
        "seconds, takes second quality", cell_width=8,
    ),
    _column(
        "max_reel_mass", "Max. reel mass [kg]", Dimension.MASS,
        "Reels only: the heaviest reel that the customer takes. Blank: free.",
        _limit(_MAX, "reel mass", "reel weight") + ", reel mass limit, reel weight limit",
    ),
    _column(
        "joins_allowed", "Joins allowed", _COUNT, "How many joins a reel may have. Blank: none.",
        "joins, splices, splices allowed, joins a reel, joins per reel", min_count=0, cell_width=8,
    ),
    _column(
        "winding_side", "Winding side", _TEXT,
        "Which side is wound out, as the winder crew says it.",
        "wound side, side out, print side, winding", cell_width=11,
    ),
    _column(
        "packing", "Packing", _TEXT, "How it is wrapped and packed.",
        "packing instructions, packaging, wrapping", cell_width=16,
    ),
    _column(
        "destination", "Destination", _TEXT, "Where it goes.",
        "ship to, delivery place, deliver to", cell_width=16,
    ),
    _column(
        "remarks", "Remarks", _TEXT, "Anything the crew should read.", _REMARK_NAMES,
        cell_width=26,
    ),
)  # fmt: skip

JUMBO_COLUMNS: tuple[BookColumn, ...] = (
    _column(
        "name", "Jumbo", _TEXT, "The jumbo's own number or name.",
        "jumbo name, jumbo number, jumbo no, jumbo id, machine reel",
        required="the jumbo's own number", cell_format=_AS_TEXT,
    ),
    _GRADE,
    _GRAMMAGE,
    _column(
        "width", "Width [mm]", _WIDTH, "Width of the web on it, before any edge trim.",
        "jumbo width, web width", required="the width of the web on it",
    ),
    _column(
        "length", "Length [m]", _LENGTH,
        "Metres wound on it now, start and end loss within them.",
        "jumbo length, length wound, wound length, length left, length on it",
        required="the metres wound on it",
    ),
    _column(
        "loss_start", "Start loss [m]", _LENGTH,
        "Metres lost before the first set. Blank: as the mill file says.",
        "loss at start, loss start, start loss length", zero=True,
    ),
    _column(
        "loss_end", "End loss [m]", _LENGTH,
        "Metres lost on the spool. Blank: as the mill file says.",
        "loss at end, loss end, end loss length", zero=True,
    ),
)  # fmt: skip

STOCK_COLUMNS: tuple[BookColumn, ...] = (
    _column(
        "reel", "Reel", _TEXT, "The reel's own number.",
        "reel number, reel no, reel id, stock reel, roll, roll number, roll no",
        required="the reel's own number", cell_format=_AS_TEXT,
    ),
    _GRADE,
    _GRAMMAGE,
    _column(
        "width", "Width [mm]", _WIDTH, "Width of the reel. It serves orders of just this width.",
        "reel width", required="the reel's width",
    ),
    _column(
        "length", "Length [m]", _LENGTH, "Metres on it. Length, mass or diameter must be stated.",
        "reel length",
    ),
    _column("mass", "Mass [kg]", Dimension.MASS, "Its paper, without core and packing.",
            "reel mass, weight, reel weight, net weight"),
    _column("diameter", "Diameter [mm]", _WIDTH, "Outside diameter.", "reel diameter, dia"),
    _column(
        "core", "Core [mm]", _WIDTH, "The core's inside diameter.",
        "core diameter, core inside diameter, core inside, core id, core size",
        required="the core's inside diameter", cell_width=8,
    ),
    _column("place", "Place", _TEXT, "Where it lies.", "location, bay, warehouse, stored at"),
    _column("made_on", "Made on", Dimension.MOMENT, "Of reels alike the oldest goes first.",
            "made, date made, production date", cell_format=_DAY),
    _column("joins", "Joins", _COUNT, "How many joins it has. Blank: none.",
            "splices, number of joins", min_count=0, cell_width=8),
    _column(
        "reserved_for", "Reserved for", _TEXT,
        "An order or a customer: it serves no other. Blank: it serves anybody.",
        "reserved, reservation", cell_format=_AS_TEXT, cell_width=18,
    ),
)  # fmt: skip

INSTRUCTION_COLUMNS: tuple[BookColumn, ...] = (
    _column(
        "instruction", "Instruction", _TEXT,
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
    _column(
        "run", "Run", _TEXT,
        "set-ups: the paper, grade and grammage. Blank: every run. For others their orders say it.",
        "paper", cell_width=26,
    ),
    _column(
        "orders", "Orders", _TEXT, "together and apart: two or more orders, with commas.",
        cell_format=_AS_TEXT, cell_width=22,
    ),
    _column(
        "pattern", "Pattern", _TEXT,
        "pin and forbid: counts and orders as a plan's workbook writes them, such as "
        "2 × A12 + 1 × B7, 3 ups on Sheeter 1. forbid may name widths: 2 × 735 mm.",
        cell_format=_AS_TEXT, cell_width=60,
    ),
    _column(
        "core", "Core [mm]", _WIDTH, "pin: inside diameter. Blank: the core of its orders.",
        "core inside, core diameter", cell_width=9,
    ),
    _column(
        "length", "Set length [m]", _LENGTH,
        "pin: metres of every pinned set. Blank: whatever the plan winds them to. A forbidden "
        "pattern is so at every length.",
        "length", cell_width=11,
    ),
    _column(
        "number", "Number", _COUNT, "pin: how many sets; blank: one. set-ups: no more than these.",
        "sets, at most", min_count=0, cell_width=9,
    ),
    _column("remarks", "Remarks", _TEXT, "Why; not read.", _REMARK_NAMES, cell_width=30),
)  # fmt: skip

RUN_DAY_COLUMNS: tuple[BookColumn, ...] = (
    _GRADE,
    _GRAMMAGE,
    _column(
        "begins", "From", Dimension.MOMENT,
        "When the winder begins with this paper. Without a time: with the day.", "begins, start",
        required="the day, or day and time", cell_format=_MOMENT, cell_width=17,
    ),
    _column(
        "ends", "To", Dimension.MOMENT,
        "When it has run it. Without a time: at the end of that day.", "ends, end, until",
        required="the day, or day and time", cell_format=_MOMENT, cell_width=17,
    ),
    _column("remarks", "Remarks", _TEXT, "Why; not read.", _REMARK_NAMES, cell_width=30),
)  # fmt: skip

DEFECT_COLUMNS: tuple[BookColumn, ...] = (
    _column(
        "jumbo", "Jumbo", _TEXT, "The jumbo's number or name, as the sheet Jumbos has it.",
        "on jumbo, jumbo with defect", required="a jumbo of the sheet Jumbos", cell_format=_AS_TEXT,
    ),
    _column(
        "from_length", "From length [m]", _LENGTH,
        "Where it begins, counted as stated above the table.", "from metre, from metres",
        required="the metre at which it begins", zero=True,
    ),
    _column(
        "to_length", "To length [m]", _LENGTH, "Where it ends.", "to metre, to metres",
        required="the metre at which it ends",
    ),
    _column(
        "from_width", "From width [mm]", _WIDTH,
        "Of a band: from the front side. Blank: from the front edge.", "from mm", zero=True,
    ),
    _column(
        "to_width", "To width [mm]", _WIDTH, "Of a band. Blank: to the back edge.", "to mm",
    ),
    _column("what", "What it is", _TEXT, "For the crew: hole, streak, bad edge.", "defect, kind",
            cell_width=26),
)  # fmt: skip

DEFECT_SETTINGS: tuple[BookColumn, ...] = (
    _column(
        "metres_from", "Metres counted from", _TEXT,
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
    _column(
        "as_of", "As of", Dimension.MOMENT, "The day at which overdue lines are judged.",
        "as of date, date of the book", cell_format=_DAY,
    ),
    _column(
        "decimal_sign", "Decimal sign", _TEXT,
        "Needed where a figure is a text that can be read two ways, such as 1,250. Cells that "
        "hold real numbers do not need it.",
        "decimal point", choices={"comma": (",", "decimal comma"), "point": (".", "dot")},
    ),
    _column(
        "date_order", "Date order", _TEXT,
        "Needed where a date is a text that can be read two ways, such as 03/04/2026. Cells that "
        "hold real dates do not need it.",
        choices={"d/m/y": ("dd/mm/yyyy",), "m/d/y": ("mm/dd/yyyy",)},
    ),
    _column(
        "shift_ends", "Shift ends", Dimension.MOMENT,
        "What cannot be finished by then is carried over. Blank: there is no end.", "shift end",
        cell_format=_MOMENT,
    ),
)  # fmt: skip

JUMBO_SETTINGS: tuple[BookColumn, ...] = (
    _column(
        "only_listed_jumbos", "Only these jumbos", Dimension.FLAG,
        "yes: no other jumbos may be used.", "only listed jumbos",
    ),
    _column(
        "jumbos_in_order", "Keep this order", Dimension.FLAG,
        "yes: opened in list order; a jumbo that was skipped is not revisited. no: one that is too "
        "short for the next set waits for a shorter set.",
        "jumbos in this order",
    ),
)  # fmt: skip


def columns_by_key(columns: tuple[BookColumn, ...]) -> Mapping[str, BookColumn]:
    """The columns by their key."""
    return {column.key: column for column in columns}
