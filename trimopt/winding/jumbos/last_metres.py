"""The last metres: set lengths move inside what their reels allow, so that butts disappear.

Sets on a jumbo that leaves a butt are stretched to use it, or sets are shortened so that one more
fits on an earlier jumbo. The objective is the engine's: paper used, less what is delivered, with
the values of a kg under and over the ordered quantity. Paper put on reels that their order does not
allow is not a saving, so every order stays inside its range, and a change that does not lower the
loss is not made.

Two steps. Ways to end the jumbos come from shortest paths over the sets, with ranges of length that
orders hardly break (`trimopt.winding.jumbos.nominal_ends`); for each way a linear program finds
metres (`trimopt.winding.jumbos.metres_relaxation`), rounded to whole ones.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.winding.jumbos.laying import Content, Laying, lay_lengths, lay_sets
from trimopt.winding.jumbos.metres_relaxation import MetresRelaxation
from trimopt.winding.jumbos.nominal_ends import REACHES, NominalEnds
from trimopt.winding.jumbos.order_slack import LengthProblem
from trimopt.winding.model import JumboSupply


@dataclass(frozen=True, slots=True, kw_only=True)
class Balanced:
    """The sets with their new lengths on their jumbos.

    `loss_paper` is the loss in units of paper, None where sets found no paper.
    """

    laying: Laying
    loss_paper: Fraction | None


def balance(
    problem: LengthProblem,
    *,
    max_ways: int = len(REACHES),
    budget: Budget | None = None,
) -> Balanced:
    """Choose whole-metre set lengths for a running order so that the loss is least.

    Parameters
    ----------
    max_ways
        Ways to end the jumbos for which metres are searched.
    budget
        Where it is over, the best lengths so far are given, of one way at the least.

    Returns
    -------
    Balanced
        Never with more loss, and never with an order further outside its range, than the sets at
        their classes' lengths. Where the paper listed does not last for those, sets are shortened
        so that it does, if that can be. Where joined sets lose less, they are taken.
    """
    budget = budget or Budget()
    blocks, supply = problem.blocks, problem.supply
    best = _Best(problem)
    before = best.laying
    relaxed = MetresRelaxation(problem)
    ways = list(_likely_ends(problem, relaxed, max_ways)) if blocks else []
    if not before.unlaid:
        ways.append(_contents(before, supply))
    _search(best, relaxed, tuple(dict.fromkeys(ways)), budget)
    if any(block.max_joins for block in blocks):
        joined = lay_sets(blocks, supply, joined=True)
        taken = not joined.unlaid and best.take(joined)
        if not taken and best.loss is None and joined.unlaid_sets < best.laying.unlaid_sets:
            best.laying = joined
    return Balanced(laying=best.laying, loss_paper=best.loss)


def _likely_ends(
    problem: LengthProblem, relaxed: MetresRelaxation, many: int
) -> Iterator[tuple[Content, ...]]:
    """Ends of the jumbos that suit the orders, by several ways to judge them."""
    wanted_m = relaxed.free_lengths_m()
    for bold, off in REACHES[:many]:
        ends = NominalEnds(problem, bold, off, wanted_m)
        contents = ends.contents(range(len(problem.blocks)))
        if contents is not None:
            yield contents


def balance_at(problem: LengthProblem, contents: Sequence[Content]) -> Balanced:
    """Choose whole-metre set lengths where the sets on each jumbo are known.

    Parameters
    ----------
    contents
        (block, sets) of each jumbo, in the order they are opened.

    Returns
    -------
    Balanced
        The sets at their classes' lengths where that is not worse.
    """
    best = _Best(problem)
    usable_m = [jumbo.usable_m for jumbo in problem.supply.first(len(contents))]
    best.wind(MetresRelaxation(problem).lengths(contents, usable_m))
    return Balanced(laying=best.laying, loss_paper=best.loss)


class _Best:
    """The sets of a running order with the lengths that lose least so far, first their classes'.

    `loss` is None as long as sets find no paper.
    """

    def __init__(self, problem: LengthProblem) -> None:
        self.problem = problem
        self.laying = lay_sets(problem.blocks, problem.supply)
        self.loss = None if self.laying.unlaid else problem.loss(self.laying)

    @property
    def loss_m(self) -> float:
        """The loss in metres of jumbo; infinite where sets find no paper."""
        return math.inf if self.loss is None else float(self.loss / self.problem.paper_per_m)

    def take(self, laying: Laying) -> bool:
        """Keep what loses less."""
        loss = self.problem.loss(laying)
        if self.loss is not None and loss >= self.loss:
            return False
        self.laying, self.loss = laying, loss
        return True

    def wind(self, wound: Iterable[tuple[int, int, int]] | None) -> None:
        """Keep lengths that break nothing and lose less; (block, sets, metres) by jumbo."""
        if wound is not None:
            after = lay_lengths(_shared_out(wound), self.problem.supply)
            if after is not None and self.problem.allows(after.sets):
                self.take(after)


def _search(
    best: _Best, relaxed: MetresRelaxation, ways: Sequence[tuple[Content, ...]], budget: Budget
) -> None:
    """Lengths for each of the ways, those first that lose least by the linear program.

    Its lengths rounded serve, as a rule; where they lose more, those that lie at the orders' limits
    are tried, which rounding seldom leaves inside.
    """
    problem = best.problem
    jumbos = problem.supply.first(max(map(len, ways), default=0))
    usable_m = [jumbo.usable_m for jumbo in jumbos]
    ranked = sorted((relaxed.loss_m(way, usable_m), place) for place, way in enumerate(ways))
    for number, (least_m, place) in enumerate(ranked):
        for margin in (1.0, 0.0):
            late = number > 0 and budget.over()
            if late or best.loss_m <= least_m + problem.close_m:
                break
            best.wind(relaxed.lengths(ways[place], usable_m, margin=margin))


def _shared_out(wound: Iterable[tuple[int, int, int]]) -> list[tuple[int, int]]:
    """(block, length) of every set, from (block, sets, metres) jumbo by jumbo."""
    lengths: dict[int, list[int]] = {}
    for b, many, metres in wound:
        short, longer = divmod(metres, many)
        lengths.setdefault(b, []).extend(short + (place < longer) for place in range(many))
    return [(b, length) for b in sorted(lengths) for length in lengths[b]]


def _contents(laying: Laying, supply: JumboSupply) -> tuple[Content, ...]:
    """Sets by block on each jumbo of the supply, up to the last that is opened."""
    on: dict[str, Counter[int]] = {}
    for laid in laying.sets:
        on.setdefault(laid.stretches[0].jumbo, Counter())[laid.block] += 1
    found, left = [], len(on)
    for jumbo in supply.first(len(supply.stock) + len(on)):
        if not left:
            break
        left -= jumbo.name in on
        found.append(tuple(sorted(on.get(jumbo.name, Counter()).items())))
    return tuple(found)
