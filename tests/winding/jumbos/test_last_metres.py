"""Balancing the last metres: hand-worked jumbos, and orders that must not be broken."""

from __future__ import annotations

import time
from collections.abc import Sequence
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.winding.jumbos.last_metres import Balanced, balance
from trimopt.winding.jumbos.laying import Laying, LengthBlock, lay_sets
from trimopt.winding.jumbos.order_slack import LengthProblem, OrderSlack, SetGain, SheetReels
from trimopt.winding.model import JumboSupply, StockJumbo

NOMINAL = StockJumbo(
    name="J", width_mm=Fraction(4000), usable_m=80_000, loss_start_m=0, loss_end_m=0
)


def listed(name: str, usable_m: int) -> StockJumbo:
    """A listed jumbo."""
    return StockJumbo(
        name=name,
        width_mm=Fraction(4000),
        usable_m=usable_m,
        loss_start_m=0,
        loss_end_m=0,
        nominal=False,
    )


def problem(
    *blocks: LengthBlock,
    orders: Sequence[OrderSlack] = (),
    gains: Sequence[Sequence[SetGain]] = (),
    supply: JumboSupply | None = None,
) -> LengthProblem:
    """Blocks on nominal jumbos; the paper counts where orders are there."""
    return LengthProblem(
        blocks=blocks,
        supply=supply or JumboSupply(nominal=NOMINAL),
        orders=tuple(orders),
        gains=tuple(tuple(row) for row in gains),
        paper_per_m=Fraction(4000 if orders else 1),
    )


def lengths_m(done: Balanced) -> tuple[int, ...]:
    """The new set lengths, in running order."""
    return tuple(laid.length_m for laid in done.laying.sets)


def before(asked: LengthProblem) -> Laying:
    """The sets at their classes' lengths."""
    return lay_sets(asked.blocks, asked.supply)


def test_sets_are_stretched_to_use_the_butt() -> None:
    """Ten sets of 15,100 m, up to 16,000 allowed: 4,500 m of butt go onto five sets of 16,000."""
    block = LengthBlock(sets=10, length_m=15_100, min_m=14_500, max_m=16_000)
    done = balance(problem(block))
    assert before(problem(block)).lost_m == 4_500
    assert done.laying.lost_m == 0
    assert lengths_m(done)[:5] == (16_000,) * 5
    assert lengths_m(done)[5:] == (15_100,) * 5  # the last jumbo's remainder is kept, not wound


def test_sets_are_shortened_so_that_one_more_fits() -> None:
    """Sixteen sets of 21,000 m fit three on a jumbo; 1,000 m shorter, four: two jumbos saved."""
    block = LengthBlock(sets=16, length_m=21_000, min_m=20_000, max_m=21_000)
    done = balance(problem(block))
    as_listed = before(problem(block))
    assert (len(as_listed.butts), as_listed.lost_m) == (6, 5 * 17_000)
    assert (len(done.laying.butts), done.laying.lost_m) == (4, 0)


def test_a_set_that_is_longer_than_every_jumbo_stays_unlaid() -> None:
    """There is no jumbo that holds one: it is said, whatever else could be laid."""
    block = LengthBlock(sets=1, length_m=6_000, min_m=5_500, max_m=6_500)
    supply = JumboSupply(stock=(listed("short", 5_000), listed("shorter", 4_000)))
    done = balance(problem(block, supply=supply))
    assert done.laying.unlaid_sets == 1
    assert done.loss_paper is None


def test_only_as_much_as_it_takes() -> None:
    """Where 300 m are left beside sets that may grow by 2,000, they grow by 300 in all."""
    block = LengthBlock(sets=5, length_m=26_566, min_m=26_000, max_m=28_566)
    done = balance(problem(block))
    assert sum(lengths_m(done)) == 5 * 26_566 + 302
    assert done.laying.lost_m == 0


def test_what_no_length_in_range_mends_stays() -> None:
    """A set that may not move keeps its length and its butt."""
    block = LengthBlock(sets=3, length_m=30_000, min_m=30_000, max_m=30_000)
    done = balance(problem(block))
    assert done.laying == before(problem(block))
    assert done.loss_paper == 20_000


def rooms_and_gains(
    least: int, most: int, *, width: int = 3600, made: int = 0
) -> tuple[list[OrderSlack], list[list[SetGain]]]:
    """One order by mass that takes `width` of 4,000 of ten sets of 15,100 m, in area."""
    area = Fraction(made or width * 10 * 15_100)
    room = OrderSlack(
        order="P10",
        made=area,
        low=area * least / 100,
        high=area * most / 100,
        worth=area,
    )
    gain = SetGain(order=0, gain_per_m=Fraction(width), worth_per_m=Fraction(width))
    return [room], [[gain]]


TEN = LengthBlock(sets=10, length_m=15_100, min_m=14_500, max_m=16_000)


def test_an_order_by_mass_is_not_taken_over_its_range() -> None:
    """With room for 2 % more, 3,020 m of the 4,500 m butt are used and no metre beyond."""
    rooms, gains = rooms_and_gains(98, 102)
    asked = problem(TEN, orders=rooms, gains=gains)
    done = balance(asked)
    assert asked.allows(done.laying.sets)
    # What the last jumbo's sets give up, the first jumbo's may take: trim there is saved as well.
    assert sum(lengths_m(done)) <= 10 * 15_100 * 102 // 100
    assert done.laying.lost_m == 0
    assert done.loss_paper is not None
    assert done.loss_paper < asked.loss(before(asked))


