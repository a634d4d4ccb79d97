"""Every key of a mill file: its kind, its range, and what it is.

The reader, its error texts and the example file are all held to this one table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

__all__ = ["SECTIONS", "Key", "Kind", "Shape", "Table"]


class Kind(Enum):
    """What may stand behind a key, in words for an error text."""

    LENGTH = 'a number in mm, or a text such as "59 1/16 in"'
    LENGTHS = "a list of numbers in mm, such as [0, 1200, 2500]"
    NUMBER = "a number"
    WHOLE = "a whole number"
    TEXT = 'a text in quotes, such as "Winder 1"'
    FLAG = "true or false"


class Shape(Enum):
    """How a section is written."""

    ONE = "once"
    SEVERAL = "as often as there are such"
    FREE = "once, with keys that others define"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key; a figure lies above `above`, or from `least`, up to `most`."""

    name: str
    kind: Kind
    about: str
    needed: bool = False
    above: Fraction | None = None
    least: Fraction | None = None
    most: Fraction | None = None
    choices: tuple[str, ...] = ()

    @property
    def right(self) -> str:
        """What would be right, in words."""
        if self.choices:
            return "write " + " or ".join(f'"{choice}"' for choice in self.choices)
        if self.above is not None:
            span = f", above {self.above} and up to {self.most}"
        elif self.least is not None:
            span = f", from {self.least} to {self.most}"
        else:
            span = ""
        return f"write {self.kind.value}{span}: {self.about}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One section: its name as written between the brackets, and its keys."""

    name: str
    shape: Shape
    needed: bool
    about: str
    keys: tuple[Key, ...]

    @property
    def title(self) -> str:
        """The section's name in its brackets."""
        return f"[[{self.name}]]" if self.shape is Shape.SEVERAL else f"[{self.name}]"

    def key(self, name: str) -> Key | None:
        """The key of that name, or None."""
        return next((key for key in self.keys if key.name == name), None)


def _length(name: str, about: str, *, needed: bool = True, zero: bool = False) -> Key:
    """A width, diameter or spacing; none in a mill is wider than 20 m."""
    return Key(
        name=name,
        kind=Kind.LENGTH,
        about=about,
        needed=needed,
        above=None if zero else Fraction(0),
        least=Fraction(0) if zero else None,
        most=Fraction(20_000),
    )


def _number(
    name: str,
    about: str,
    most: int,
    *,
    needed: bool = True,
    zero: bool = False,
    least: int | None = None,
) -> Key:
    if zero:
        least = 0
    return Key(
        name=name,
        kind=Kind.NUMBER,
        about=about,
        needed=needed,
        above=Fraction(0) if least is None else None,
        least=None if least is None else Fraction(least),
        most=Fraction(most),
    )


def _whole(name: str, about: str, least: int, most: int, *, needed: bool = True) -> Key:
    return Key(
        name=name,
        kind=Kind.WHOLE,
        about=about,
        needed=needed,
        least=Fraction(least),
        most=Fraction(most),
    )


def _text(name: str, about: str, *, needed: bool = True, choices: tuple[str, ...] = ()) -> Key:
    return Key(name=name, kind=Kind.TEXT, about=about, needed=needed, choices=choices)


def _flag(name: str, about: str) -> Key:
    return Key(name=name, kind=Kind.FLAG, about=about)


_MILL = Table(
    name="mill",
    shape=Shape.ONE,
    needed=True,
    about="the mill",
    keys=(
        _text("name", "the mill's name, as it stands on every plan"),
        _length("width_step_mm", "step in which sales quotes widths", needed=False),
        _number("max_book_t", "more tonnes than this in one book are a fault", 10**7, needed=False),
        _length(
            "diameter_tolerance_mm",
            "least diameter below the greatest, where a book states none",
            needed=False,
            zero=True,
        ),
        _number(
            "diameter_tolerance_percent",
            "the same in per cent of the greatest diameter",
            100,
            needed=False,
            zero=True,
        ),
        _number(
            "trim_target_percent",
            "trim loss that the mill aims at, %",
            100,
            needed=False,
            zero=True,
        ),
    ),
)

