"""The columns of an order book and of its jumbo sheet, and the words that name them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trimopt.book.units_of_measure import Dimension

__all__ = ["INSTRUCTION_COLUMNS", "JUMBO_COLUMNS", "ORDER_COLUMNS", "Column", "columns_by_key"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its key in `Order.as_written` and the mill file, its heading, its other names."""

    key: str
    heading: str  # what the template writes
    dimension: Dimension
    explained: str  # the note on the template's heading
    names: tuple[str, ...] = ()
    required: bool = False
    fractions: bool = False  # 29 1/2 may be written
    cell_width: int = 12  # of the template, in characters


_LEAST = ("least", "min", "minimum", "smallest", "from")
_GREATEST = ("greatest", "max", "maximum", "largest", "to")


def _both_ways(words: tuple[str, ...], noun: str) -> tuple[str, ...]:
    return tuple(name for word in words for name in (f"{word} {noun}", f"{noun} {word}"))


ORDER_COLUMNS: tuple[Column, ...] = (
    Column(
        key="number",
        heading="Order",
        dimension=Dimension.TEXT,
        explained="The order's own number. No two lines may share one (with a Line column, no "
        "two lines of one order).",
        names=(
            *("order number", "order no", "order nr", "order num", "order id", "order ref"),
            *("order reference", "works order"),
        ),
        required=True,
    ),
    Column(
        key="line",
        heading="Line",
        dimension=Dimension.TEXT,
        explained="Optional: the line within the order; the number becomes order/line.",
        names=("order line", "line no", "line number", "item", "position", "pos"),
        cell_width=7,
    ),
    Column(
        key="customer",
        heading="Customer",
        dimension=Dimension.TEXT,
        explained="Who ordered it.",
        names=("customer name", "client", "buyer", "sold to"),
        cell_width=22,
    ),
    Column(
        key="grade",
        heading="Grade",
        dimension=Dimension.TEXT,
        explained="A grade of the mill file.",
        names=("quality", "paper grade", "board grade"),
        required=True,
        cell_width=18,
    ),
    Column(
        key="grammage",
        heading="Grammage [g/m²]",
        dimension=Dimension.GRAMMAGE,
        explained="Mass per area. A heading such as Basis weight [lb 25x38, 500 sheets] or "
        "[lb/1000 ft²] is converted exactly.",
        names=("substance", "basis weight", "mass per area", "gsm"),
        required=True,
    ),
    Column(
        key="product",
        heading="Product",
        dimension=Dimension.TEXT,
        explained="reel or sheet.",
        names=("reel or sheet", "reels or sheets", "reel sheet", "form", "product form"),
        required=True,
        cell_width=10,
    ),
    Column(
        key="width",
        heading="Width across [mm]",
        dimension=Dimension.WIDTH,
        explained="Across the web: the reel's width, or the sheet's dimension across. The "
        "heading may say [in]; then 29 1/2 may be written.",
        names=(
            *("width", "across", "width across the web", "across the web", "across web"),
            *("dimension across", "reel width", "cross direction", "cross machine direction"),
        ),
        required=True,
        fractions=True,
        cell_width=11,
    ),
    Column(
        key="chop",
        heading="Chop [mm]",
        dimension=Dimension.WIDTH,
        explained="Sheets only: the dimension along the machine direction.",
        names=(
            *("chop length", "along", "along the web", "dimension along", "machine direction"),
            *("along the machine direction", "cut off", "cutoff", "cut off length"),
        ),
        fractions=True,
        cell_width=9,
    ),
    Column(
        key="min_diameter",
        heading="Diameter least [mm]",
        dimension=Dimension.WIDTH,
        explained="Reels: the smallest diameter, or the word free. Blank: the mill's tolerance.",
        names=(
            *_both_ways(_LEAST, "diameter"),
            *_both_ways(_LEAST, "reel diameter"),
            "diameter at least",
        ),
        fractions=True,
    ),
    Column(
        key="max_diameter",
        heading="Diameter greatest [mm]",
        dimension=Dimension.WIDTH,
        explained="Reels: the largest diameter that the customer takes. Blank: the winder's.",
        names=(
            *_both_ways(_GREATEST, "diameter"),
            *_both_ways(_GREATEST, "reel diameter"),
            "diameter at most",
        ),
        fractions=True,
    ),
    Column(
        key="core",
        heading="Core [mm]",
        dimension=Dimension.WIDTH,
        explained="Reels only: the core's inside diameter. Blank: any core of the winder.",
        names=("core diameter", "core inside diameter", "core inside", "core id", "core size"),
        fractions=True,
        cell_width=8,
    ),
    Column(
        key="quantity",
        heading="Quantity",
        dimension=Dimension.QUANTITY,
        explained="How much was ordered, in the unit beside it.",
        names=("qty", "ordered", "ordered quantity", "quantity ordered", "order quantity"),
        required=True,
    ),
    Column(
        key="unit",
        heading="Unit",
        dimension=Dimension.TEXT,
        explained="Reels: reels, t, kg, m. Sheets: sheets, reams (with the count beside it, or "
        "as reams of 250), t, kg. lb and ft are converted exactly.",
        names=("units", "uom", "unit of measure", "quantity unit", "unit of quantity"),
        cell_width=9,
    ),
    Column(
        key="sheets_a_ream",
        heading="Sheets a ream",
        dimension=Dimension.COUNT,
        explained="Sheets only: how many sheets make a ream, where the order is in reams.",
        names=("sheets per ream", "sheets in a ream", "ream count"),
        cell_width=8,
    ),
    Column(
        key="under",
        heading="Under tolerance [%]",
        dimension=Dimension.SHARE,
        explained="How much less may be delivered, in per cent of the quantity. Blank: the "
        "mill's custom by tonnage.",
        names=("under", "tolerance under", "minus tolerance", "tolerance minus", "under delivery"),
        cell_width=10,
    ),
    Column(
        key="over",
        heading="Over tolerance [%]",
        dimension=Dimension.SHARE,
        explained="How much more may be delivered, in per cent of the quantity. Blank: the "
        "mill's custom by tonnage.",
        names=("over", "tolerance over", "plus tolerance", "tolerance plus", "over delivery"),
        cell_width=10,
    ),
    Column(
        key="tolerance",
        heading="Tolerance [%]",
        dimension=Dimension.SHARE,
        explained="Under and over alike, in per cent of the quantity.",
        names=("tolerance under and over", "under and over tolerance"),
    ),
    Column(
        key="made",
        heading="Already made",
        dimension=Dimension.QUANTITY,
        explained="What is made of it already, in the unit of the line. Blank: nothing.",
        names=("made", "made so far", "quantity made", "produced", "already produced"),
        cell_width=10,
    ),
    Column(
        key="due",
        heading="Due",
        dimension=Dimension.MOMENT,
        explained="A date, with or without a time. Without one: by the end of that day.",
        names=("due date", "date due", "delivery date", "delivery", "required by", "ship date"),
        cell_width=17,
    ),
    Column(
        key="priority",
        heading="Priority",
        dimension=Dimension.COUNT,
        explained="A whole number; 1 is the most urgent.",
        names=("prio", "urgency"),
        cell_width=8,
    ),
    Column(
        key="no_edge",
        heading="No edge",
        dimension=Dimension.FLAG,
        explained="yes: may not be cut at the edge of the web.",
        names=("not at edge", "not at the edge", "no edge reel"),
        cell_width=7,
    ),
    Column(
        key="max_reel_mass",
        heading="Greatest reel mass [kg]",
        dimension=Dimension.MASS,
        explained="Reels only: the heaviest reel that the customer takes. Blank: free.",
        names=(
            *_both_ways(_GREATEST, "reel mass"),
            *_both_ways(_GREATEST, "reel weight"),
            "reel mass limit",
            "reel weight limit",
        ),
    ),
    Column(
        key="joins_allowed",
        heading="Joins allowed",
        dimension=Dimension.COUNT,
        explained="How many joins a reel may have. Blank: none.",
        names=("joins", "splices", "splices allowed", "joins a reel", "joins per reel"),
        cell_width=8,
    ),
    Column(
        key="winding_side",
        heading="Winding side",
        dimension=Dimension.TEXT,
        explained="Which side is wound out, as the winder crew says it.",
        names=("wound side", "side out", "print side", "winding"),
        cell_width=11,
    ),
    Column(
        key="packing",
        heading="Packing",
        dimension=Dimension.TEXT,
        explained="How it is wrapped and packed.",
        names=("packing instructions", "packaging", "wrapping"),
        cell_width=16,
    ),
    Column(
        key="destination",
        heading="Destination",
        dimension=Dimension.TEXT,
        explained="Where it goes.",
        names=("ship to", "delivery place", "deliver to"),
        cell_width=16,
    ),
    Column(
        key="remarks",
        heading="Remarks",
        dimension=Dimension.TEXT,
        explained="Anything the crew should read.",
        names=("remark", "note", "notes", "comment", "comments"),
        cell_width=26,
    ),
)

