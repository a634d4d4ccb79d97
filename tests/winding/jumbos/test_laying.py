"""Sets on jumbos: what fits where, what is left, what there is no paper for."""

from __future__ import annotations

from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

import pytest

from trimopt.book.model import Stretch
from trimopt.winding.jumbos.laying import LengthBlock, lay_sets
from trimopt.winding.model import JumboSupply, StockJumbo


def jumbo(name: str, usable_m: int, *, nominal: bool = False) -> StockJumbo:
    """A jumbo 4 m wide."""
    return StockJumbo(
        name=name,
        width_mm=Fraction(4000),
        usable_m=usable_m,
        loss_start_m=0,
        loss_end_m=0,
        nominal=nominal,
    )


def block(sets: int, length_m: int, **more: object) -> LengthBlock:
    """A block whose lengths do not move."""
    fields: dict[str, object] = {"min_m": length_m, "max_m": length_m, **more}
    return LengthBlock(sets=sets, length_m=length_m, **fields)  # type: ignore[arg-type]


def supply(*stock: StockJumbo, nominal: StockJumbo | None = None, **more: Any) -> JumboSupply:
    """Listed jumbos, then nominal ones."""
    return JumboSupply(stock=stock, nominal=nominal, **more)


def test_sets_follow_one_another_and_the_last_remainder_is_carried_forward() -> None:
    """Five sets of 30 km on jumbos of 80 km: two a jumbo, two butts of 20 km, 50 km carried."""
    laying = lay_sets([block(5, 30_000)], supply(nominal=jumbo("J", 80_000)))
    assert [s.stretches[0] for s in laying.sets[:3]] == [
        Stretch(jumbo="J 1", from_m=0, to_m=30_000),
        Stretch(jumbo="J 1", from_m=30_000, to_m=60_000),
        Stretch(jumbo="J 2", from_m=0, to_m=30_000),
    ]
    assert [(b.wound_m, b.left_m, b.carried_forward) for b in laying.butts] == [
        (60_000, 20_000, False),
        (60_000, 20_000, False),
        (30_000, 50_000, True),
    ]
    assert (laying.wound_m, laying.lost_m, laying.used_m) == (150_000, 40_000, 190_000)


def test_sets_of_30_30_and_20_km_fill_a_jumbo_of_80() -> None:
    """Sets of 30, 30 and 20 km fill a jumbo of 80 km to the metre: no butt and none carried."""
    laying = lay_sets([block(2, 30_000), block(1, 20_000)], supply(nominal=jumbo("J", 80_000)))
    (butt,) = laying.butts
    assert (butt.left_m, butt.carried_forward, laying.lost_m) == (0, False, 0)


def test_listed_jumbos_come_first_then_nominal_ones() -> None:
    """A started jumbo of 35 km is used before a whole one, and nominal ones follow the list."""
    laying = lay_sets(
        [block(4, 30_000)],
        supply(jumbo("A7", 35_000), jumbo("A8", 62_000), nominal=jumbo("J", 80_000)),
    )
    assert [b.jumbo.name for b in laying.butts] == ["A7", "A8", "J 1"]
    assert [b.left_m for b in laying.butts] == [5_000, 2_000, 50_000]
    assert laying.butts[2].jumbo.nominal


def test_a_jumbo_too_short_for_a_set_waits_for_a_shorter_one() -> None:
    """A 20 km rest is passed over by 30 km sets and still takes the later 20 km set."""
    laying = lay_sets(
        [block(2, 30_000), block(1, 20_000)], supply(jumbo("rest", 20_000), jumbo("A", 60_000))
    )
    assert [s.stretches[0].jumbo for s in laying.sets] == ["A", "A", "rest"]
    assert laying.lost_m == 0


