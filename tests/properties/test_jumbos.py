"""What always holds along the jumbo: metres add up, nothing overlaps, least by brute force."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product

from hypothesis import given, settings, strategies as st

from tests.winding.brute import least_butts_m
from trimopt.winding.jumbos.last_metres import balance
from trimopt.winding.jumbos.laying import Laying, LengthBlock, lay_lengths, lay_sets
from trimopt.winding.jumbos.order_slack import LengthProblem, OrderSlack, SetGain
from trimopt.winding.model import JumboSupply, StockJumbo


def jumbo(name: str, usable_m: int) -> StockJumbo:
    """A jumbo of that usable length."""
    return StockJumbo(
        name=name, width_mm=Fraction(4000), usable_m=usable_m, loss_start_m=0, loss_end_m=0
    )


@st.composite
def blocks(
    draw: st.DrawFn, *, max_blocks: int = 4, max_sets: int = 5, max_m: int = 12, spread: int = 3
) -> list[LengthBlock]:
    """Blocks with small lengths, so that every case can be counted out."""
    made = []
    for _ in range(draw(st.integers(1, max_blocks))):
        length = draw(st.integers(2, max_m))
        made.append(
            LengthBlock(
                sets=draw(st.integers(1, max_sets)),
                length_m=length,
                min_m=max(1, length - draw(st.integers(0, spread))),
                max_m=length + draw(st.integers(0, spread)),
                max_joins=draw(st.integers(0, 2)),
                priority=draw(st.none() | st.integers(1, 3)),
            )
        )
    return made


def check_metres(laying: Laying, stock: Sequence[StockJumbo]) -> None:
    """Every jumbo is wound from its start without gap or overlap, and its metres add up."""
    for butt in laying.butts:
        parts = [s for laid in laying.sets for s in laid.stretches if s.jumbo == butt.jumbo.name]
        assert parts[0].from_m == 0
        assert all(a.to_m == b.from_m for a, b in pairwise(parts))
        assert parts[-1].to_m == butt.wound_m
        assert butt.wound_m + butt.left_m == butt.jumbo.usable_m
        assert butt.left_m >= 0
    assert all(not butt.carried_forward for butt in laying.butts[:-1])
    for laid in laying.sets:
        assert sum(s.to_m - s.from_m for s in laid.stretches) == laid.length_m
    opened = [butt.jumbo.name for butt in laying.butts]
    assert len(set(opened)) == len(opened)
    order = [opened.index(s.jumbo) for laid in laying.sets for s in laid.stretches]
    assert order == sorted(order)
    assert {j.name for j in stock} >= {
        b.jumbo.name for b in laying.butts if not b.jumbo.name.startswith("N ")
    }


@settings(max_examples=150)
@given(
    blocks(),
    st.lists(st.integers(8, 30), max_size=4),
    st.none() | st.integers(15, 40),
    st.booleans(),
    st.booleans(),
)
def test_metres_add_up_and_order_is_kept(
    asked: list[LengthBlock],
    lengths: list[int],
    nominal_m: int | None,
    joins: bool,
    in_order: bool,
) -> None:
    """Whatever is asked: no gap, no overlap, no set lost from the count, joins within limits.

    Where jumbos keep the list's order they are opened in it, nominal ones after them.
    """
    if not lengths and nominal_m is None:
        lengths = [20]
    stock = [jumbo(f"S{n}", usable) for n, usable in enumerate(lengths)]
    nominal = None if nominal_m is None else jumbo("N", nominal_m)
    supply = JumboSupply(stock=tuple(stock), nominal=nominal, in_order=in_order)
    laying = lay_sets(asked, supply, joined=joins)
    check_metres(laying, stock)
    places = {jumbo.name: place for place, jumbo in enumerate(stock)}
    opened = [places.get(butt.jumbo.name, len(stock)) for butt in laying.butts]
    assert not in_order or opened == sorted(opened)
    assert [s.block for s in laying.sets] == sorted(s.block for s in laying.sets)
    unlaid = {u.block: u.sets for u in laying.unlaid}
    for place, block in enumerate(asked):
        laid = [s for s in laying.sets if s.block == place]
        assert len(laid) + unlaid.get(place, 0) == block.sets
        for one in laid:
            assert len(one.stretches) <= 1 + (block.max_joins if joins else 0)


def min_used(lengths: Sequence[int], usable: Sequence[int]) -> int:
    """Least metres used for sets in this order over every way to end the jumbos early."""
    best = None

    def go(first: int, j: int, used: int) -> None:
        nonlocal best
        if j == len(usable):
            return
        wound = 0
        for after in range(first, len(lengths)):
            wound += lengths[after]
            if wound > usable[j]:
                return
            if after == len(lengths) - 1:
                best = used + wound if best is None else min(best, used + wound)
            else:
                go(after + 1, j + 1, used + usable[j])

    go(0, 0, 0)
    assert best is not None
    return best


@settings(max_examples=100)
@given(st.lists(st.integers(2, 12), min_size=1, max_size=8), st.integers(12, 30))
def test_one_after_another_is_the_least_for_an_order(lengths: list[int], usable_m: int) -> None:
    """No way to end jumbos early uses less than laying each set as soon as it fits."""
    supply = JumboSupply(nominal=jumbo("N", usable_m))
    laying = lay_lengths([(0, length) for length in lengths], supply)
    assert laying is not None
    assert laying.used_m == min_used(lengths, [usable_m] * len(lengths))


@settings(max_examples=60)
@given(blocks(max_blocks=2, max_sets=2), st.lists(st.integers(15, 30), min_size=4, max_size=4))
def test_ends_are_the_least_over_every_length(asked: list[LengthBlock], usable: list[int]) -> None:
    """Counted out jumbo by jumbo, ends lose as few metres as the best lengths of all sets."""
    ranges = [range(b.min_m, b.max_m + 1) for b in asked for _ in range(b.sets)]
    supply = JumboSupply(stock=tuple(jumbo(f"S{n}", m) for n, m in enumerate(usable)))
    laid = [lay_lengths([(0, m) for m in lengths], supply) for lengths in product(*ranges)]
    least = min(laying.lost_m for laying in laid if laying is not None)
    assert None not in laid
    assert least_butts_m(asked, usable) == least


@st.composite
def tied(
    draw: st.DrawFn,
) -> tuple[list[LengthBlock], list[OrderSlack], list[list[SetGain]]]:
    """Blocks whose orders have little room: one by mass in all of them, one by sheets in some."""
    asked = draw(blocks(max_blocks=2, max_sets=2, spread=1))
    rounding = Fraction(draw(st.integers(0, 1)))
    price = draw(st.sampled_from([Fraction(0), Fraction(1, 10), Fraction(1)]))
    mass = SetGain(order=0, gain_per_m=Fraction(2), worth_per_m=Fraction(2))
    sheets = SetGain(order=1, gain_per_m=Fraction(1), worth_per_m=Fraction(1), rounding=rounding)
    gains = [[mass, sheets][: 1 + place] for place in range(len(asked))]
    if draw(st.booleans()):  # reels of one order in two widths, as where sheets are of several ups
        gains[0].append(SetGain(order=0, gain_per_m=Fraction(1), worth_per_m=Fraction(1)))
    rooms = []
    for order in (0, 1):
        made = sum(
            (
                gain.gain_per_m * block.length_m * block.sets
                for block, row in zip(asked, gains, strict=True)
                for gain in row
                if gain.order == order
            ),
            Fraction(0),
        )
        rooms.append(
            OrderSlack(
                order=f"P{order}",
                made=made,
                low=made - draw(st.integers(0, 6)),
                high=made + draw(st.integers(-4, 6)),
                worth=made,
                surplus=Fraction(1),
                ordered=made + draw(st.integers(-6, 6)),
                under=price,
                over=price,
            )
        )
    return asked, rooms, gains


@settings(max_examples=60)
@given(tied(), st.integers(14, 30))
def test_balance_is_the_least_loss_over_every_length(
    asked_for: tuple[list[LengthBlock], list[OrderSlack], list[list[SetGain]]], usable_m: int
) -> None:
    """Over all lengths of all sets that keep both orders in range, none loses much less.

    Lengths are a linear program's, rounded so that every order stays inside: a metre of each set at
    the most. Never is more lost than before.
    """
    asked, rooms, gains = asked_for
    asked = [replace(block, max_joins=0) for block in asked]
    problem = LengthProblem(
        blocks=tuple(asked),
        supply=JumboSupply(nominal=jumbo("N", usable_m)),
        orders=tuple(rooms),
        gains=tuple(tuple(row) for row in gains),
        paper_per_m=Fraction(4),
    )
    done = balance(problem)
    assert problem.allows(done.laying.sets)
    check_metres(done.laying, [])
    assert done.loss_paper is not None
    assert done.loss_paper == problem.loss(done.laying)
    assert problem.loss(lay_sets(problem.blocks, problem.supply)) >= done.loss_paper
    place = [b for b, block in enumerate(asked) for _ in range(block.sets)]
    ranges = [range(asked[b].min_m, asked[b].max_m + 1) for b in place]
    least = done.loss_paper
    for lengths in product(*ranges):
        laying = lay_lengths(list(zip(place, lengths, strict=True)), problem.supply)
        assert laying is not None
        if problem.allows(laying.sets):
            least = min(least, problem.loss(laying))
    if not any(gain.rounding for row in gains for gain in row):
        assert done.loss_paper - least <= problem.paper_per_m * len(place)
