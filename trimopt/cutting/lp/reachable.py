"""Which demands some pattern of a class can hold, for all demands at once.

Going forward over the options, a table gives the fewest pieces with which the first k of them use
a width; going back from the used widths at which a pattern may end, another gives the most pieces
with which the options from the k-th on still reach such an end. A piece of option k lies in some
pattern just where, with it put between the two, the one is no more than the other. A pass over the
options answers what would else take a pricing of every demand in every class, most of them in vain
where narrow edge strips leave few patterns or none.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.class_offers import ClassOffer
from trimopt.cutting.lp.knapsack_tables import steps

# Pieces by [a no-edge piece lies in the pattern, pieces at an edge: 0, 1, 2 or more, used width].
Pieces = NDArray[np.int16]
Piece = tuple[int, bool]  # width, no edge: pieces that are alike in both are one to a pattern
_NEVER = 1 << 14  # more pieces than any pattern holds


def reachable_demands(offer: ClassOffer) -> frozenset[int]:
    """Demands of which a piece lies in some pattern that width, stations and edges allow.

    Rules between orders and barred patterns are left out: a demand that is not named lies in no
    pattern of the class; one that is named lies in one unless such a rule stops it.
    """
    behind = _ends(offer)
    if (behind < 0).all():
        return frozenset()
    alike: dict[Piece, set[int]] = {}
    limits: dict[Piece, int] = {}
    for k in np.flatnonzero(offer.max_counts):
        piece = int(offer.widths[k]), bool(offer.no_edge[k])
        alike.setdefault(piece, set()).add(int(offer.demand[k]))
        limits[piece] = min(offer.max_pieces, limits.get(piece, 0) + int(offer.max_counts[k]))
    fewest = np.full_like(behind, _NEVER)
    fewest[0, 0, 0] = 0
    ahead = []
    for piece, limit in limits.items():
        ahead.append(fewest)
        fewest = _forward(fewest, piece, limit)
    found: set[int] = set()
    if (fewest > behind).all():
        return frozenset()
    # Going back: with one piece of the kind at the least (`held`), or none; where the fewest pieces
    # before it are no more than the most that still reach an end, some pattern holds it.
    for (piece, limit), before in zip(reversed(limits.items()), reversed(ahead), strict=True):
        more = behind
        for step in steps(limit - 1):
            more = np.maximum(more, _back(more, piece, step))
        held = _back(more, piece, 1)
        if (before <= held).any():
            found |= alike[piece]
        behind = np.maximum(behind, held)
    return frozenset(found)


def _forward(fewest: Pieces, piece: Piece, limit: int) -> Pieces:
    """The fewest pieces where up to `limit` pieces of one kind, too, may have been added."""
    width, no_edge = piece
    fewest = fewest.copy()
    size = fewest.shape[2]
    for step in steps(min(limit, (size - 1) // width)):
        before = fewest[:, :, : size - step * width] + step
        after = fewest[:, :, step * width :]
        if no_edge:
            np.minimum(after[1], before.min(axis=0), out=after[1])
        else:
            for edge in range(3):
                to = min(2, edge + step)
                np.minimum(after[:, to], before[:, edge], out=after[:, to])
    return fewest


def _back(max_pieces: Pieces, piece: Piece, step: int) -> Pieces:
    """The most pieces before `step` of one kind are added with which an end is still reached."""
    width, no_edge = piece
    before = np.full_like(max_pieces, -1)
    rest = max_pieces.shape[2] - step * width
    if rest > 0:
        for edge in range(3):
            if no_edge:
                before[:, edge, :rest] = max_pieces[1, edge, -rest:] - step
            else:
                before[:, edge, :rest] = max_pieces[:, min(2, edge + step), -rest:] - step
    return before


def _ends(offer: ClassOffer) -> Pieces:
    """The most pieces with which a pattern may end: broke reels fit, no-edge pieces are covered."""
    used = np.arange(len(offer.broke))
    room = np.where(offer.broke >= 0, offer.max_pieces - offer.broke, -1)
    room[room * int(offer.widths.max()) < used] = -1
    ends = np.broadcast_to(room.astype(np.int16), (2, 3, len(room))).copy()
    for edge in range(2):
        ends[1, edge][edge + offer.broke < 2] = -1
    return ends
