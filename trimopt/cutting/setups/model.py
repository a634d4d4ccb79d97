"""The trade-off: least loss for each number of patterns, and how a scheduler picks one of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trimopt.cutting.model.cuts import Cut


@dataclass(frozen=True, slots=True, kw_only=True)
class ParetoPoint:
    """The least loss found with so many patterns.

    `loss_bound` is proven: no plan with at most `patterns` patterns loses less (in the unit of
    `loss_of`). `equal` are other plans of the same loss and number of patterns, so that the
    winder can take the one with the fewest knife moves.
    """

    patterns: int
    loss: int
    cuts: tuple[Cut, ...]
    loss_bound: int | None = None
    equal: tuple[tuple[Cut, ...], ...] = ()

    @property
    def proven(self) -> bool:
        """Whether no plan with at most this many patterns loses less."""
        return self.loss_bound is not None and self.loss <= self.loss_bound


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeOff:
    """Points from least loss to fewest patterns: loss rises while patterns fall.

    `patterns_bound` is proven: no plan with the loss of the first point, or less, has fewer
    patterns. `patterns_bound_any` holds at any loss. `work` counts steps of the search and is
    repeatable.
    """

    points: tuple[ParetoPoint, ...]
    patterns_bound: int
    patterns_bound_any: int
    clock_stopped: bool = False
    work: int = 0

    def within(self, patterns: int | None) -> TradeOff:
        """The points of at most so many patterns (None: any), or the last where none has so few."""
        if patterns is None:
            return self
        few = tuple(point for point in self.points if point.patterns <= patterns)
        return replace(self, points=few or self.points[-1:])

    def settled(self, patterns: int) -> bool:
        """Whether no search can find less loss with at most so many patterns."""
        found = next((point for point in self.points if point.patterns <= patterns), None)
        if found is None:
            return not self.points or self.patterns_bound_any > patterns
        return found is self.points[0] or found.proven

    def cheapest(self, loss_price: float, set_up_price: float) -> ParetoPoint:
        """The point of least total price.

        Parameters
        ----------
        loss_price
            Price of one unit of loss (as in `loss_of`).
        set_up_price
            Price of one set-up; the first pattern counts apart and is not priced.
        """
        return min(
            self.points,
            key=lambda point: (
                point.loss * loss_price + (point.patterns - 1) * set_up_price,
                point.loss,
            ),
        )
