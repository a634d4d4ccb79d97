"""Bounds for plans that are not arranged yet, and a choice among equal plans by them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trimopt.mill.model import Winder
from trimopt.winding.bounds import order_bound
from trimopt.winding.job import prepare
from trimopt.winding.model import Lot

__all__ = ["choose", "moves_bound"]


def moves_bound(
    lots: tuple[Lot, ...],
    winder: Winder,
    web_mm: Fraction,
    *,
    knives_at_mm: tuple[Fraction | None, ...] = (),
    simple_count: bool = False,
    work: float = 0.2,
) -> int:
    """Knife moves that no order and no layouts of these lots can do without.

    Parameters
    ----------
    lots, winder, web_mm, knives_at_mm, simple_count
        As for `arrange`.
    work
        Deterministic seconds for the path bound.

    Raises
    ------
    InfeasibleError
        Where a lot cannot be laid out on the winder.
    """
    if not lots:
        return 0
    job = prepare(lots, winder, web_mm, knives_at_mm)
    return order_bound(job.shapes, winder, job.starts, simple=simple_count, work=work)[0]


def choose(plans: Sequence[tuple[Lot, ...]], winder: Winder, web_mm: Fraction) -> int:
    """Which of equal plans promises fewest knife moves: its position.

    The bound in the simple count is compared: it is cheap beside an arrangement, it is nearly
    reached, and how idle knives are kept does not blur it. Of equal bounds the first plan is taken.

    Parameters
    ----------
    plans
        Lots of each plan.
    winder, web_mm
        As for `arrange`.

    Raises
    ------
    ValueError
        No plans.
    """
    if not plans:
        raise ValueError("choose needs a plan at least")
    bounds = [moves_bound(lots, winder, web_mm, simple_count=True) for lots in plans]
    return bounds.index(min(bounds))
