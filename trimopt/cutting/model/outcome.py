"""What the engine answers, and the plain re-adding that every answer passes before it leaves.

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

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.loss import demand_loss

__all__ = [
    "Certificate",
    "Cut",
    "Outcome",
    "Pattern",
    "Status",
    "faults_of",
    "loss_of",
    "pattern_faults",
    "patterns_in",
    "yields_of",
]


class Status(Enum):
    """Three different words, and the one between them."""

    OPTIMAL = "optimal"  # the bound meets the plan, over all patterns
    FEASIBLE = "feasible"  # a whole plan with a gap; the limit on work or time came first
    INFEASIBLE = "infeasible"  # proven: no plan
    OUT_OF_TIME = "out of time"  # no whole plan found before the limit


@dataclass(frozen=True, slots=True, order=True)
class Pattern:
    """Which pieces lie across a set: ((option, count), …), options rising, counts above 0."""

    winding_class: int
    pieces: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, order=True)
class Cut:
    """A pattern and how many sets of it."""

    pattern: Pattern
    sets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Integer prices that prove the bound at the root; see the module text."""

    scale: int
    gain_price: tuple[int, ...]
    worth_price: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The engine's answer.

    `bound` is a proven lower bound on the loss over all patterns of the listed classes. It is
    `price_bound`, which the certificate proves, or higher where the search proved more. `blocking`
    names the demand (by position) that makes the instance infeasible, where one does.
    """

    status: Status
    cuts: tuple[Cut, ...]
    loss: int | None
    bound: int
    price_bound: int
    certificate: Certificate | None
    clock_stopped: bool = False
    seconds: float = 0.0
    blocking: tuple[int, ...] = ()
    text: str = ""

    @property
    def gap(self) -> float | None:
        """(loss - bound) / max(1, |loss|); None without a plan."""
        if self.loss is None:
            return None
        return (self.loss - self.bound) / max(1, abs(self.loss))


def _made(instance: Instance, cuts: tuple[Cut, ...]) -> tuple[list[int], list[int], int]:
    made = [0] * len(instance.demands)
    worth = [0] * len(instance.demands)
    cost = 0
    for cut in cuts:
        cost += instance.classes[cut.pattern.winding_class].cost * cut.sets
        for k, count in cut.pattern.pieces:
            option = instance.options[k]
            made[option.demand] += option.gain * count * cut.sets
            worth[option.demand] += option.worth * count * cut.sets
    return made, worth, cost


def loss_of(instance: Instance, cuts: tuple[Cut, ...]) -> int:
    """The loss of a plan, in whole numbers, as `trimopt.cutting.model.instance` defines it."""
    made, worth, cost = _made(instance, cuts)
    loss = SCALE * cost
    for demand, yields, value in zip(instance.demands, made, worth, strict=True):
        loss += demand_loss(demand, yields, value)
    return loss


def faults_of(instance: Instance, cuts: tuple[Cut, ...]) -> tuple[str, ...]:
    """What is wrong with a plan: patterns that do not fit, demands short. Empty: nothing."""
    faults = []
    for cut in cuts:
        faults += [f"{cut}: {fault}" for fault in pattern_faults(instance, cut.pattern)]
        if cut.sets < 1:
            faults.append(f"{cut}: fewer than one set")
    made, _, _ = _made(instance, cuts)
    for i, demand in enumerate(instance.demands):
        if made[i] < demand.low:
            faults.append(f"demand {i}: {made[i]} made, {demand.low} required")
    return tuple(faults)


def pattern_faults(instance: Instance, pattern: Pattern) -> tuple[str, ...]:
    """Why a pattern is not allowed. Empty: it is."""
    faults = []
    limits = instance.classes[pattern.winding_class]
    used = count_all = inside = 0
    held = set()
    for k, count in pattern.pieces:
        option = instance.options[k]
        if option.winding_class != pattern.winding_class:
            faults.append(f"option {k} is of class {option.winding_class}")
        used += option.width * count
        count_all += count
        inside += count if option.no_edge else 0
        held.add(option.demand)
    broke = limits.broke_reels(used)
    if broke is None:
        faults.append(f"width {used} is not allowed in {limits.width}")
    elif count_all + broke > limits.max_pieces:
        faults.append(f"{count_all} pieces and {broke} broke reels, {limits.max_pieces} allowed")
    elif inside and count_all - inside + broke < 2:
        faults.append("a no-edge piece would stand at the edge")
    for a, b in instance.apart:
        if a in held and b in held:
            faults.append(f"demands {a} and {b} share the pattern")
    for a, b in instance.together:
        if (a in held) != (b in held):
            faults.append(f"demands {a} and {b} do not ride together")
    barred = instance.barred
    if barred and (pattern.winding_class, instance.widths_across(pattern.pieces)) in barred:
        faults.append("the pattern is barred")
    return tuple(faults)


def yields_of(instance: Instance, pattern: Pattern) -> dict[int, tuple[int, int]]:
    """Yield and worth that one set of a pattern gives to each demand it holds pieces of."""
    yields: dict[int, tuple[int, int]] = {}
    for k, count in pattern.pieces:
        option = instance.options[k]
        gain, worth = yields.get(option.demand, (0, 0))
        yields[option.demand] = (gain + option.gain * count, worth + option.worth * count)
    return yields


def patterns_in(instance: Instance, cuts: Iterable[Cut]) -> int:
    """Number of different patterns in a plan: one more than the set-ups between them.

    The same widths across are one pattern, whichever orders they are for; sets of two classes are
    where the classes are of one `setting`.
    """
    return len({instance.set_up_for(cut.pattern.winding_class, cut.pattern.pieces) for cut in cuts})
