"""What stands behind a value of a table: options and counts that add up to it."""

from __future__ import annotations

import numpy as np

from trimopt.cutting.lp.knapsack_tables import UNREACHED, Ints, fill_pieces, fill_widths

_WIDTH, _PIECES = 200, 6


def _options(seed: int) -> tuple[Ints, Ints, Ints]:
    """Widths, values and count limits of eight options."""
    rng = np.random.default_rng(seed)
    return rng.integers(17, 90, 8), rng.integers(-20, 300, 8), rng.integers(0, 6, 8)


def test_pieces_behind_every_width_add_up_to_it_and_to_its_value() -> None:
    """Width table: whatever width ends a set, its pieces are as wide and as dear as it says."""
    for seed in range(5):
        widths, values, limits = _options(seed)
        table = fill_widths(widths, values, limits, _WIDTH)
        reached = np.flatnonzero(table.best > UNREACHED // 2).tolist()
        assert len(reached) > 40
        for used in reached:
            held = table.pieces(used)
            assert all(n <= limits[k] for k, n in held)
            assert sum(widths[k] * n for k, n in held) == used
            assert sum(values[k] * n for k, n in held) == table.best[used]


def test_pieces_behind_every_number_of_pieces_add_up_to_it() -> None:
    """Piece table: the same for every number of pieces, and of those that may stand at an edge."""
    for seed in range(3):
        widths, values, limits = _options(seed)
        no_edge = np.arange(len(widths)) % 3 == 0
        table = fill_pieces(widths, values, limits, no_edge, (_PIECES, _WIDTH), guarded=True)
        reached = np.argwhere(table.best > UNREACHED // 2).tolist()
        assert len(reached) > 40
        for edge, count, used in reached:
            held = table.pieces(edge, count, used)
            assert all(n <= limits[k] for k, n in held)
            assert sum(n for _, n in held) == count
            assert min(2, sum(n for k, n in held if not no_edge[k])) == edge
            assert sum(widths[k] * n for k, n in held) == used
            assert sum(values[k] * n for k, n in held) == table.best[edge, count, used]
