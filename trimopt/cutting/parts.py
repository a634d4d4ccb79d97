"""A run that falls into independent parts is solved part by part, and proven part by part.

Two demands belong together when some class can hold pieces of both (or a rule ties them). Orders on
another core, or of diameters that share no set length, make a part of their own. The loss of a run
is the sum over its parts, so bounds add up too, and a small part is often proven exactly where the
whole would leave a gap.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.outcome import Certificate, Cut, Pattern

__all__ = ["Part", "joined_certificate", "joined_cuts", "own_cuts", "parts_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of an instance; its demands, classes and options by their places in the whole."""

    instance: Instance
    demands: tuple[int, ...]
    classes: tuple[int, ...]
    options: tuple[int, ...]


def parts_of(instance: Instance) -> tuple[Part, ...]:
    """The independent parts of an instance, in the order of their first demands."""
    root = list(range(len(instance.demands)))

    def find(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    first: dict[int, int] = {}
    for option in instance.options:
        held = first.setdefault(option.winding_class, option.demand)
        root[find(option.demand)] = find(held)
    for a, b in (*instance.apart, *instance.together):
        root[find(a)] = find(b)
    members: dict[int, list[int]] = defaultdict(list)
    for i in range(len(instance.demands)):
        members[find(i)].append(i)
    if len(members) < 2:
        whole = Part(
            instance=instance,
            demands=tuple(range(len(instance.demands))),
            classes=tuple(range(len(instance.classes))),
            options=tuple(range(len(instance.options))),
        )
        return (whole,)
    return tuple(_part(instance, demands) for demands in sorted(members.values()))


def _part(instance: Instance, demands: Sequence[int]) -> Part:
    place = {i: k for k, i in enumerate(demands)}
    options = tuple(k for k, option in enumerate(instance.options) if option.demand in place)
    classes = tuple(sorted({instance.options[k].winding_class for k in options}))
    class_place = {c: k for k, c in enumerate(classes)}
    return Part(
        instance=Instance(
            demands=tuple(instance.demands[i] for i in demands),
            classes=tuple(instance.classes[c] for c in classes),
            options=tuple(
                replace(
                    instance.options[k],
                    demand=place[instance.options[k].demand],
                    winding_class=class_place[instance.options[k].winding_class],
                )
                for k in options
            ),
            apart=tuple((place[a], place[b]) for a, b in instance.apart if a in place),
            together=tuple((place[a], place[b]) for a, b in instance.together if a in place),
            barred=tuple(
                (class_place[c], widths) for c, widths in instance.barred if c in class_place
            ),
        ),
        demands=tuple(demands),
        classes=classes,
        options=options,
    )


def own_cuts(part: Part, cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """Those of the whole's cuts that lie in a part, in the part's places."""
    classes = {c: k for k, c in enumerate(part.classes)}
    options = {k: j for j, k in enumerate(part.options)}
    return tuple(
        Cut(
            Pattern(
                classes[cut.pattern.winding_class],
                tuple((options[k], n) for k, n in cut.pattern.pieces),
            ),
            cut.sets,
        )
        for cut in cuts
        if cut.pattern.winding_class in classes
    )


def joined_cuts(part: Part, cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """A part's cuts in the places of the whole."""
    return tuple(
        Cut(
            Pattern(
                part.classes[cut.pattern.winding_class],
                tuple((part.options[k], n) for k, n in cut.pattern.pieces),
            ),
            cut.sets,
        )
        for cut in cuts
    )


def joined_certificate(
    demands: int, parts: Sequence[Part], proofs: Sequence[Certificate | None]
) -> Certificate | None:
    """Prices of the whole from those of its parts, over one scale; None where a part has none.

    Scales are powers of two, so bringing prices to the greatest of them is exact.
    """
    scale = max((proof.scale for proof in proofs if proof is not None), default=1)
    gains, worths = [0] * demands, [0] * demands
    for part, proof in zip(parts, proofs, strict=True):
        if proof is None:
            return None
        times = scale // proof.scale
        for i, gain, worth in zip(part.demands, proof.gain_price, proof.worth_price, strict=True):
            gains[i], worths[i] = gain * times, worth * times
    return Certificate(scale=scale, gain_price=tuple(gains), worth_price=tuple(worths))
