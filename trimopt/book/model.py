"""What an order book holds. Read and checked by `trimopt.book.read_book`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum
from fractions import Fraction
from typing import Protocol

from trimopt.errors import Fault, OrderBookError
from trimopt.mill.model import Grade
from trimopt.paper import UnitSystem, Written


class OfPaper(Protocol):
    """What is of a grade and a grammage: an order, a run, a run day."""

    @property
    def grade(self) -> str: ...
    @property
    def grammage_gsm(self) -> float: ...


def grade_key(grade: str) -> str:
    """A grade as grades are compared."""
    return grade.strip().casefold()


def paper_key(of: OfPaper) -> tuple[str, float]:
    """The paper that something is of, as papers are compared."""
    return grade_key(of.grade), of.grammage_gsm


def in_inches(as_written: str) -> bool:
    """Whether a width as written (`Order.as_written`) was in inches or feet."""
    return as_written.endswith((" in", " ft"))


class Product(Enum):
    """What the customer gets."""

    REEL = "reel"
    SHEET = "sheet"


class Unit(Enum):
    """Unit of an ordered quantity. Reams are turned into sheets, tonnes into kg when read."""

    REELS = "reels"
    KG = "kg"
    METRES = "m"
    SHEETS = "sheets"


@dataclass(frozen=True, slots=True, kw_only=True)
class AtSheeter:
    """How a reel from stock is cut into sheets, whole: trim and waste are what is left of it."""

    sheeter: str
    ups: int
    sheets: int
    mass_kg: Fraction  # of the sheets, exact


@dataclass(frozen=True, slots=True, kw_only=True)
class StockReel:
    """A reel that lies in stock, listed in the book's stock sheet.

    The sheet states one of length, mass and diameter; what it does not state follows from paper
    and core.
    """

    name: str
    grade: str  # as the mill file spells it
    grammage_gsm: float
    width_mm: Fraction
    diameter_mm: float
    length_m: int
    core_mm: float  # inside diameter
    place: str = ""
    made_on: date | None = None
    joins: int = 0
    reserved_for: str = ""  # an order or a customer; empty: for anybody
    at_sheeter: AtSheeter | None = None  # where it was picked for an order of sheets

    @property
    def mass_kg(self) -> Fraction:
        """Mass of its paper, kg, exact."""
        return self.width_mm * self.length_m * Fraction(str(self.grammage_gsm)) / 1_000_000

    @property
    def given_kg(self) -> Fraction:
        """Mass that it gives to the order it was picked for, kg, exact."""
        return self.mass_kg if self.at_sheeter is None else self.at_sheeter.mass_kg

    def quantity(self, unit: Unit) -> Fraction:
        """What it gives to the order it was picked for, in the order's unit."""
        if unit is Unit.KG:
            return self.given_kg
        if self.at_sheeter is not None:
            return Fraction(self.at_sheeter.sheets)
        return Fraction(self.length_m if unit is Unit.METRES else 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One order line, metric, with its widths exact.

    `quantity` and `made` are in `unit`. `under` and `over` are shares (0.05 is 5 %) of `quantity`.
    `as_written` keeps cells whose figure was converted, by the column's key ("width", "chop",
    "grammage", "quantity" …), as the book showed them: ("width", "29 1/2 in").
    """

    number: str
    customer: str
    grade: str  # as the mill file spells it
    grammage_gsm: float
    product: Product
    width_mm: Fraction  # across the web: reel width, or the sheet's dimension across
    chop_mm: Fraction | None  # sheets: dimension along the machine direction
    min_diameter_mm: float | None  # None: free
    max_diameter_mm: float | None
    core_mm: float | None  # inside diameter; None: free
    quantity: Fraction
    unit: Unit
    under: Fraction
    over: Fraction
    made: Fraction = Fraction(0)
    due: datetime | None = None
    priority: int | None = None  # 1 is the most urgent
    no_edge: bool = False
    takes_seconds: bool = False  # a reel with a band of defects is delivered
    next_run: bool = False  # for the next run of its paper: `Book.next_run` has it
    max_reel_mass_kg: float | None = None
    joins_allowed: int = 0
    winding_side: str = ""
    packing: str = ""
    destination: str = ""
    remarks: str = ""
    sheets_a_ream: int | None = None
    in_reams: bool = False  # ordered in them: deliveries end on a whole ream
    row: int = 0  # in the book's sheet, as the spreadsheet program numbers it
    as_written: tuple[tuple[str, str], ...] = ()
    tolerance_by_custom: bool = False  # the book left it blank: the mill's custom by tonnage
    diameter_by_custom: bool = False  # the same of the min. diameter: the mill's tolerance
    held_as: str = ""  # the held enquiry that it takes the place of
    held_until: date | None = None  # of a held enquiry, which is no order yet; that day in it
    stock: tuple[StockReel, ...] = ()  # reels of the stock sheet that were picked for it
    stock_share: Fraction | None = None  # a stock width of the mill file, no order: its value

    @property
    def from_stock(self) -> Fraction:
        """What the reels picked from stock give, in `unit`."""
        return sum((reel.quantity(self.unit) for reel in self.stock), Fraction(0))

    @property
    def there(self) -> Fraction:
        """What is made already or lies in stock for it, in `unit`: it need not be made."""
        return self.made + self.from_stock


def unit_system_of(orders: Iterable[Order]) -> UnitSystem:
    """The units that orders are written in: inches and pounds where most widths are so."""
    widths = [dict(order.as_written).get("width", "") for order in orders]
    system = UnitSystem.INCH_POUND
    return system if 2 * sum(map(in_inches, widths)) > len(widths) else UnitSystem.METRIC


_INCH_POUND = Written(system=UnitSystem.INCH_POUND)


def paper_weight(
    grammage_gsm: float, orders: Iterable[Order], grade: Grade | None, written: Written
) -> str:
    """A grammage with its unit: in an output in pounds the basis weight that the orders were
    written with, else that of the grade.
    """
    if written.metric:
        return f"{grammage_gsm:g} g/m²"
    said = {dict(order.as_written).get("grammage", "") for order in orders} - {""}
    if len(said) == 1:
        return said.pop()
    return written.grammage(grammage_gsm, None if grade is None else grade.basis_weight)


def run_names(grammage_gsm: float, orders: Iterable[Order], grade: Grade) -> tuple[str, ...]:
    """All that a run of some orders may be called, in either system."""
    weights = (paper_weight(grammage_gsm, orders, grade, each) for each in (Written(), _INCH_POUND))
    return tuple(f"{grade.name} {weight}" for weight in weights)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Part of a jumbo, metres from where its usable length begins."""

    jumbo: str
    from_m: int
    to_m: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """A part of a jumbo that must not reach a customer.

    Metres are counted from the outside of the jumbo, where it is unwound first and was made last,
    start loss in them; millimetres from the front side. From side to side it is cut out.
    """

    from_m: int
    to_m: int
    from_mm: Fraction
    to_mm: Fraction
    what: str

    def side_to_side(self, width_mm: Fraction) -> bool:
        """Whether it takes all of a jumbo of that width."""
        return self.from_mm <= 0 and self.to_mm >= width_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class JumboInStock:
    """A jumbo that the machine made, listed in the book's jumbo sheet."""

    name: str
    grade: str
    grammage_gsm: float
    width_mm: Fraction
    length_m: int  # wound on it now (what is left, when started), losses within it
    loss_start_m: int
    loss_end_m: int
    defects: tuple[Defect, ...] = ()  # in the order in which they are unwound

    @property
    def usable_m(self) -> int:
        """Length that sets can be wound from, m."""
        return self.length_m - self.loss_start_m - self.loss_end_m


