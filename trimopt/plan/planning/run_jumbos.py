"""The jumbos that a run is cut from: those listed for its paper, then nominal ones."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Book, JumboInStock, Order, grade_key
from trimopt.making import Run, prepare_placeable, required, ways
from trimopt.making.required_ranges import ordered_area
from trimopt.mill.model import Mill
from trimopt.plan.model import RunPlan, UnusedJumbo
from trimopt.winding import StockJumbo

_ALIKE = 0.02  # jumbos whose lengths differ by no more of it are cut into the same sets

NO_JUMBO = (
    "the book lists no jumbo of its grade and grammage and says that there are no others; list "
    "one, or take the limit out"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunJumbos:
    """The mill as a run sees it, its listed jumbos, and the usable lengths that there are.

    `max_m` are those of most of the jumbos that the run takes: nearly of one length.
    """

    mill: Mill
    listed: tuple[JumboInStock, ...]  # like the nominal one
    odd: tuple[JumboInStock, ...]  # unlike it, in the order in which they are wound, before others
    usable_m: tuple[int, ...]  # empty: no jumbo may be used
    max_m: tuple[int, ...]
    only_listed: bool
    taken: frozenset[str] = frozenset()  # names that no nominal jumbo may bear

    @property
    def sets_m(self) -> tuple[int, ...]:
        """The lengths that sets are made for: those of most of the jumbos, and the longest."""
        return tuple(dict.fromkeys((*self.max_m, max(self.usable_m))))


def stock_jumbo(jumbo: JumboInStock) -> StockJumbo:
    """A listed jumbo as the winder unwinds it."""
    return StockJumbo(
        name=jumbo.name,
        width_mm=jumbo.width_mm,
        usable_m=jumbo.usable_m,
        loss_start_m=jumbo.loss_start_m,
        loss_end_m=jumbo.loss_end_m,
        nominal=False,
        defects=jumbo.defects,
    )


def stock_of(
    run: Run, runs: Sequence[Run], mill: Mill, stock: Iterable[JumboInStock]
) -> tuple[JumboInStock, ...]:
    """The listed jumbos of a run: of its grade, and of no other run's grammage so nearly.

    How far the grammages may lie apart stands in the mill file.
    """
    nearest = ((jumbo, _run_of(jumbo, (run, *runs), mill)) for jumbo in stock)
    return tuple(jumbo for jumbo, own in nearest if own is not None and own.name == run.name)


def jumbos_for(
    run: Run,
    mill: Mill,
    listed: Sequence[JumboInStock],
    *,
    only_listed: bool,
    in_order: bool = False,
    started: bool = False,
    own_width: bool = False,
) -> RunJumbos:
    """Give the jumbos that a run is cut from.

    Its width is that of the mill's nominal jumbo, of which there are as many as it takes; or, where
    only listed ones exist, that of most of their metres. Jumbos of other widths and those with
    defects are odd ones. Where the list keeps its order, so are all that stand before one; and all
    are, where only listed ones exist and an odd one alone is long enough for an order.

    Parameters
    ----------
    mill
        As the run's paper sees it (`Mill.for_paper`).
    listed
        The listed jumbos of the run (`stock_of`).
    in_order
        Whether they come off in the list's order alone.
    started
        Whether the first of them is on the unwind.
    own_width
        Whether the width is the mill's whatever the listed ones have: those of a run in part.
    """
    width_mm = mill.jumbo.width_mm
    if only_listed and listed and not own_width:
        metres: Counter[Fraction] = Counter()
        for jumbo in listed:
            metres[jumbo.width_mm] += jumbo.usable_m
        width_mm = max(metres, key=lambda width: (metres[width], width))
        mill = replace(mill, jumbo=replace(mill.jumbo, width_mm=width_mm))
    odd = _odd(listed, width_mm, in_order=in_order)
    if only_listed and _long_ones_are_odd(run, mill, listed, odd):
        odd = _in_turn(listed, in_order=in_order)
    if started and odd:
        odd = (listed[0], *(jumbo for jumbo in odd if jumbo is not listed[0]))
    kept = tuple(jumbo for jumbo in listed if jumbo not in odd)
    lengths = [jumbo.usable_m for jumbo in kept]
    if only_listed and not kept:
        lengths = [jumbo.usable_m for jumbo in odd]
    nominal_m = 0 if only_listed else mill.jumbo.usable_m
    return RunJumbos(
        mill=mill,
        listed=kept,
        odd=odd,
        usable_m=tuple(dict.fromkeys([*lengths, *[nominal_m] * (not only_listed)])),
        max_m=_max_m(lengths, nominal_m, _needed_m(run, mill)),
        only_listed=only_listed,
        taken=run.listed_jumbos,
    )


def jumbos_in_book(
    run: Run, runs: Sequence[Run], book: Book, mill: Mill, begun_mm: Fraction | None = None
) -> RunJumbos:
    """Give the jumbos that a run of the book is cut from, of those that the book lists.

    A run that sets were run of keeps the width that it began with, `begun_mm`.
    """
    grade = mill.grade(run.grade)
    assert grade is not None  # the book was read against this mill
    listed = stock_of(run, runs, mill, book.jumbos)
    own = mill.for_paper(grade, run.grammage_gsm)
    return jumbos_for(
        run,
        own if begun_mm is None else own.with_jumbos_of(begun_mm),
        listed,
        only_listed=book.only_listed_jumbos,
        in_order=book.jumbos_in_order,
        own_width=begun_mm is not None,
    )


def width_begun_with(run: RunPlan | None, done: Container[int]) -> Fraction | None:
    """The width of a run that sets of it, by number, were run at; None: at others, or none were."""
    if run is None:
        return None
    for block in run.blocks:
        if block.jumbo_width_mm is None and any(row.number in done for row in block.sets):
            return run.jumbo_width_mm
    return None


def at_width_of(run: RunPlan, mill: Mill) -> RunPlan:
    """The run with the mill's width for its own: each block stays what it is."""
    width_mm = mill.jumbo.width_mm
    if width_mm == run.jumbo_width_mm:
        return run
    others = ((run.web_mm(block), run.deckle_of(block)) for block in run.blocks)
    blocks = tuple(
        replace(block, jumbo_width_mm=None, deckle_mm=None)
        if web_mm == width_mm
        else replace(block, jumbo_width_mm=web_mm, deckle_mm=deckle_mm)
        for block, (web_mm, deckle_mm) in zip(run.blocks, others, strict=True)
    )
    return replace(run, jumbo_width_mm=width_mm, deckle_mm=mill.deckle_mm, blocks=blocks)


