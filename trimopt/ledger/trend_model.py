"""The trend as it is shown: planned, planned for what was run, and run, side by side.

Plain data and the ratios that follow from it. Masses are kilograms, areas square metres. Trim
losses are ratios of areas, so that sets of any grade weigh by their length and width; total loss is
a ratio of masses, as in a plan's balance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

Row = tuple[str | int | float | date | datetime | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which sets: from a day to a day, both in it, of a grade and a winder; None or empty: all."""

    begins: date | None = None
    ends: date | None = None
    grade: str = ""
    winder: str = ""


@dataclass(frozen=True, slots=True)
class Ratio:
    """A loss with what it is a share of; by its key it is named."""

    key: str
    numerator: float
    denominator: float
    unit: str = "m²"

    @property
    def share(self) -> float | None:
        """The ratio, None where there is nothing to divide by."""
        return self.numerator / self.denominator if self.denominator else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Sums over sets. Used is the sum of the ten masses that follow it."""

    sets: int
    length_m: float
    used_kg: float
    delivered_kg: float
    surplus_kg: float
    edge_trim_kg: float
    pattern_trim_kg: float
    sheeter_kg: float
    butts_kg: float
    start_end_kg: float
    made_for_stock_kg: float
    culled_kg: float
    defects_kg: float
    broke_kg: float  # broke reels, which pattern trim holds
    wound_kg: float
    deckle_kg: float
    wound_m2: float
    deckle_m2: float
    edge_trim_m2: float
    pattern_trim_m2: float
    surplus_m2: float
    set_ups: int
    knife_moves: int
    minutes: float
    minutes_stopped: float

    @property
    def trim_loss(self) -> Ratio:
        """Edge and pattern trim of the full web width."""
        return Ratio("trim_loss", self.edge_trim_m2 + self.pattern_trim_m2, self.wound_m2)

    @property
    def trim_loss_deckle(self) -> Ratio:
        """Pattern trim of the deckle."""
        return Ratio("trim_loss_deckle", self.pattern_trim_m2, self.deckle_m2)

    @property
    def trim_loss_net(self) -> Ratio:
        """Edge and pattern trim of the web that is not surplus."""
        trim_m2 = self.edge_trim_m2 + self.pattern_trim_m2
        return Ratio("trim_loss_net", trim_m2, self.wound_m2 - self.surplus_m2)

    @property
    def total_loss(self) -> Ratio:
        """All that is not delivered within tolerance, of the paper used."""
        return Ratio("total_loss", self.used_kg - self.delivered_kg, self.used_kg, "kg")

    @property
    def ratios(self) -> tuple[Ratio, ...]:
        """All four, each with numerator and denominator."""
        return self.trim_loss, self.trim_loss_deckle, self.trim_loss_net, self.total_loss

    @property
    def set_ups_100_t(self) -> float | None:
        return 1e5 * self.set_ups / self.wound_kg if self.wound_kg else None

    @property
    def knife_moves_100_t(self) -> float | None:
        return 1e5 * self.knife_moves / self.wound_kg if self.wound_kg else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendLine:
    """A period, a grade or a winder: what was planned, and of what was run, planned and run."""

    label: str
    planned: Figures
    planned_of_run: Figures
    run: Figures
    unavoidable_kg: float = 0.0  # lower bound of the loss of what was planned
    planned_missed: bool | None = None  # None: no target, or nothing to judge
    run_missed: bool | None = None

    @property
    def bound_share(self) -> float | None:
        """Lower bound of the planned total loss, of the paper used."""
        return self.unavoidable_kg / self.planned.used_kg if self.planned.used_kg else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """What makes up the loss (used less delivered), kg, from the proven bound to what was run.

    The first four add up to the loss across the width, with `ends_kg` to the planned loss; that
    and `running_kg` are the loss as run, where it is taken over the sets that were run.
    """

    unavoidable_kg: float
    unproven_kg: float
    for_set_ups_kg: float
    valued_kg: float
    ends_kg: float  # butts, jumbo start and end, cut out of it
    planned_loss_kg: float
    used_kg: float
    running_kg: tuple[tuple[str, float], ...] = ()  # lost in running, by part

    @property
    def lost_in_running_kg(self) -> float:
        """Loss as run less the planned loss of the same sets."""
        return sum(kg for _, kg in self.running_kg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """A width or an order, and the pattern trim that it carried."""

    width_mm: float | None
    order: str
    customer: str
    reels: int
    reels_kg: float
    planned_kg: float
    planned_of_run_kg: float
    run_kg: float
    share: float  # of all pattern trim planned
    cumulative: float  # with all that carried more


@dataclass(frozen=True, slots=True, kw_only=True)
class Culled:
    """Reels lost in running for one reason."""

    reason: str
    sets: int
    reels: int
    culled_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSets:
    """On how many of the sets that were run the crew measured what."""

    sets: int
    length: int
    width: int
    jumbo_length: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """All that the report shows."""

    ledger: str
    mills: tuple[str, ...]
    asked: Asked
    first: datetime | None  # the first and the last set that count
    last: datetime | None
    by: str
    target_percent: float | None
    plans: int
    replaced_plans: int
    replaced_sets: int  # sets of replaced plans that count, for they were run
    whole: TrendLine
    lines: tuple[TrendLine, ...]
    months: tuple[TrendLine, ...]
    grades: tuple[TrendLine, ...]
    winders: tuple[TrendLine, ...]
    widths: tuple[Carrier, ...]
    orders: tuple[Carrier, ...]
    culled: tuple[Culled, ...]
    against_planned: Against
    against_run: Against
    measured: MeasuredSets
    row_headings: tuple[str, ...]
    rows: Sequence[Row]
