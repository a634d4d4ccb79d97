"""The columns of order lines."""

from __future__ import annotations

from trimopt.book.book_columns import (
    AS_TEXT,
    COUNT,
    GRADE,
    GRAMMAGE,
    MAX_WORDS,
    MIN_WORDS,
    MOMENT_FORMAT,
    QUANTITY,
    REMARK_NAMES,
    SHARE,
    TEXT,
    WIDTH,
    BookColumn,
    column,
    limit_names,
)
from trimopt.book.units_of_measure import Dimension

_GRAMMAGE_UNIT = column(
    "grammage_unit", "Basis weight unit", TEXT,
    "Optional: what the line's basis weight is for, such as lb/1000 ft² or lb 25x38, 500 sheets.",
    "grammage unit, basis, basis size, basic size, basis weight basis", in_template=False,
)  # fmt: skip

ORDER_COLUMNS: tuple[BookColumn, ...] = (
    column(
        "number", "Order", TEXT,
        "The order's own number. No two lines may share one (with a Line column, no two lines of "
        "one order).",
        "order number, order no, order nr, order num, order id, order ref, order reference, "
        "works order",
        required="the order's number", cell_format=AS_TEXT,
    ),
    column(
        "line", "Line", TEXT,
        "Optional: the line within the order; the number becomes order/line.",
        "order line, line no, line number, item, position, pos", in_template=False,
    ),
    column(
        "customer", "Customer", TEXT, "Who ordered it.",
        "customer name, cust name, cust, client, buyer, sold to", cell_width=22,
    ),
    GRADE,
    GRAMMAGE,
    _GRAMMAGE_UNIT,
    column(
        "product", "Product", TEXT, "reel or sheet.",
        "reel or sheet, reels or sheets, reel sheet, form, product form",
        required="reel or sheet", cell_width=10,
        choices={"reel": ("reels", "roll", "rolls"), "sheet": ("sheets",)},
    ),
    column(
        "width", "Width across [mm]", WIDTH,
        "Across the web: the reel's width, or the sheet's dimension across. The heading may say "
        "[in]; then 29 1/2 may be written.",
        "width, across, width across the web, across the web, across web, dimension across, "
        "reel width, cross direction, cross machine direction",
        required="the dimension across the web", cell_width=11,
    ),
    column(
        "chop", "Chop [mm]", WIDTH, "Sheets only: the dimension along the machine direction.",
        "chop length, along, along the web, dimension along, machine direction, "
        "along the machine direction, cut off, cutoff, cut off length",
        cell_width=9,
    ),
    column(
        "min_diameter", "Min. diameter [mm]", WIDTH,
        "Reels: the smallest diameter, or the word free. Blank: the mill's tolerance.",
        limit_names(MIN_WORDS, "diameter", "reel diameter") + ", diameter at least, min dia",
        or_free=True,
    ),
    column(
        "max_diameter", "Max. diameter [mm]", WIDTH,
        "Reels: the largest diameter that the customer takes. Blank: the winder's.",
        limit_names(MAX_WORDS, "diameter", "reel diameter") + ", diameter at most, max dia",
    ),
    column(
        "diameter", "Diameter [mm]", WIDTH,
        "Reels: the ordered diameter. None is larger; the mill's tolerance is below it.",
        "reel diameter, roll diameter, ordered diameter, target diameter, nominal diameter, "
        "outside diameter, dia, reel dia, roll dia", in_template=False,
    ),
    column(
        "core", "Core [mm]", WIDTH,
        "Reels only: the core's inside diameter. Blank: any core of the winder.",
        "core diameter, core inside diameter, core inside, core id, core size", cell_width=8,
    ),
    column(
        "quantity", "Quantity", QUANTITY, "How much was ordered, in the unit beside it.",
        "qty, ordered, ordered quantity, quantity ordered, order quantity",
        required="a quantity above 0",
    ),
    column(
        "unit", "Unit", TEXT,
        "Reels: reels, t, kg, m. Sheets: sheets, reams (with the count beside it, or as reams of "
        "250), t, kg. lb, short tons, ft, MSF … are converted exactly.",
        "units, uom, unit of measure, quantity unit, unit of quantity", cell_width=9,
        choices=dict.fromkeys(("reels", "t", "kg", "m", "sheets", "reams"), ()),
    ),
    column(
        "sheets_a_ream", "Sheets per ream", COUNT,
        "Sheets only: how many sheets make a ream, where the order is in reams.",
        "sheets in a ream, sheets a ream, ream count", min_count=1, cell_width=8,
    ),
    column(
        "under", "Under tolerance [%]", SHARE,
        "How much less may be delivered, in per cent of the quantity. Blank: the mill's custom "
        "by tonnage.",
        "under, tolerance under, minus tolerance, tolerance minus, under delivery", cell_width=10,
    ),
    column(
        "over", "Over tolerance [%]", SHARE,
        "How much more may be delivered, in per cent of the quantity. Blank: the mill's custom "
        "by tonnage.",
        "over, tolerance over, plus tolerance, tolerance plus, over delivery", cell_width=10,
    ),
    column(
        "tolerance", "Tolerance [%]", SHARE,
        "Under and over alike, in per cent of the quantity.",
        "tolerance under and over, under and over tolerance", in_template=False,
    ),
    column(
        "made", "Already made", QUANTITY,
        "What is made of it already, in the unit of the line. Blank: nothing.",
        "made, made before, made so far, quantity made, produced, already produced",
        zero=True, cell_width=10,
    ),
    column(
        "due", "Due", Dimension.MOMENT,
        "A date, with or without a time. Without one: by the end of that day.",
        "due date, date due, delivery date, delivery, required by, ship date",
        cell_format=MOMENT_FORMAT, cell_width=17,
    ),
    column(
        "status", "Status", TEXT,
        "Optional: a line with a word for cancelled is left out, and that is said.",
        "order status, line status", in_template=False,
    ),
    column(
        "held_as", "Held enquiry", TEXT,
        "Optional: the number of the held enquiry that has become this order.",
        "held, held as, held number, hold, hold number", in_template=False, cell_format=AS_TEXT,
    ),
    column(
        "priority", "Priority", COUNT, "A whole number; 1 is the most urgent.",
        "prio, urgency", min_count=1, cell_width=8,
    ),
    column(
        "no_edge", "Keep off edge", Dimension.FLAG, "yes: may not be cut at the edge of the web.",
        "no edge, not at edge, not at the edge, no edge reel, off edge", cell_width=8,
    ),
    column(
        "takes_seconds", "Takes seconds", Dimension.FLAG,
        "yes: takes reels with a band of defects in them.",
        "seconds, takes second quality", cell_width=8,
    ),
    column(
        "max_reel_mass", "Max. reel mass [kg]", Dimension.MASS,
        "Reels only: the heaviest reel that the customer takes. Blank: free.",
        limit_names(MAX_WORDS, "reel mass", "reel weight") + ", reel mass limit, reel weight limit",
    ),
    column(
        "joins_allowed", "Joins allowed", COUNT, "How many joins a reel may have. Blank: none.",
        "joins, splices, splices allowed, joins a reel, joins per reel", min_count=0, cell_width=8,
    ),
    column(
        "winding_side", "Winding side", TEXT,
        "Which side is wound out, as the winder crew says it.",
        "wound side, side out, print side, winding", cell_width=11,
    ),
    column(
        "packing", "Packing", TEXT, "How it is wrapped and packed.",
        "packing instructions, packaging, wrapping", cell_width=16,
    ),
    column(
        "destination", "Destination", TEXT, "Where it goes.",
        "ship to, delivery place, deliver to", cell_width=16,
    ),
    column(
        "remarks", "Remarks", TEXT, "Anything the crew should read.", REMARK_NAMES,
        cell_width=26,
    ),
)  # fmt: skip