def _odd(
    listed: Sequence[JumboInStock], width_mm: Fraction, *, in_order: bool
) -> tuple[JumboInStock, ...]:
    """The jumbos that are planned apart from the others; those of one width together."""
    odd = [
        place for place, jumbo in enumerate(listed) if jumbo.width_mm != width_mm or jumbo.defects
    ]
    if in_order:
        return tuple(listed[: odd[-1] + 1]) if odd else ()
    return _in_turn([listed[place] for place in odd], in_order=in_order)


def _in_turn(jumbos: Sequence[JumboInStock], *, in_order: bool) -> tuple[JumboInStock, ...]:
    """As they are listed, or those of one width together."""
    return tuple(jumbos if in_order else sorted(jumbos, key=lambda each: -each.width_mm))


def _long_ones_are_odd(
    run: Run, mill: Mill, listed: Sequence[JumboInStock], odd: Sequence[JumboInStock]
) -> bool:
    """Whether some order has no reel so short as to be wound on a jumbo that is not odd."""
    longest_m = max((each.usable_m for each in listed), default=0)
    kept_m = max((each.usable_m for each in listed if each not in odd), default=0)
    if not 0 < kept_m < longest_m:
        return False
    return any(
        ways(order, mill, usable_m=longest_m) and not ways(order, mill, usable_m=kept_m)
        for order in run.ordered
    )


def _needed_m(run: Run, mill: Mill) -> int:
    """The least metres of jumbo that the orders take, were nothing lost."""
    unit = Fraction(1)
    area = sum(ordered_area(order, required(order, unit), mill, unit) for order in run.orders)
    return math.ceil(area / mill.jumbo.width_mm)


