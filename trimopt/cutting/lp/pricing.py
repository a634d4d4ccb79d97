"""The best pattern of a class for given values of its pieces, exactly, rules and all.

Three devices, from quick to slow; the slower ones are asked only where the quicker found nothing:

1. A knapsack table over the used width alone. It forgets how many pieces there are, so what it
   finds may need more stations than the winder has. Where that happens often, each piece gets a
   price for its station (a Lagrangian multiplier): bound = table's best + price · stations.
2. A table over width, pieces and edge pieces: exact for stations, broke reels and no-edge pieces.
3. For rules between orders and barred patterns, which no table of widths can see: best-first
   branching on the second table, each branch forbidding one way to break the rule.

References
----------
P. C. Gilmore, R. E. Gomory (1961), "A linear programming approach to the cutting-stock problem",
Operations Research 9, 849-859.
M. L. Fisher (1981), "The Lagrangian relaxation method for solving integer programming problems",
Management Science 27, 1-18, for the price of a station.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.class_offers import ClassOffer
from trimopt.cutting.lp.knapsack_tables import UNREACHED, PieceTable, fill_pieces, fill_widths
from trimopt.cutting.lp.reachable import reachable_demands
from trimopt.cutting.model.cuts import Pattern, is_allowed
from trimopt.cutting.model.instance import Instance

Ints = NDArray[np.int64]
Counts = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """What a pricing found in one class.

    No pattern that the class allows is worth more than `bound`; `exact` says that the first of
    `patterns` is worth just that. Each pattern is ((position in the offer, count), …).
    """

    bound: int
    exact: bool
    patterns: tuple[tuple[int, Counts], ...]
    work: int


@dataclass
class Pricer:
    """Prices one class; keeps the price of a piece that last made the station limit hold."""

    instance: Instance
    offer: ClassOffer
    piece_price: int = 0
    _barred: frozenset[Counts] = field(init=False)  # by width, not by option

    def __post_init__(self) -> None:
        self._barred = frozenset(
            widths for c, widths in self.instance.barred if c == self.offer.winding_class
        )

    @property
    def tied(self) -> bool:
        """Whether a rule beyond width, stations and edges can touch a pattern of the class."""
        return not self.offer.plain and not self.offer.edges_only

    @cached_property
    def reachable(self) -> frozenset[int]:
        """Demands that a pattern of the class can hold, rules between orders left out."""
        return reachable_demands(self.offer)

    def pattern(self, counts: Counts) -> Pattern:
        """Return the pattern that counts by position stand for."""
        options = self.offer.options
        return Pattern(self.offer.winding_class, tuple(sorted((options[j], n) for j, n in counts)))

    def price(self, values: Ints, *, cutoff: int) -> Priced:
        """Return patterns worth more than `cutoff`, and what none is worth more than.

        Parameters
        ----------
        values
            Value of a piece of each option of the offer, whole; the sum over a set below 2**60.
        cutoff
            A pattern is wanted only where it is worth more than this.
        """
        max_counts = self.offer.max_counts
        # Without the rules no pattern is lost, so the quick table's bound holds.
        quick = self._quick(values, max_counts, cutoff)
        if self.tied:
            quick = self._within_rules(quick)
        if quick.exact or quick.bound <= cutoff or quick.patterns:
            return quick
        if not self.offer.plain:
            return self._ruled(values, max_counts, cutoff)
        exact = self._pieces(values, max_counts)
        if exact is None:
            return Priced(bound=UNREACHED, exact=True, patterns=(), work=quick.work)
        value, counts = exact
        work = quick.work + 4 * self.offer.size * len(self.offer.broke) * self.offer.max_pieces
        return Priced(bound=value, exact=True, patterns=((value, counts),), work=work)

    def _candidates(self, values: Ints, max_counts: Ints, *, edges: bool = False) -> Ints:
        """Positions worth looking at: of equal widths the best, none that is worth nothing.

        With `edges` of equal widths that may and may not stand at an edge the best of each; what is
        worth nothing may stand there.
        """
        offer = self.offer
        usable = max_counts > 0
        if offer.any_used and not edges:
            usable &= values > 0
        # Of options of one width the dearest serve first: the others only where its count runs out.
        inside = offer.no_edge & edges
        order = np.lexsort((-values, inside, offer.widths))
        order = order[usable[order]]
        keep = []
        last, room = (-1, False), 0
        options = (order, offer.widths[order], inside[order], max_counts[order])
        for j, width, edge, most in zip(*(each.tolist() for each in options), strict=True):
            if (width, edge) == last and room <= 0:
                continue
            if (width, edge) != last:
                last, room = (width, edge), min(offer.width // width, offer.max_pieces)
            keep.append(j)
            room -= most
        return np.array(keep, dtype=np.int64)

    def _quick(self, values: Ints, max_counts: Ints, cutoff: int) -> Priced:
        """Table over width, stations left out or priced; exact where the best pattern fits."""
        offer = self.offer
        kept = self._candidates(values, max_counts)
        widths, limits = offer.widths[kept], max_counts[kept]
        net = values[kept] - self.piece_price
        chosen = net > 0 if offer.any_used else np.ones(len(kept), dtype=bool)
        kept, widths, limits, net = kept[chosen], widths[chosen], limits[chosen], net[chosen]
        table = fill_widths(widths, net, limits, offer.width)
        best = np.where(offer.broke >= 0, table.best, UNREACHED)
        # No pattern has more pieces than stations, so adding the price for all of them back gives
        # a bound for every pattern that the stations allow.
        top = int(best.argmax())
        bound = int(best[top]) + self.piece_price * offer.max_pieces
        found: dict[Counts, int] = {}
        crowded = 0
        # One more pattern for each option, the best with a piece of it: column generation needs
        # fewer rounds where a round brings columns for many orders (they share one table).
        ends = self._ends(best, widths)
        worths, places, each, most = (x.tolist() for x in (values, kept, widths, limits))
        for extra, used in ((-1, top), *ends):
            counts = dict(table.pieces(used))
            if extra >= 0:
                counts[extra] = counts.get(extra, 0) + 1
                if counts[extra] > most[extra]:
                    continue
            pieces = tuple(sorted([(places[j], n) for j, n in counts.items()]))
            whole = used + (each[extra] if extra >= 0 else 0)
            value = sum([worths[j] * n for j, n in pieces])
            if value <= cutoff:
                continue
            if not offer.fits_stations(pieces, whole):
                crowded += 1
            elif offer.edges_hold(pieces, whole):
                found[pieces] = value
        self._settle(crowded, len(found), cutoff, bound)
        patterns = tuple(sorted(((v, p) for p, v in found.items()), reverse=True))
        exact = bool(patterns) and patterns[0][0] >= bound
        return Priced(
            bound=bound, exact=exact, patterns=patterns, work=3 * len(kept) * len(offer.broke)
        )

    def _within_rules(self, priced: Priced) -> Priced:
        """The same without the patterns that break a rule."""
        kept = tuple(
            (value, counts)
            for value, counts in priced.patterns
            if is_allowed(self.instance, self.pattern(counts))
        )
        exact = priced.exact and kept[:1] == priced.patterns[:1]
        return replace(priced, exact=exact, patterns=kept)

    def _settle(self, crowded: int, fitting: int, cutoff: int, bound: int) -> None:
        """Move the price of a piece: dearer where patterns hold too many, cheaper where not."""
        # A subgradient step by the sign alone: doubled while patterns are too full, let down slowly
        # once none is. No more than a quarter of a set shared by all stations.
        scale = max(1, cutoff // (4 * max(1, self.offer.max_pieces)))
        if crowded > fitting:
            self.piece_price = min(scale, max(self.piece_price * 2, scale // 64))
        elif not crowded and self.piece_price:
            self.piece_price = self.piece_price * 3 // 4 if bound > cutoff else self.piece_price

    def _ends(self, best: Ints, widths: Ints) -> list[tuple[int, int]]:
        """For each option the used width to which one piece of it is best added."""
        size = len(best) - 1
        ends = []
        if self.offer.any_used:
            # Any used width may end a pattern: the best narrower one serves, by running maximum.
            leader = np.maximum.accumulate(best)
            place = np.maximum.accumulate(np.where(best == leader, np.arange(size + 1), 0))
            return [(j, int(place[size - int(widths[j])])) for j in range(len(widths))]
        # Edge trim is limited: the piece must bring the pattern to a width that is allowed.
        allowed = self.offer.broke >= 0
        for j in range(len(widths)):
            width = int(widths[j])
            below = np.where(allowed[width:], best[: size + 1 - width], UNREACHED)
            used = int(below.argmax())
            if below[used] > UNREACHED // 2:
                ends.append((j, used))
        return ends

    def _pieces(
        self, values: Ints, max_counts: Ints, min_counts: Ints | None = None
    ) -> tuple[int, Counts] | None:
        """Exact best over width and pieces; `min_counts` of options are in the pattern already."""
        offer = self.offer
        base = np.zeros(offer.size, dtype=np.int64) if min_counts is None else min_counts
        room = max_counts - base
        if (room < 0).any():
            return None
        if offer.plain and min_counts is None:
            kept = self._candidates(values, max_counts)
        elif offer.edges_only:  # so that no rule asks for an option that is not the best
            kept = self._candidates(values, max_counts, edges=True)
        else:
            kept = np.flatnonzero(room > 0)
        edge = int(base[~offer.no_edge].sum())
        pieces, used = int(base.sum()), int((base * offer.widths).sum())
        if used > offer.width or pieces > offer.max_pieces:
            return None
        inside = bool(base[offer.no_edge].any())
        # Without no-edge pieces edge pieces need not be counted: one layer of the table, not three.
        answers = []
        for with_inside in (False, True):
            if inside and not with_inside:
                continue
            chosen = kept if with_inside else kept[~offer.no_edge[kept]]
            if with_inside and not inside and len(chosen) == int((~offer.no_edge[kept]).sum()):
                continue
            table = fill_pieces(
                offer.widths[chosen],
                values[chosen],
                room[chosen],
                offer.no_edge[chosen],
                (offer.max_pieces, offer.width),
                start=(edge, pieces, used),
                guarded=with_inside,
            )
            end = self._end(table)
            if end is not None:
                counts = base.copy()
                for j, n in table.pieces(*end):
                    counts[chosen[j]] += n
                held = tuple((int(j), int(counts[j])) for j in np.flatnonzero(counts))
                answers.append((int((counts * values).sum()), held))
        return max(answers, default=None)

    def _end(self, table: PieceTable) -> tuple[int, int, int] | None:
        """Where the best allowed pattern of a table ends."""
        best = np.where(self.offer.allowed_ends(len(table.best)), table.best, UNREACHED)
        place = np.unravel_index(int(best.argmax()), best.shape)
        if best[place] <= UNREACHED // 2:
            return None
        return int(place[0]), int(place[1]), int(place[2])

    def _ruled(self, values: Ints, max_counts: Ints, cutoff: int) -> Priced:
        """Best pattern under every rule: the best under fewer, split where it breaks one."""
        offer, work = self.offer, 0
        cells = 8 * offer.size * len(offer.broke) * offer.max_pieces
        order = count()
        queue: list[tuple[int, int, Ints, Ints, Counts]] = []

        def push(min_counts: Ints, limit: Ints) -> None:
            nonlocal work
            work += cells
            best = self._pieces(values, limit, min_counts)
            if best is not None:
                heapq.heappush(queue, (-best[0], next(order), min_counts, limit, best[1]))

        # Best first: the first pattern that breaks no rule is worth the most of all that keep them,
        # as every branch still open is worth no more.
        push(np.zeros(offer.size, dtype=np.int64), max_counts)
        while queue:
            minus, _, min_counts, limit, counts = heapq.heappop(queue)
            if -minus <= cutoff:
                return Priced(bound=-minus, exact=False, patterns=(), work=work)
            children = self._split(counts, min_counts, limit)
            if children is None:
                return Priced(bound=-minus, exact=True, patterns=((-minus, counts),), work=work)
            for child in children:
                push(*child)
        return Priced(bound=UNREACHED, exact=True, patterns=(), work=work)

    def _across(self, counts: Counts) -> Counts:
        """The widths of a pattern, as the instance counts them."""
        return self.instance.widths_across((self.offer.options[j], n) for j, n in counts)

    def _split(
        self, counts: Counts, min_counts: Ints, limit: Ints
    ) -> list[tuple[Ints, Ints]] | None:
        """Parts with every pattern but the given one, which breaks a rule; None: it does not."""
        demand = self.offer.demand
        held = {int(demand[j]) for j, _ in counts}
        for a, b in self.instance.apart:
            if a in held and b in held:  # one of the two must go
                return [
                    _without(min_counts, limit, demand == a),
                    _without(min_counts, limit, demand == b),
                ]
        for a, b in self.instance.together:
            if (a in held) != (b in held):
                # Neither of them, or an option of the absent one as well: one branch for each.
                present, absent = (a, b) if a in held else (b, a)
                parts = [_without(min_counts, limit, demand == present)]
                for j in np.flatnonzero(demand == absent):
                    forced = min_counts.copy()
                    forced[j] = max(1, forced[j])
                    parts.append((forced, limit))
                return parts
        if self._barred and self._across(counts) in self._barred:
            return _other(counts, min_counts, limit)
        return None


def _without(min_counts: Ints, limit: Ints, gone: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    closed = limit.copy()
    closed[gone] = 0
    return min_counts, closed


def _other(counts: Counts, min_counts: Ints, limit: Ints) -> list[tuple[Ints, Ints]]:
    """Split the patterns other than one: the first option whose count differs, and how."""
    here = np.zeros(len(min_counts), dtype=np.int64)
    for j, n in counts:
        here[j] = n
    parts = []
    min_counts, limit = min_counts.copy(), limit.copy()
    for j in range(len(here)):
        fewer = limit.copy()
        fewer[j] = here[j] - 1
        if fewer[j] >= min_counts[j]:
            parts.append((min_counts.copy(), fewer))
        more = min_counts.copy()
        more[j] = here[j] + 1
        if more[j] <= limit[j]:
            parts.append((more, limit.copy()))
        min_counts[j] = limit[j] = here[j]
    return parts
