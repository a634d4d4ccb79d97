"""Lower bounds on knife moves that hold for given lots over all their orders and layouts.

Two layouts whose knives meet in r places have r - 1 pairs of **blocks** between these places: some
strips of the one and some of the other, equally wide together, no strip in two blocks. So knives
meet in at most one place more than the most disjoint equal-sum blocks. Where the layout's first
knife stands does not matter, so the bound holds whatever the web is shifted by. In the winder's
count both blocks of a pair have equally many strips besides, since knives that stay keep their
numbers: between two that stay lie as many knives before as after.

Two equal widths may always be taken as a block of their own: let w be in both lots. If both are in
blocks, make a pair of the two and one of all the rest of their blocks; if only one is, its block
can be replaced by the pair. Neither lowers the number of pairs. So equal widths are taken out
first, and what is left has pairs of three strips at least (of four, equally many on both sides).

A broke reel has the width that suits. A pair without one is counted above, and there are no more
pairs with one than there are broke reels.

`path_bound` is the least sum of pair bounds over all running orders. With spare knives that stay
where they are when lifted, a place may be held from further back: a step then saves at most as many
moves as there are idle knives to save them. `places_bound` counts from another side: each place
that no knife holds at the start takes a move at some time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import product
from math import ceil, prod

from trimopt.budget import Budget
from trimopt.mill.model import Winder
from trimopt.winding.knives.integer_lot import LotShape
from trimopt.winding.knives.knife_moves import BACK, FRONT, Beam
from trimopt.winding.knives.layout_dp import AnyKnife, Count, OrderKept

Moves = Sequence[Sequence[int]]
"""From lot (row) to lot (column)."""


def path_bound(
    least: Moves, firsts: Sequence[int], budget: Budget, *, effort: float = 1.0
) -> tuple[int, list[int]]:
    """The least cost of all running orders, and an order of little cost.

    Parameters
    ----------
    least, firsts
        Least moves from each lot to each other, and to each as the first, over all layouts.
    effort
        Deterministic seconds for the integer program, which is stopped with the budget.

    Returns
    -------
    tuple
        A proven lower bound, and the best order that was found (of that cost, where it is proven).
    """
    n = len(least)
    if n <= 1:
        return sum(firsts), list(range(n))
    if len({least[i][j] for i in range(n) for j in range(n) if i != j}) == 1:
        order = sorted(range(n), key=lambda i: firsts[i])
        return firsts[order[0]] + (n - 1) * least[0][1], order
    if budget.over():
        return 0, list(range(n))
    # Heavy; not at the top of a command.
    from trimopt.cutting.cp_sat import FOUND, cp_model, run_cp_sat  # noqa: PLC0415

    model = cp_model.CpModel()
    arcs = []
    terms: list[cp_model.LinearExprT] = []
    # A path through all lots is a circuit through them and a start, which is node n.
    for i in range(n):
        arcs.append((n, i, model.new_bool_var("")))
        terms.append(firsts[i] * arcs[-1][2])
        arcs.append((i, n, model.new_bool_var("")))
        for j in range(n):
            if i != j:
                arcs.append((i, j, model.new_bool_var("")))
                terms.append(least[i][j] * arcs[-1][2])
    model.add_circuit(arcs)
    model.minimize(sum(terms))
    solver, status = run_cp_sat(model, budget, effort=effort, seed=1)
    order = list(range(n))
    if status in FOUND:
        follows = {i: j for i, j, arc in arcs if solver.boolean_value(arc)}
        order = []
        at = follows[n]
        while at != n:
            order.append(at)
            at = follows[at]
    return max(0, round(solver.best_objective_bound)), order


_MAX_SUBSETS = 600  # sub-multisets a side; else the bound by number of strips
_MAX_NODES = 3_000
_Widths = tuple[tuple[int, int], ...]  # each with how many of it


def max_blocks(first: Counter[int], second: Counter[int], *, same_number: bool) -> int:
    """At least the most disjoint pairs of equally wide blocks of two multisets of widths.

    Parameters
    ----------
    same_number
        Both blocks of a pair have equally many strips.

    Examples
    --------
    >>> max_blocks(Counter([3000, 300, 300, 400]), Counter([1000] * 4), same_number=False)
    2
    """
    common = first & second
    count = common.total()
    a, b = first - common, second - common
    if not a or not b:
        return count
    least = 4 if same_number else 3
    max_pairs = min(a.total(), b.total(), (a.total() + b.total()) // least)
    if same_number:
        max_pairs = min(max_pairs, a.total() // 2, b.total() // 2)
    if max_pairs <= 0:
        return count
    return count + _packed(a, b, max_pairs, same_number=same_number)


def _packed(a: Counter[int], b: Counter[int], max_pairs: int, *, same_number: bool) -> int:
    if any(prod(times + 1 for times in side.values()) > _MAX_SUBSETS for side in (a, b)):
        return max_pairs
    by_sum: dict[tuple[int, int], list[tuple[int, ...]]] = {}
    for width, taken in _subsets(a):
        by_sum.setdefault((width, sum(taken) if same_number else 0), []).append(taken)
    pairs = [
        (*other, *taken)
        for width, taken in _subsets(b)
        for other in by_sum.get((width, sum(taken) if same_number else 0), ())
        if width
    ]
    pairs.sort(key=sum)
    smallest: list[tuple[int, ...]] = []
    for pair in pairs:
        if not any(all(x <= y for x, y in zip(s, pair, strict=True)) for s in smallest):
            smallest.append(pair)
        if len(smallest) > 400:
            return max_pairs
    return _pack(smallest, (*a.values(), *b.values()), max_pairs)


def _subsets(side: Counter[int]) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Every choice of strips, as how many of each width, with the width of all of them."""
    for taken in product(*(range(times + 1) for times in side.values())):
        yield sum(t * w for t, w in zip(taken, side, strict=True)), taken