def _max_m(listed_m: Sequence[int], nominal_m: int, needed_m: int) -> tuple[int, ...]:
    """The lengths of most jumbos, listed ones in their order until there are enough of them.

    Of as many jumbos the longer ones: a short one is the odd one.
    """
    taken: Counter[int] = Counter()
    for usable_m in listed_m:
        if needed_m > 0:
            taken[usable_m] += 1
            needed_m -= usable_m
    if nominal_m:
        taken[nominal_m] += max(1, -(-needed_m // nominal_m))
    near = [tuple(m for m in taken if abs(m - one) <= _ALIKE * one) for one in taken]
    return max(near, key=lambda alike: (sum(taken[m] for m in alike), max(alike)), default=())


def stopped_orders(run: Run, jumbos: RunJumbos) -> tuple[tuple[Order, str], ...]:
    """The orders of a run that cannot be made from its jumbos, each with why."""
    if not jumbos.usable_m:
        return tuple((order, NO_JUMBO) for order in run.orders)
    return prepare_placeable(run, jumbos.mill, usable_m=jumbos.sets_m).stopped


def _away_percent(jumbo: JumboInStock, run: Run) -> Fraction:
    own, asked = Fraction(str(jumbo.grammage_gsm)), Fraction(str(run.grammage_gsm))
    return 100 * abs(own - asked) / asked


def _of_grade(jumbo: JumboInStock, runs: Iterable[Run]) -> list[Run]:
    """The runs of the jumbo's grade, the nearest grammage first."""
    same = [run for run in runs if grade_key(run.grade) == grade_key(jumbo.grade)]
    return sorted(same, key=lambda run: _away_percent(jumbo, run))


def _run_of(jumbo: JumboInStock, runs: Iterable[Run], mill: Mill) -> Run | None:
    max_percent = mill.jumbo.max_grammage_difference_percent
    nearest = _of_grade(jumbo, runs)[:1]
    return nearest[0] if nearest and _away_percent(jumbo, nearest[0]) <= max_percent else None


def unused_jumbos(
    book: Book, runs: Sequence[Run], mill: Mill, planned: Iterable[RunPlan]
) -> tuple[UnusedJumbo, ...]:
    """The listed jumbos that no run takes, each with the reason."""
    plans = {plan.name: plan for plan in planned}
    opened = {jumbo.name for plan in plans.values() for jumbo in plan.jumbos}
    unused = []
    for jumbo in book.jumbos:
        if jumbo.name in opened:
            continue
        run = _run_of(jumbo, runs, mill)
        if run is None:
            why = _no_run(jumbo, runs, mill)
        elif run.name not in plans:
            why = f"no order of {run.name} can be made"
        else:
            why = run.written.translated(_passed_over(jumbo, book, plans[run.name]))
        unused.append(
            UnusedJumbo(
                name=jumbo.name,
                grade=jumbo.grade,
                grammage_gsm=jumbo.grammage_gsm,
                width_mm=jumbo.width_mm,
                length_m=jumbo.length_m,
                why=why,
            )
        )
    return tuple(unused)


def _no_run(jumbo: JumboInStock, runs: Sequence[Run], mill: Mill) -> str:
    near = _of_grade(jumbo, runs)
    if not near:
        return f"no order is for {jumbo.grade}"
    taken = float(mill.jumbo.max_grammage_difference_percent)
    grade, written = mill.grade(jumbo.grade), near[0].written
    basis = None if grade is None else grade.basis_weight
    own, other = (written.grammage(g, basis) for g in (jumbo.grammage_gsm, near[0].grammage_gsm))
    return (
        f"no order is for {jumbo.grade} of {own}: the nearest is of {other}, "
        f"{float(_away_percent(jumbo, near[0])):.2g} % away, and the mill file takes {taken:g} %"
    )


def _passed_over(jumbo: JumboInStock, book: Book, plan: RunPlan) -> str:
    if jumbo.width_mm != plan.jumbo_width_mm:
        return (
            f"{float(jumbo.width_mm):g} mm wide, {plan.name} is cut from "
            f"{float(plan.jumbo_width_mm):g} mm: no sets lose less than a fifth of its paper"
        )
    if jumbo.defects:
        return "it has defects: no sets lose less than a fifth of its paper"
    listed = {each.name: place for place, each in enumerate(book.jumbos)}
    # one that was run off may have left the list
    last = max((listed.get(j.name, -1) for j in plan.jumbos if not j.nominal), default=-1)
    if last > listed[jumbo.name] or any(each.nominal for each in plan.jumbos):
        return f"too short for the sets that were next: {jumbo.usable_m:,} m usable"
    return f"not needed: {plan.name} ends before it"
