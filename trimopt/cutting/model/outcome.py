"""What the engine answers: a plan of cuts with a proven bound.

The bound
---------
A `Certificate` is a set of whole-number prices that proves a lower bound on the loss with no
solver. Write g_i = gain_price[i] / scale, w_i = worth_price[i] / scale, and for demand i the
function of its net worth N (worth less what surplus takes back) ::

    F_i(N) = -SCALE · N + under_price · max(0, ordered - N) + over_price · max(0, N - ordered)

Adding and taking away g_i · made_i + w_i · worth_i in the loss gives ::

    loss = Σ sets · (SCALE · cost - Σ pieces (g · gain + w · worth)) + Σ_i (g_i made_i + w_i worth_i
           + F_i(N_i))

The first sum is no less than 0 when every pattern of a class whose widths fit and whose pieces are
not more than the stations (so every one that the class allows) satisfies ::

    SCALE · cost · scale >= Σ pieces (gain_price · gain + worth_price · worth)               (A)

The second is no less than Σ_i floor_i. Let min_r and max_r be the least and the greatest
worth / gain among the demand's options. Without surplus the pair (made, N) lies in
{low <= made <= high, min_r · made <= N <= max_r · made}; the function is linear but for the
kink at N = ordered, so its least value there, floor_i, is found at the corners of that figure
and where the line N = ordered crosses its sides. Surplus (or, where high is None, making more) does
not pay when, for r = min_r and r = max_r, ::

    g_i + w_i · r + (SCALE - over_price_i) · (surplus_worth_i - r) >= 0       (high is given)   (B)
    g_i + w_i · r - (SCALE - over_price_i) · r >= 0                           (high is None)

(over_price_i is 0 here where ordered is not given; a surplus of s moves made and worth along
(1, r) and lowers N by (surplus_worth - r) · s, and the slope of F_i is at most over_price - SCALE,
which is no more than 0; without high, made and N grow along (1, r) and F_i falls by no more than
(SCALE - over_price) · r a unit. Both are linear in r, so the ends of its span suffice.) Without
high the corners and crossings are those at made = low and where N = ordered meets the lines
N = r · made beyond it. A demand without options gets nothing: its floor is F_i(0), whatever its
prices. Prices for which (B) fails prove nothing. bound = ⌈Σ floor_i⌉, in exact fractions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from trimopt.cutting.model.cuts import Cut, Pattern
from trimopt.cutting.model.instance import SCALE, Instance, Option


class Status(Enum):
    """Three different words, and the one between them."""

    OPTIMAL = "optimal"  # the bound meets the plan, over all patterns
    FEASIBLE = "feasible"  # a whole plan with a gap; the limit on work or time came first
    INFEASIBLE = "infeasible"  # proven: no plan
    OUT_OF_TIME = "out of time"  # no whole plan found before the limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Integer prices that prove the bound at the root; see the module text."""

    scale: int
    gain_price: tuple[int, ...]
    worth_price: tuple[int, ...]

    def piece_price(self, option: Option) -> int:
        """What one piece of an option pays for at these prices, in 1/scale of a unit of loss."""
        i = option.demand
        return self.gain_price[i] * option.gain + self.worth_price[i] * option.worth

    def reduced_cost(self, instance: Instance, pattern: Pattern) -> int:
        """What a set of a pattern loses at these prices, in 1/scale of a unit of loss.

        A set costs so much more than its pieces pay for. Where the prices prove a bound, no plan
        whose loss is within D of it holds a pattern whose reduced cost is above D.
        """
        paid = sum(n * self.piece_price(instance.options[k]) for k, n in pattern.pieces)
        return SCALE * instance.classes[pattern.winding_class].cost * self.scale - paid


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The engine's answer.

    `bound` is a proven lower bound on the loss over all patterns of the listed classes. It is
    `price_bound`, which the certificate proves, or higher where the search proved more.
    """

    status: Status
    cuts: tuple[Cut, ...]
    loss: int | None
    bound: int
    price_bound: int
    certificate: Certificate | None
    clock_stopped: bool = False
    seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What is known at a moment of the search."""

    loss: int | None
    bound: int | None
    step: str
    cuts: tuple[Cut, ...] = ()  # the plan of that loss, where it is a whole one


Observer = Callable[[Progress], None]
