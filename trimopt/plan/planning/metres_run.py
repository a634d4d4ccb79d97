"""A run sought by metres: patterns for any length, cut into sets where jumbos end.

A second way to plan a run, for where much is left to gain along the jumbo: wide ranges of diameter
let a block be wound for as many metres as its orders want, which lengths listed beforehand and
whole sets of them cannot say (`trimopt.winding.jumbos.pattern_metres`). The lengths found are the
run's, and with them it is as any other: proven, traded off, wound and balanced.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.cutting import Cut, Pattern, Status, faults_of, loss_of, prove
from trimopt.making import PreparedRun, prepare, ways
from trimopt.making.reel_patterns import ReelPatterns
from trimopt.mill.model import Mill
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.winding.jumbos.pattern_metres import PatternMetres, pattern_metres
from trimopt.winding.jumbos.sets_between_ends import sets_on_jumbos

_PROVE = 0.3  # of the time that is left of a run's
_FREE = 2 / 3  # of the paper ordered, from which on lengths bind more than paper


def has_free_lengths(making: PreparedRun, mill: Mill) -> bool:
    """Whether most of the paper ordered may be wound in sets of half their length as well.

    Only then any rest of a jumbo may take a part of a block.
    """
    free = total = 0
    for order, demand in zip(making.run.orders, making.instance.demands, strict=True):
        area = demand.ordered or demand.low
        total += area
        spans = [way.span for way in ways(order, mill, usable_m=mill.jumbo.usable_m)]
        if any(span.max_m >= 2 * span.min_m for span in spans):
            free += area
    return free > _FREE * total


def sought_by_metres(run: ChosenRun) -> ChosenRun | None:
    """The run with other cuts, and where on the jumbos their sets go; without a trade-off.

    Returns
    -------
    ChosenRun or None
        None where nothing was found, or a change of length is a set-up.
    """
    nominal = run.supply.nominal
    if run.mill.winder.length_change_is_set_up or nominal is None or run.odd is not None:
        return None
    found = pattern_metres(run.making, run.mill, nominal.usable_m, budget=run.budget)
    if not found:
        return None
    usable_m = [*(jumbo.usable_m for jumbo in run.supply.stock), nominal.usable_m]
    laid = sets_on_jumbos(found, usable_m, budget=run.budget, seed=run.settings.seed)
    kept = [place for place, sets in enumerate(laid.sets) if sets]
    lengths = [(found[place].core_mm, laid.metres[place] // laid.sets[place]) for place in kept]
    making = prepare(run.making.run, run.mill, usable_m=run.usable_m, lengths=lengths)
    if _required(making) != _required(run.making):
        return None
    cut = _cut(making, [found[place] for place in kept], lengths, run.making.width_unit_mm)
    pattern_at = {place: pattern for place, pattern in zip(kept, cut, strict=True) if pattern}
    if len(pattern_at) < len(kept):
        return None
    cuts = tuple(sorted(Cut(pattern, laid.sets[place]) for place, pattern in pattern_at.items()))
    if faults_of(making.instance, cuts):
        return None
    outcome = prove(making.instance, budget=run.budget.share(_PROVE), seed=run.settings.seed)
    loss = loss_of(making.instance, cuts)
    status = Status.OPTIMAL if loss <= outcome.bound else Status.FEASIBLE
    outcome = replace(outcome, status=status, loss=loss, cuts=cuts)
    return replace(
        run,
        making=making,
        instance=making.instance,
        outcome=outcome,
        known=tuple(
            tuple(Cut(pattern_at[place], sets) for place, sets in content)
            for content in laid.contents
        ),
    )


def _required(making: PreparedRun) -> list[tuple[int, int | None]]:
    return [(demand.low, demand.high) for demand in making.instance.demands]


def _cut(
    making: PreparedRun,
    found: Sequence[PatternMetres],
    lengths: Sequence[tuple[float, int]],
    width_unit_mm: Fraction,
) -> Iterator[Pattern | None]:
    """The patterns at these lengths; None for one that cannot be had."""
    there, orders = ReelPatterns(making), making.run.orders
    for each, length in zip(found, lengths, strict=True):
        reels = {(orders[at].number, w * width_unit_mm): n for (at, w), n in each.pieces}
        yield there.pattern(there.winding_class(*length), reels)
