"""What each winding class offers to the pricing, in its own smallest unit of width."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.instance import Demand, Instance, Option, WindingClass

Ints = NDArray[np.int64]
Counts = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClassOffer:
    """The options of one winding class as arrays, widths divided by their common divisor.

    `max_counts` has the greatest count of an option that any least-loss pattern needs; `broke[u]`
    the broke reels that a pattern of u units needs, -1 where it is not allowed. `plain` says that
    no rule beyond width, stations and edge trim can touch a pattern of the class, `edges_only`
    that no-edge pieces are the only other rule.
    """

    winding_class: int
    cost: int
    width: int
    max_pieces: int
    options: tuple[int, ...]
    demand: Ints
    widths: Ints
    gains: Ints
    worths: Ints
    no_edge: NDArray[np.bool_]
    max_counts: Ints
    broke: Ints
    any_used: bool
    plain: bool
    edges_only: bool

    @property
    def size(self) -> int:
        """Number of options."""
        return len(self.options)

    def fits_stations(self, counts: Counts, used: int) -> bool:
        """Whether there are stations for pieces by position, and for the broke reels beside them.

        Parameters
        ----------
        counts
            ((position in the offer, count), …).
        used
            Their width, in the offer's units.
        """
        return sum(n for _, n in counts) + int(self.broke[used]) <= self.max_pieces

    def edges_hold(self, counts: Counts, used: int) -> bool:
        """Whether no-edge pieces, where there are any, have something on either side."""
        inside = sum(n for j, n in counts if self.no_edge[j])
        outside = sum(n for _, n in counts) - inside + int(self.broke[used])
        return not inside or outside >= 2

    def allowed_ends(self, layers: int) -> NDArray[np.bool_]:
        """Where an allowed pattern may end in a table by (edge pieces, pieces, used width).

        With one layer edge pieces are not counted; with three they are 0, 1, and 2 or more.
        """
        edge = np.arange(layers)[:, None, None]
        pieces = np.arange(self.max_pieces + 1)[None, :, None]
        broke = self.broke[None, None, :]
        allowed: NDArray[np.bool_] = (broke >= 0) & (pieces + broke <= self.max_pieces)
        return allowed & (edge + broke >= 2) if layers > 1 else allowed


def class_offers(instance: Instance) -> tuple[ClassOffer, ...]:
    """Return the offer of every class that can hold at least one piece.

    Returns
    -------
    tuple of ClassOffer
        In the order of the classes; options that fit no set are left out.
    """
    by_class: dict[int, list[int]] = {c: [] for c in range(len(instance.classes))}
    for k, option in enumerate(instance.options):
        if option.width <= instance.classes[option.winding_class].width:
            by_class[option.winding_class].append(k)
    ruled = {demand for pair in (*instance.apart, *instance.together) for demand in pair}
    barred = {winding_class for winding_class, _ in instance.barred}
    offers = []
    for c, ks in by_class.items():
        if ks:
            offers.append(_offer(instance, c, tuple(ks), ruled, barred=c in barred))
    return tuple(offers)


def _offer(
    instance: Instance, c: int, ks: tuple[int, ...], ruled: Iterable[int], *, barred: bool
) -> ClassOffer:
    limits = instance.classes[c]
    options = [instance.options[k] for k in ks]
    unit = 0
    for option in options:
        unit = gcd(unit, option.width)
    width = limits.width // unit
    broke = _broke(limits, unit * np.arange(width + 1, dtype=np.int64))
    ruled = set(ruled)
    no_edge = np.array([option.no_edge for option in options])
    tied = barred or any(option.demand in ruled for option in options)
    any_used = not bool(broke.any())
    free = any_used and not (instance.together or barred or no_edge.any())
    most = [
        _most(instance.demands[o.demand], o, limits.width, limits.max_pieces, free=free)
        for o in options
    ]
    return ClassOffer(
        winding_class=c,
        cost=limits.cost,
        width=width,
        # No set holds more pieces and broke reels than this, so the tables need be no larger.
        max_pieces=min(
            limits.max_pieces,
            limits.width // min(option.width for option in options) + int(broke.max()),
        ),
        options=ks,
        demand=np.array([option.demand for option in options], dtype=np.int64),
        widths=np.array([option.width // unit for option in options], dtype=np.int64),
        gains=np.array([option.gain for option in options], dtype=np.int64),
        worths=np.array([option.worth for option in options], dtype=np.int64),
        no_edge=no_edge,
        max_counts=np.array(most, dtype=np.int64),
        broke=broke,
        any_used=any_used,
        plain=not no_edge.any() and not tied,
        edges_only=bool(no_edge.any()) and not tied,
    )


def _broke(limits: WindingClass, used: Ints) -> Ints:
    """`WindingClass.broke_reels` of many used widths at once; -1 where it is not allowed."""
    left = limits.width - used
    if limits.slack is None:
        return np.zeros_like(left)
    reels = np.ones_like(left)
    if limits.max_broke is not None:
        reels = np.maximum(1, -((limits.slack - left) // limits.max_broke))
    reels[(left < reels * limits.min_broke) | (reels > limits.max_pieces)] = -1
    reels[left <= limits.slack] = 0
    return reels


def _most(demand: Demand, option: Option, width: int, max_pieces: int, *, free: bool) -> int:
    """Pieces of an option that a least-loss pattern may need.

    Where taking a piece out of a pattern always leaves a pattern that is allowed (`free`), a
    piece that is surplus, or beyond `low` of a demand that wants nothing more, only gives back
    what it brought: some least-loss plan has none.
    """
    fits = min(width // option.width, max_pieces)
    if not free:
        return fits
    if demand.high is not None:
        return min(fits, -(-max(demand.high, demand.low) // option.gain))
    if option.worth == 0:
        return min(fits, -(-demand.low // option.gain))
    return fits
