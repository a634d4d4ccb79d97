"""When a run asks for fewest sets and nothing else, and what is then left of it.

With one class, one option a demand, and only one number of pieces that a demand can sensibly get,
the loss is a constant and so much a set. Equal widths become one item; the width is cut down to
the greatest sum that the pieces reach; each item is widened to what it shuts off.

References
----------
J. M. Valério de Carvalho (1999), "Exact solution of bin-packing problems using column generation
and branch-and-bound", Annals of Operations Research 86, 629-659.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trimopt.cutting.lp.class_offers import ClassOffer
from trimopt.cutting.lp.knapsack_tables import steps
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import Instance

Sets = dict[tuple[tuple[int, int], ...], int]
"""Sets of each pattern, a pattern being ((item, count), …) with items rising."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BinProblem:
    """Items by falling width, pieces needed of each; `max_pieces` None where it cannot bind.

    `members` holds for each item its (option, pieces) of the instance.
    """

    width: int
    widths: tuple[int, ...]
    need: tuple[int, ...]
    max_pieces: int | None
    members: tuple[tuple[tuple[int, int], ...], ...]

    @property
    def material(self) -> int:
        """Least number of sets by width alone."""
        total = sum(w * n for w, n in zip(self.widths, self.need, strict=True))
        least = -(-total // self.width)
        if self.max_pieces is not None:
            least = max(least, -(-sum(self.need) // self.max_pieces))
        return least

    def items(self, pieces: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
        """Pieces ((option, count), …) as items, no more of one than is needed."""
        item = {option: i for i, members in enumerate(self.members) for option, _ in members}
        counts: dict[int, int] = {}
        for option, count in pieces:
            i = item[option]
            counts[i] = min(self.need[i], counts.get(i, 0) + count)
        return tuple(sorted(counts.items()))

    def cuts(self, sets: Sets, winding_class: int) -> dict[Pattern, int]:
        """Return the instance's patterns for sets of items, with no piece too many."""
        left = [[[option, pieces] for option, pieces in members] for members in self.members]
        plan: dict[Pattern, int] = {}
        for counts, number in sorted(sets.items()):
            times = number
            while times > 0:
                taken: list[tuple[list[int], int]] = []
                for item, count in counts:
                    wanted = count
                    for entry in left[item]:
                        some = min(wanted, entry[1])
                        if some:
                            taken.append((entry, some))
                            wanted -= some
                if not taken:
                    break
                run = min(times, *(entry[1] // some for entry, some in taken))
                for entry, some in taken:
                    entry[1] -= run * some
                pieces = tuple(sorted((entry[0], some) for entry, some in taken))
                pattern = Pattern(winding_class, pieces)
                plan[pattern] = plan.get(pattern, 0) + run
                times -= run
        return plan


def bin_problem_of(instance: Instance, offers: Sequence[ClassOffer]) -> BinProblem | None:
    """Return the problem of fewest sets that a run comes to; None where it is more than that."""
    if len(offers) != 1 or instance.together:
        return None
    offer = offers[0]
    one_each = len({*offer.demand.tolist()}) == offer.size
    if not (offer.plain and offer.any_used and offer.cost > 0 and one_each) or any(
        option.winding_class != offer.winding_class for option in instance.options
    ):
        return None
    pieces: dict[int, list[tuple[int, int]]] = {}
    for j in range(offer.size):
        demand = instance.demands[int(offer.demand[j])]
        gain, worth = int(offer.gains[j]), int(offer.worths[j])
        least = -(-max(0, demand.low) // gain)
        if demand.high is None:
            if worth:
                return None
        elif demand.high > least * gain:
            return None
        if least:
            pieces.setdefault(int(offer.widths[j]), []).append((offer.options[j], least))
    if not pieces:
        return None
    widths = tuple(sorted(pieces, reverse=True))
    fullest = offer.width // widths[-1]
    return BinProblem(
        width=offer.width,
        widths=widths,
        need=tuple(sum(n for _, n in pieces[w]) for w in widths),
        max_pieces=offer.max_pieces if offer.max_pieces < fullest else None,
        members=tuple(tuple(pieces[w]) for w in widths),
    )


def _reached(widths: Sequence[int], need: Sequence[int], width: int) -> int:
    """Sums up to `width` that pieces reach, as bits of one whole number."""
    mask = (1 << (width + 1)) - 1
    bits = 1
    for w, n in zip(widths, need, strict=True):
        for step in steps(min(n, width // w)):
            bits |= (bits << (step * w)) & mask
    return bits


def narrowed(problem: BinProblem) -> BinProblem:
    """Return the same problem with its width cut down to the greatest sum that is reached."""
    reached = _reached(problem.widths, problem.need, problem.width)
    width = reached.bit_length() - 1
    return replace(problem, width=width)
