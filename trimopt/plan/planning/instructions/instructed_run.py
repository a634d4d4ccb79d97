"""Instructions of the scheduler: rules of the search; each is priced and answered.

They are taken in the order of their rows. One that cannot be kept beside those before it is left
out and named, with what is nearest to it. Pins, forbidden patterns and orders that ride together or
apart are rules of the search; the most set-ups choose a point of the trade-off.

A price is the loss of the plan with an instruction less that of the plan without it. Both plans are
found, and each has a bound, so the price at the least losses that there are lies between (bound
with − loss without) and (loss with − bound without). A plan that keeps instructions is a plan, so
no price is below nothing, and the bound of the free plan holds for it too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from trimopt.book.model import Instruction
from trimopt.budget import Budget
from trimopt.cutting import Cut, Instance, Outcome, Pattern, loss_of, residual, solve
from trimopt.cutting.setups import ParetoPoint, TradeOff
from trimopt.making import PreparedRun, Run
from trimopt.mill.model import Mill
from trimopt.plan.model import RunPlan
from trimopt.plan.planning.instructions.instruction_rules import InstructionResolver, Refused, Rules
from trimopt.plan.planning.instructions.pinned_sets import place_of
from trimopt.plan.proof_data import InstructionAnswer, InstructionPrice

_EVERY_PLAN = "; it bounds the plan without the instructions, and so this one too"


@dataclass(frozen=True, slots=True, kw_only=True)
class _FoundPlan:
    """A plan that keeps some rules: its loss, and a bound on every plan that keeps them."""

    cuts: tuple[Cut, ...] = ()
    loss: int | None
    bound: int
    clock_stopped: bool = False


def pin_lengths(
    instructions: Sequence[Instruction], run: Run, mill: Mill, *, usable_m: int
) -> tuple[tuple[float | None, int], ...]:
    """The cores and set lengths that a run must be planned over for its pins."""
    places = [place_of(w, run, mill, usable_m=usable_m) for w in instructions if w.what == "pin"]
    return tuple((place.core_mm, place.length_m) for place in places if place.length_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class InstructedRun:
    """The instructions as rules of the search, and what is known of their prices.

    `outcome` has a plan that keeps them; its bound is that of the free plan. `waiting` holds, in
    the order of the rows, the answers known before the winding, and the instructions that wait.
    """

    making: PreparedRun
    instance: Instance
    fixed: tuple[Cut, ...] = ()
    held: frozenset[Pattern] = frozenset()  # patterns whose sets keep their length
    outcome: Outcome
    waiting: tuple[InstructionAnswer | Instruction, ...] = ()
    free: _FoundPlan
    found: _FoundPlan
    without: tuple[tuple[Instruction, _FoundPlan], ...] = ()  # the plan that keeps all the others
    max_set_ups: int | None = None
    uncapped: ParetoPoint | None = None  # what would be taken without an instruction for set-ups

    @property
    def max_patterns(self) -> int | None:
        """Patterns with no more set-ups between them than asked for; None: any."""
        return None if self.max_set_ups is None else self.max_set_ups + 1

    def searched(self, trade: TradeOff, uncapped: ParetoPoint) -> InstructedRun:
        """The same with what the trade-off found; `uncapped` would be taken without a cap."""
        found = self.found
        if found.loss is not None:
            found = replace(found, loss=min(found.loss, trade.points[0].loss))
        return replace(self, found=found, uncapped=uncapped)

    def answered(self, run: RunPlan, point: ParetoPoint, *, priced: bool) -> RunPlan:
        """The run with an answer to every instruction, judged on the sets that are laid out.

        Parameters
        ----------
        point
            The point that was resolved.
        priced
            Every order is made, and odd jumbos hold what they would without instructions. Where
            paper or hours do not last, or they hold other sets, nothing is said of prices.
        """
        if not self.waiting:
            return run
        uncapped, found = self.uncapped or point, self.found
        answers = tuple(
            each
            if isinstance(each, InstructionAnswer)
            else self._set_ups(each, run, uncapped, point)
            if each.what == "set-ups"
            else self._answer(each, run, found)
            for each in self.waiting
        )
        if not priced:
            asked = {each for each in self.waiting if isinstance(each, Instruction)}
            answers = tuple(
                replace(each, price=None) if each.instruction in asked else each for each in answers
            )
        price = None
        if priced and any(answer.kept for answer in answers):
            capped = self.max_set_ups is not None
            more = max(0, point.loss - uncapped.loss) if capped else 0
            price = _price(self.making, replace(found, loss=(found.loss or 0) + more), self.free)
        proof = replace(run.proof, bound_on=run.proof.bound_on + _EVERY_PLAN)
        return replace(run, instructions=answers, instructions_price=price, proof=proof)

    def _answer(
        self, instruction: Instruction, run: RunPlan, found: _FoundPlan
    ) -> InstructionAnswer:
        price = _price(self.making, found, dict(self.without).get(instruction, self.free))
        if instruction.what == "pin" and _sets_of(instruction, run) < self._pinned(instruction):
            why = "paper or hours do not last for all of its sets"
            return InstructionAnswer(instruction=instruction, kept=False, why=why)
        return InstructionAnswer(instruction=instruction, kept=True, price=price)

    def _pinned(self, instruction: Instruction) -> int:
        """Sets that this pin and others of the same pattern ask for."""
        pins = [
            each for each in self.waiting if isinstance(each, Instruction) and each.what == "pin"
        ]
        return sum(
            pin.number or 1
            for pin in pins
            if (reels_pinned(pin), pin.core_mm) == (reels_pinned(instruction), instruction.core_mm)
            and instruction.length_m in (None, pin.length_m)
        )

    def _set_ups(
        self, instruction: Instruction, run: RunPlan, uncapped: ParetoPoint, point: ParetoPoint
    ) -> InstructionAnswer:
        bound = self.found.bound
        price = _price(
            self.making,
            _FoundPlan(loss=point.loss, bound=max(bound, point.loss_bound or bound)),
            _FoundPlan(loss=uncapped.loss, bound=bound),
        )
        if run.set_ups <= (instruction.number or 0):
            return InstructionAnswer(instruction=instruction, kept=True, price=price)
        why = "no plan with so few was found"
        if run.set_ups_bound is not None and run.set_ups_bound > (instruction.number or 0):
            why = f"fewer than {run.set_ups_bound} cannot be, which is proven"
        nearest = f"{run.set_ups} set-ups, as planned"
        return InstructionAnswer(
            instruction=instruction, kept=False, why=why, nearest=nearest, price=price
        )


def without_instructions(
    making: PreparedRun, instance: Instance, free: Outcome, free_bound: int = 0
) -> InstructedRun:
    """A run of which nothing is asked; its plan, and a bound on the loss that the search sees."""
    bare = _FoundPlan(cuts=free.cuts, loss=None, bound=max(free.bound, free_bound))
    return InstructedRun(making=making, instance=instance, outcome=free, free=bare, found=bare)


def apply_instructions(
    instructions: Sequence[Instruction],
    run: Run,
    making: PreparedRun,
    mill: Mill,
    *,
    instance: Instance,
    free: Outcome,
    free_bound: int,
    usable_m: int,
    budget: Budget,
    search: Callable[..., Outcome] = solve,
) -> InstructedRun:
    """Make the instructions rules of the search, and find what they cost.

    Parameters
    ----------
    instructions
        Those of the run, in the order of their rows.
    instance
        The run as the search sees it.
    free, free_bound
        The plan without instructions, and a bound on the loss that the search sees.
    usable_m
        The longest set that a jumbo gives, m.
    search
        `solve`, with its seed, numbers and observer.
    """
    if not instructions or free.loss is None:
        return without_instructions(making, instance, free, free_bound)
    loss, bound = loss_of(instance, free.cuts), max(free.bound, free_bound)
    bare = _FoundPlan(cuts=free.cuts, loss=loss, bound=bound)
    resolver = InstructionResolver(run, making, mill, usable_m=usable_m)
    base = Rules(instance=instance)
    resolved = resolver.resolve(base, instructions)
    asked = resolved.rules_asked
    shares = budget.shares(1 + len(asked) * (len(asked) > 1) + len(resolved.refused))

    def least(rules: Rules) -> _FoundPlan:
        start, searched = found.cuts, partial(search, budget=next(shares))
        return _least(rules, start, bound=bare.bound, search=searched)

    found = bare  # `least` begins from it
    found = least(resolved.rules) if asked else bare
    without = [
        (each, least(resolver.resolve(base, [other for other in asked if other is not each]).rules))
        for each in (asked if len(asked) > 1 else ())
    ]
    every = (bare, found, *(one for _, one in without))
    bare = replace(bare, loss=min(one.loss for one in every if one.loss is not None))
    return InstructedRun(
        making=making,
        instance=resolved.rules.instance,
        fixed=resolved.rules.fixed,
        held=resolved.rules.held,
        outcome=_with_plan(free, making.instance, found, every),
        waiting=tuple(
            _refused(making, each, refused, bare, least)
            if (refused := resolved.refused.get(each))
            else each
            for each in instructions
        ),
        free=bare,
        found=found,
        without=tuple(without),
        max_set_ups=resolved.max_set_ups,
    )


def _with_plan(
    free: Outcome, instance: Instance, found: _FoundPlan, every: Sequence[_FoundPlan]
) -> Outcome:
    """The outcome with a plan that keeps what is asked; the clock may have ended any search."""
    return replace(
        free,
        cuts=found.cuts,
        loss=None if found.loss is None else loss_of(instance, found.cuts),
        clock_stopped=free.clock_stopped or any(one.clock_stopped for one in every),
    )


def _refused(
    making: PreparedRun,
    instruction: Instruction,
    refused: Refused,
    bare: _FoundPlan,
    least: Callable[[Rules], _FoundPlan],
) -> InstructionAnswer:
    """The answer to an instruction that is left out, with the price of what is nearest to it."""
    near = None if refused.rules is None else least(refused.rules)
    # A search that was cut short says too little of what the nearest would cost.
    sure = near is not None and not near.clock_stopped
    return InstructionAnswer(
        instruction=instruction,
        kept=False,
        why=refused.why,
        nearest=refused.nearest,
        price=_price(making, near, bare) if near is not None and sure else None,
    )


def _least(
    rules: Rules,
    start: tuple[Cut, ...],
    *,
    bound: int,
    search: Callable[..., Outcome],
) -> _FoundPlan:
    """The least loss found under the rules; the fixed cuts stand first in its cuts.

    Parameters
    ----------
    start
        A plan to begin from; it need not keep the rules.
    bound
        On every plan, with these rules or without them.
    """
    rest = residual(rules.instance, rules.fixed)
    outcome = search(rest, start=_less(start, rules.fixed))
    # Whatever the rest is, its loss with and without the fixed cuts differs by the same.
    more = loss_of(rules.instance, rules.fixed) - loss_of(rest, ())
    return _FoundPlan(
        cuts=(*rules.fixed, *outcome.cuts) if outcome.loss is not None else (),
        loss=None if outcome.loss is None else outcome.loss + more,
        bound=max(bound, outcome.bound + more),
        clock_stopped=outcome.clock_stopped,
    )


def _less(cuts: Sequence[Cut], fixed: Sequence[Cut]) -> tuple[Cut, ...]:
    """The cuts without those that are fixed anyway."""
    left: Counter[Pattern] = Counter()
    for cut in cuts:
        left[cut.pattern] += cut.sets
    for cut in fixed:
        left[cut.pattern] -= cut.sets
    return tuple(Cut(pattern, sets) for pattern, sets in left.items() if sets > 0)


def _price(
    making: PreparedRun, with_it: _FoundPlan, without: _FoundPlan
) -> InstructionPrice | None:
    if with_it.loss is None or without.loss is None:
        return None
    # A plan that keeps the instruction is one without it too.
    before = min(without.loss, with_it.loss)
    return InstructionPrice(
        found_kg=making.loss_kg(with_it.loss - before),
        min_kg=making.loss_kg(max(0, with_it.bound - before)),
        max_kg=making.loss_kg(max(0, with_it.loss - without.bound)),
    )


def reels_pinned(instruction: Instruction) -> Counter[tuple[str, int | None]]:
    """The reels of a pinned pattern: order and ups, and how many of each."""
    reels: Counter[tuple[str, int | None]] = Counter()
    for piece in instruction.pattern:
        reels[piece.order, piece.ups] += piece.count
    return reels


def _sets_of(instruction: Instruction, run: RunPlan) -> int:
    """Sets of a pin in the plan."""
    sets = 0
    for block in run.blocks:
        held = Counter((reel.order, reel.ups) for reel in block.reels)
        if held == reels_pinned(instruction) and instruction.core_mm in (None, block.core_mm):
            sets += sum(instruction.length_m in (None, row.length_m) for row in block.sets)
    return sets
