"""Whole sets for the pieces of one class: patterns of what was decided by pieces alone."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from trimopt.budget import SearchEnded
from trimopt.cutting.bin_packing.bin_problem import bin_problem_of
from trimopt.cutting.bin_packing.fewest_sets import FewestSets
from trimopt.cutting.lp.class_offers import ClassOffer, class_offers
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.model.cuts import Pattern, is_allowed
from trimopt.cutting.model.instance import Demand, Instance, WindingClass
from trimopt.cutting.search.search_state import Search


def packed(
    search: Search,
    offer: ClassOffer,
    pieces: NDArray[np.int64],
    sets: int,
    known: Iterable[Pattern] = (),
) -> dict[Pattern, int] | None:
    """Return patterns that make just these pieces in at most so many sets; None: none found.

    The sets are filled by width and stations alone. They come out nearly full, so that the rules
    on what is left beside the pieces are seldom broken; where they are, there is no answer.

    Parameters
    ----------
    offer, pieces
        A class, and the pieces of each of its options.
    """
    whole, max_work = search.instance, search.params.piece_moves.packing_work
    made = [(k, int(n)) for k, n in zip(offer.options, pieces, strict=True) if n]
    if not made:
        return {}
    limits = whole.classes[offer.winding_class]
    run = Instance(
        demands=tuple(Demand(low=n, high=n, surplus_worth=whole.options[k].worth) for k, n in made),
        classes=(WindingClass(cost=limits.cost, width=limits.width, max_pieces=limits.max_pieces),),
        options=tuple(
            replace(whole.options[k], demand=i, winding_class=0, gain=1, no_edge=False)
            for i, (k, _) in enumerate(made)
        ),
    )
    offers = class_offers(run)
    problem = bin_problem_of(run, offers)
    assert problem is not None, "one class, one option a demand, no rules"
    place = {k: i for i, (k, _) in enumerate(made)}
    begun = [tuple((place[k], n) for k, n in pattern.pieces if k in place) for pattern in known]
    one = Search(instance=run, budget=search.budget.share(1, max_work), params=search.params)
    with suppress(SearchEnded, SolverFailedError):
        FewestSets(one, problem, offers[0], seed=0).reach(
            sets, [problem.items(counts) for counts in begun if counts]
        )
    search.budget.spend(min(one.budget.work, max_work))
    if not one.cuts or sum(cut.sets for cut in one.cuts) > sets:
        return None
    plan = {
        Pattern(
            offer.winding_class, tuple(sorted((made[i][0], n) for i, n in cut.pattern.pieces))
        ): cut.sets
        for cut in one.cuts
    }
    return plan if all(is_allowed(whole, pattern) for pattern in plan) else None