JUMBO_COLUMNS: tuple[Column, ...] = (
    Column(
        key="name",
        heading="Jumbo",
        dimension=Dimension.TEXT,
        explained="The jumbo's own number or name.",
        names=("jumbo name", "jumbo number", "jumbo no", "jumbo id", "machine reel"),
        required=True,
    ),
    Column(
        key="grade",
        heading="Grade",
        dimension=Dimension.TEXT,
        explained="A grade of the mill file.",
        names=("quality", "paper grade", "board grade"),
        required=True,
        cell_width=18,
    ),
    Column(
        key="grammage",
        heading="Grammage [g/m²]",
        dimension=Dimension.GRAMMAGE,
        explained="Mass per area.",
        names=("substance", "basis weight", "mass per area", "gsm"),
        required=True,
    ),
    Column(
        key="width",
        heading="Width [mm]",
        dimension=Dimension.WIDTH,
        explained="Width of the web on it, before any edge trim.",
        names=("jumbo width", "web width"),
        required=True,
        fractions=True,
    ),
    Column(
        key="length",
        heading="Length [m]",
        dimension=Dimension.LENGTH,
        explained="Metres wound on it now, start and end loss within them.",
        names=("jumbo length", "length wound", "wound length", "length left", "length on it"),
        required=True,
    ),
    Column(
        key="loss_start",
        heading="Start loss [m]",
        dimension=Dimension.LENGTH,
        explained="Metres lost before the first set. Blank: as the mill file says.",
        names=("loss at start", "loss start", "start loss length"),
    ),
    Column(
        key="loss_end",
        heading="End loss [m]",
        dimension=Dimension.LENGTH,
        explained="Metres lost on the spool. Blank: as the mill file says.",
        names=("loss at end", "loss end", "end loss length"),
    ),
)


