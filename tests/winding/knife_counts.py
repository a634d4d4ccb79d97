"""Knife moves of layouts that stand already, and one lot laid out alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from trimopt.mill.model import Winder
from trimopt.winding.knives.arrange_job import prepare
from trimopt.winding.knives.idle_knives import lifted_beams, stand
from trimopt.winding.knives.knife_moves import (
    Beam_mm,
    moves,
    park_beams,
    park_options,
    starting_beams,
    to_mm,
)
from trimopt.winding.knives.layout_dp import AnyKnife
from trimopt.winding.model import Layout, Lot


def moves_simple(before_mm: Sequence[Fraction | None], after: Layout) -> int:
    """Positions of the layout that no knife holds; None is out of the way."""
    held = {place for place in before_mm if place is not None}
    return sum(knife not in held for knife in after.knives_mm)


def moves_between(
    before_mm: Sequence[Fraction | None], after: Layout, winder: Winder
) -> tuple[int, Beam_mm]:
    """The fewest moves from where the knives stand to a layout, and how they stand then."""
    row = after.knives_mm
    found = []
    for start in starting_beams(before_mm, winder):
        if winder.idle_knives == "parked":
            found += [(moves(start, beam), beam) for beam in park_options(row, winder.knives)]
        else:
            beam = stand(start, row, winder.min_knife_spacing_mm, {})
            found.append((moves(start, beam), beam))
    best = min(found, key=lambda each: each[0])
    return best[0], to_mm(best[1])


def set_beams(layouts: Sequence[Layout], winder: Winder) -> tuple[Beam_mm, ...]:
    """How the knives stand at each block of a running order, with few moves in all."""
    rows = [layout.knives_mm for layout in layouts]
    if winder.idle_knives == "parked":
        beams = park_beams(rows, winder.knives)
    else:
        beams = lifted_beams(rows, winder.knives, winder.min_knife_spacing_mm)
    return tuple(to_mm(beam) for beam in beams)


def lay_out(
    lot: Lot, winder: Winder, web_mm: Fraction, *, before_mm: Iterable[Fraction] = ()
) -> Layout:
    """Lay out one lot so that as many knives as can be stay where others stand."""
    job = prepare((lot,), winder, web_mm, ())
    before = tuple(int(place / job.unit_mm) for place in before_mm)
    return job.layout(0, AnyKnife().best_layout(job.shapes[0], before, None))
