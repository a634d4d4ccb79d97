"""What a running order costs besides moves: urgent lots late, changes of class, open orders."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from itertools import pairwise
from math import lcm

from trimopt.winding.model import Lot

_TIES = 10**9  # room for what only breaks ties, within one price step


@dataclass(frozen=True, slots=True, kw_only=True)
class MovePrices:
    """Prices in knife moves.

    `urgency` is for each pair of blocks in which the less urgent runs first; at 0 it still breaks
    ties. `set_up` is for each set-up above the fewest, where lots between which there is none stand
    apart.
    """

    urgency: Fraction = Fraction(1, 10)
    set_up: Fraction = Fraction(20)


Urgency = tuple[float, bool, datetime]


def urgency(priority: int | None, due: datetime | None) -> Urgency:
    """Sorts the most urgent first: by priority, then by due date, those without last.

    Dates are compared as they are written: a mill's carry no zone, and none is read into them.
    """
    first = float("inf") if priority is None else float(priority)
    return first, due is None, due or datetime.min  # noqa: DTZ901  as said


def _numbered(values: Iterable[Hashable]) -> list[int]:
    """A number for each, equal for equal ones: compared many thousand times, fractions are slow."""
    numbers: dict[Hashable, int] = {}
    return [numbers.setdefault(value, len(numbers)) for value in values]


class Running:
    """The figures of a running order; an order is a sequence of positions in `lots`."""

    def __init__(self, lots: Sequence[Lot], prices: MovePrices) -> None:
        scale = lcm(prices.urgency.denominator, prices.set_up.denominator)
        self.move = scale * _TIES
        self._urgency = int(prices.urgency * self.move) or _TIES // 1_000_000
        self._set_up = int(prices.set_up * self.move)
        self._alike = _numbered(lot.set_up_for for lot in lots)
        self._single = len(set(self._alike)) == len(lots)
        keys = [urgency(lot.priority, lot.due) for lot in lots]
        self._less = [sum(1 << b for b, k in enumerate(keys) if k > key) for key in keys]
        self.group = _numbered((lot.core_mm, lot.length_m) for lot in lots)
        number = {name: i for i, name in enumerate(sorted(set().union(*(x.orders for x in lots))))}
        self._orders = [sum(1 << number[name] for name in lot.orders) for lot in lots]
        self.precedence = [lot.precedence for lot in lots]
        one = self._single and len(set(self.group)) == 1
        self.plain = one and not any(self._less) and not number

    def extra(self, order: Sequence[int]) -> int:
        """Cost of a whole or part order besides its moves, in `move`-ths of a knife move."""
        if self.plain:
            return 0
        most, together = self._open(order)
        return (
            self._urgency * self.less_urgent_before(order)
            + _TIES // 100_000 * self.class_changes(order)
            + self._set_up * self.set_ups_more(order)
            + min(10 * most + together // 10, 900)
        )

    def less_urgent_before(self, order: Sequence[int]) -> int:
        """Pairs in which the less urgent lot runs first."""
        done = pairs = 0
        for lot in order:
            pairs += (done & self._less[lot]).bit_count()
            done |= 1 << lot
        return pairs

    def class_changes(self, order: Sequence[int]) -> int:
        """Neighbours of different core or set length."""
        group = self.group
        return sum(group[a] != group[b] for a, b in pairwise(order))

    def set_ups_more(self, order: Sequence[int]) -> int:
        """Set-ups beyond one for each pattern but the first."""
        if self._single:
            return 0
        alike = self._alike
        made = sum(alike[a] != alike[b] for a, b in pairwise(order))
        return made + 1 - len({alike[a] for a in order}) if order else 0

    def allowed(self, order: Sequence[int]) -> bool:
        """Whether no lot runs before one of a lower precedence."""
        p = self.precedence
        return all(p[a] <= p[b] for a, b in pairwise(order))

    def _open(self, order: Sequence[int]) -> tuple[int, int]:
        """Orders open, from the first block of each to its last: most at a time, and in all."""
        begun = ended = 0
        ahead = []
        for lot in reversed(order):
            ended |= self._orders[lot]
            ahead.append(ended)
        most = together = 0
        for lot in order:
            begun |= self._orders[lot]
            count = (begun & ahead.pop()).bit_count()
            most = max(most, count)
            together += count
        return most, together
