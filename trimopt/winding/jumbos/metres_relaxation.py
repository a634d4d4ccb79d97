"""The least loss over set lengths where the jumbos' ends are known: a linear program.

The metres of each block on each jumbo are free, orders are kept in their ranges, and their worth is
concave in what is made of them. It takes a few milliseconds. Where every order keeps room for what
rounding can change, its lengths rounded to whole metres serve.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import islice
from math import floor, inf

from trimopt.cutting.lp.linear_program import LinearProgram, SolverFailedError
from trimopt.winding.jumbos.laying import Content
from trimopt.winding.jumbos.order_slack import LengthProblem

_OFF_PRICE = 0.02  # a metre off the class's length, where no ends are known
_TIES = 0.001  # the same where they are

_Parts = list[tuple[int, float]]


class MetresRelaxation:
    """The linear program of a run, for any ends of its jumbos and any running order."""

    def __init__(self, problem: LengthProblem) -> None:
        self._problem = problem
        unit = float(problem.paper_per_m)
        # For each order what a metre on each block gives: (gain, worth in metres of jumbo).
        self._gives: list[dict[int, tuple[float, float]]] = [{} for _ in problem.orders]
        self._rounding: list[dict[int, float]] = [{} for _ in problem.orders]
        self._worth = [0.0] * len(problem.blocks)  # of a metre on each block, in all
        for b, row in enumerate(problem.gains):
            for gain in row:  # of one order a set may hold reels of several ups
                made, worth = float(gain.gain_per_m), float(gain.worth_per_m) / unit
                known = self._gives[gain.order].get(b, (0.0, 0.0))
                self._gives[gain.order][b] = known[0] + made, known[1] + worth
                rounding = self._rounding[gain.order]
                rounding[b] = rounding.get(b, 0.0) + float(gain.rounding)
                self._worth[b] += worth

    def loss_m(self, contents: Sequence[Content], usable_m: Sequence[int]) -> float:
        """Loss for these ends, in metres of jumbo; infinite where no lengths fit.

        Parameters
        ----------
        contents
            (block, sets) of each jumbo.
        usable_m
            Of each jumbo, in the order they are opened.
        """
        return self._least(contents, usable_m)[0]

    def free_loss_m(self) -> float:
        """Loss with no ends to meet: no running order has less, but for rounding."""
        return self._least(*self._no_ends())[0]

    def free_lengths_m(self) -> list[float]:
        """For each block the length of its sets with no ends to meet, near its class's."""
        _, metres = self._least(*self._no_ends(), [0.0] * len(self._gives), off_price=_OFF_PRICE)
        blocks = self._problem.blocks
        if not metres:
            return [float(block.length_m) for block in blocks]
        return [b.min_m + more / b.sets for b, more in zip(blocks, metres, strict=True)]

    def _no_ends(self) -> tuple[list[Content], list[int]]:
        blocks = self._problem.blocks
        everything = tuple((b, block.sets) for b, block in enumerate(blocks))
        return [everything], [sum(b.sets * b.max_m for b in blocks)]

    def lengths(
        self, contents: Sequence[Content], usable_m: Sequence[int], *, margin: float = 1.0
    ) -> list[tuple[int, int, int]] | None:
        """(block, sets, whole metres of them) jumbo by jumbo; None where no lengths are known.

        `margin` is how much of what rounding may change orders keep to their limits.
        """
        parts: Counter[int] = Counter(b for content in contents for b, _ in content)
        room = [
            margin * sum(gain * parts[b] for b, (gain, _) in gives.items())
            + margin * sum(each * self._problem.blocks[b].sets for b, each in rounding.items())
            for gives, rounding in zip(self._gives, self._rounding, strict=True)
        ]
        loss, metres = self._least(contents, usable_m, room, off_price=_TIES)
        if loss == inf:
            return None
        found, left = [], iter(metres)
        for content, usable in zip(contents, usable_m, strict=False):
            found += self._rounded(content, usable, list(islice(left, len(content))))
        return found

    def _rounded(
        self, content: Content, usable_m: int, more_m: list[float]
    ) -> list[tuple[int, int, int]]:
        blocks = self._problem.blocks
        wound = [m + many * blocks[b].min_m for (b, many), m in zip(content, more_m, strict=True)]
        whole = [floor(m + 1e-6) for m in wound]
        # What rounding left goes back where it was taken, most first.
        back = min(usable_m, round(sum(wound))) - sum(whole)
        longest = [many * blocks[b].max_m for b, many in content]
        for k in sorted(range(len(whole)), key=lambda k: whole[k] - wound[k]):
            if back > 0 and whole[k] < longest[k]:
                whole[k], back = whole[k] + 1, back - 1
        return [(b, many, m) for (b, many), m in zip(content, whole, strict=True)]

    def _least(
        self,
        contents: Sequence[Content],
        usable_m: Sequence[int],
        room: Sequence[float] | None = None,
        *,
        off_price: float = 0.0,
    ) -> tuple[float, list[float]]:
        """The least loss; with `room` too, metres above the least of each part, jumbo by jumbo."""
        blocks, last = self._problem.blocks, len(contents) - 1
        plain = not self._problem.gains  # then a metre is worth what it uses
        program = LinearProgram()
        rows: list[_Parts] = [[] for _ in blocks]
        loss = self._order_rows(program, rows, room)
        parts = []
        for j, content in enumerate(contents):
            used = float(j == last)
            shortest = sum(many * blocks[b].min_m for b, many in content)
            if shortest > usable_m[j]:
                return inf, []
            loss += shortest * (used - plain) + (usable_m[j] if content and j < last else 0)
            fits = program.row(-inf, usable_m[j] - shortest)
            for b, many in content:
                cost = used - (1.0 if plain else self._worth[b])
                column = program.column(cost, [*rows[b], (fits, 1.0)])
                program.set_max(column, many * (blocks[b].max_m - blocks[b].min_m))
                parts.append(column)
                if off_price:
                    own = many * (blocks[b].length_m - blocks[b].min_m)
                    off = program.row(own, own)
                    program.part(off, column, 1.0)
                    program.column(off_price, [(off, 1.0)])
                    program.column(off_price, [(off, -1.0)])
        try:
            loss += program.solve().cost
        except SolverFailedError:
            return inf, []
        if room is None:
            return loss, []
        values = program.values()
        return loss, [float(values[column]) for column in parts]

    def _order_rows(
        self, program: LinearProgram, rows: list[_Parts], room: Sequence[float] | None
    ) -> float:
        """Rows and columns of the orders; the worth of all sets at their minimum, negative."""
        unit = float(self._problem.paper_per_m)
        fixed = 0.0
        for o, (order, gives) in enumerate(zip(self._problem.orders, self._gives, strict=True)):
            made, worth = float(order.made), float(order.worth) / unit
            for b, (gain, value) in gives.items():
                block = self._problem.blocks[b]
                less_m = block.sets * (block.length_m - block.min_m)
                made, worth = made - gain * less_m, worth - value * less_m
            price = float(order.surplus) / unit
            moves = any(gain for gain, _ in gives.values())
            net: _Parts = []
            if moves:
                least = float(order.min_made) - made
                most = float(order.max_made) - made
                spare = 0.0 if room is None else min(room[o], (most - least) / 2)
                # Where no length gives more, or less, there is nothing to round.
                reach = self._reach(gives)
                kept = program.row(
                    min(least + spare, max(least, reach)), max(most - spare, min(most, 0.0))
                )
                _in_row(rows, gives, 0, kept)
            if moves and order.surplus * order.beyond:
                sold = program.row(-inf, float(order.high) - made)
                _in_row(rows, gives, 0, sold)
                net = [(sold, -1.0)]
            elif not moves:
                worth -= price * float(order.beyond)
            fixed -= worth
            if order.ordered is not None:
                short = float(order.ordered) / unit - worth
                paid = program.row(short, short)
                _in_row(rows, gives, 1, paid)
                program.column(float(order.under), [(paid, 1.0)])
                program.column(float(order.over), [(paid, -1.0)])
                net = [*net, (paid, -price)] if net else net
            if net:
                program.column(price, net)
        return fixed

    def _reach(self, gives: dict[int, tuple[float, float]]) -> float:
        """What an order has more with all sets at their maximum than at their minimum."""
        blocks = self._problem.blocks
        return sum(
            gain * blocks[b].sets * (blocks[b].max_m - blocks[b].min_m)
            for b, (gain, _) in gives.items()
        )


def _in_row(
    rows: list[_Parts], gives: dict[int, tuple[float, float]], which: int, row: int
) -> None:
    for b, more in gives.items():
        rows[b].append((row, more[which]))
