"""The Plan: all that is printed, exported, verified and kept. Plain data, nothing computed here.

It is written to JSON field by field (`trimopt.plan.codec`), so a name here is a name there. Widths
are millimetres, lengths metres, masses kilograms, shares of one unless the name says percent.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from fractions import Fraction
from itertools import accumulate
from typing import ClassVar

from trimopt.book.model import (
    Defect,
    Instruction,
    LeftOut,
    Order,
    StockReel,
    Stretch,
    TakenUp,
    Unit,
)
from trimopt.mill.model import Core
from trimopt.paper import Written
from trimopt.plan import proof_data
from trimopt.plan.mass_balance import Balance
from trimopt.plan.sheeter_load import Load
from trimopt.plan.states import OrderState
from trimopt.plan.way_out import RunWaysOut

SCHEMA = 5  # 1: an effort was a number, all metric; 2: no revisions; 3: no replanning; 4: no stock
# for sheets

CAUTION = (
    "Planning document. The machine builder's manual, site rules and local law prevail. It "
    "authorises no adjustment. Only trained people work at winder nips, knives and heavy reels. "
    "Check every reel's mass against the lifting limits."
)


class Effort(StrEnum):
    """How hard to look. It sets work, not seconds, so that the same plan comes again."""

    QUICK = "quick"
    NORMAL = "normal"
    THOROUGH = "thorough"

    @property
    def times(self) -> float:
        """Work as a multiple of that of a normal search."""
        return {Effort.QUICK: 0.25, Effort.NORMAL: 1.0, Effort.THOROUGH: 4.0}[self]

    @classmethod
    def _missing_(cls, value: object) -> Effort | None:
        """What plans of schema 1 say: a multiple of the work, from 1 on."""
        if type(value) is not int:
            return None
        return cls.NORMAL if value == 1 else cls.THOROUGH


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file that the plan was made from."""

    name: str
    fingerprint: str  # sha256


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a person asks of a plan. The shift ends at `until`, after `hours`, or as the book says.

    `instructions` stand beside those of the book: a cap on set-ups for every run is one of them.
    """

    seed: int = 0
    effort: Effort = Effort.NORMAL  # how hard to look
    time_limit_s: float | None = None
    give_up_kg: float | None = None  # paper given for each set-up saved
    start: datetime | None = None  # None: 06:00 on the day the book carries
    until: datetime | None = None
    hours: float | None = None
    instructions: tuple[Instruction, ...] = ()
    leave_out_faulty: bool = False  # plan a book with faults, without the lines that have them
    held: tuple[Order, ...] = ()  # enquiries that sales has offered, in force when it was asked
    ways_out: bool = False  # what would help each run that is above the mill's target


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What holds for a plan, of the mill and the request (`settings_of`)."""

    seed: int = 0
    time_limit_s: float | None = None
    effort: Effort = Effort.NORMAL
    under: Fraction = Fraction(1, 10)  # kg of loss for a kg below the ordered quantity
    over: Fraction = Fraction(1, 10)
    trim_cost_per_t: float | None = None
    set_up: float | None = None
    knife_move: float | None = None
    currency: str = ""
    split_blocks: bool = False  # where the butts saved are worth more than the set-up
    core_change_is_set_up: bool = False  # with the widths across as they were
    length_change_is_set_up: bool = False
    give_up_kg: float | None = None
    start: datetime | None = None  # when the first set may begin
    until: datetime | None = None  # when the shift ends; None: when the last order is made

    @property
    def priced(self) -> bool:
        """Whether paper and set-ups are weighed in money."""
        return self.trim_cost_per_t is not None and self.set_up is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """A strip in a block, counted from the front side, 1 first."""

    number: int
    kind: str  # "reel" for a customer, "sheeter" for the sheeter, "broke"
    order: str  # empty for a broke reel
    width_mm: Fraction
    core_mm: float | None
    ups: int | None = None  # sheeter reels
    sheeter: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRow:
    """One set. `number` counts through the run's running order from 1."""

    number: int
    winder: str
    length_m: int
    diameter_mm: float  # of its largest reel; where cores are mixed others are smaller
    stretches: tuple[Stretch, ...]
    start: datetime | None = None
    finish: datetime | None = None
    done: bool = False  # run before the plan was replanned: it stands as it ran
    # Positions whose reels serve no order: of a set done spoiled or since cancelled, else with a
    # defect of the jumbo in them.
    spoiled: tuple[int, ...] = ()
    seconds: tuple[int, ...] = ()  # positions whose reels have one and are delivered all the same
    issued: str = ""  # the plan whose labels and crew's sheet it stands on, where not this one

    @property
    def jumbos(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(part.jumbo for part in self.stretches))

    @property
    def minutes(self) -> float | None:
        """How long it takes, where the plan has times."""
        if self.start is None or self.finish is None:
            return None
        return (self.finish - self.start).total_seconds() / 60

    @property
    def joins_at_m(self) -> tuple[int, ...]:
        """Metres of the set that are wound before each of its joins."""
        return tuple(accumulate(part.to_m - part.from_m for part in self.stretches[:-1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Consecutive sets of one pattern with one layout."""

    number: int  # in running order, from 1
    core_mm: float | None
    length_m: int  # nominal; a set's own length stands in its row
    diameter_mm: float  # of the largest reel of that length
    positions: tuple[Position, ...]
    edge_front_mm: Fraction
    edge_back_mm: Fraction
    knives_mm: tuple[Fraction, ...]
    knives_moved: tuple[bool, ...]
    knife_moves: int
    set_up: bool
    sets: tuple[SetRow, ...]
    beam_mm: tuple[Fraction | None, ...] = ()  # every knife, idle too; None: at its end
    jumbo_width_mm: Fraction | None = None  # of the jumbos that it is wound from; None: the run's
    deckle_mm: Fraction | None = None  # of these

    @property
    def reels(self) -> tuple[Position, ...]:
        """Its strips for customers and sheeters: all but broke reels."""
        return tuple(position for position in self.positions if position.kind != "broke")

    @property
    def reels_mm(self) -> Fraction:
        return sum((position.width_mm for position in self.reels), Fraction(0))

    @property
    def across_mm(self) -> Fraction:
        """Width of all strips between the outer knives."""
        return sum((position.width_mm for position in self.positions), Fraction(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class JumboUse:
    """A jumbo of the plan: losses at its ends, wound, butt, cut out and carried forward."""

    name: str
    winder: str
    nominal: bool
    width_mm: Fraction
    length_m: int
    loss_start_m: int
    loss_end_m: int  # 0 while a remainder is carried forward
    wound_m: int
    butt_m: int
    carried_forward_m: int  # with the end loss still on it
    defect_m: int = 0  # cut out from side to side
    defects: tuple[Defect, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """What an order asked and what the plan gives. Quantities are in `unit`."""

    FORMER_NAMES: ClassVar = {"least": "min_quantity", "most": "max_quantity"}  # up to schema 3

    number: str
    customer: str
    product: str  # "reel" or "sheet"
    width_mm: Fraction
    chop_mm: Fraction | None
    unit: str
    asked: Fraction
    made_before: Fraction  # without what is in stock
    min_quantity: Fraction  # still to be made
    max_quantity: Fraction
    planned: Fraction  # made by this plan, surplus in it
    ordered_kg: float  # still to be made, reels at their target diameter
    planned_kg: float
    delivered_kg: float  # within tolerance
    surplus_kg: float
    due: datetime | None
    finished: datetime | None  # wound; of sheets cut, where the plan has the sheeters' loads
    last_set: int | None
    state: OrderState  # the most pressing that holds
    text: str  # why, of its amount: with the counts below and above where sales must decide
    also: tuple[OrderState, ...] = ()  # what holds beside its state
    lacking: Fraction = Fraction(0)  # below the ordered quantity, where short or carried over
    lacking_kg: float = 0.0  # of it, at the target diameter
    destination: str = ""
    packing: str = ""
    winding_side: str = ""
    remarks: str = ""
    sheets_a_ream: int | None = None
    as_written: tuple[tuple[str, str], ...] = ()
    held_until: date | None = None  # a held enquiry, and no order yet
    stock: tuple[StockReel, ...] = ()  # reels from stock that serve it, before any is made
    stock_share: Fraction | None = None  # a stock width of the mill file, no order: its value

    @property
    def for_stock_kg(self) -> float:
        """Made for stock, of a stock width, kg; surplus is none of it."""
        return self.planned_kg - self.surplus_kg if self.stock_share is not None else 0.0

    @property
    def allowed(self) -> tuple[Fraction, Fraction]:
        """What is still to be made, at least and at most: whole reels or sheets, where one does."""
        low, high = self.min_quantity, self.max_quantity
        if self.unit in (Unit.REELS.value, Unit.SHEETS.value):
            whole = Fraction(math.ceil(low)), Fraction(math.floor(high))
            return whole if whole[0] <= whole[1] else (low, high)
        return low, high

    @property
    def from_stock(self) -> Fraction:
        """What the reels from stock give, in `unit`."""
        return sum((reel.quantity(Unit(self.unit)) for reel in self.stock), Fraction(0))

    @property
    def to_make(self) -> Fraction:
        """Ordered, less what is made already and what comes from stock."""
        return self.asked - self.made_before - self.from_stock

    @property
    def states(self) -> tuple[OrderState, ...]:
        """All that hold, the most pressing first."""
        return (self.state, *self.also)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPlan:
    """The plan of one run: one grade and grammage on one winder."""

    name: str
    winder: str
    grade: str
    grammage_gsm: float
    wound_caliper_um: float
    cores: tuple[Core, ...]  # of the winder: with the caliper, a reel's diameter follows
    jumbo_width_mm: Fraction
    deckle_mm: Fraction
    set_lengths: tuple[proof_data.SetLength, ...]
    proof: proof_data.Proof
    blocks: tuple[Block, ...]
    jumbos: tuple[JumboUse, ...]
    orders: tuple[OrderLine, ...]
    balance: Balance
    set_ups: int  # the first counts apart
    set_ups_bound: int | None
    knife_moves: int
    knife_moves_bound: int | None
    minutes: float
    start: datetime | None = None
    finish: datetime | None = None
    trade_off: tuple[proof_data.TradePoint, ...] = ()
    instructions: tuple[proof_data.InstructionAnswer, ...] = ()
    instructions_price: proof_data.InstructionPrice | None = (
        None  # of all that are kept, against the plan without any
    )
    notes: tuple[str, ...] = ()

    @property
    def sets(self) -> tuple[SetRow, ...]:
        """Its sets in running order."""
        return tuple(row for _, row in self.sets_in_blocks)

    @property
    def sets_in_blocks(self) -> tuple[tuple[Block, SetRow], ...]:
        """The same, each behind its block."""
        return tuple((block, row) for block in self.blocks for row in block.sets)

    def web_mm(self, block: Block) -> Fraction:
        """Width of the jumbos that a block is wound from."""
        return block.jumbo_width_mm or self.jumbo_width_mm

    def deckle_of(self, block: Block) -> Fraction:
        """The deckle of these jumbos."""
        return block.deckle_mm or self.deckle_mm

    @property
    def weight(self) -> str:
        """Its grammage, or its basis weight, as it is read: what its name says after the grade."""
        return self.name.removeprefix(self.grade).strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class UnusedJumbo:
    """A listed jumbo that no run takes, and why."""

    name: str
    grade: str
    grammage_gsm: float
    width_mm: Fraction
    length_m: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """Where a plan goes on from another that was run in part (`SetRow.done`)."""

    now: datetime  # no set that is not done starts before
    keep_until: datetime  # sets that start before it stand as they were issued
    paid_for_keeping: float = 0.0  # against the cheapest rest found; money, or kg without prices
    gained_by_changing: float = 0.0  # against keeping every block
    blocks_changed: int = 0  # of those issued and not run
    cut_short: bool = False  # the time limit ended the search


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One issued plan."""

    schema: int
    number: str
    replaces: str
    made_at: datetime
    made_with: str  # version
    mill_name: str
    winder: str
    book: Source
    mill: Source
    as_of: date
    request: Request
    settings: Settings
    runs: tuple[RunPlan, ...]
    instructions_from: Source | None = None  # where instructions stand in a file of their own
    left_out: tuple[LeftOut, ...] = ()
    taken_up: tuple[TakenUp, ...] = ()  # held enquiries that have become orders of the book
    unused_jumbos: tuple[UnusedJumbo, ...] = ()
    ways_out: tuple[RunWaysOut, ...] = ()  # where they were asked for, of runs above the target
    loads: tuple[Load, ...] = ()  # sheeter by sheeter, in the order in which it takes them
    notes: tuple[str, ...] = ()  # warnings and what was assumed
    approved_by: str = ""
    revised_by: str = ""  # who revised the plan that it replaces, or had its rest planned; and why
    revised_why: str = ""
    replanned: Replanned | None = None
    written: Written = field(
        default_factory=Written
    )  # the units that its outputs are read in; here all is metric
    caution: str = CAUTION

    @property
    def order_numbers(self) -> frozenset[str]:
        """Of all orders that its runs have lines of, stock widths among them."""
        return frozenset(line.number for run in self.runs for line in run.orders)

    def new_lines(self, orders: Iterable[Order]) -> int:
        """How many of these orders no run of it has."""
        return len({order.number for order in orders} - self.order_numbers)

    @property
    def stock_used(self) -> tuple[tuple[str, str, StockReel], ...]:
        """Order, customer and reel of all that comes from stock, orders left out among them."""
        of_orders = [(line.number, line.customer, reel) for run in self.runs
                     for line in run.orders for reel in line.stock]  # fmt: skip
        left_out = [(each.order, "", reel) for each in self.left_out for reel in each.stock]
        return (*of_orders, *left_out)