@dataclass(frozen=True, slots=True, kw_only=True)
class InstructionPiece:
    """Some reels of a pattern: for an order, or, where a width is forbidden, for whichever."""

    count: int
    order: str = ""
    ups: int | None = None  # sheeter reels
    sheeter: str = ""
    width_mm: Fraction | None = None  # in place of the order


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruction:
    """What the scheduler asks of the plan, one row of the instruction sheet.

    `what` is one of

    - ``pin``: `number` sets of `pattern`, each `length_m` long (None: of any length), on `core_mm`
      (None: a core that its orders share); pins of one pattern add up;
    - ``forbid``: no set with the widths of `pattern`, for whichever orders, at any set length;
    - ``together``: a set that holds one of `orders` holds all of them;
    - ``apart``: no set holds two of `orders`;
    - ``set-ups``: at most `number` in the run, the first apart.

    Grade and grammage name the run; where they are blank it is every run. Row 0 is none: asked by
    `trimopt.plan.model.Request`.
    """

    row: int = 0
    what: str
    grade: str = ""
    grammage_gsm: float | None = None
    orders: tuple[str, ...] = ()
    pattern: tuple[InstructionPiece, ...] = ()
    core_mm: float | None = None
    length_m: int | None = None
    number: int | None = None

    @property
    def name(self) -> str:
        """What it is called where it is answered or found fault with."""
        return f"instruction in row {self.row}" if self.row else "instruction of the request"

    @property
    def named(self) -> frozenset[str]:
        return frozenset((*self.orders, *(p.order for p in self.pattern if p.order)))

    def concerns(self, grade: str, grammage_gsm: float) -> bool:
        """Whether it is for this run."""
        if self.grammage_gsm is None:
            return True
        return (grade_key(self.grade), self.grammage_gsm) == (grade_key(grade), grammage_gsm)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunDay:
    """When the winder runs a paper, as the book's sheet Run days says."""

    grade: str
    grammage_gsm: float
    begins: datetime
    ends: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenUp:
    """A held enquiry that has become an order, by their numbers."""

    held: str
    order: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A line of the book, or an order, that is not in the plan, and why."""

    order: str
    why: str
    stock: tuple[StockReel, ...] = ()  # reels that were picked from stock for it all the same


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """The valid lines of an order book, with what was left out and why."""

    source: str
    fingerprint: str  # sha256 of the file
    as_of: date
    orders: tuple[Order, ...]
    jumbos: tuple[JumboInStock, ...] = ()
    stock: tuple[StockReel, ...] = ()
    only_listed_jumbos: bool = False
    jumbos_in_order: bool = False  # opened as listed: one passed over is not come back to
    shift_ends: datetime | None = None
    run_days: tuple[RunDay, ...] = ()
    instructions: tuple[Instruction, ...] = ()
    instructions_source: str = ""  # the file that they stand in, where it is not the book itself
    instructions_fingerprint: str = ""
    faults: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()
    left_out: tuple[LeftOut, ...] = ()  # lines, jumbos and instructions
    next_run: tuple[Order, ...] = ()  # lines left out of this one
    faulty_jumbos: frozenset[str] = frozenset()  # names of listed jumbos that are left out

    @property
    def unit_system(self) -> UnitSystem:
        return unit_system_of(self.orders)

    @property
    def jumbo_names(self) -> frozenset[str]:
        """Of all listed jumbos, those left out too: no nominal one is named so."""
        return self.faulty_jumbos.union(jumbo.name for jumbo in self.jumbos)

    @property
    def papers(self) -> frozenset[tuple[str, float]]:
        """The papers that are ordered, as `paper_key` compares them: each is a run."""
        return frozenset(map(paper_key, self.orders))

    def require_clean(self, *, leave_out_faulty: bool = False) -> Book:
        """This book, when nothing in it is at fault, or orders are left without what is.

        Raises
        ------
        OrderBookError
            With every fault of the book.
        """
        if self.faults and not (leave_out_faulty and self.orders):
            raise OrderBookError(self.source, self.faults)
        return self
