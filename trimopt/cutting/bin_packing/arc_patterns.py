"""All patterns along arcs, where there are few enough of them to be listed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trimopt.cutting.bin_packing.arc_graph import Arcs
from trimopt.cutting.bin_packing.item_tables import Counts


def ways_along(arcs: Arcs, item: Sequence[int]) -> float:
    """How many ways `patterns_along` would follow, ended or not; about so many where very many.

    Parameters
    ----------
    item
        Which item each piece is of: equal pieces follow one another.
    """
    ways = np.zeros(arcs.size + 1)
    ways[0] = 1.0
    for width, pieces, positions in _by_item(arcs, item):
        step = ways.copy()
        for _ in range(pieces):
            further = np.zeros_like(ways)
            further[positions + width] = step[positions]
            ways += further
            step = further
    return float(ways.sum())


def patterns_along(arcs: Arcs, item: Sequence[int]) -> list[Counts]:
    """Return all patterns, as pieces of each item, whose pieces stand where one like them may.

    More than the arcs allow, where equal pieces have different arcs; never less.
    """
    ahead: dict[int, list[tuple[int, int]]] = {}
    most = []
    for i, (width, pieces, positions) in enumerate(_by_item(arcs, item)):
        most.append(pieces)
        for used in positions.tolist():
            ahead.setdefault(used, []).append((i, used + width))
    found = []
    stack: list[tuple[int, list[int]]] = [(0, [])]
    while stack:
        used, pieces_of = stack.pop()
        if used >= arcs.min_used and pieces_of:
            found.append(pieces_of)
        last = pieces_of[-1] if pieces_of else -1
        for i, end in ahead.get(used, ()):
            if i > last or (i == last and pieces_of.count(i) < most[i]):
                stack.append((end, [*pieces_of, i]))
    return sorted(
        tuple((i, pieces_of.count(i)) for i in sorted(set(pieces_of))) for pieces_of in found
    )


def _by_item(
    arcs: Arcs, item: Sequence[int]
) -> list[tuple[int, int, np.ndarray[tuple[int], np.dtype[np.int64]]]]:
    """By item: width, pieces, positions of any of its pieces."""
    layers: dict[int, list[int]] = {}
    for layer, row in enumerate(arcs.row):
        layers.setdefault(item[row], []).append(layer)
    return [
        (
            arcs.widths[some[0]],
            len(some),
            np.unique(
                np.concatenate([arcs.position[arcs.start[k] : arcs.start[k + 1]] for k in some])
            ),
        )
        for _, some in sorted(layers.items())
    ]
