"""A run that falls into independent parts is solved part by part, and proven part by part.

Two demands belong together when some class can hold pieces of both (or a rule ties them). Orders on
another core, or of diameters that share no set length, make a part of their own. The loss of a run
is the sum over its parts, so bounds add up too, and a small part is often proven exactly where the
whole would leave a gap.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from time import perf_counter

from trimopt.budget import Budget
from trimopt.cutting.lp.bound_certificate import price_bound
from trimopt.cutting.model.cuts import Cut, Pattern
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.outcome import Certificate, Observer, Outcome, Progress, Status


@dataclass(frozen=True, slots=True, kw_only=True)
class InstancePart:
    """A part of an instance; its demands, classes and options by their places in the whole."""

    instance: Instance
    demands: tuple[int, ...]
    classes: tuple[int, ...]
    options: tuple[int, ...]


def parts_of(instance: Instance) -> tuple[InstancePart, ...]:
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
    return tuple(part_with(instance, demands) for demands in sorted(members.values()))


def part_with(
    instance: Instance, demands: Sequence[int], classes: Sequence[int] | None = None
) -> InstancePart:
    """The part of an instance with these demands and classes; None: all classes of theirs."""
    place = {i: k for k, i in enumerate(demands)}
    theirs = [(k, o.winding_class) for k, o in enumerate(instance.options) if o.demand in place]
    classes = sorted({c for _, c in theirs}) if classes is None else classes
    class_place = {c: k for k, c in enumerate(classes)}
    options = tuple(k for k, c in theirs if c in class_place)
    return InstancePart(
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
        classes=tuple(classes),
        options=options,
    )


def own_cuts(part: InstancePart, cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """Those of the whole's cuts that lie in a part, in the part's places."""
    classes = {c: k for k, c in enumerate(part.classes)}
    options = {k: j for j, k in enumerate(part.options)}
    own = [cut for cut in cuts if cut.pattern.winding_class in classes]
    return tuple(_placed(cut, classes, options) for cut in own)


def joined_cuts(part: InstancePart, cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """A part's cuts in the places of the whole."""
    classes, options = dict(enumerate(part.classes)), dict(enumerate(part.options))
    return tuple(_placed(cut, classes, options) for cut in cuts)


def _placed(cut: Cut, classes: Mapping[int, int], options: Mapping[int, int]) -> Cut:
    pieces = tuple((options[k], n) for k, n in cut.pattern.pieces)
    return Cut(Pattern(classes[cut.pattern.winding_class], pieces), cut.sets)


def joined_certificate(
    demands: int, parts: Sequence[InstancePart], proofs: Sequence[Certificate | None]
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


def solve_parts(
    instance: Instance,
    parts: tuple[InstancePart, ...],
    solve: Callable[..., Outcome],
    budget: Budget,
    *,
    observer: Observer | None,
    start: tuple[Cut, ...],
) -> Outcome:
    """Solve the parts one after another, the smallest first, and put them together.

    `solve` takes an instance and the keywords budget, observer and start. What a part leaves of
    its budget goes to those after it.
    """
    begun = perf_counter()
    answers: dict[int, Outcome] = {}
    order = sorted(range(len(parts)), key=lambda p: len(parts[p].options))
    for done, p in enumerate(order):
        left = sum(len(parts[q].options) for q in order[done:])
        share = len(parts[p].options) / max(1, left)
        answers[p] = solve(
            parts[p].instance,
            budget=budget.share(max(share, 0.2), budget.max_work * share),
            observer=None if observer is None else _part_observer(observer, parts, answers),
            start=own_cuts(parts[p], start),
        )
    return _joined(instance, parts, [answers[p] for p in range(len(parts))], begun)


def _part_observer(
    observer: Observer, parts: tuple[InstancePart, ...], answers: dict[int, Outcome]
) -> Observer:
    """Tells of the parts that are done and the one at work; parts to come lose no less than 0.

    There is a whole plan, and so a loss, once the last part has one.
    """
    loss = sum(answer.loss or 0 for answer in answers.values())
    bound = sum(answer.bound for answer in answers.values())
    to_come = [p for p in range(len(parts)) if p not in answers]
    before = [cut for p, answer in answers.items() for cut in joined_cuts(parts[p], answer.cuts)]
    whole = len(to_come) == 1 and all(answer.loss is not None for answer in answers.values())

    def tell(progress: Progress) -> None:
        found = whole and progress.loss is not None
        own = joined_cuts(parts[to_come[0]], progress.cuts) if found else ()
        observer(
            Progress(
                loss=loss + (progress.loss or 0) if found else None,
                bound=bound + (progress.bound or 0),
                step=f"part {len(answers) + 1}: {progress.step}",
                cuts=(*before, *own) if found else (),
            )
        )

    return tell


def _joined(
    instance: Instance, parts: tuple[InstancePart, ...], answers: list[Outcome], begun: float
) -> Outcome:
    statuses = {answer.status for answer in answers}
    worst = next(
        status
        for status in (Status.INFEASIBLE, Status.OUT_OF_TIME, Status.FEASIBLE, Status.OPTIMAL)
        if status in statuses
    )
    whole = worst in {Status.FEASIBLE, Status.OPTIMAL}
    proof = joined_certificate(
        len(instance.demands), parts, [answer.certificate for answer in answers]
    )
    bound = sum(answer.bound for answer in answers)
    cuts = sorted(
        cut
        for part, answer in zip(parts, answers, strict=True)
        for cut in joined_cuts(part, answer.cuts)
    )
    return Outcome(
        status=worst,
        cuts=tuple(cuts) if whole else (),
        loss=sum(answer.loss or 0 for answer in answers) if whole else None,
        bound=bound,
        price_bound=bound if proof is None else price_bound(instance, proof),
        certificate=proof,
        clock_stopped=any(answer.clock_stopped for answer in answers),
        seconds=perf_counter() - begun,
    )