_WINDER = Table(
    name="winder",
    shape=Shape.SEVERAL,
    needed=True,
    about="a winder and its slitter",
    keys=(
        _text("name", "the winder's name", needed=False),
        _text("kind", "how it winds", needed=False, choices=("two-drum", "single-drum")),
        _length("max_web_mm", "greatest width of a set, edge trim taken off"),
        _length("min_edge_trim_mm", "least edge trim, each side", zero=True),
        _length("max_edge_trim_mm", "greatest edge trim, each side", needed=False, zero=True),
        _flag("web_shift", "whether the web may be shifted within the side trim"),
        _length("min_reel_width_mm", "narrowest reel"),
        _length("max_reel_width_mm", "widest reel"),
        _length("min_broke_width_mm", "narrowest broke reel", needed=False),
        _text(
            "broke_position",
            "where a broke reel may lie",
            needed=False,
            choices=("edge", "anywhere"),
        ),
        _whole("max_reels", "most reels in a set", 1, 199, needed=False),
        _whole(
            "max_reels_per_side", "single-drum: most reels on either side", 1, 199, needed=False
        ),
        _whole("knives", "slitter knives on the beam", 2, 200),
        _length("min_knife_spacing_mm", "closest that two knives may stand"),
        _text("idle_knives", "where an unused knife is kept", choices=("lifted", "parked")),
        Key(
            name="knives_at_mm",
            kind=Kind.LENGTHS,
            about="where the knives stand now, from the front side",
            least=Fraction(0),
            most=Fraction(20_000),
        ),
        _length("min_reel_diameter_mm", "smallest reel diameter"),
        _length("max_reel_diameter_mm", "greatest reel diameter"),
        _number("max_reel_mass_kg", "heaviest reel, kg", 100_000, needed=False),
        _number("max_set_mass_kg", "heaviest set, kg", 500_000, needed=False),
        _flag("joins_allowed", "whether a set may run on over two jumbos with a join"),
        _whole(
            "min_join_part_m",
            "shortest part of a set on either side of a join",
            1,
            100_000,
            needed=False,
        ),
        _number("speed_m_min", "winding speed, m/min", 5_000, least=1),
        _number("acceleration_m_min_s", "change of speed in each second, m/min", 1_000),
        _number("set_change_min", "minutes to change a set", 600, zero=True),
        _number("set_up_min", "minutes that a set-up adds", 600, zero=True),
        _flag("core_change_is_set_up", "whether a change of core alone counts as a set-up"),
        _flag("length_change_is_set_up", "whether a change of set length alone counts as a set-up"),
        _number("knife_move_min", "minutes that one knife move adds", 600, zero=True),
        _number("jumbo_change_min", "minutes to change a jumbo", 600, zero=True),
    ),
)

_CORE = Table(
    name="winder.core",
    shape=Shape.SEVERAL,
    needed=True,
    about="a core that the winder takes",
    keys=(
        _length("inside_mm", "inside diameter of the core"),
        _length("wall_mm", "wall of the core", zero=True),
    ),
)

_SHEETER = Table(
    name="sheeter",
    shape=Shape.SEVERAL,
    needed=False,
    about="a sheeter",
    keys=(
        _text("name", "the sheeter's name"),
        _length("max_web_mm", "widest sheeter reel"),
        _whole("max_ups", "most sheets side by side", 1, 100),
        _length("trim_per_side_mm", "trim that the sheeter takes, each side", zero=True),
        _length("min_chop_mm", "shortest sheet along the machine direction"),
        _length("max_chop_mm", "longest sheet along the machine direction"),
        _length("max_reel_diameter_mm", "greatest diameter that its stands take"),
        _length("core_inside_mm", "inside diameter of the core that its stands take"),
        Key(
            name="waste_percent",
            kind=Kind.NUMBER,
            about="sheets lost at start, splice and end, %",
            least=Fraction(0),
            most=Fraction(50),
        ),
        _whole("unwinds", "reels unwound together", 1, 50, needed=False),
        _number("speed_m_min", "speed, m/min", 5_000, least=1),
        _number("load_change_min", "minutes to change a load of reels", 600, zero=True),
        _whole(
            "max_length_difference_m",
            "most that reels unwound together may differ in length, m",
            0,
            1_000,
            needed=False,
        ),
        _number("max_cuts_per_min", "most cuts a minute", 5_000, needed=False),
    ),
)