def _pack(pairs: list[tuple[int, ...]], room: tuple[int, ...], max_pairs: int) -> int:
    """The most of `pairs`, smallest first, that fit together; `max_pairs` if it takes too long."""
    best = nodes = 0
    stack = [(0, 0, room)]
    while stack:
        start, count, left = stack.pop()
        best = max(best, count)
        if best >= max_pairs:
            return max_pairs
        nodes += 1
        if nodes > _MAX_NODES:
            return max_pairs
        strips = sum(left)
        for p in range(len(pairs) - 1, start - 1, -1):
            pair = pairs[p]
            if count + strips // sum(pair) <= best:
                continue  # only pairs as large or larger may follow
            if all(x <= y for x, y in zip(pair, left, strict=True)):
                rest = tuple(y - x for x, y in zip(pair, left, strict=True))
                stack.append((p, count + 1, rest))
    return best


@lru_cache(maxsize=20_000)  # a run is arranged several times over
def _max_blocks(first: _Widths, second: _Widths, *, same_number: bool) -> int:
    return max_blocks(Counter(dict(first)), Counter(dict(second)), same_number=same_number)


def max_meets(shapes: Sequence[LotShape], budget: Budget, *, same_number: bool) -> list[list[int]]:
    """At least the most knives in which layouts of each two lots agree; symmetric.

    Parameters
    ----------
    budget
        Where it is over, lots are not looked at any more, and as many as either has may agree.
    same_number
        A knife agrees only with the one of its own number, as where all knives cut.
    """
    widths = []
    broke = []
    for shape in shapes:
        plain: Counter[int] = Counter()
        for (width, _, is_broke), count in zip(shape.kinds, shape.counts, strict=True):
            plain[width] += 0 if is_broke else count
        widths.append(tuple(sorted((+plain).items())))
        broke.append(shape.broke)
    known: dict[tuple[int, int], int] = {}
    number = {shape: i for i, shape in enumerate(shapes)}
    rows = [[shape.knives] * len(shapes) for shape in shapes]
    for i, before in enumerate(shapes):
        for j, after in enumerate(shapes):
            a, b = sorted((number[before], number[after]))
            if i != j and (a, b) not in known and not budget.over():
                blocks = _max_blocks(widths[a], widths[b], same_number=same_number)
                known[a, b] = 1 + blocks + broke[a] + broke[b]
            if i != j:
                most = min(before.knives, after.knives)
                rows[i][j] = min(known.get((a, b), most), most)
    return rows


