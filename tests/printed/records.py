"""What every output prints of a plan, in one form, so that outputs can be compared."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class ReelSaid:
    """A reel of a list of reels."""

    identity: str
    run: str
    jumbo: str
    set_number: int
    place: int
    order: str
    customer: str
    destination: str
    use: str  # "customer", "stock", a sheeter's name
    width_mm: Fraction
    core_mm: float | None
    length_m: int
    diameter_mm: float
    mass_kg: float
    joins: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StripSaid:
    """Strips of a block that are alike."""

    count: int
    width_mm: Fraction
    order: str
    customer: str
    use: str
    core_mm: float | None = None  # where a block mixes cores
    diameter_mm: tuple[float, float] | None = None
    places: tuple[int, ...] = ()
    max_kg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSaid:
    """A block of the running order. None: this output does not say."""

    number: int
    sets: tuple[int, int]  # first and last
    count: int
    length_m: tuple[int, int]  # shortest and longest set
    cores_mm: tuple[float, ...]
    diameter_mm: tuple[float, float]
    strips: tuple[StripSaid, ...]
    edges_mm: tuple[Fraction, Fraction] | None = None
    knives_mm: tuple[Fraction, ...] | None = None
    moved: tuple[bool, ...] | None = None
    moves: int | None = None
    set_up: str = ""
    mark: str | None = None  # how it stands beside the sheet that the crew hold
    metres: tuple[tuple[int, str], ...] | None = None  # set, "jumbo from–to m + …"
    cut_out: tuple[tuple[int, int], ...] | None = None  # set, metres taken off before or in it


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeSaid:
    """A row of the trade-off; kg as printed."""

    patterns: int
    with_butts_kg: float
    trim_percent: float
    moves: int | None
    figures: str  # whether they are the plan's own
    loss_kg: float | None = None
    bound_kg: float | None = None


@dataclass(slots=True, kw_only=True)
class RunSaid:
    """What an output says of a run; figures by name, as far as it has them."""

    name: str
    figures: dict[str, float] = field(default_factory=dict)
    blocks: list[BlockSaid] = field(default_factory=list)
    trade_off: list[TradeSaid] = field(default_factory=list)
    orders: dict[str, dict[str, Any]] = field(default_factory=dict)
    jumbos: list[dict[str, Any]] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class Output:
    """One output of a plan."""

    name: str  # workbook, page, labels, terminal
    number: str = ""
    heading: str = ""  # what needs attention, in a line
    calls: list[tuple[str, str, str]] = field(default_factory=list)  # order, state, why
    runs: dict[str, RunSaid] = field(default_factory=dict)
    unused: list[str] = field(default_factory=list)  # a line for each listed jumbo not used
    reels: list[ReelSaid] = field(default_factory=list)
    loads: dict[str, list[dict[str, Any]]] = field(default_factory=dict)  # by sheeter
