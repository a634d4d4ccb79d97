"""What a mill is: winders, sheeters, jumbo, grades, values. Read by `trimopt.mill.read_mill`.

Widths, diameters and spacings are exact fractions of a millimetre where they enter a cut, floats
where they only enter a formula.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import ClassVar

from trimopt import paper
from trimopt.errors import Fault, MillFileError


@dataclass(frozen=True, slots=True, kw_only=True)
class Core:
    """A core that the mill winds on."""

    inside_mm: float
    wall_mm: float

    @property
    def outside_mm(self) -> float:
        """Inside diameter plus two walls, mm."""
        return self.inside_mm + 2 * self.wall_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Winder:
    """A two-drum or single-drum winder and its slitter.

    On a two-drum winder all reels of a set share one length and one core. A single-drum winder
    winds each reel at a station of its own, alternately front and back: one length a set, cores
    may be mixed, at most `max_reels_per_side` reels on either side.
    """

    name: str = "Winder"
    kind: str = "two-drum"  # or "single-drum"
    max_web_mm: Fraction
    min_edge_trim_mm: Fraction  # each side
    max_edge_trim_mm: Fraction | None = None  # each side; None: no limit
    min_reel_width_mm: Fraction
    max_reel_width_mm: Fraction
    knives: int
    min_knife_spacing_mm: Fraction
    idle_knives: str = "lifted"  # (stays where it is) or "parked" (at an end of the beam)
    max_reels: int
    max_reels_per_side: int | None = None
    min_reel_diameter_mm: float
    max_reel_diameter_mm: float
    cores: tuple[Core, ...]
    max_reel_mass_kg: float | None = None
    max_set_mass_kg: float | None = None
    # Speeds and times may be left out for a first plan: these are typical.
    speed_m_min: float = 1000.0
    acceleration_m_min_s: float = 20.0  # change of speed, m/min in each second
    set_change_min: float = 5.0
    set_up_min: float = 10.0
    knife_move_min: float = 0.5
    jumbo_change_min: float = 6.0
    joins_allowed: bool = False
    min_join_part_m: int = 1  # shortest part of a set on either side of a join
    join_min: float = 3.0  # minutes to cut a defect out and join the web over it
    core_change_is_set_up: bool = False  # even where the widths across stay the same
    length_change_is_set_up: bool = False  # the same; sets then keep the length of their block
    web_shift: bool = True  # the web may be shifted within the side trim
    knives_at_mm: tuple[Fraction, ...] = ()  # where the knives stand now, from the front side
    min_broke_width_mm: Fraction | None = None  # None: as the narrowest reel
    typical: tuple[str, ...] = ()  # speeds and times that the mill file leaves out
    broke_position: str = "edge"  # outside all other reels, or "anywhere"

    TIMES: ClassVar[tuple[str, ...]] = (
        "speed_m_min", "acceleration_m_min_s", "set_change_min", "set_up_min", "knife_move_min",
        "jumbo_change_min",
    )  # fmt: skip

    @property
    def narrowest_broke_mm(self) -> Fraction:
        """Min. width of a broke reel, mm."""
        min_mm = self.min_broke_width_mm
        return self.min_reel_width_mm if min_mm is None else min_mm

    @property
    def stations(self) -> int:
        """Most strips of a set, broke reels among them."""
        stations = min(self.max_reels, self.knives - 1)
        if self.kind == "single-drum" and self.max_reels_per_side is not None:
            stations = min(stations, 2 * self.max_reels_per_side)
        return stations

    def core(self, inside_mm: float) -> Core | None:
        return next((c for c in self.cores if abs(c.inside_mm - inside_mm) < 0.05), None)

    def reel_mm(self, length_m: int, cores_mm: Iterable[float], caliper_um: float) -> float:
        """Diameter of the largest of some reels so long on its cores; 0 where there are none."""
        outside_mm = [core.outside_mm for core in map(self.core, cores_mm) if core is not None]
        return paper.reel_diameter_mm(length_m, max(outside_mm), caliper_um) if outside_mm else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheeter:
    """A sheeter: it unwinds sheeter reels and cuts them along (ups) and across (chop)."""

    name: str
    max_web_mm: Fraction
    max_ups: int
    trim_per_side_mm: Fraction
    min_chop_mm: Fraction
    max_chop_mm: Fraction
    max_reel_diameter_mm: float
    core_inside_mm: float
    waste_share: float = 0.0  # share of the sheets lost at start, splice and end: 0.01 is 1 %
    unwinds: int = 1  # reels unwound together: one load
    speed_m_min: float
    load_change_min: float
    max_length_difference_m: int = 0  # between the reels of a load; the longer ones' rest is waste
    max_cuts_per_min: float | None = None  # None: the speed alone limits

    @property
    def kept(self) -> Fraction:
        """Share of the sheets that is not lost, exact."""
        return 1 - Fraction(str(self.waste_share))

    def sheets(self, length_m: int, chop_mm: Fraction, ups: int) -> int:
        """Sheets of a reel: whole chops of each up, less what is lost, rounded down."""
        return math.floor(paper.sheets_from_length(length_m, chop_mm, ups) * self.kept)


@dataclass(frozen=True, slots=True, kw_only=True)
class Jumbo:
    """The nominal machine reel.

    A mill states it by length, by diameter on a spool, or by mass. Only a stated length holds for
    every paper; the other two give one once grade and grammage are known. Ask `Mill.jumbo_for` (or
    `for_paper`) for the jumbo of a run: what it returns always has its length.
    """

    width_mm: Fraction
    length_m: int = 0  # on the spool, start and end loss within it; 0: follows from what is below
    loss_start_m: int = 0
    loss_end_m: int = 0
    diameter_mm: float | None = None  # with `spool_mm`
    spool_mm: float | None = None  # outside diameter of the spool
    mass_kg: float | None = None  # paper on the spool, start and end loss within it
    max_grammage_difference_percent: Fraction = Fraction(1, 2)  # of a listed jumbo to its orders

    @property
    def usable_m(self) -> int:
        """Length that sets can be wound from, m.

        Raises
        ------
        ValueError
            The jumbo is stated by diameter or mass, so its length depends on the paper.
        """
        if self.length_m <= 0:
            raise ValueError("the jumbo is stated without a length: ask for_paper() for one")
        return self.length_m - self.loss_start_m - self.loss_end_m

    def for_paper(self, grammage_gsm: float, caliper_um: float) -> Jumbo:
        """This jumbo with the length that it has in a paper, whole metres, rounded down.

        Raises
        ------
        MillFileError
            Start and end loss leave nothing of it.
        """
        if self.length_m > 0:
            return self
        if self.diameter_mm is not None and self.spool_mm is not None:
            stated, value = "diameter_mm", f"{self.diameter_mm:g}"
            length_m = paper.reel_length_m(self.diameter_mm, self.spool_mm, caliper_um)
        elif self.mass_kg is not None:
            stated, value = "mass_t", f"{self.mass_kg / 1000:g}"
            length_m = paper.mass_length_m(self.mass_kg, self.width_mm, grammage_gsm)
        else:
            raise ValueError("a jumbo needs a length, a diameter with its spool, or a mass")
        whole_m = math.floor(length_m)
        lost_m = self.loss_start_m + self.loss_end_m
        if whole_m <= lost_m:
            fault = Fault(
                where="[jumbo]",
                column=stated,
                value=value,
                wrong=f"gives {whole_m} m at {grammage_gsm:g} g/m², no more than start and end "
                f"loss ({lost_m} m) take away",
                right="give a larger jumbo or smaller losses",
            )
            raise MillFileError("mill file", (fault,))
        return replace(self, length_m=whole_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """A grade; exactly one of caliper, bulk and density is given."""

    name: str
    caliper_um: float | None = None
    bulk_cm3_g: float | None = None
    density_kg_m3: float | None = None
    wound_factor: float = 1.0  # wound caliper / measured caliper
    basis_weight: paper.Measure | None = None  # what its pounds are for, where the mill states it

    def wound_caliper_um(self, grammage_gsm: float) -> float:
        """Caliper on the reel, µm, at `grammage_gsm` (ISO 534: bulk = caliper / grammage)."""
        if self.caliper_um is not None:
            caliper = self.caliper_um
        elif self.bulk_cm3_g is not None:
            caliper = paper.caliper_from_bulk_um(self.bulk_cm3_g, grammage_gsm)
        else:
            assert self.density_kg_m3 is not None
            caliper = paper.caliper_from_density_um(self.density_kg_m3, grammage_gsm)
        return caliper * self.wound_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class StockWidth:
    """Reels that the mill gladly makes for stock, of what would be trim."""

    name: str  # stands in place of an order's number
    grade: str
    grammage_gsm: float
    width_mm: Fraction
    core_mm: float  # inside diameter
    max_diameter_mm: float
    min_diameter_mm: float | None = None  # None: the mill's diameter tolerance
    max_kg: Fraction  # of one plan
    value_share: Fraction  # worth of a kilogram beside one delivered: above 0, below 1
    joins_allowed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceStep:
    """One step of the mill's custom: orders below `below_t` tonnes, up to `grammage_to_gsm`."""

    grammage_to_gsm: float | None = None  # None: any heavier
    below_t: float | None = None  # None: any larger
    under: Fraction
    over: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """What is worth what. Without money the order is: least loss, then set-ups, then moves."""

    under: Fraction = Fraction(1, 10)  # kg of loss for a kg below the ordered quantity
    over: Fraction = Fraction(1, 10)  # kg of loss for a kg above it, inside the tolerance
    trim_cost_per_t: float | None = None  # money
    paper_cost_per_t: float | None = None  # to make a tonne of paper
    broke_worth_per_t: float | None = None  # of a tonne that goes back to the pulper
    set_up: float | None = None
    knife_move: float | None = None
    disturbance: float | None = None  # of a block that a replan changes; money, or kg without it
    split_blocks: bool = False  # a pattern may run in two blocks where the butt saved pays for it
    currency: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitChoice:
    """In which units plans, pages and answers are written."""

    shown: str = "book"  # as the order book is written; or "metric" or "inch-pound"
    inches: str = "sixteenths"  # one of `trimopt.paper.INCHES`
    metric_beside: bool = False  # metric figures beside inches and pounds

    def written(self, book: paper.UnitSystem) -> paper.Written:
        """How outputs write their figures, for a book that is written in a unit system."""
        system = book if self.shown == "book" else paper.UnitSystem(self.shown)
        return paper.Written(system=system, inches=self.inches, metric_beside=self.metric_beside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Export:
    """How the mill's own order export is written; None where the file does not say."""

    ignored: tuple[str, ...] = ()  # headings that are left out on purpose
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # our word -> the export's
    decimal_sign: str | None = None  # "," or "."
    thousands_sign: str | None = None
    date_order: str | None = None  # "d/m/y", "m/d/y" or "y/m/d"
    size_order: str | None = None  # of a sheet in one cell: "across x along" or the other way
    fill_down: tuple[str, ...] | None = None  # columns whose blanks repeat the line above


@dataclass(frozen=True, slots=True, kw_only=True)
class Mill:
    """Everything the mill file says."""

    name: str
    winders: tuple[Winder, ...]  # one or more, each with its own name
    sheeters: tuple[Sheeter, ...]
    jumbo: Jumbo
    grades: tuple[Grade, ...]
    values: Values
    tolerances: tuple[ToleranceStep, ...]
    stock_widths: tuple[StockWidth, ...] = ()
    units: UnitChoice = field(default_factory=UnitChoice)
    headings: Mapping[str, str] = field(default_factory=dict)  # our column -> the export's heading
    export: Export = field(default_factory=Export)
    width_step_mm: Fraction = Fraction(1)  # step in which sales quotes widths
    trim_target_percent: float | None = None
    max_book_t: float = 20_000.0  # more than the mill can make of one order book
    diameter_tolerance_mm: float = 50.0  # below the max., where a book states no min.
    diameter_tolerance_percent: float | None = None  # in place of the millimetres
    ledger: str | None = None
    source: str = ""  # the file it was read from
    fingerprint: str = ""  # sha256 of that file

    @property
    def winder(self) -> Winder:
        """The winder that is planned.

        Raises
        ------
        MillFileError
            There are several.
        """
        if len(self.winders) == 1:
            return self.winders[0]
        fault = Fault(
            where="[[winder]]",
            wrong=f"stands there {len(self.winders)} times, and one winder is planned at a time",
            right="keep one [[winder]], and a mill file for each of the others",
        )
        raise MillFileError(self.source or "mill file", (fault,))

    def with_jumbos_of(self, width_mm: Fraction) -> Mill:
        if width_mm == self.jumbo.width_mm:
            return self
        return replace(self, jumbo=replace(self.jumbo, width_mm=width_mm))

    @property
    def deckle_mm(self) -> Fraction:
        """Jumbo width less the min. edge trim both sides, no more than the winder takes."""
        inside = self.jumbo.width_mm - 2 * self.winder.min_edge_trim_mm
        return min(inside, self.winder.max_web_mm)

    @property
    def narrowest_web_mm(self) -> Fraction:
        """Jumbo width less the max. edge trim both sides: no set winds less; 0 without limit.

        What reels leave of it is wound as broke reels.
        """
        max_mm = self.winder.max_edge_trim_mm
        if max_mm is None:
            return Fraction(0)
        return max(Fraction(0), self.jumbo.width_mm - 2 * max_mm)

    def min_of_target_mm(self, target_mm: float) -> float:
        """Min. diameter of reels of a target where the book states none, mm."""
        if self.diameter_tolerance_percent is not None:
            return target_mm * (1 - self.diameter_tolerance_percent / 100)
        return target_mm - self.diameter_tolerance_mm

    def diameter_tolerance_text(self, written: paper.Written) -> str:
        percent = self.diameter_tolerance_percent
        width = written.text(paper.Measured.WIDTH, self.diameter_tolerance_mm)
        figure = width if percent is None else f"{percent:g} %"
        return f"the mill's diameter tolerance, {figure} below the max.,"

    def jumbo_for(self, grade: Grade, grammage_gsm: float) -> Jumbo:
        """The nominal jumbo of a grade and grammage, with its length.

        Raises
        ------
        MillFileError
            Start and end loss leave nothing of it.
        """
        try:
            return self.jumbo.for_paper(grammage_gsm, grade.wound_caliper_um(grammage_gsm))
        except MillFileError as error:
            raise MillFileError(self.source or error.source, error.faults) from None

    def for_paper(self, grade: Grade, grammage_gsm: float) -> Mill:
        """This mill as a run of one grade and grammage sees it: its jumbo has a length.

        Raises
        ------
        MillFileError
            Start and end loss leave nothing of the jumbo.
        """
        return replace(self, jumbo=self.jumbo_for(grade, grammage_gsm))

    def sheeter(self, name: str) -> Sheeter | None:
        return next((each for each in self.sheeters if each.name == name), None)

    def grade(self, name: str) -> Grade | None:
        """The grade of that name, forgiving case and outer spaces."""
        wanted = name.strip().casefold()
        return next((g for g in self.grades if g.name.strip().casefold() == wanted), None)
