"""Whether K sets are enough: branch and price on the position of a piece.

Every piece is an item of its own here, needed just once. A branch keeps a piece below a position
or at least at it: arcs go, no price is added. Equal pieces stand in rising positions, so a branch
on one limits those before or after it. Pricing stays a longest path over the arcs, as no branch
adds a row that a path could not see; that is why positions are branched on, and pairs of items
(Ryan and Foster's rule) only once the patterns are a list. Prices shut out the arcs that no plan of
K sets can use; where few patterns are left along them, these are listed and decided as a list.

References
----------
F. Vanderbeck (1999), "Computational study of a column generation algorithm for bin packing and
cutting stock problems", Mathematical Programming 86, 565-594.
J. M. Valério de Carvalho (1999), Annals of Operations Research 86, 629-659.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from trimopt.cutting.bin_packing.arc_graph import Arcs, build_arcs
from trimopt.cutting.bin_packing.arc_patterns import ArcReducer, patterns_along
from trimopt.cutting.bin_packing.bin_dive import BinDive
from trimopt.cutting.bin_packing.bin_master import BinMaster, Node, PackingSolution
from trimopt.cutting.bin_packing.bin_problem import BinProblem, Sets
from trimopt.cutting.bin_packing.item_tables import Counts
from trimopt.cutting.bin_packing.pattern_list import PatternListSearch
from trimopt.cutting.search.search_state import Search

NEARLY = 1e-6


class BranchAndPrice:
    """Decides whether a problem has a plan of `target` sets."""

    def __init__(self, search: Search, problem: BinProblem, target: int) -> None:
        self.search = search
        self.params = search.params.bin_packing
        self.target = target
        self.item = [i for i, n in enumerate(problem.need) for _ in range(n)]
        self.problem = BinProblem(
            width=problem.width,
            widths=tuple(problem.widths[i] for i in self.item),
            need=(1,) * len(self.item),
            max_pieces=None,
            members=((),) * len(self.item),
        )
        self.given = problem
        self.master = BinMaster(need=list(self.problem.need), exact=True)
        self.narrower = ArcReducer(self.master, search, self.item)
        self.nodes = 0
        # Of all columns, one after another: pieces and their positions; of each, where it begins
        # there, and the width that it uses.
        self.pieces, self.used, self.begins, self.ends = (np.zeros(0, dtype=np.int64),) * 4

    def run(self, columns: Iterable[Counts]) -> Sets | None:
        """Search all branches; a plan, or None: the proof that there is none.

        Parameters
        ----------
        columns
            Patterns by the items of the problem to begin with.
        """
        widths, width = self.problem.widths, self.problem.width
        waste = self.target * width - sum(widths)
        if waste < 0:
            return None
        # No set of a plan of K sets wastes more than the whole plan does, so only patterns that are
        # so full have arcs. With little waste that leaves few of them.
        arcs = build_arcs(widths, width, waste)
        self._begin(columns, arcs)
        stack = [arcs]
        while stack:
            found = self._explore(stack.pop())
            if isinstance(found, dict):
                return found
            stack += found
        return None

    def _explore(self, arcs: Arcs) -> Sets | list[Arcs]:
        """A plan from one node, or the branches that are left of it."""
        self.nodes += 1
        solved = self._settle(arcs)
        if solved is None:
            return []
        node, arcs = solved
        plan = self._whole(node.point)
        if plan is not None:
            return self._of_items(plan)
        # One optimum's prices shut out little where many optima cost the same; those of tilted
        # programs shut out the rest.
        narrowed = self.narrower.narrowed(arcs, node.prices, self.target)
        if narrowed is None:
            return []
        arcs, ways = narrowed
        if ways <= self.params.max_listed:
            # The list decides the whole node: rows over three items and branches on pairs are
            # sums over listed patterns, which a table along the width could not price.
            patterns = patterns_along(arcs, self.item)
            self.search.budget.spend(40 * len(patterns))
            return (
                PatternListSearch(self.search, self.given.need, patterns, self.target).run() or []
            )
        solved = self._settle(arcs)
        if solved is None:
            return []
        node, arcs = solved
        plan = self._whole(node.point)
        # A dive in nodes 1, 2, 4, 8 … alone: in every node dives took four fifths of the time.
        if plan is None and self.nodes.bit_count() == 1:
            plan = self._dived(node, arcs)
        return self._split(node.point, arcs) if plan is None else self._of_items(plan)

    def _begin(self, columns: Iterable[Counts], arcs: Arcs) -> None:
        """Take over the first columns that keep to the arcs, equal pieces in turn."""
        # Equal pieces are told apart here, so a column of the root is taken over with one piece of
        # each kind after another, in turn, until each has been in about as many columns.
        flags = arcs.allowed()
        places: dict[int, list[int]] = {}
        for piece, i in enumerate(self.item):
            places.setdefault(i, []).append(piece)
        turn = dict.fromkeys(places, 0)
        for counts in columns:
            if len(self.master.columns) >= self.params.columns_taken * len(self.item):
                return
            if any(n > len(places[i]) for i, n in counts):
                continue
            taken = []
            for i, n in counts:
                pieces = places[i]
                taken += [pieces[(turn[i] + k) % len(pieces)] for k in range(n)]
            pieces_of = tuple((piece, 1) for piece in sorted(taken))
            path = self._path(pieces_of)
            end = path[-1][1] + self.problem.widths[path[-1][0]]
            if end >= arcs.min_used and all(flags[piece, used] for piece, used in path):
                self.master.add(pieces_of)
                for i, n in counts:
                    turn[i] = (turn[i] + n) % len(places[i])

    def _path(self, counts: Counts) -> list[tuple[int, int]]:
        """Pieces of a pattern with their positions."""
        path, used = [], 0
        for piece, _ in counts:
            path.append((piece, used))
            used += self.problem.widths[piece]
        return path

    def _close(self, arcs: Arcs) -> None:
        """Close the columns that leave the arcs."""
        self._trace_columns()
        inside = arcs.allowed()[self.pieces, self.used]
        along = np.logical_and.reduceat(inside, self.begins) & (self.ends >= arcs.min_used)
        for place, keeps in enumerate(along.tolist()):
            if keeps:
                self.master.open(place)
            else:
                self.master.close(place)

    def _trace_columns(self) -> None:
        """Note the pieces, positions and ends of the columns that are new."""
        new = [self._path(counts) for counts in self.master.columns[len(self.begins) :]]
        if not new:
            return
        pieces = np.array([piece for path in new for piece, _ in path])
        used = np.array([used for path in new for _, used in path])
        stops = np.cumsum([len(path) for path in new])
        self.begins = np.append(self.begins, len(self.pieces) + stops - [len(p) for p in new])
        self.pieces, self.used = np.append(self.pieces, pieces), np.append(self.used, used)
        ends = [used + self.problem.widths[piece] for piece, used in (path[-1] for path in new)]
        self.ends = np.append(self.ends, np.array(ends))

    def _settle(self, arcs: Arcs) -> tuple[Node, Arcs] | None:
        """Price a node and shut out arcs until nothing changes; None where it holds no plan."""
        while True:
            self._close(arcs)
            node = self._generate(arcs)
            if node.bound > self.target:
                return None
            # K sets are worth at least the need, `total`, and K - 1 of them at most `most` each: a
            # pattern worth less than the difference lies in no plan (reduced-cost fixing).
            least = node.total - (self.target - 1) * node.max_worth
            fewer = arcs.worth_at_least(node.prices, least)
            self.search.budget.spend(12 * arcs.count)
            if not fewer.complete:
                return None
            if fewer.count > 0.9 * arcs.count:
                return node, fewer
            arcs = fewer

    def _generate(self, arcs: Arcs) -> Node:
        """Column generation on the arcs, missing pieces made dearer until none is missing."""
        while True:
            node = self.master.generate(
                lambda prices, cutoff: arcs.price(prices, self.problem.need, cutoff),
                self.search,
                self.target,
            )
            if node.bound > self.target or node.point.missing < NEARLY:
                return node
            self.master.raise_artificial()

    def _whole(self, point: PackingSolution) -> Sets | None:
        x = point.columns
        used = np.flatnonzero(x > NEARLY)
        if (np.abs(x[used] - np.round(x[used])) > NEARLY).any():
            return None
        return {self.master.columns[p]: 1 for p in used}

    def _dived(self, node: Node, arcs: Arcs) -> Sets | None:
        """A dive from this node, along its arcs."""
        closed = set(self.master.closed)
        diver = BinDive(self.problem, self.master, self.search, arcs.price)
        plan = diver.dive(node.point, self.target, depth=0 if self.nodes > 1 else 2, deviations=1)
        for place in range(len(self.master.columns)):
            if place in closed:
                self.master.close(place)
        return plan

    def _split(self, point: PackingSolution, arcs: Arcs) -> Sets | list[Arcs]:
        """Two branches on the narrowest piece that stands at several positions; else the plan."""
        flow: list[dict[int, float]] = [{} for _ in self.item]
        for p in np.flatnonzero(point.columns > NEARLY):
            for piece, used in self._path(self.master.columns[p]):
                flow[piece][used] = flow[piece].get(used, 0.0) + float(point.columns[p])
        # The narrowest first, by measurement: wide pieces settle by themselves once narrow ones do.
        for piece in reversed(range(len(flow))):
            if len([x for x in flow[piece].values() if x > 1e-4]) > 1:
                return self._branches(piece, flow[piece], arcs)
        whole = self._decomposed([max(places, key=lambda u: places[u]) for places in flow])
        return self._of_items(whole)

    def _branches(self, piece: int, places: dict[int, float], arcs: Arcs) -> list[Arcs]:
        order = sorted(u for u, x in places.items() if x > 1e-4)
        # The border that parts the sets of the piece most evenly: both branches then change the
        # optimum. The likelier side is looked at first.
        total, best = 0.0, (2.0, order[1], 0.0)
        for u, after in pairwise(order):
            total += places[u]
            best = min(best, (abs(total - 0.5), after, total))
        _, border, share = best
        low, high = arcs, arcs
        equal = [q for q, i in enumerate(self.item) if i == self.item[piece]]
        for q in equal:
            if q <= piece:
                low = low.limited(q, below=border)
            if q >= piece:
                high = high.limited(q, above=border)
        return [high, low] if share >= 0.5 else [low, high]

    def _decomposed(self, positions: list[int]) -> Sets:
        """The plan in which every piece stands at its one position."""
        # Pieces by falling width: each goes onto any set that is filled just up to its position.
        # The flow into a position is the flow out of it or ends there, so there is such a set.
        levels: dict[int, list[list[int]]] = {}
        for piece, used in enumerate(positions):
            sets = levels.get(used)
            one = sets.pop() if used and sets else []
            one.append(piece)
            levels.setdefault(used + self.problem.widths[piece], []).append(one)
        plan: Sets = {}
        for sets in levels.values():
            for one in sets:
                plan[tuple((piece, 1) for piece in one)] = 1
        return plan

    def _of_items(self, plan: Sets) -> Sets:
        """Return the plan by the items of the problem."""
        sets: Sets = {}
        for pieces, n in plan.items():
            counts: dict[int, int] = {}
            for piece, _ in pieces:
                counts[self.item[piece]] = counts.get(self.item[piece], 0) + 1
            key = tuple(sorted(counts.items()))
            sets[key] = sets.get(key, 0) + n
        return sets
