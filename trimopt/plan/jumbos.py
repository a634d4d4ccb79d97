"""The jumbos that a run is cut from: those listed for its paper, then nominal ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import JumboInStock
from trimopt.making import Run
from trimopt.mill.model import Mill

__all__ = ["RunJumbos", "jumbos_for"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunJumbos:
    """The mill as a run sees it, its listed jumbos, and the usable lengths that there are."""

    mill: Mill
    listed: tuple[JumboInStock, ...]
    usable_m: tuple[int, ...]  # empty: no jumbo may be used
    only_listed: bool
    other_width: tuple[JumboInStock, ...] = ()  # listed for its paper, but not of its deckle


def jumbos_for(
    run: Run, mill: Mill, stock: Iterable[JumboInStock], *, only_listed: bool
) -> RunJumbos:
    """Give the jumbos of a run.

    A run is cut to one deckle: that of the mill's nominal jumbo, of which there are as many as it
    takes; or, where only listed ones exist, that of most of their metres.

    Parameters
    ----------
    mill
        As the run's paper sees it (`Mill.for_paper`).
    stock
        The listed jumbos of every paper.
    only_listed
        Whether there are no others.
    """
    listed = [
        jumbo
        for jumbo in stock
        if jumbo.grade.casefold() == run.grade.casefold() and jumbo.grammage_gsm == run.grammage_gsm
    ]
    width_mm = mill.jumbo.width_mm
    if only_listed and listed:
        metres: Counter[Fraction] = Counter()
        for jumbo in listed:
            metres[jumbo.width_mm] += jumbo.usable_m
        width_mm = max(metres, key=lambda width: (metres[width], width))
        mill = replace(mill, jumbo=replace(mill.jumbo, width_mm=width_mm))
    kept = tuple(jumbo for jumbo in listed if jumbo.width_mm == width_mm)
    nominal_m = () if only_listed else (mill.jumbo.usable_m,)
    usable_m = tuple(dict.fromkeys([*(jumbo.usable_m for jumbo in kept), *nominal_m]))
    return RunJumbos(
        mill=mill,
        listed=kept,
        usable_m=usable_m,
        only_listed=only_listed,
        other_width=tuple(jumbo for jumbo in listed if jumbo not in kept),
    )
