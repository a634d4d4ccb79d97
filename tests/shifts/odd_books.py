"""Books with odd jumbos of every kind: what a reel machine may leave on the floor in a bad week."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

from trimopt import Book, JumboInStock, Mill, Order, StockReel, read_book, read_mill
from trimopt.book.model import Defect
from trimopt.mill.model import StockWidth

ORDERS = Path(__file__).parents[2] / "orders"
_WIDTHS_OFF = (0, 0, 0, -10, -20, -60, -310, 15)  # mm, beside the nominal jumbo


def odd_book(number: int) -> tuple[Book, Mill]:
    """A book and its mill by the number of their draws."""
    draw = Random(number)
    mill = read_mill(ORDERS / "mill.toml")
    book = read_book(ORDERS / "shift.xlsx", mill)
    orders = _orders(draw, book.orders)
    jumbos = tuple(_jumbo(draw, mill, orders, place) for place in range(draw.randint(1, 4)))
    if draw.random() < 0.3:
        winder = replace(mill.winders[0], joins_allowed=True, min_join_part_m=300)
        mill = replace(mill, winders=(winder,))
    if draw.random() < 0.3:
        mill = replace(mill, stock_widths=_stock_widths(draw, orders[0]))
    book = replace(
        book,
        orders=orders,
        jumbos=jumbos,
        only_listed_jumbos=draw.random() < 0.25,
        jumbos_in_order=draw.random() < 0.25,
        stock=tuple(_stock(draw, orders)) if draw.random() < 0.3 else (),
        instructions=(),
    )
    return book, mill


def _orders(draw: Random, lines: tuple[Order, ...]) -> tuple[Order, ...]:
    """Some lines, less of each; a few take seconds, or have reels that must not lie at the edge."""
    drawn = sorted(draw.sample(lines, draw.randint(2, 6)), key=lambda each: each.number)
    return tuple(
        replace(
            each,
            quantity=max(Fraction(1), Fraction(each.quantity * draw.randint(1, 7) // 10)),
            no_edge=each.product.value == "reel" and draw.random() < 0.15,
            takes_seconds=each.product.value == "reel" and draw.random() < 0.3,
            joins_allowed=draw.choice([0, 0, 1, 2]),
        )
        for each in drawn
    )


def _jumbo(draw: Random, mill: Mill, orders: tuple[Order, ...], place: int) -> JumboInStock:
    grade = mill.grade(orders[0].grade)
    assert grade is not None
    nominal = mill.for_paper(grade, orders[0].grammage_gsm).jumbo
    length = draw.choice([1_500, 4_000, 9_000, 13_000, nominal.length_m, nominal.length_m])
    jumbo = JumboInStock(
        name=f"M-{place}",
        grade=orders[0].grade,
        grammage_gsm=orders[0].grammage_gsm,
        width_mm=nominal.width_mm + draw.choice(_WIDTHS_OFF),
        length_m=length,
        loss_start_m=draw.choice([0, nominal.loss_start_m]),
        loss_end_m=draw.choice([0, nominal.loss_end_m]),
    )
    kinds = [_wandering, _edges, _trailing, _first, _hole, _streak, _exact, _steps]
    found: list[Defect] = []
    for kind in draw.sample(kinds, draw.choice([0, 1, 1, 2, 3])):
        for each in kind(draw, jumbo, orders):
            if each.from_m < each.to_m and not any(_over(each, other) for other in found):
                found.append(each)
    found.sort(key=lambda each: (each.from_m, each.from_mm))
    return replace(jumbo, defects=tuple(found))


def _over(one: Defect, other: Defect) -> bool:
    return (
        one.from_m < other.to_m
        and other.from_m < one.to_m
        and one.from_mm < other.to_mm
        and other.from_mm < one.to_mm
    )


def _band(what: str, metres: tuple[int, int], across: tuple[Fraction | int, ...]) -> Defect:
    return Defect(
        from_m=metres[0], to_m=metres[1], from_mm=Fraction(across[0]), to_mm=Fraction(across[1]),
        what=what,
    )  # fmt: skip


def _wandering(draw: Random, jumbo: JumboInStock, _: tuple[Order, ...]) -> Iterator[Defect]:
    """A streak that moves from side to side along the jumbo."""
    at, wide = draw.randint(100, 4_000), draw.choice([10, 30, 80])
    start = draw.randint(0, jumbo.length_m // 2)
    for _part in range(draw.randint(2, 6)):
        end = min(jumbo.length_m, start + draw.randint(200, 3_000))
        yield _band("wandering streak", (start, end), (at, at + wide))
        start, at = end, max(0, min(int(jumbo.width_mm) - wide, at + draw.randint(-200, 200)))


def _edges(draw: Random, jumbo: JumboInStock, _: tuple[Order, ...]) -> Iterator[Defect]:
    """Both edges, at times not over the same metres."""
    for front in (True, False):
        wide = draw.choice([5, 20, 45, 90, 200])
        start = draw.choice([0, draw.randint(0, jumbo.length_m - 1)])
        end = draw.choice([jumbo.length_m, draw.randint(start, jumbo.length_m)])
        across = (0, wide) if front else (jumbo.width_mm - wide, jumbo.width_mm)
        yield _band("bad edge", (start, end), across)


def _trailing(draw: Random, jumbo: JumboInStock, _: tuple[Order, ...]) -> Iterator[Defect]:
    """The last metres, from side to side or not."""
    start = jumbo.length_m - draw.choice([1, 50, 700, jumbo.length_m // 2])
    wide = jumbo.width_mm if draw.random() < 0.6 else Fraction(1_000)
    yield _band("trailing", (start, jumbo.length_m), (0, wide))


def _first(draw: Random, jumbo: JumboInStock, _: tuple[Order, ...]) -> Iterator[Defect]:
    """The first metres, from side to side or not."""
    end = draw.choice([1, 60, 700, jumbo.length_m // 3])
    wide = jumbo.width_mm if draw.random() < 0.6 else Fraction(1_000)
    yield _band("outside", (0, end), (0, wide))


def _hole(draw: Random, jumbo: JumboInStock, _: tuple[Order, ...]) -> Iterator[Defect]:
    """From side to side, at times two in a row."""
    start = draw.randint(0, jumbo.length_m - 1)
    for _part in range(draw.randint(1, 2)):
        end = min(jumbo.length_m, start + draw.choice([1, 30, 400]))
        yield _band("hole", (start, end), (0, jumbo.width_mm))
        start = end + draw.choice([0, 1, 900])
        if start >= jumbo.length_m:
            return


def _streak(draw: Random, jumbo: JumboInStock, _: tuple[Order, ...]) -> Iterator[Defect]:
    """Several, at times beside each other over the same metres."""
    start = draw.choice([0, draw.randint(0, jumbo.length_m - 1)])
    end = draw.choice([jumbo.length_m, draw.randint(start, jumbo.length_m)])
    for _part in range(draw.randint(1, 3)):
        at = draw.randint(0, int(jumbo.width_mm) - 60)
        yield _band("streak", (start, end), (at, at + draw.choice([1, 20, 60])))


def _exact(draw: Random, jumbo: JumboInStock, orders: tuple[Order, ...]) -> Iterator[Defect]:
    """A band just as wide as a reel of some order, at the edge trim or anywhere."""
    wide = draw.choice(orders).width_mm
    at = draw.choice([20, draw.randint(0, max(0, int(jumbo.width_mm - wide)))])
    yield _band(
        "seconds", (0, draw.choice([jumbo.length_m, 5_000 % jumbo.length_m])), (at, at + wide)
    )


def _steps(draw: Random, jumbo: JumboInStock, _: tuple[Order, ...]) -> Iterator[Defect]:
    """Bands that overlap along the jumbo, each beginning before the one before has ended."""
    at, start = draw.randint(0, 800), draw.randint(0, jumbo.length_m // 2)
    for _part in range(draw.randint(2, 5)):
        end = min(jumbo.length_m, start + draw.randint(500, 4_000))
        yield _band("steps", (start, end), (at, at + 40))
        start, at = (start + end) // 2, at + draw.randint(60, 900)
        if at + 40 > jumbo.width_mm:
            return


def _stock_widths(draw: Random, like: Order) -> tuple[StockWidth, ...]:
    return tuple(
        StockWidth(
            name=f"stock-{wide}",
            grade=like.grade,
            grammage_gsm=like.grammage_gsm,
            width_mm=Fraction(wide),
            core_mm=like.core_mm or 152.0,
            max_diameter_mm=1_250.0,
            max_kg=Fraction(draw.choice([2_000, 9_000])),
            value_share=Fraction(draw.choice([3, 7, 9]), 10),
            joins_allowed=draw.choice([0, 1]),
        )
        for wide in draw.sample([500, 640, 810, 1_000], draw.randint(1, 2))
    )


def _stock(draw: Random, orders: tuple[Order, ...]) -> Iterator[StockReel]:
    for number in range(draw.randint(1, 4)):
        order = draw.choice([each for each in orders if each.width_mm] or orders)
        yield StockReel(
            name=f"S-{number}",
            grade=order.grade,
            grammage_gsm=order.grammage_gsm,
            width_mm=order.width_mm,
            diameter_mm=order.max_diameter_mm or 1_200.0,
            length_m=draw.randint(2_000, 4_000),
            core_mm=order.core_mm or 152.0,
        )
