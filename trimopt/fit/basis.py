"""The run that an enquiry would join: what may be cut, the cuts planned, and the prices."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from trimopt.cutting import Certificate, Cut, Limits, Outcome, Pattern, solve
from trimopt.making import Making, Run, prepare
from trimopt.mill.model import Mill
from trimopt.plan.loss import loss_units
from trimopt.plan.model import RunPlan

__all__ = ["Basis", "basis_of_plan", "basis_of_run", "carried_over"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """A run as it is planned. `bound` is proven; both in units of `trimopt.cutting.loss_of`."""

    mill: Mill
    making: Making
    cuts: tuple[Cut, ...]
    prices: Certificate
    bound: int
    planned: bool  # from a plan that was issued; else solved for the enquiry


def basis_of_plan(planned: RunPlan, run: Run, mill: Mill, *, grid_mm: Fraction) -> Basis | None:
    """The basis that an issued plan gives; None where it does not fit the run as the book has it.

    Parameters
    ----------
    planned
        The run's part of the plan.
    run
        The run's orders, as the book has them now.
    mill
        As the run sees it.
    grid_mm
        Step of the widths that will be asked.
    """
    lengths = [(row.core_mm, row.length_m) for row in planned.set_lengths]
    making = prepare(run, mill, lengths=lengths, grid_mm=grid_mm)
    proof = planned.proof
    if [order.number for order in making.run.orders] != [line.number for line in planned.orders]:
        return None
    if len(proof.gain_price) != len(planned.orders) or making.unit_mm != proof.width_unit_mm:
        return None
    classes = {(c.core_mm, c.length_m): k for k, c in enumerate(making.classes)}
    option = {
        (o.order.number, o.winding_class, o.width_mm): k for k, o in enumerate(making.options)
    }
    cuts = []
    for block in planned.blocks:
        c = classes.get((block.core_mm, block.length_m))
        pieces: Counter[int | None] = Counter()
        for position in block.positions:
            if position.kind != "broke" and c is not None:
                pieces[option.get((position.order, c, position.width_mm))] += 1
        if c is None or None in pieces:
            return None
        held = tuple(sorted((k, n) for k, n in pieces.items() if k is not None))
        cuts.append(Cut(Pattern(c, held), len(block.sets)))
    prices = Certificate(
        scale=proof.scale, gain_price=proof.gain_price, worth_price=proof.worth_price
    )
    return Basis(
        mill=mill,
        making=making,
        cuts=tuple(cuts),
        prices=prices,
        bound=loss_units(making, proof.bound_kg),
        planned=True,
    )


def basis_of_run(
    run: Run, mill: Mill, *, grid_mm: Fraction, seconds: float | None, seed: int = 0
) -> Basis | None:
    """The basis of a run that has no plan yet: solved here. None where nothing is to be made."""
    making = prepare(run, mill, grid_mm=grid_mm)
    if not making.run.orders:
        return None
    outcome = solve(making.instance, limits=Limits(seconds=seconds), seed=seed)
    if outcome.certificate is None or not outcome.cuts:
        return None
    return _solved(mill, making, outcome)


def _solved(mill: Mill, making: Making, outcome: Outcome) -> Basis:
    assert outcome.certificate is not None
    return Basis(
        mill=mill,
        making=making,
        cuts=outcome.cuts,
        prices=outcome.certificate,
        bound=outcome.bound,
        planned=False,
    )


def carried_over(cuts: tuple[Cut, ...], before: Making, after: Making) -> tuple[Cut, ...]:
    """The cuts of one making in the options of another that has the same orders and more.

    Cuts of a set length that the other lacks are left out.
    """
    classes = {(c.core_mm, c.length_m): k for k, c in enumerate(after.classes)}
    option = {(o.order.number, o.winding_class, o.width_mm): k for k, o in enumerate(after.options)}
    carried = []
    for cut in cuts:
        winding = before.classes[cut.pattern.winding_class]
        c = classes.get((winding.core_mm, winding.length_m))
        if c is None:
            continue
        pieces = []
        for k, count in cut.pattern.pieces:
            old = before.options[k]
            new = option.get((old.order.number, c, old.width_mm))
            if new is None:
                break
            pieces.append((new, count))
        else:
            carried.append(Cut(Pattern(c, tuple(sorted(pieces))), cut.sets))
    return tuple(carried)