def test_in_the_list_s_order_a_jumbo_passed_over_is_not_come_back_to() -> None:
    """The same rest of 20 km, set aside for good: the 20 km set goes onto the next jumbo."""
    blocks = [block(2, 30_000), block(1, 20_000)]
    stock = [jumbo("rest", 20_000), jumbo("A", 60_000)]
    laying = lay_sets(blocks, supply(*stock, jumbo("B", 60_000), in_order=True))
    assert [s.stretches[0].jumbo for s in laying.sets] == ["A", "A", "B"]
    followed = lay_sets(
        blocks, supply(*stock, nominal=jumbo("J", 80_000, nominal=True), in_order=True)
    )
    assert [s.stretches[0].jumbo for s in followed.sets] == ["A", "A", "J 1"]
    alone = lay_sets(blocks, supply(*stock, in_order=True))
    assert [(u.block, u.sets) for u in alone.unlaid] == [(1, 1)]


def test_a_name_of_the_list_is_never_given_twice() -> None:
    """Nominal names step over a listed one, and a name listed twice is refused by name."""
    jumbos = supply(jumbo("J 1", 10), nominal=jumbo("J", 20))
    assert [j.name for j in jumbos.first(3)] == ["J 1", "J 2", "J 3"]
    with pytest.raises(ValueError, match="jumbo X is listed twice"):
        supply(jumbo("X", 10), jumbo("X", 10))


def test_not_enough_paper_names_what_is_left_out_most_urgent_first() -> None:
    """Two jumbos for six sets: the urgent late block is laid whole, the others give way."""
    blocks = [
        block(2, 30_000, priority=3),
        block(2, 30_000, priority=2, due=datetime(2025, 3, 4, tzinfo=UTC)),
        block(2, 40_000, priority=1),
    ]
    laying = lay_sets(blocks, supply(jumbo("A", 80_000), jumbo("B", 80_000)))
    assert [(u.block, u.sets) for u in laying.unlaid] == [(0, 2)]
    assert [s.block for s in laying.sets] == [1, 1, 2, 2]


def test_a_shorter_set_still_fits_where_a_long_one_does_not() -> None:
    """What no jumbo takes is left over; the rest is laid."""
    laying = lay_sets([block(1, 90_000), block(1, 50_000)], supply(nominal=jumbo("J", 80_000)))
    assert [s.block for s in laying.sets] == [1]
    assert [(u.block, u.sets) for u in laying.unlaid] == [(0, 1)]


def test_joins_are_off_unless_the_winder_and_the_orders_allow_them() -> None:
    """A set continues on the next jumbo only with both permissions; then there is no butt."""
    long = block(3, 30_000, max_joins=1)
    nominal = supply(nominal=jumbo("J", 80_000))
    assert lay_sets([long], nominal).lost_m == 20_000
    none = block(3, 30_000)
    assert lay_sets([none], nominal, joined=True).lost_m == 20_000
    joined = lay_sets([long], nominal, joined=True)
    assert joined.lost_m == 0
    assert joined.sets[2].stretches == (
        Stretch(jumbo="J 1", from_m=60_000, to_m=80_000),
        Stretch(jumbo="J 2", from_m=0, to_m=10_000),
    )


def test_a_join_leaves_no_part_shorter_than_the_least() -> None:
    """With 500 m left and 1,000 m the least part, the set begins on the next jumbo."""
    blocks = [block(1, 79_500), block(1, 30_000, max_joins=1)]
    laying = lay_sets(blocks, supply(nominal=jumbo("J", 80_000), min_part_m=1000), joined=True)
    assert laying.lost_m == 500
    assert len(laying.sets[1].stretches) == 1


def test_one_join_is_not_two() -> None:
    """A set of 50 km over jumbos of 20 km needs two joins; one allowed leaves it unlaid."""
    stock = [jumbo(name, 20_000) for name in "ABC"]
    one = lay_sets([block(1, 50_000, max_joins=1)], supply(*stock), joined=True)
    assert not one.sets
    assert one.unlaid[0].sets == 1
    two = lay_sets([block(1, 50_000, max_joins=2)], supply(*stock), joined=True)
    assert [p.to_m - p.from_m for p in two.sets[0].stretches] == [20_000, 20_000, 10_000]
