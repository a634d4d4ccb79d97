"""Every key of a mill file: its kind, its range, what it is, and how the model keeps it.

Reading, its error texts, the model's building and the check of the example file are all held to
this one table. What holds where a key is left out is the default in `trimopt.mill.model`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Any

from trimopt.paper import INCHES, Measure, UnitSystem
from trimopt.paper.measures import (
    ACCELERATIONS,
    CALIPERS,
    DENSITIES,
    GRAMMAGES,
    LENGTHS,
    MASSES,
    SPEEDS,
    WIDTHS,
    UnitTable,
)


class ValueKind(Enum):
    """What may stand behind a key, in words for an error text."""

    LENGTH = 'a number in mm, or a text such as "59 1/16 in"'
    LENGTHS = 'a list such as [0, 1200, 2500], in mm, or ["0 in", "47 1/4 in"]'
    NUMBER = "a number"
    WHOLE = "a whole number"
    BASIS = 'a text such as "lb/1000 ft²" or "lb 25x38, 500 sheets"'
    TEXT = 'a text in quotes, such as "Winder 1"'
    TEXTS = 'a list of texts in quotes, such as ["customer", "due"]'
    FLAG = "true or false"


class SectionShape(Enum):
    """How a section is written."""

    ONE = "once"
    SEVERAL = "as often as there are such"
    FREE = "once, with keys that others define"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key; a figure lies above `above`, or from `min`, up to `max`, in the unit of its name."""

    name: str
    kind: ValueKind
    about: str
    needed: bool = False
    above: Fraction | None = None
    min: Fraction | None = None
    max: Fraction | None = None
    choices: tuple[str, ...] = ()
    units: tuple[UnitTable, Measure] | None = None  # that may be written, and that of its name
    rounds_up: bool = False  # a length in feet, to whole metres; else down
    field: str  # of the model
    kept: Callable[[Any], Any]  # from the exact figure to the model's

    @property
    def right(self) -> str:
        if self.choices:
            return "write " + " or ".join(f'"{choice}"' for choice in self.choices)
        span = ""
        if self.above is not None:
            span = f", above {self.above} and up to {self.max}"
        elif self.min is not None:
            span = f", from {self.min} to {self.max}"
        kind = self.kind.value
        if self.units is not None and self.kind in (ValueKind.NUMBER, ValueKind.WHOLE):
            kind += f" in {self.units[1].shown}, or a text with its unit"
        return f"write {kind}{span}: {self.about}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MillTable:
    """One section: its name as written between the brackets, and its keys."""

    name: str
    shape: SectionShape
    needed: bool
    about: str
    keys: tuple[Key, ...]

    @property
    def title(self) -> str:
        """The section's name in its brackets."""
        return f"[[{self.name}]]" if self.shape is SectionShape.SEVERAL else f"[{self.name}]"

    def key(self, name: str) -> Key | None:
        return next((key for key in self.keys if key.name == name), None)


_LENGTH, _LENGTHS, _NUMBER = ValueKind.LENGTH, ValueKind.LENGTHS, ValueKind.NUMBER
_WHOLE, _TEXT, _TEXTS, _FLAG = ValueKind.WHOLE, ValueKind.TEXT, ValueKind.TEXTS, ValueKind.FLAG
_MAX_MM = 20_000  # none in a mill is wider
_KEPT: dict[ValueKind, Callable[[Any], Any]] = {_NUMBER: float, _WHOLE: int}


#: End of a key's name, the units that a text may state, the unit of a plain number.
_UNITS: tuple[tuple[str, UnitTable, str], ...] = (
    ("_mm", WIDTHS, "mm"),
    ("_m", LENGTHS, "m"),
    ("_kg", MASSES, "kg"),
    ("_t", MASSES, "t"),
    ("_m_min", SPEEDS, "m/min"),
    ("_m_min_s", ACCELERATIONS, "m/min/s"),
    ("_um", CALIPERS, "µm"),
    ("_kg_m3", DENSITIES, "kg/m³"),
    ("_gsm", GRAMMAGES, "g/m²"),
)


def _units_of(name: str) -> tuple[UnitTable, Measure] | None:
    """The units of a key, by the end of its name; money a tonne has none."""
    found = [each for each in _UNITS if name.endswith(each[0]) and not name.endswith("_per_t")]
    if not found:
        return None
    _, table, unit = max(found, key=lambda each: len(each[0]))
    measure = table.unit(unit)
    assert measure is not None  # the table's own
    return table, measure