INSTRUCTION_COLUMNS: tuple[Column, ...] = (
    Column(
        key="instruction",
        heading="Instruction",
        dimension=Dimension.TEXT,
        explained="pin: these sets as they are. forbid: never this pattern, for whichever orders. "
        "together: in every set that holds one of them. apart: never in one set. set-ups: no more "
        "than so many. free: nothing is asked (rows copied from a plan).",
        names=("wish",),
        required=True,
    ),
    Column(
        key="run",
        heading="Run",
        dimension=Dimension.TEXT,
        explained="set-ups: the paper, grade and grammage. Blank: every run. For others "
        "their orders say it.",
        names=("paper",),
        cell_width=26,
    ),
    Column(
        key="orders",
        heading="Orders",
        dimension=Dimension.TEXT,
        explained="together and apart: two or more orders, with commas.",
        cell_width=22,
    ),
    Column(
        key="pattern",
        heading="Pattern",
        dimension=Dimension.TEXT,
        explained="pin and forbid: counts and orders as a plan's workbook writes them, such as "
        "2 × A12 + 1 × B7, 3 ups on Sheeter 1. forbid may name widths: 2 × 735 mm.",
        fractions=True,
        cell_width=60,
    ),
    Column(
        key="core",
        heading="Core [mm]",
        dimension=Dimension.WIDTH,
        explained="pin: inside diameter. Blank: the core of its orders.",
        names=("core inside", "core diameter"),
        fractions=True,
        cell_width=9,
    ),
    Column(
        key="length",
        heading="Set length [m]",
        dimension=Dimension.LENGTH,
        explained="pin: metres of every pinned set. Blank: whatever the plan winds them to. A "
        "forbidden pattern is so at every length.",
        names=("length",),
        cell_width=11,
    ),
    Column(
        key="number",
        heading="Number",
        dimension=Dimension.COUNT,
        explained="pin: how many sets; blank: one. set-ups: the most.",
        names=("sets", "at most"),
        cell_width=9,
    ),
    Column(
        key="remarks",
        heading="Remarks",
        dimension=Dimension.TEXT,
        explained="Why; not read.",
        names=("remark", "note", "notes", "comment", "comments"),
        cell_width=30,
    ),
)


def columns_by_key(columns: tuple[Column, ...]) -> Mapping[str, Column]:
    """The columns by their key."""
    return {column.key: column for column in columns}
