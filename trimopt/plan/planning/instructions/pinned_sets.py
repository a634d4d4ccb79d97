"""Pinned sets: the class they are wound in, their pattern in the engine's terms, what stops them.

A pin without a set length is wound in the class that leaves the least of it unsold.

A pin that cannot be as it was asked has a nearest one: the set length moved to the closest that all
its orders allow, then reels taken out until the pattern is allowed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from trimopt.book.model import Instruction, InstructionPiece
from trimopt.cutting import Instance, Pattern, pattern_faults
from trimopt.making import PreparedRun, Run, Way, stops, ways
from trimopt.making.reel_patterns import Reel, ReelPatterns
from trimopt.mill.model import Mill
from trimopt.paper import Measured, Written


@dataclass(frozen=True, slots=True, kw_only=True)
class PinnedPlace:
    """Core and set length of a pin, and the widths of its pieces in step with its pattern.

    `length_m` is the longest that all its orders allow where the pin leaves it open. `against`
    names the limit where it is not as it was asked; `length_m` is then the nearest, or 0 where
    there is none.
    """

    core_mm: float | None
    length_m: int
    widths_mm: tuple[Fraction, ...] = ()
    against: str = ""


def place_of(instruction: Instruction, run: Run, mill: Mill, *, usable_m: int) -> PinnedPlace:
    """Where a pin goes.

    Parameters
    ----------
    run
        The run that the instruction is for; it holds every order of the pattern.
    usable_m
        The longest set that a jumbo gives, m.
    """
    orders = {order.number: order for order in run.orders}
    found: list[list[Way]] = []
    for piece in instruction.pattern:
        order = orders[piece.order]
        its = [way for way in ways(order, mill, usable_m=usable_m) if _serves(way, piece)]
        if not its:
            why = stops(order, mill, usable_m=usable_m)
            return _nowhere(
                run.written.translated(why)
                or f"order {piece.order} cannot be cut at {piece.ups} ups"
            )
        found.append(its)
    best: PinnedPlace | None = None
    for core_mm, together in _cores(instruction, found, mill):
        place = _at_length(instruction, core_mm, together, run.written)
        if best is None or _distance(instruction, place) < _distance(instruction, best):
            best = place
    return best or _nowhere("its orders are not all on one core that it may have")


def _serves(way: Way, piece: InstructionPiece) -> bool:
    return way.ups == piece.ups and (way.sheeter is None or way.sheeter.name == piece.sheeter)


def _nowhere(why: str) -> PinnedPlace:
    return PinnedPlace(core_mm=None, length_m=0, against=why)


def _distance(instruction: Instruction, place: PinnedPlace) -> float:
    if not place.length_m:
        return float("inf")
    return 0 if instruction.length_m is None else abs(place.length_m - instruction.length_m)


def _cores(
    instruction: Instruction, found: list[list[Way]], mill: Mill
) -> list[tuple[float | None, tuple[Way, ...]]]:
    """Each core that all pieces may have, with their ways on it; a single drum mixes cores."""
    if mill.winder.kind == "single-drum":
        return [(None, tuple(its[0] for its in found))]
    cores = []
    for core in mill.winder.cores:
        if instruction.core_mm is not None and core.inside_mm != instruction.core_mm:
            continue
        on_it = [
            next((w for w in its if w.core.inside_mm == core.inside_mm), None) for its in found
        ]
        if all(on_it):
            cores.append((core.inside_mm, tuple(way for way in on_it if way is not None)))
    return [(core_mm, together) for core_mm, together in cores]


def _at_length(
    instruction: Instruction, core_mm: float | None, together: Sequence[Way], written: Written
) -> PinnedPlace:
    low = max(range(len(together)), key=lambda n: together[n].span.min_m)
    high = min(range(len(together)), key=lambda n: together[n].span.max_m)
    lower, upper = together[low].span, together[high].span
    asked = upper.max_m if instruction.length_m is None else instruction.length_m
    names = [piece.order for piece in instruction.pattern]
    widths = tuple(way.width_mm for way in together)
    shortest, longest = (
        written.text(Measured.LENGTH, metres) for metres in (lower.min_m, upper.max_m)
    )
    at_least = f"{names[low]} takes {shortest} or more ({lower.min_by})"
    at_most = f"no more than {longest} ({upper.max_by})"
    if lower.min_m > upper.max_m:
        return _nowhere(f"order {at_least}, order {names[high]} {at_most}")
    why = ""
    if asked > upper.max_m:
        why = f"order {names[high]} takes {at_most}"
    elif asked < lower.min_m:
        why = f"order {at_least}"
    length_m = min(max(asked, lower.min_m), upper.max_m)
    return PinnedPlace(core_mm=core_mm, length_m=length_m, widths_mm=widths, against=why)


def pattern_of(
    making: PreparedRun,
    instruction: Instruction,
    place: PinnedPlace,
    instance: Instance,
) -> Pattern | None:
    """The pattern in the engine's terms; None where the run has no set of that core and length.

    Parameters
    ----------
    instance
        The run as the search sees it: a pin that leaves its length open takes the class by its
        costs.
    """
    if not place.length_m:
        return None
    reels: Counter[Reel] = Counter()
    for piece, width_mm in zip(instruction.pattern, place.widths_mm, strict=True):
        reels[piece.order, width_mm] += piece.count
    run = ReelPatterns(making)
    found = [
        pattern
        for c, winding in enumerate(making.classes)
        if winding.core_mm == place.core_mm
        and (instruction.length_m is None or winding.length_m == place.length_m)
        and (pattern := run.pattern(c, reels))
    ]
    allowed = [pattern for pattern in found if not pattern_faults(making.instance, pattern)]
    return min(allowed or found, key=lambda pattern: _unsold(instance, pattern), default=None)


def _unsold(instance: Instance, pattern: Pattern) -> Fraction:
    """Share of a set's paper that no order gets."""
    worth = sum(instance.options[k].worth * count for k, count in pattern.pieces)
    return 1 - Fraction(worth, max(1, instance.classes[pattern.winding_class].cost))