_JUMBO = Table(
    name="jumbo",
    shape=Shape.ONE,
    needed=True,
    about="the nominal jumbo",
    keys=(
        _length("width_mm", "width of the jumbo, edge trim on it"),
        _whole("usable_length_m", "length without start and end loss", 1, 1_000_000, needed=False),
        _whole("length_m", "length with start and end loss", 1, 1_000_000, needed=False),
        _length("diameter_mm", "diameter of the jumbo", needed=False),
        _length("spool_mm", "outside diameter of the spool", needed=False),
        _number("mass_t", "mass of the paper on the spool, t", 1_000, needed=False),
        _whole("loss_start_m", "length lost at the start", 0, 100_000, needed=False),
        _whole("loss_end_m", "length lost at the end, next to the spool", 0, 100_000, needed=False),
        _number(
            "max_grammage_difference_percent",
            "how far a listed jumbo's grammage may be from that of its orders, %",
            10,
            needed=False,
            zero=True,
        ),
    ),
)

_GRADE = Table(
    name="grade",
    shape=Shape.SEVERAL,
    needed=True,
    about="a grade that the mill makes",
    keys=(
        _text("name", "the grade's name, as the order book writes it"),
        _number("caliper_um", "caliper, µm, whatever the grammage", 10_000, needed=False),
        _number("bulk_cm3_g", "bulk, cm³/g", 20, needed=False),
        _number("density_kg_m3", "density, kg/m³", 5_000, needed=False),
        Key(
            name="wound_factor",
            kind=Kind.NUMBER,
            about="wound caliper over measured caliper",
            least=Fraction(1, 2),
            most=Fraction(2),
        ),
    ),
)

_VALUES = Table(
    name="values",
    shape=Shape.ONE,
    needed=False,
    about="what is worth what",
    keys=(
        _number(
            "under_delivery_penalty",
            "kg of loss that weigh as much as a kg below the ordered quantity",
            1,
            needed=False,
            zero=True,
        ),
        _number(
            "over_delivery_penalty",
            "kg of loss that weigh as much as a kg above the ordered quantity",
            1,
            needed=False,
            zero=True,
        ),
        _number(
            "trim_cost_per_t",
            "money that a tonne of loss costs",
            10**9,
            needed=False,
            zero=True,
        ),
        _number("set_up", "money that a set-up costs", 10**9, needed=False, zero=True),
        _number("knife_move", "money that a knife move costs", 10**9, needed=False, zero=True),
        _flag("split_blocks", "whether a pattern may run in two blocks where that pays"),
        _text("currency", "the money's name", needed=False),
    ),
)

_TOLERANCE = Table(
    name="tolerance",
    shape=Shape.SEVERAL,
    needed=False,
    about="a step of the mill's tolerance custom",
    keys=(
        _number("grammage_to_gsm", "heaviest grammage of the step, g/m²", 10_000, needed=False),
        _number("below_t", "tonnage that ends the step, t", 1_000_000, needed=False),
        _number("under_percent", "how much may be lacking, %", 100, zero=True),
        _number("over_percent", "how much may be over, %", 100, zero=True),
    ),
)

_HEADINGS = Table(
    name="headings",
    shape=Shape.FREE,
    needed=False,
    about="the headings of the mill's own order export",
    keys=(),
)

_LEDGER = Table(
    name="ledger",
    shape=Shape.ONE,
    needed=False,
    about="where plans are kept",
    keys=(_text("url", "file or database of the ledger"),),
)

SECTIONS: tuple[Table, ...] = (
    _MILL,
    _WINDER,
    _CORE,
    _SHEETER,
    _JUMBO,
    _GRADE,
    _VALUES,
    _TOLERANCE,
    _HEADINGS,
    _LEDGER,
)
