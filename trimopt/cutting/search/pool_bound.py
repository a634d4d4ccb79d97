"""What whole sets prove beyond prices, where every pattern that a better plan can hold is known.

At prices that prove a bound B, a plan that loses less than B + D holds no pattern, no way to make a
demand and no piece of surplus whose reduced cost is D or more. Those below are columns of which a
plan has whole numbers: the pieces of each option come out alike on both sides, and each demand is
made in one way. Where the program over them with cuts (`cut_program.py`) rises by E, B + min(D, E)
is proven; where E is most of D the columns are parted (`pool_branching.py`).

Demands whose ways are not listed stay at their prices.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress

import numpy as np

from trimopt.cutting.lp.convexified import Guide, guide_of_tables
from trimopt.cutting.lp.convexified.convexified_bound import WholePrices
from trimopt.cutting.lp.convexified.order_production import OrderProduction, min_surplus_loss
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.products import whole_product
from trimopt.cutting.search.cut_program import TOTAL, UNITS, CutProgram, Ints, Part, PoolColumns
from trimopt.cutting.search.pattern_enumeration import near_patterns
from trimopt.cutting.search.pool_branching import PoolBranching, risen
from trimopt.cutting.search.search_state import Search, paper_cost

_Column = tuple[int, int, list[tuple[int, int]], Pattern | None]  # cost, demand, parts


def prove_by_cuts(search: Search, guide: Guide, pricers: Sequence[Pricer], margin: float) -> None:
    """Raise the bound towards a gap at which a search is content, by cuts over a pool.

    Only where the patterns that a plan below such a bound can hold are few enough to be known.
    Where that is not enough, again from prices and ways that are read from tables.

    Parameters
    ----------
    margin
        What floats may err by in a reduced cost, in units of loss.
    """
    if not search.params.pool_bound.patterns:
        return
    _prove_from(search, guide, pricers, margin)
    if not search.within(search.params.restarts.target_gap):
        closer = guide_of_tables(search, guide)
        if closer is not guide and not search.within(search.params.restarts.target_gap):
            _prove_from(search, closer, pricers, margin)


def _prove_from(search: Search, guide: Guide, pricers: Sequence[Pricer], margin: float) -> None:
    """Raise the bound by cuts over what costs little at the prices of a guide."""
    wanted = search.params.pool_bound.patterns
    if guide.bound is None or search.loss is None:
        return
    # A program over fewer columns proves more, so none is asked for beyond the rise that closes.
    paper = paper_cost(search.instance, search.cuts)
    span = search.loss - guide.bound - int(search.params.restarts.target_gap * paper)
    for _ in range(search.params.pool_bound.spans):
        most = span + margin
        near = near_patterns(
            pricers, guide.values, search, wanted=wanted // 4, max_cost=most, all_or_none=True
        )
        if near.complete >= most:
            break
        span //= 2
    else:
        return
    columns = pool_columns(guide, near.patterns, span, search.params.pool_bound.table_ways)
    if columns is not None:
        _prove_over(search, columns, guide.bound)


def pool_columns(
    guide: Guide, patterns: Sequence[Pattern], span: int, max_ways: int
) -> PoolColumns | None:
    """All columns whose reduced costs are below `span`, in units of loss.

    None without prices, or where no demand has its pieces listed. From a table no more than
    `max_ways` ways of a demand are listed.
    """
    hull, prices = guide.hull, guide.prices
    if hull is None or prices is None or span <= 0:
        return None
    instance, scale = hull.instance, prices.scale
    listed = _listed(hull.wholes, prices, span, max_ways)
    if not listed:
        return None
    options = [k for i in listed for k in hull.wholes[i].options]
    place = {k: row for row, k in enumerate(options)}
    worth = prices.of_pieces(hull.wholes, len(hull.instance.options))
    columns: list[_Column] = []
    for pattern in patterns:
        cost = SCALE * instance.classes[pattern.winding_class].cost * scale
        cost -= sum(worth[k] * n for k, n in pattern.pieces)
        parts = [(place[k], n) for k, n in pattern.pieces if k in place]
        columns.append((cost, -1, parts, pattern))
    for at, (i, (counts, losses)) in enumerate(listed.items()):
        whole, demand = hull.wholes[i], instance.demands[i]
        own = [place[k] for k in whole.options]
        for k in whole.options:
            cost = min_surplus_loss(demand, instance.options[k]) * scale + worth[k]
            columns.append((cost, -1, [(place[k], -1)], None))
        worths = np.array([worth[k] for k in whole.options], dtype=object)
        costs = whole_product(counts.astype(object), worths) + losses.astype(object) * scale
        costs -= costs.min()
        for way in np.flatnonzero(costs < span * scale):
            parts = [(row, -int(n)) for row, n in zip(own, counts[way], strict=True) if n]
            columns.append((int(costs[way]), at, [*parts, (len(options) + at, 1)], None))
    # What holds no listed piece is in no row, and costs no less than nothing.
    kept = [column for column in columns if column[0] < span * scale and column[2]]
    return _columns(kept, (len(options), len(listed)), (scale, span))


def _columns(
    columns: list[_Column], numbers: tuple[int, int], units: tuple[int, int]
) -> PoolColumns:
    """Tabulate columns over so many options and listed demands.

    Costs are in units of loss a scale, and down in those of a span.
    """
    scale, span = units
    rows = np.zeros((sum(numbers), len(columns)))
    for j, (_, _, parts, _) in enumerate(columns):
        for row, n in parts:
            rows[row, j] = n
    return PoolColumns(
        rows=rows,
        rights=np.repeat([0.0, 1.0], numbers),
        costs=np.array([cost * UNITS // (span * scale) for cost, *_ in columns], dtype=np.int64),
        made=np.array([at for _, at, _, _ in columns], dtype=np.int64),
        span=span,
        patterns=tuple(pattern for *_, pattern in columns),
    )


def _listed(
    wholes: Sequence[OrderProduction], prices: WholePrices, span: int, max_ways: int
) -> dict[int, tuple[Ints, Ints]]:
    """Ways and what each loses, of each demand of which those below `span` are few enough."""
    found = {}
    for i, (whole, price) in enumerate(zip(wholes, prices.measures, strict=True)):
        if whole.by_counts:
            ways = whole.near(np.array(price) / prices.scale, span, max_ways)
            if ways is not None:
                found[i] = ways
    return found


def _prove_over(search: Search, columns: PoolColumns, base: int) -> None:
    """Raise the bound `base` of the prices by cuts, and by parts where cuts do much of it."""
    params = search.params.pool_bound
    program = CutProgram(search, Part.of(columns))
    ended = False
    with suppress(SolverFailedError):
        program.run()
        ended = True
    rise = risen(program.proven, columns.span)
    search.prove(base + rise, "all patterns that could serve, and cuts")
    enough = TOTAL * params.min_branched <= program.proven < TOTAL
    if params.branch_work and ended and enough:
        PoolBranching(search, base, columns.span).run(program)
