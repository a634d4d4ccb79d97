"""Where a search begins: a plan for other rules, or for a run that has changed, made whole."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.cutting.model.cuts import Cut, Pattern, is_allowed, loss_of, yields_of
from trimopt.cutting.model.instance import Instance


def completed(
    instance: Instance, cuts: Sequence[Cut], own: Sequence[Pattern | None]
) -> dict[Pattern, int]:
    """Sets by pattern that meet every demand.

    What breaks a rule is left out, what is short is added by patterns of one order, and sets that
    are not needed go while the loss falls.

    Parameters
    ----------
    cuts
        A plan, or a part of one; none is good too.
    own
        For each demand an allowed pattern that holds it, where there is one.
    """
    sets: dict[Pattern, int] = {}
    made = [0] * len(instance.demands)

    def add(pattern: Pattern, count: int) -> None:
        sets[pattern] = sets.get(pattern, 0) + count
        for i, (gain, _) in yields_of(instance, pattern).items():
            made[i] += gain * count

    for cut in cuts:
        if cut.sets > 0 and is_allowed(instance, cut.pattern):
            add(cut.pattern, cut.sets)
    for i, pattern in enumerate(own):
        short = instance.demands[i].low - made[i]
        if pattern is not None and short > 0:
            add(pattern, -(-short // yields_of(instance, pattern)[i][0]))
    return _thinned(instance, sets, made)


def _thinned(instance: Instance, sets: dict[Pattern, int], made: list[int]) -> dict[Pattern, int]:
    """The sets without those that only add to the loss, patterns of few sets first."""

    def loss() -> int:
        return loss_of(instance, tuple(Cut(pattern, n) for pattern, n in sets.items() if n))

    least = loss()
    for pattern in sorted(sets, key=lambda each: (sets[each], each)):
        yields = yields_of(instance, pattern)
        while sets[pattern] and all(
            made[i] - gain >= instance.demands[i].low for i, (gain, _) in yields.items()
        ):
            sets[pattern] -= 1
            fewer = loss()
            if fewer >= least:
                sets[pattern] += 1
                break
            least = fewer
            for i, (gain, _) in yields.items():
                made[i] -= gain
    return {pattern: n for pattern, n in sets.items() if n}
