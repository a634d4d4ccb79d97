"""The bound by columns never exceeds the truth, and is of use."""

from __future__ import annotations

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.cutting.setups.small import (
    every_pattern_of,
    mill_runs,
    min_by_count,
    textbook_runs,
)
from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, Option, WindingClass, solve
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.setups.column_bound import fewest_by_columns
from trimopt.cutting.setups.pattern_floor import fewest_patterns


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.one_of(textbook_runs(), mill_runs()))
def test_bound_holds_against_brute_force(instance: Instance) -> None:
    """Fewer patterns than the bound says have more loss than the gap, in every run tried."""
    assume(len(every_pattern_of(instance)) <= 12)
    outcome = solve(instance)
    assume(outcome.certificate is not None)
    tables = BuildTables.of(instance, outcome.certificate)
    truth = min_by_count(instance, 3)
    for patterns, loss in truth.items():
        gap = loss - outcome.price_bound
        bound = fewest_by_columns(tables, outcome.certificate, gap, Budget())
        assert bound <= patterns
        assert fewest_patterns(instance, Budget()) <= patterns


def test_one_pattern_for_each_lonely_width() -> None:
    """Widths over half the deckle need a pattern each, and both bounds say so."""
    widths = (520, 560, 610)
    instance = Instance(
        demands=tuple(Demand(low=n, high=n) for n in (4, 7, 9)),
        classes=(WindingClass(cost=1, width=1000, max_pieces=9),),
        options=tuple(
            Option(demand=i, winding_class=0, width=w, gain=1) for i, w in enumerate(widths)
        ),
    )
    tables = BuildTables.of(instance, None)
    assert fewest_patterns(instance, Budget()) == 3
    assert fewest_by_columns(tables, None, 20_000.0, Budget()) == 3
