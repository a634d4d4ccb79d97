"""What `making` gives: a run, and what may be cut for it."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from trimopt.book.model import Order
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.making.required_ranges import tolerated
from trimopt.paper import Written


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The orders of one grade and grammage that are made together on one winder."""

    name: str
    grade: str
    grammage_gsm: float
    orders: tuple[Order, ...]
    written: Written = field(default_factory=Written)  # the units in which it is spoken of
    odd_widths_mm: tuple[Fraction, ...] = ()  # of jumbos of other widths that it is cut from too
    listed_jumbos: frozenset[str] = frozenset()  # of every paper: no nominal one is named so

    @property
    def ordered(self) -> tuple[Order, ...]:
        """Its orders without the stock widths among them."""
        return tuple(order for order in self.orders if order.stock_share is None)

    @property
    def must_be_made(self) -> bool:
        """Whether there is less of an order than may be delivered."""
        return any(tolerated(order)[0] > order.there for order in self.orders)


@dataclass(frozen=True, slots=True, kw_only=True)
class WindingLength:
    """A winding class: core (None: mixed cores in a set), set length, and the widest set of it."""

    core_mm: float | None
    length_m: int
    max_web_mm: Fraction  # broke reels in it: the deckle, or what the max. set mass allows
    jumbo_width_mm: Fraction | None = None  # None: the run's


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOption:
    """One way to make a piece of an order, in step with the instance's options.

    `min_m` and `max_m` are the lengths that the reel may have. `area` is the paper it
    delivers, in the run's area unit (`PreparedRun.unit_mm` times one metre).
    """

    order: Order
    winding_class: int
    core_mm: float
    min_m: int
    max_m: int
    width_mm: Fraction
    ups: int | None
    sheeter: str
    gain: int
    area: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SalesNote:
    """An order that no whole number of reels can meet: counts below and above, and their kg."""

    order: str
    below: Fraction | None  # in the order's unit
    below_kg: float | None
    above: Fraction | None
    above_kg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedRun:
    """A run made ready for the engine. Demands are in step with `run.orders`."""

    run: Run
    wound_caliper_um: float
    unit_mm: Fraction  # area unit = unit_mm x 1 m; every width is a whole multiple
    width_unit_mm: Fraction  # the engine's width unit, no finer than unit_mm
    classes: tuple[WindingLength, ...]
    options: tuple[CutOption, ...]
    instance: Instance
    needs_sales: tuple[SalesNote, ...]
    stopped: tuple[tuple[Order, str], ...]  # orders that cannot be made, and the limit

    def kg(self, area: Fraction | int) -> float:
        """Mass of so many area units, kg."""
        return float(area * self.kg_per_unit)

    def loss_kg(self, loss: int) -> float:
        """A loss of the engine, in 1/SCALE area units, in kilograms."""
        return self.kg(Fraction(loss, SCALE))

    def loss_units(self, mass_kg: float) -> int:
        """Kilograms as a loss of the engine, rounded."""
        return round(Fraction(mass_kg) * SCALE / self.kg_per_unit)

    @property
    def kg_per_unit(self) -> Fraction:
        """Mass of an area unit, kg, exact."""
        return self.unit_mm * Fraction(str(self.run.grammage_gsm)) / 1_000_000
