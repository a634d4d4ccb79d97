"""What a lot can share with both neighbours at once."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.winding.brute import Row, layouts
from tests.winding.winders import winder
from trimopt.budget import Budget
from trimopt.mill.model import Winder
from trimopt.winding import Lot, Strip
from trimopt.winding.knives.arrange_job import prepare
from trimopt.winding.knives.move_bounds import meets_most
from trimopt.winding.knives.triple_bounds import extra_moves

_STEP = Fraction(10)
_rows = st.lists(
    st.lists(st.integers(min_value=1, max_value=6), min_size=2, max_size=4),
    min_size=3,
    max_size=3,
)


def _lots(rows: list[list[int]]) -> tuple[Lot, ...]:
    return tuple(
        Lot(
            number=n,
            strips=tuple(Strip(key=f"{w}", width_mm=w * _STEP) for w in widths),
            sets=1,
            length_m=5000,
            core_mm=76.0,
        )
        for n, widths in enumerate(rows)
    )


def _machine(rows: list[list[int]], *, shift: bool = True) -> Winder:
    return winder(
        knives=max(map(len, rows)) + 1,
        min_edge_trim_mm=_STEP,
        min_knife_spacing_mm=_STEP,
        web_shift=shift,
    )


def _met(one: Row, two: Row, *, same_number: bool) -> int:
    """Knives that stand alike; in the winder's count for the best numbering of both."""
    if not same_number:
        return len(set(one) & set(two))
    return max(
        sum(n + by < len(two) and n + by >= 0 and at == two[n + by] for n, at in enumerate(one))
        for by in range(-len(one), len(two))
    )


@settings(max_examples=80, deadline=None)
@given(
    rows=_rows,
    slack=st.integers(min_value=0, max_value=3),
    same_number=st.booleans(),
    shift=st.booleans(),
)
def test_no_layout_in_the_middle_shares_more(
    rows: list[list[int]], slack: int, same_number: bool, shift: bool
) -> None:
    """Over all layouts of three lots, what the middle one shares is no more than is said."""
    lots, machine = _lots(rows), _machine(rows, shift=shift)
    web = (max(map(sum, rows)) + slack) * _STEP + 2 * _STEP
    shapes = prepare(lots, machine, web, ()).shapes
    meets = meets_most(shapes, Budget(), same_number=same_number)
    extra = extra_moves(shapes, meets, Budget(), same_number=same_number, work=1.0)
    step = _STEP if shift else _STEP / 2
    ways = [list(layouts(lot, machine, web, step)) for lot in lots]
    if not shift:
        ways = [[row for row in choices if row[0] + row[-1] == web] for choices in ways]
    for i, j, k in ((1, 0, 2), (0, 1, 2), (0, 2, 1)):
        shared = max(
            max(_met(row, other, same_number=same_number) for other in ways[i])
            + max(_met(row, other, same_number=same_number) for other in ways[k])
            for row in ways[j]
        )
        assert shared <= meets[i][j] + meets[j][k] - extra.get((i, j, k), 0)


def test_two_good_pairs_that_one_layout_cannot_serve() -> None:
    """1 + 2 | 4 + 9 for the one, 1 + 4 | 2 + 9 for the other: the lot between them serves one."""
    rows = [[3, 13], [1, 2, 4, 9], [5, 11]]
    lots, machine, web = _lots(rows), _machine(rows), 18 * _STEP
    shapes = prepare(lots, machine, web, ()).shapes
    meets = meets_most(shapes, Budget(), same_number=False)
    assert (meets[0][1], meets[1][2], meets[0][2]) == (3, 3, 2)
    extra = extra_moves(shapes, meets, Budget(), same_number=False, work=1.0)
    assert extra == {(0, 1, 2): 1, (2, 1, 0): 1}
    assert extra_moves(shapes, meets, Budget(), same_number=False, work=0.0) == {}