def nearest_pattern(instance: Instance, pattern: Pattern) -> Pattern | None:
    """The widest allowed pattern that is left when reels are taken out; None: there is none."""
    best: tuple[int, int, Pattern] | None = None
    for counts in product(*(range(count + 1) for _, count in pattern.pieces)):
        pieces = tuple((k, n) for (k, _), n in zip(pattern.pieces, counts, strict=True) if n)
        part = Pattern(pattern.winding_class, pieces)
        if not pieces or pattern_faults(instance, part):
            continue
        width = sum(instance.options[k].width * n for k, n in pieces)
        if best is None or (width, sum(counts)) > best[:2]:
            best = (width, sum(counts), part)
    return None if best is None else best[2]


def pieces_of(making: PreparedRun, pattern: Pattern) -> tuple[InstructionPiece, ...]:
    """A pattern as the instruction sheet writes it."""
    return tuple(
        InstructionPiece(
            count=count,
            order=making.options[k].order.number,
            ups=making.options[k].ups,
            sheeter=making.options[k].sheeter,
        )
        for k, count in pattern.pieces
    )


def stopped_by(making: PreparedRun, mill: Mill, pattern: Pattern) -> str:
    """Which limit of the winder a pattern breaks; empty: none."""
    limits = making.instance.classes[pattern.winding_class]
    if not pattern_faults(making.instance, pattern):
        return ""
    written = making.run.written

    def width(width_mm: Fraction) -> str:
        return written.text(Measured.WIDTH, width_mm)

    used_mm = sum((making.options[k].width_mm * count for k, count in pattern.pieces), Fraction(0))
    pieces = sum(count for _, count in pattern.pieces)
    used = sum(making.instance.options[k].width * count for k, count in pattern.pieces)
    if used > limits.width:
        if used_mm > mill.deckle_mm:
            return f"its reels are {width(used_mm)} together, the deckle is {width(mill.deckle_mm)}"
        widest_mm = limits.width * making.width_unit_mm
        return (
            f"its reels are {width(used_mm)} together; at this set length the winder's greatest "
            f"set mass allows {width(widest_mm)}"
        )
    broke = limits.broke_reels(used)
    if broke is None:
        return (
            f"its reels are {width(used_mm)} together: too much for the edge strips is left and "
            "too little for a broke reel"
        )
    if pieces + broke > limits.max_pieces:
        with_broke = f" with {broke} broke" if broke else ""
        return f"it has {pieces} reels{with_broke}, the winder takes {limits.max_pieces}"
    return "an order that may not lie at the edge would"