def _as_it_is(value: Any) -> Any:
    return value


def _share(percent: Fraction) -> Fraction:
    return percent / 100


def _key(name: str, kind: ValueKind, about: str, *span: float, field: str = "", **more: Any) -> Key:
    """A key; one figure behind its words: above 0 and up to it; two: from the one to the other."""
    if not span and kind in (_LENGTH, _LENGTHS):
        span = (_MAX_MM,)
    limits: dict[str, Any] = {}
    if span:
        limits = {"max": Fraction(span[-1])}
        limits |= {"above": Fraction(0)} if len(span) == 1 else {"min": Fraction(span[0])}
    kept = more.pop("kept", _KEPT.get(kind, _as_it_is))
    units = _units_of(name)
    return Key(
        name=name, kind=kind, about=about, field=field or name, kept=kept, units=units,
        **limits, **more,
    )  # fmt: skip


def _needed(*args: Any, **more: Any) -> Key:
    return _key(*args, needed=True, **more)


SECTIONS: tuple[MillTable, ...] = (
    MillTable(
        name="mill", shape=SectionShape.ONE, needed=True, about="the mill",
        keys=(
            _needed("name", _TEXT, "the mill's name, as it stands on every plan"),
            _key("width_step_mm", _LENGTH, "increment in which sales quotes widths"),
            _key("max_book_t", _NUMBER, "more tonnes than this in one book are a fault", 10**7),
            _key("diameter_tolerance_mm", _LENGTH,
                 "min. diameter below the max., where a book states none", 0, _MAX_MM, kept=float),
            _key("diameter_tolerance_percent", _NUMBER,
                 "the same in per cent of the max. diameter", 0, 100),
            _key("trim_target_percent", _NUMBER, "trim loss that the mill aims at, %", 0, 100),
        ),
    ),
    MillTable(
        name="winder", shape=SectionShape.SEVERAL, needed=True, about="a winder and its slitter",
        keys=(
            _key("name", _TEXT, "the winder's name"),
            _key("kind", _TEXT, "how it winds", choices=("two-drum", "single-drum")),
            _needed("max_web_mm", _LENGTH, "max. width of a set, edge trim taken off"),
            _needed("min_edge_trim_mm", _LENGTH, "min. edge trim, each side", 0, _MAX_MM),
            _key("max_edge_trim_mm", _LENGTH, "max. edge trim, each side", 0, _MAX_MM),
            _key("web_shift", _FLAG, "whether the web may be shifted within the side trim"),
            _needed("min_reel_width_mm", _LENGTH, "narrowest reel"),
            _key("max_reel_width_mm", _LENGTH, "widest reel"),
            _key("min_broke_width_mm", _LENGTH, "narrowest broke reel"),
            _key("broke_position", _TEXT, "where a broke reel may lie",
                 choices=("edge", "anywhere")),
            _key("max_reels", _WHOLE, "max. reels in a set", 1, 199),
            _key("max_reels_per_side", _WHOLE, "single-drum: max. reels on either side", 1, 199),
            _needed("knives", _WHOLE, "slitter knives on the beam", 2, 200),
            _key("min_knife_spacing_mm", _LENGTH, "closest that two knives may stand"),
            _key("idle_knives", _TEXT, "where an unused knife is kept",
                 choices=("lifted", "parked")),
            _key("knives_at_mm", _LENGTHS, "where the knives stand now, from the front side",
                 0, _MAX_MM),
            _needed("min_reel_diameter_mm", _LENGTH, "min. reel diameter", kept=float),
            _needed("max_reel_diameter_mm", _LENGTH, "max. reel diameter", kept=float),
            _key("max_reel_mass_kg", _NUMBER, "heaviest reel, kg", 100_000),
            _key("max_set_mass_kg", _NUMBER, "heaviest set, kg", 500_000),
            _key("joins_allowed", _FLAG, "whether a set may run on over two jumbos with a join"),
            _key("min_join_part_m", _WHOLE, "shortest part of a set on either side of a join",
                 1, 100_000, rounds_up=True),
            _key("join_min", _NUMBER, "minutes to cut a defect out and join over it", 0, 600),
            _key("speed_m_min", _NUMBER, "winding speed, m/min", 1, 5_000),
            _key("acceleration_m_min_s", _NUMBER, "change of speed in each second, m/min", 1_000),
            _key("set_change_min", _NUMBER, "minutes to change a set", 0, 600),
            _key("set_up_min", _NUMBER, "minutes that a set-up adds", 0, 600),
            _key("core_change_is_set_up", _FLAG, "whether a change of core alone is a set-up"),
            _key("length_change_is_set_up", _FLAG,
                 "whether a change of set length alone is a set-up"),
            _key("knife_move_min", _NUMBER, "minutes that one knife move adds", 0, 600),
            _key("jumbo_change_min", _NUMBER, "minutes to change a jumbo", 0, 600),
        ),
    ),
    MillTable(
        name="winder.core", shape=SectionShape.SEVERAL, needed=True,
        about="a core that the winder takes",
        keys=(
            _needed("inside_mm", _LENGTH, "inside diameter of the core", kept=float),
            _needed("wall_mm", _LENGTH, "wall of the core", 0, _MAX_MM, kept=float),
        ),
    ),
    MillTable(
        name="sheeter", shape=SectionShape.SEVERAL, needed=False, about="a sheeter",
        keys=(
            _needed("name", _TEXT, "the sheeter's name"),
            _needed("max_web_mm", _LENGTH, "widest sheeter reel"),
            _needed("max_ups", _WHOLE, "max. sheets side by side", 1, 100),
            _needed("trim_per_side_mm", _LENGTH, "trim that the sheeter takes, each side",
                    0, _MAX_MM),
            _needed("min_chop_mm", _LENGTH, "shortest sheet along the machine direction"),
            _needed("max_chop_mm", _LENGTH, "longest sheet along the machine direction"),
            _needed("max_reel_diameter_mm", _LENGTH, "max. diameter that its stands take",
                    kept=float),
            _needed("core_inside_mm", _LENGTH, "inside diameter of the core that its stands take",
                    kept=float),
            _key("waste_percent", _NUMBER, "sheets lost at start, splice and end, %", 0, 50,
                 field="waste_share", kept=lambda percent: float(_share(percent))),
            _key("unwinds", _WHOLE, "reels unwound together", 1, 50),
            _needed("speed_m_min", _NUMBER, "speed, m/min", 1, 5_000),
            _needed("load_change_min", _NUMBER, "minutes to change a load of reels", 0, 600),
            _key("max_length_difference_m", _WHOLE,
                 "max. difference in length of reels unwound together, m", 0, 1_000),
            _key("max_cuts_per_min", _NUMBER, "max. cuts a minute", 5_000),
        ),
    ),
    MillTable(
        name="jumbo", shape=SectionShape.ONE, needed=True, about="the nominal jumbo",
        keys=(
            _needed("width_mm", _LENGTH, "width of the jumbo, edge trim on it"),
            _key("usable_length_m", _WHOLE, "length without start and end loss", 1, 1_000_000),
            _key("length_m", _WHOLE, "length with start and end loss", 1, 1_000_000),
            _key("diameter_mm", _LENGTH, "diameter of the jumbo", kept=float),
            _key("spool_mm", _LENGTH, "outside diameter of the spool", kept=float),
            _key("mass_t", _NUMBER, "mass of the paper on the spool, t", 1_000,
                 field="mass_kg", kept=lambda tonnes: float(tonnes * 1000)),
            _key("loss_start_m", _WHOLE, "length lost at the start", 0, 100_000, rounds_up=True),
            _key("loss_end_m", _WHOLE, "length lost at the end, next to the spool", 0, 100_000,
                 rounds_up=True),
            _key("max_grammage_difference_percent", _NUMBER,
                 "how far a listed jumbo's grammage may be from that of its orders, %", 0, 10,
                 kept=_as_it_is),
        ),
    ),
    MillTable(
        name="grade", shape=SectionShape.SEVERAL, needed=True, about="a grade that the mill makes",
        keys=(
            _needed("name", _TEXT, "the grade's name, as the order book writes it"),
            _key("caliper_um", _NUMBER, "caliper, µm, whatever the grammage", 10_000),
            _key("bulk_cm3_g", _NUMBER, "bulk, cm³/g", 20),
            _key("density_kg_m3", _NUMBER, "density, kg/m³", 5_000),
            _key("wound_factor", _NUMBER, "wound caliper over measured caliper", 0.5, 2),
            _key("basis_weight", ValueKind.BASIS,
                 "what the pounds of its basis weight are for, where a book does not say"),
        ),
    ),
    MillTable(
        name="values", shape=SectionShape.ONE, needed=False, about="what is worth what",
        keys=(
            _key("under_delivery_penalty", _NUMBER,
                 "kg of loss that weigh as much as a kg below the ordered quantity", 0, 1,
                 field="under", kept=_as_it_is),
            _key("over_delivery_penalty", _NUMBER,
                 "kg of loss that weigh as much as a kg above the ordered quantity", 0, 1,
                 field="over", kept=_as_it_is),
            _key("trim_cost_per_t", _NUMBER, "cost of a tonne of loss", 0, 10**9),
            _key("paper_cost_per_t", _NUMBER, "cost of making a tonne of paper", 0, 10**9),
            _key("broke_worth_per_t", _NUMBER, "worth of a tonne of broke", 0, 10**9),
            _key("set_up", _NUMBER, "cost of a set-up", 0, 10**9),
            _key("knife_move", _NUMBER, "cost of a knife move", 0, 10**9),
            _key("disturbance", _NUMBER,
                 "what each block that a replan changes must be worth", 0, 10**9),
            _key("split_blocks", _FLAG, "whether a pattern may run in two blocks where that pays"),
            _key("currency", _TEXT, "the money's name"),
        ),
    ),
    MillTable(
        name="tolerance", shape=SectionShape.SEVERAL, needed=False,
        about="a step of the mill's tolerance custom",
        keys=(
            _key("grammage_to_gsm", _NUMBER, "heaviest grammage of the step, g/m²", 10_000),
            _key("below_t", _NUMBER, "tonnage that ends the step, t", 1_000_000),
            _needed("under_percent", _NUMBER, "how much may be lacking, %", 0, 100,
                    field="under", kept=_share),
            _needed("over_percent", _NUMBER, "how much may be over, %", 0, 100,
                    field="over", kept=_share),
        ),
    ),
    MillTable(
        name="stock_width", shape=SectionShape.SEVERAL, needed=False,
        about="a width that the mill makes for stock of what would be trim",
        keys=(
            _needed("name", _TEXT, "what stands in place of an order's number"),
            _needed("grade", _TEXT, "a grade of this file"),
            _needed("grammage_gsm", _NUMBER, "grammage, g/m²", 1, 10_000),
            _needed("width_mm", _LENGTH, "width of the reel"),
            _needed("core_mm", _LENGTH, "the core's inside diameter", kept=float),
            _needed("max_diameter_mm", _LENGTH, "largest diameter", kept=float),
            _key("min_diameter_mm", _LENGTH, "smallest diameter", kept=float),
            _needed("max_t", _NUMBER, "the most that one plan makes, t", 1_000_000,
                    field="max_kg", kept=lambda tonnes: tonnes * 1000),
            _needed("value_share", _NUMBER, "worth beside full value: 0.8 is four fifths",
                    Fraction(99, 100), kept=_as_it_is),
            _key("joins_allowed", _WHOLE, "how many joins a reel may have", 0, 100),
        ),
    ),
    MillTable(
        name="units", shape=SectionShape.ONE, needed=False,
        about="the units that plans are written in",
        keys=(
            _key("shown", _TEXT, "units of plans, pages and answers: as the order book has them, "
                 "or always the same", choices=("book", *(one.value for one in UnitSystem))),
            _key("inches", _TEXT, "how inches are written", choices=tuple(INCHES)),
            _key("metric_beside", _FLAG, "whether metric figures stand beside inches and pounds"),
        ),
    ),
    MillTable(
        name="headings", shape=SectionShape.FREE, needed=False,
        about="the headings of the mill's own order export", keys=(),
    ),
    MillTable(
        name="words", shape=SectionShape.FREE, needed=False,
        about="the words in the cells of the mill's own order export", keys=(),
    ),
    MillTable(
        name="export", shape=SectionShape.ONE, needed=False,
        about="how the mill's own order export is written",
        keys=(
            _key("decimal_sign", _TEXT, "the sign before decimals", choices=(",", ".")),
            _key("thousands_sign", _TEXT, "the sign between thousands",
                 choices=(".", ",", "'", " ")),
            _key("date_order", _TEXT, "the order of day, month and year in dates that are texts",
                 choices=("d/m/y", "m/d/y", "y/m/d")),
            _key("size_order", _TEXT, "which dimension of a sheet comes first in one cell",
                 choices=("across x along", "along x across")),
            _key("fill_down", _TEXTS, "columns whose blanks mean the same as the line above"),
        ),
    ),
    MillTable(
        name="ledger", shape=SectionShape.ONE, needed=False, about="where plans are kept",
        keys=(_needed("url", _TEXT, "file or database of the ledger", field="ledger"),),
    ),
)  # fmt: skip
