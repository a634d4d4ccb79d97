"""Every unit of the tables: known by its own name, exact there and back."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from trimopt.paper import measures
from trimopt.paper.measures import Measure, UnitTable, basis_weight_unit

TABLES = {name: table for name, table in vars(measures).items() if isinstance(table, UnitTable)}
UNITS = [
    (name, unit) for name, table in TABLES.items() for unit in dict.fromkeys(table.named.values())
]


@pytest.mark.parametrize(("name", "unit"), UNITS)
@given(st.fractions(min_value=0, max_value=10**6, max_denominator=128))
def test_a_round_trip_of_every_unit(name: str, unit: Measure, figure: Fraction) -> None:
    """What is converted by the unit as it is shown comes back to the last fraction."""
    read = TABLES[name].unit(f" {unit.shown.upper()}. ")
    assert read == unit
    assert figure * read.factor / unit.factor == figure
    assert unit.factor > 0


@pytest.mark.parametrize(
    "unit", ["lb/1000 ft²", "lb/3000 ft²", "lb 24×36/500", "lb text", "lb bond"]
)
def test_a_basis_weight_is_known_by_the_name_it_is_shown_with(unit: str) -> None:
    """The name that outputs print is one that every input takes."""
    read = basis_weight_unit(unit)
    assert read is not None
    assert read.shown == unit
    assert TABLES["GRAMMAGES"].unit(unit) == read


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("lb/MSF", "#/1,000 sq ft"),
        ("lb/3MSF", "lb per 3000 ft2"),
        ("lb 25x38, 500 sheets", "lb text"),
        ('# 24" x 36" - 500', "lb kraft"),
        ("lb liner", "lb/MSF"),
    ],
)
def test_ways_to_write_one_basis_weight(one: str, other: str) -> None:
    """Size and count, area and name of a basis weight mean the same pounds."""
    first, second = basis_weight_unit(one), basis_weight_unit(other)
    assert first is not None
    assert second is not None
    assert first.factor == second.factor
