"""Fair charges: hand-worked jumbos, and every fill counted out."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trimopt.winding.fills import Charges, fair_charges, least_metres


def _sum(charges: Charges, sets: tuple[int, ...]) -> int:
    return sum(m * many for m, many in zip(charges.charge, sets, strict=True))


def test_sets_of_30_30_and_20_km_fill_a_jumbo_of_80() -> None:
    """Two of 30 and one of 20 km are charged 80 km, no metre of a butt that is not there."""
    charges = fair_charges((30_000, 20_000), (80_000,), (2, 1))
    assert _sum(charges, (2, 1)) == 80_000_000
    assert least_metres(charges, 80_000_000) == (1, 80_000)


def test_a_length_that_always_leaves_a_butt_is_charged_for_it() -> None:
    """Five sets of 15,100 m on 80 km: 16,000 each; ten use 80,000 and 75,500 m, no less."""
    charges = fair_charges((15_100,), (80_000,), (10,))
    assert charges.charge == (16_000_000,)
    assert charges.credit == 4_500_000
    assert least_metres(charges, 160_000_000) == (2, 155_500)


def test_a_short_jumbo_makes_the_charge_no_higher_than_it_is_long() -> None:
    """Sets of 30 km on jumbos of 80 and of 60 km: on the short ones no butt, so 30,000 each."""
    charges = fair_charges((30_000,), (80_000, 60_000), (4,))
    assert charges.charge == (30_000_000,)
    assert least_metres(charges, 120_000_000) == (2, 120_000)


def test_nothing_charged_needs_no_jumbo() -> None:
    """A bound of nothing is nothing, not a negative length."""
    charges = fair_charges((15_100,), (80_000,), (1,))
    assert least_metres(charges, 0) == (0, 0)


def test_lengths_that_fit_on_no_jumbo_are_refused() -> None:
    """A set longer than every jumbo is an error that shows both."""
    with pytest.raises(ValueError, match="fits on a jumbo"):
        fair_charges((90_000,), (80_000,), (1,))


def _least_used(sets: list[int], usable: int) -> int:
    """Least metres used by sets on jumbos of one length, all ways tried."""
    if not sets:
        return 0
    best = usable * len(sets)

    def go(left: tuple[int, ...], open_m: int, used: int) -> None:
        nonlocal best
        if used >= best:
            return
        if not left:
            best = used
            return
        for m in dict.fromkeys(left):
            rest = list(left)
            rest.remove(m)
            if m <= usable - open_m:
                go(tuple(rest), open_m + m, used + m)
            go(tuple(rest), m, used + (usable - open_m) + m)

    go(tuple(sorted(sets)), 0, 0)
    return best


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(3, 12), min_size=1, max_size=3, unique=True),
    st.integers(12, 30),
    st.data(),
)
def test_charges_are_fair_and_bound_what_is_used(
    lengths: list[int], usable: int, data: st.DataObject
) -> None:
    """No fill is charged more than its jumbo, and no way to lay sets uses less than the bound."""
    sets = tuple(data.draw(st.integers(0, 2)) for _ in lengths)
    charges = fair_charges(lengths, (usable,), sets)
    for counts in product(*(range(usable // m + 1) for m in lengths)):
        metres = sum(m * n for m, n in zip(lengths, counts, strict=True))
        if metres <= usable:
            assert _sum(charges, counts) <= usable * charges.scale
            assert _sum(charges, counts) <= metres * charges.scale + charges.credit
    laid = [m for m, many in zip(lengths, sets, strict=True) for _ in range(many)]
    jumbos, metres = least_metres(charges, _sum(charges, sets))
    used = _least_used(laid, usable)
    assert metres <= used
    assert jumbos <= -(-used // usable)
    # Here the charges leave less than a jumbo between them and the truth.
    assert used - metres < usable
