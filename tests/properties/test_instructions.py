"""Instructions on small runs against trying everything: least loss, refusals and proven prices."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from random import Random
from typing import Any

import pytest

from tests.cutting.brute import all_patterns
from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Instruction, InstructionPiece, Order
from trimopt.budget import Budget
from trimopt.cutting import Cut, Instance, Pattern, loss_of, solve
from trimopt.making import PreparedRun, Run, prepare
from trimopt.plan.planning.instructions.instructed_run import InstructedRun, apply_instructions

LENGTH_M = 3100
MAX_SETS = 8


def _asked(row: int, what: str, **rest: Any) -> Instruction:
    return Instruction(row=row, what=what, grade="Folding board", grammage_gsm=250.0, **rest)


def _run(draw: Random) -> Run:
    widths = draw.sample([640, 705, 820, 990, 1130, 1300, 1585], 3)
    if draw.random() < 0.3:
        widths[1] = widths[0]  # two orders of one width
    orders: list[Order] = [
        board_reel(
            f"R{k}",
            width_mm=Fraction(width),
            quantity=Fraction(draw.randint(1, 3)),
            over=draw.choice([Fraction(0), Fraction(1, 2)]),
            no_edge=draw.random() < 0.15,
        )
        for k, width in enumerate(widths)
    ]
    return Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=tuple(orders))


def _instruction(draw: Random, row: int) -> Instruction:
    names = draw.sample(["R0", "R1", "R2"], 2)
    what = draw.choice(["pin", "pin", "forbid", "together", "apart"])
    if what in ("together", "apart"):
        return _asked(row, what, orders=tuple(names))
    counts = [draw.randint(1, 2), draw.randint(0, 2)]
    pattern = tuple(
        InstructionPiece(count=n, order=name) for n, name in zip(counts, names, strict=True) if n
    )
    if what == "forbid":
        return _asked(row, what, pattern=pattern)
    length_m = draw.choice([LENGTH_M, None])
    return _asked(row, what, pattern=pattern, length_m=length_m, number=draw.randint(1, 2))


class _Truth:
    """The same run with the instructions as predicates over patterns, written anew."""

    def __init__(self, making: PreparedRun) -> None:
        self.making = making
        self.instance: Instance = making.instance
        self.patterns = all_patterns(self.instance)

    def reels(self, pattern: Pattern) -> Counter[str]:
        """How many reels of each order."""
        found: Counter[str] = Counter()
        for k, count in pattern.pieces:
            found[self.making.options[k].order.number] += count
        return found

    def keeps(self, pattern: Pattern, instruction: Instruction) -> bool:
        """Whether a set of this pattern is allowed by an instruction."""
        held = self.reels(pattern)
        if instruction.what == "apart":
            return not all(name in held for name in instruction.orders)
        if instruction.what == "together":
            return len({name in held for name in instruction.orders}) == 1
        if instruction.what == "forbid":
            width = {o.number: o.width_mm for o in self.making.run.orders}
            barred = Counter({width[p.order]: 0 for p in instruction.pattern})
            for piece in instruction.pattern:
                barred[width[piece.order]] += piece.count
            across: Counter[Fraction] = Counter()
            for name, count in held.items():
                across[width[name]] += count
            return across != barred
        return True

    def pinned(self, instruction: Instruction) -> Pattern | None:
        """The pattern of a pin, where the winder allows it."""
        wanted = Counter({piece.order: piece.count for piece in instruction.pattern})
        return next((p for p in self.patterns if self.reels(p) == wanted), None)

    def least(self, instructions: list[Instruction]) -> int | None:
        """Least loss of a plan that keeps all of them; None where there is none."""
        allowed = [
            p
            for p in self.patterns
            if all(self.keeps(p, instruction) for instruction in instructions)
        ]
        fixed = []
        for instruction in instructions:
            if instruction.what == "pin":
                pattern = self.pinned(instruction)
                if pattern is None or pattern not in allowed:
                    return None
                fixed.append(Cut(pattern, instruction.number or 1))
        return _least(self.instance, allowed, tuple(fixed))


def _least(instance: Instance, patterns: list[Pattern], fixed: tuple[Cut, ...]) -> int | None:
    def made(cuts: tuple[Cut, ...]) -> tuple[int, ...]:
        total = [0] * len(instance.demands)
        for cut in cuts:
            for k, count in cut.pattern.pieces:
                total[instance.options[k].demand] += count * cut.sets
        return tuple(total)

    # One class, and reels by number: what is made says all about the worth.
    seen: dict[tuple[int, ...], tuple[Cut, ...]] = {made(fixed): fixed}
    states = dict(seen)
    for _ in range(MAX_SETS):
        grown: dict[tuple[int, ...], tuple[Cut, ...]] = {}
        for total, cuts in states.items():
            if all(m >= d.low for m, d in zip(total, instance.demands, strict=True)):
                continue  # nothing is below what is ordered, so more only adds to the loss
            for pattern in patterns:
                more = (*cuts, Cut(pattern, 1))
                if made(more) not in seen:
                    grown.setdefault(made(more), more)
        seen |= grown
        states = grown
    losses = [
        loss_of(instance, cuts)
        for total, cuts in seen.items()
        if all(m >= d.low for m, d in zip(total, instance.demands, strict=True))
    ]
    return min(losses, default=None)


def _instructed(run: Run, instructions: list[Instruction]) -> tuple[PreparedRun, InstructedRun]:
    mill = sample_mill()
    making = prepare(run, mill, lengths=[(152.0, LENGTH_M)])
    free = solve(making.instance, budget=Budget())
    instructed = apply_instructions(
        instructions,
        run,
        making,
        mill,
        instance=making.instance,
        free=free,
        free_bound=free.bound,
        usable_m=mill.jumbo.usable_m,
        budget=Budget(),
    )
    return making, instructed


@pytest.mark.parametrize("seed", range(10))
def test_instructions_are_kept_at_their_least_loss(seed: int) -> None:
    """What is kept is kept at the least loss that trying everything finds, and prices hold it.

    What is left out could not be kept beside the instructions above it.
    """
    draw = Random(seed)
    run = _run(draw)
    instructions = [_instruction(draw, row) for row in range(2, 2 + draw.randint(1, 3))]
    making, instructed = _instructed(run, instructions)
    truth = _Truth(making)
    free = truth.least([])
    assert instructed.free.loss == free
    assert free is not None

    kept: list[Instruction] = []
    for each in instructed.waiting:
        instruction = each if isinstance(each, Instruction) else each.instruction
        beside = truth.least([*kept, instruction])
        if isinstance(each, Instruction):
            kept.append(instruction)
        else:
            assert beside is None, each.why
            assert each.why
            if each.price is not None:
                assert each.nearest
                assert 0 <= each.price.min_kg <= each.price.found_kg + 1e-6
    least = truth.least(kept)
    assert least is not None
    assert instructed.found.loss == least
    assert instructed.found.bound <= least
    assert instructed.free.bound <= free
    price_kg = making.loss_kg(least - free)
    assert making.loss_kg(instructed.found.bound - free) <= price_kg + 1e-6
    assert price_kg <= making.loss_kg(least - instructed.free.bound) + 1e-6
    for one, without in instructed.without:
        others = [instruction for instruction in kept if instruction != one]
        assert without.loss == truth.least(others)
