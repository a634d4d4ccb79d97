"""Where the paper of a run went, kg: delivered, made for stock, and every cause of loss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Where the run's paper went, kg.

    Used is the sum of `PARTS`. What follows them is a part of one of them, or what a share is
    taken of. Stock used stands beside paper used, and goes to customers but for what a sheeter
    trims off it: neither `used_kg` nor `delivered_kg` and `sheeter_kg` hold any of it.
    """

    CAUSES: ClassVar = (
        "edge_trim_kg", "pattern_trim_kg", "sheeter_kg", "butts_kg", "start_end_kg",
    )  # fmt: skip
    PARTS: ClassVar = (
        "delivered_kg", "made_for_stock_kg", "surplus_kg", *CAUSES, "defects_kg", "culls_kg",
    )  # fmt: skip

    used_kg: float
    delivered_kg: float
    surplus_kg: float
    edge_trim_kg: float
    pattern_trim_kg: float
    sheeter_kg: float
    butts_kg: float
    start_end_kg: float
    broke_kg: float  # broke reels, which pattern trim holds
    wound_kg: float  # area wound at full web width: denominator of trim loss
    deckle_kg: float  # area wound at deckle width: the other denominator
    under_kg: float = 0.0  # delivered below the ordered quantity, inside the tolerance
    over_kg: float = 0.0
    culls_kg: float = 0.0  # reels of sets done that serve no order: spoiled, or since cancelled
    stock_used_kg: float = 0.0  # reels from stock
    stock_sheeter_kg: float = 0.0  # a part of them: trim and waste where sheets are cut of them
    made_for_stock_kg: float = 0.0  # of the mill's stock widths; a part of the paper used
    stock_worth_kg: float = 0.0  # what of it is no loss: each kilogram for its share
    defects_kg: float = 0.0  # cut out from side to side, and reels with a band of them

    @property
    def trim_loss(self) -> float:
        """(edge trim + pattern trim) / area of web wound."""
        return (self.edge_trim_kg + self.pattern_trim_kg) / self.wound_kg if self.wound_kg else 0.0

    @property
    def trim_loss_deckle(self) -> float:
        """Pattern trim / deckle wound."""
        return self.pattern_trim_kg / self.deckle_kg if self.deckle_kg else 0.0

    @property
    def total_loss(self) -> float:
        """All that is not delivered within tolerance / paper used."""
        return (self.used_kg - self.delivered_kg) / self.used_kg if self.used_kg else 0.0