def test_an_order_with_no_room_keeps_its_metres() -> None:
    """Least and most equal to what is made: metres may only change places between jumbos."""
    rooms, gains = rooms_and_gains(100, 100)
    done = balance(problem(TEN, orders=rooms, gains=gains))
    assert sum(lengths_m(done)) == 10 * 15_100
    # Five sets of 16,000 would leave 14,200 each for the others, whose least is 14,500.
    assert done.laying.lost_m == 1_500
    assert min(lengths_m(done)) == 14_500


def test_paper_beyond_what_the_customer_wants_is_paid_for() -> None:
    """At a price of 1 for every kg over, stretching saves nothing and is not done."""
    area = Fraction(4000 * 3 * 30_000)
    room = OrderSlack(
        order="P11",
        made=Fraction(3),
        low=Fraction(3),
        high=Fraction(3),
        worth=area,
        ordered=area,
        under=Fraction(1),
        over=Fraction(1),
    )
    gains = [[SetGain(order=0, worth_per_m=Fraction(4000))]]
    block = LengthBlock(sets=3, length_m=30_000, min_m=30_000, max_m=32_000)
    done = balance(problem(block, orders=[room], gains=gains))
    assert lengths_m(done) == (30_000,) * 3
    tolerated = OrderSlack(
        order="P11",
        made=Fraction(3),
        low=Fraction(3),
        high=Fraction(3),
        worth=area,
        ordered=area,
        over=Fraction(1, 10),
    )
    cheap = balance(problem(block, orders=[tolerated], gains=gains))
    assert lengths_m(cheap) == (32_000, 32_000, 30_000)


def test_whole_sheets_are_never_short() -> None:
    """Sets give up metres as far as whole sheets allow; where one would lack, they keep them."""
    block = LengthBlock(sets=4, length_m=21_000, min_m=20_000, max_m=21_000)
    sheets = Fraction(4 * 21_000 * 4)
    gain = SetGain(
        order=0,
        gain_per_m=Fraction(4),
        worth_per_m=Fraction(4000),
        rounding=Fraction(4),
        sheeted=SheetReels(reels=1, ups=4, chop_mm=Fraction(1000), kept=Fraction(1)),
    )

    def run(least: Fraction) -> tuple[int, ...]:
        room = OrderSlack(
            order="S1", made=sheets, low=least, high=2 * sheets, worth=Fraction(4000 * 84_000)
        )
        return lengths_m(balance(problem(block, orders=[room], gains=[[gain]])))

    assert run(sheets - 16_000) == (20_000,) * 4
    assert run(sheets - 15_999) == (21_000,) * 4


def test_an_order_outside_its_range_is_not_taken_further_out() -> None:
    """A surplus that the cuts made already may stay, not grow."""
    rooms, gains = rooms_and_gains(90, 95)
    asked = problem(TEN, orders=rooms, gains=gains)
    done = balance(asked)
    assert sum(lengths_m(done)) <= 10 * 15_100
    assert asked.allows(done.laying.sets)


def test_shorter_sets_make_the_paper_last() -> None:
    """Four sets of 21 km do not fit the one jumbo there is; four of 20 km do."""
    block = LengthBlock(sets=4, length_m=21_000, min_m=20_000, max_m=21_000)
    asked = problem(block, supply=JumboSupply(stock=(listed("A", 80_000),)))
    done = balance(asked)
    assert before(asked).unlaid
    assert not done.laying.unlaid
    assert lengths_m(done) == (20_000,) * 4


def test_lengths_are_held_against_reels_and_orders() -> None:
    """A set outside its range, or an order over it, is not allowed; as they were, they are."""
    rooms, gains = rooms_and_gains(99, 101)
    done = balance(problem(TEN))
    assert problem(TEN).allows(done.laying.sets)
    assert not problem(TEN, orders=rooms, gains=gains).allows(done.laying.sets)
    tight = LengthBlock(sets=10, length_m=15_100, min_m=15_000, max_m=15_200)
    assert not problem(tight).allows(done.laying.sets)


def test_where_time_is_up_sets_still_use_the_butt() -> None:
    """One way to end jumbos takes no time: none is left with a butt for want of it.

    An order that may have no more takes from the last jumbo what the first one's sets get.
    """
    block = LengthBlock(sets=10, length_m=15_100, min_m=14_500, max_m=16_000)
    done = balance(problem(block), budget=Budget.lasting(0))
    assert done.laying.lost_m == 0
    rooms, gains = rooms_and_gains(100, 101)
    asked = problem(TEN, orders=rooms, gains=gains)
    done = balance(asked, budget=Budget.lasting(0))
    assert asked.allows(done.laying.sets)
    assert before(asked).lost_m - done.laying.lost_m == 4_500


def test_more_equal_sets_take_no_more_time() -> None:
    """Of fifty thousand sets of one block as many ends of jumbos are looked at as of a thousand."""
    block = LengthBlock(sets=50_000, length_m=15_990, min_m=15_000, max_m=16_000)
    begun = time.process_time()
    done = balance(problem(block))
    assert len(done.laying.sets) == 50_000
    assert time.process_time() - begun < 10