def pair_bounds(
    shapes: Sequence[LotShape], winder: Winder, budget: Budget, *, simple: bool = False
) -> list[list[int]]:
    """Fewest moves from each lot to each other, over all layouts of both.

    Parameters
    ----------
    winder
        Number of knives; idle ones lifted or parked.
    simple
        For positions that no knife holds, whichever it is; else for the winder's count.

    Returns
    -------
    list
        Row: the lot before; column: the lot after.
    """
    lifted = winder.idle_knives != "parked"
    all_cut = all(shape.knives == winder.knives for shape in shapes)
    meets = max_meets(shapes, budget, same_number=not simple and (all_cut or not lifted))
    rows = []
    for before, meet in zip(shapes, meets, strict=True):
        row = []
        for after, places in zip(shapes, meet, strict=True):
            if lifted:
                row.append(max(0, after.knives - places - (winder.knives - before.knives)))
            elif simple:
                row.append(after.knives - places)
            else:
                row.append(max(before.knives, after.knives) - places)
        rows.append(row)
    return rows


def places_bound(shapes: Sequence[LotShape], starts: Sequence[Beam], budget: Budget) -> int:
    """Moves that bring a knife to each place at which any lot cuts, but those held at the start.

    With k_i knives in lot i and at most m_ij places that lots i and j have in common (m_ii = k_i),
    all lots together cut at Σ k_i² / Σ_j m_ij places at least.

    References
    ----------
    de Caen (1997), "A lower bound on the probability of a union", Discrete Mathematics 169.
    """
    meets = max_meets(shapes, budget, same_number=False)
    places = sum(
        (Fraction(shape.knives**2, sum(meet)) for shape, meet in zip(shapes, meets, strict=True)),
        Fraction(0),
    )
    held = max(shape.knives for shape in shapes)
    if starts:
        held = max(sum(place not in {FRONT, BACK} for place in start) for start in starts)
    return max(0, ceil(places) - held)


def start_bounds(
    shapes: Sequence[LotShape],
    winder: Winder,
    starts: Sequence[Beam],
    budget: Budget,
) -> list[int]:
    """Fewest moves to each lot as the first, over all its layouts: exact but for lifted knives.

    `starts` are beams in units, of which one holds; none: the first block costs nothing. Where the
    budget is over, no more is said of the lots that are left.
    """
    if not starts:
        return [0] * len(shapes)
    if winder.idle_knives != "parked":
        count: Count = AnyKnife()
        held = [tuple(int(p) for p in starts[0] if p not in {FRONT, BACK})]
    else:
        count = OrderKept(winder.knives)
        held = [tuple(int(p) for p in start) for start in starts]
    return [
        0
        if budget.over()
        else min(count.moves(start, count.best_layout(shape, start, None).places) for start in held)
        for shape in shapes
    ]


def order_bound(
    shapes: Sequence[LotShape],
    winder: Winder,
    starts: Sequence[Beam],
    budget: Budget,
    *,
    effort: float,
) -> tuple[int, list[int], Moves]:
    """The best bound on all moves that is known here.

    Parameters
    ----------
    shapes, winder, starts, budget
        As for `pair_bounds` and `start_bounds`.

    Returns
    -------
    tuple
        The bound, an order of few moves, and the least moves from each lot to each other.
    """
    least = pair_bounds(shapes, winder, budget)
    firsts = start_bounds(shapes, winder, starts, budget)
    bound, order = path_bound(least, firsts, budget, effort=effort)
    if winder.idle_knives != "parked":
        bound = max(bound, places_bound(shapes, starts, budget))
    return bound, order, least
