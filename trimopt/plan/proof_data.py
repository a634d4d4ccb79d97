"""What was proven of a run, what fewer set-ups would cost it, and what its instructions cost."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Instruction


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLength:
    """A winding class that the run's bound was taken over. Core None: mixed cores in a set."""

    core_mm: float | None
    length_m: int
    diameter_mm: float  # on that core; the largest, where cores are mixed
    jumbo_width_mm: Fraction | None = None  # of the jumbos that it is wound from; None: the run's


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How good the patterns are, and what was proven.

    `loss_kg` is the objective of the patterns (design: loss plus the values of kg under and over),
    without butts and jumbo ends. The certificate's prices are in the order of `RunPlan.orders`.
    """

    status: str  # "optimal" or "feasible"
    loss_kg: float
    bound_kg: float
    price_bound_kg: float
    gap_kg: float
    gap_percent: float  # of paper used
    bound_on: str  # words: what the bound is a bound on
    scale: int
    gain_price: tuple[int, ...]
    worth_price: tuple[int, ...]
    width_unit_mm: Fraction
    clock_stopped: bool
    seconds: float
    metres_bound: int | None = None  # joint bound on jumbo metres, both dimensions
    metres_used: int | None = None
    metres_bound_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TradePoint:
    """Least loss found with so many patterns.

    `loss_kg` is the loss across the width before winding, as in `Proof`. The chosen row states the
    run's own figures after winding: the loss with its butts, trim loss and knife moves. The other
    rows were not wound, so theirs are estimates: set lengths as listed, and the share of the butts
    that they would leave, were each jumbo wound to one of them. The search weighs set lengths by
    that, and it rises while patterns fall.
    """

    patterns: int
    loss_kg: float
    loss_bound_kg: float
    chosen: bool
    with_butts_kg: float | None = None
    trim_loss: float | None = None
    knife_moves: int | None = None
    with_butts_estimate_kg: float | None = None
    trim_loss_estimate: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InstructionPrice:
    """What an instruction costs: the loss with it less the loss without it, kg.

    The loss is that across the width with the share of the butts, before winding.
    `found_kg` lies between the losses of the two plans that were found; what it costs at the least
    losses that there are lies between the other two, which the bounds of both prove.
    """

    found_kg: float
    min_kg: float
    max_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InstructionAnswer:
    """What became of an instruction: kept, at a price, or left out for a reason.

    Its price is reckoned against the plan that keeps all the others. `nearest` says what can be had
    in place of an instruction that is left out, and `price` is then its price.
    """

    instruction: Instruction
    kept: bool
    why: str = ""
    nearest: str = ""
    price: InstructionPrice | None = None  # None: not known
