"""Proven least numbers of patterns at any loss: everything ordered lies in some pattern.

Making too much is allowed at a price, so at any loss one piece of each order is enough, and the
fewest patterns are the fewest deckles into which one piece of each can be packed: a small run of
its own, which the engine bounds.

Two patterns of the engine are one pattern on the winder, with no set-up between them, where their
widths are the same: orders of one width share a strip, and sets of several classes of one setting
a pattern. Such a pattern is counted in one of the classes that it is wound in. Whatever else it is
wound in, all of its widths lie across a set of that class too, as reels of some order or as broke
reels, and no more is asked of them.
"""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.budget import Budget
from trimopt.cutting.engine import solve
from trimopt.cutting.model.cuts import Cut
from trimopt.cutting.model.instance import SCALE, Demand, Instance, Option, WindingClass

#: Width in each class of what a demand takes at least; a class that is not in it takes none.
_Need = dict[int, int]


def fewest_patterns(instance: Instance, budget: Budget, fixed: Sequence[Cut] = ()) -> int:
    """No plan has fewer patterns, as `patterns_in` counts them; broke reels may make two alike.

    Parameters
    ----------
    budget
        Where it is over, less is proven.
    fixed
        Cuts that every plan holds.
    """
    across = {instance.set_up_for(c.pattern.winding_class, c.pattern.pieces) for c in fixed}
    if any(_broke(instance, cut) for cut in fixed):
        across = set()  # a broke reel may be as wide as a reel, so two of them may be one pattern
    setting = [limits.setting for limits in instance.classes]
    seen = {(at, width) for at, widths in across for width, _ in widths}
    within = _within(instance)
    needs = []
    every = [{(setting[c], width) for c, width in each} for each in _widths(instance)]
    # of orders with a width in common only one is counted: those with least choice come first
    for ways in sorted(every, key=lambda each: (len(each), -min((w for _, w in each), default=0))):
        if not ways or ways & seen:
            continue
        seen |= ways
        need: _Need = {}
        for c, here in enumerate(within):
            widths = {width for at, width in ways if at == setting[c]} & here
            if widths:
                need[c] = min(widths)
        needs.append(need)
    return len(across) + _deckles(instance, needs, budget)


def _broke(instance: Instance, cut: Cut) -> bool:
    used = sum(width * n for width, n in instance.widths_across(cut.pattern.pieces))
    return bool(instance.classes[cut.pattern.winding_class].broke_reels(used))


def _within(instance: Instance) -> list[set[int]]:
    """Of each class the widths that may lie across a set of it, as reels or as broke reels."""
    widths = {option.width for option in instance.options}
    within = []
    for c, limits in enumerate(instance.classes):
        here = {instance.options[k].width for k in instance.options_of(c)}
        if limits.slack is not None and limits.min_broke <= limits.width:
            most = limits.max_broke or limits.width
            here |= {width for width in widths if width <= most}
        within.append(here)
    return within


def _widths(instance: Instance) -> list[set[tuple[int, int]]]:
    """(class, width) of every way to make a demand; none where nothing of it must be made."""
    ways: list[set[tuple[int, int]]] = [set() for _ in instance.demands]
    for option in instance.options:
        if (
            instance.demands[option.demand].low > 0
            and option.width <= instance.classes[option.winding_class].width
        ):
            ways[option.demand].add((option.winding_class, option.width))
    return ways


def _deckles(instance: Instance, needs: Sequence[_Need], budget: Budget) -> int:
    """Deckles without which one piece of each need cannot be packed."""
    kinds: dict[tuple[int, int, tuple[tuple[int, int], ...]], None] = {}
    for c, limits in enumerate(instance.classes):
        widths = tuple((i, need[c]) for i, need in enumerate(needs) if c in need)
        if widths:
            kinds[limits.width, limits.max_pieces, widths] = None
    if not kinds:
        return 0
    outcome = solve(
        Instance(
            demands=(Demand(low=1, high=None),) * len(needs),
            classes=tuple(
                WindingClass(cost=1, width=width, max_pieces=most) for width, most, _ in kinds
            ),
            options=tuple(
                Option(demand=i, winding_class=c, width=width, gain=1)
                for c, (_, _, widths) in enumerate(kinds)
                for i, width in widths
            ),
        ),
        # As wide a gap as may be: the linear program proves, and no plan is sought.
        budget=budget,
        gap=1.0,
    )
    return -(-outcome.bound // SCALE)
