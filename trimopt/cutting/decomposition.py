"""Parts of a run solved one after another, and their answers put together."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter

from trimopt.budget import Budget
from trimopt.cutting.lp.bound_certificate import price_bound
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.observer import Observer, Progress
from trimopt.cutting.model.outcome import Cut, Outcome, Status
from trimopt.cutting.parts import Part, joined_certificate, joined_cuts, own_cuts

__all__ = ["solve_parts"]


def solve_parts(
    instance: Instance,
    parts: tuple[Part, ...],
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
            observer=None if observer is None else _part_observer(observer, begun, answers),
            start=own_cuts(parts[p], start),
        )
    return _joined(instance, parts, [answers[p] for p in range(len(parts))], begun)


def _part_observer(observer: Observer, begun: float, answers: dict[int, Outcome]) -> Observer:
    """Tells of the parts that are done and the one at work; its parts to come are not known."""
    loss = sum(answer.loss or 0 for answer in answers.values())
    bound = sum(answer.bound for answer in answers.values())

    def tell(progress: Progress) -> None:
        observer(
            Progress(
                seconds=perf_counter() - begun,
                loss=None if progress.loss is None else loss + progress.loss,
                bound=None if progress.bound is None else bound + progress.bound,
                step=f"part {len(answers) + 1}: {progress.step}",
            )
        )

    return tell


def _joined(
    instance: Instance, parts: tuple[Part, ...], answers: list[Outcome], begun: float
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
        blocking=tuple(
            part.demands[i]
            for part, answer in zip(parts, answers, strict=True)
            for i in answer.blocking
        ),
        text="; ".join(dict.fromkeys(answer.text for answer in answers if answer.text)),
    )
