"""Published cases with a price or a proof on the number of patterns.

The five trim-loss cases: I. Harjunkoski, T. Westerlund, R. Pörn, H. Skrifvars, "Different
transformations for solving non-convex trim-loss problems by MINLP", European Journal of
Operational Research 105 (1998) 594-603, as kept in MINLPLib under the names below; objectives 8.3,
8.6 and 19.6 from minlplib.org, 5.3 and 10.3 read second-hand. All were recomputed by enumeration.
P patterns cost 0.1 + 0.2 + … = 0.05 · P · (P + 1), a set costs 1, at most five pieces a pattern,
and a least used width.

The 5,600 mm case: the encyclopaedia article "Cutting stock problem" (a paper machine with thirteen
widths): 73 sets, and 10 patterns as the fewest with them.
"""

from __future__ import annotations

import pytest

from tests.cutting.one_class import exactly, one_class
from trimopt.budget import Budget
from trimopt.cutting import Demand, WindingClass, solve
from trimopt.cutting.setups import trade_off

CASES = {
    "tln2": (1900, 1700, ((460, 8), (570, 7)), 5.3),
    "tln4": (1900, 1700, ((330, 8), (360, 7), (385, 12), (415, 11)), 8.3),
    "ex1264": (1900, 1700, ((330, 9), (360, 7), (385, 12), (415, 11)), 8.6),
    "tln5": (2000, 1800, ((330, 12), (360, 6), (370, 15), (415, 6), (435, 9)), 10.3),
    "ex1263": (1850, 1750, ((290, 15), (315, 28), (350, 21), (455, 30)), 19.6),
}

PAPER_MACHINE = (
    (1380, 22),
    (1520, 25),
    (1560, 12),
    (1710, 14),
    (1820, 18),
    (1880, 18),
    (1930, 20),
    (2000, 10),
    (2050, 12),
    (2100, 14),
    (2140, 16),
    (2150, 18),
    (2200, 20),
)


@pytest.mark.parametrize("name", CASES)
def test_trim_loss_objective(name: str) -> None:
    """Sets and the price of patterns together come to the published least, each point proven."""
    deckle, least, widths, objective = CASES[name]
    instance = one_class(
        (w for w, _ in widths),
        (Demand(low=n, high=None) for _, n in widths),
        WindingClass(
            cost=1, width=deckle, max_pieces=5, slack=deckle - least, min_broke=deckle + 1
        ),
    )
    trade = trade_off(instance, solve(instance), budget=Budget.lasting(None, 20_000))
    prices = [
        point.loss / 1000 + 0.05 * point.patterns * (point.patterns + 1) for point in trade.points
    ]
    assert min(prices) == pytest.approx(objective, abs=1e-9)
    assert all(point.proven for point in trade.points)


def test_paper_machine_ten_patterns_proven() -> None:
    """The 5,600 mm case takes 73 sets and 10 patterns, and fewer are proven not to do."""
    instance = one_class(
        (w for w, _ in PAPER_MACHINE),
        (exactly(n) for _, n in PAPER_MACHINE),
        WindingClass(cost=1, width=5600, max_pieces=99),
    )
    trade = trade_off(instance, solve(instance), budget=Budget.lasting(None, 320))
    first = trade.points[0]
    assert (first.loss, first.patterns, trade.patterns_bound) == (73_000, 10, 10)
