"""What a plan that goes on from another changes, in words: terminal, page and workbook."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from trimopt.plan.difference import PlanDifference, SetChange
from trimopt.plan.model import Plan
from trimopt.report.words.figures import in_spans
from trimopt.report.words.plan_words import late_text
from trimopt.report.words.texts import text


def sets_line(difference: PlanDifference) -> str:
    """How many sets have run, stay as they were, and do not."""
    counts = Counter(each.change for each in difference.sets)
    said = [text("revision.sets_kept", kept=difference.sets_kept)]
    if difference.sets_done:
        said.insert(0, text("replan.done", count=difference.sets_done))
    said += [text(f"revision.{one}", count=counts[one]) for one in SetChange if counts[one]]
    return ", ".join(said)


def cut_short_lines(plan: Plan) -> tuple[str, ...]:
    """That the time limit ended the search, where it did: said before all else."""
    cut_short = plan.replanned is not None and plan.replanned.cut_short
    return (text("replan.cut_short"),) if cut_short else ()


def all_change_lines(plan: Plan, difference: PlanDifference) -> tuple[str, ...]:
    """What page and workbook say of a change."""
    return *cut_short_lines(plan), *change_lines(plan, difference)


def change_lines(plan: Plan, difference: PlanDifference) -> Iterator[str]:
    """Sets, what changing gained and keeping cost, orders newly late, short or saved, labels."""
    yield sets_line(difference)
    stated, settings = plan.replanned, plan.settings
    if stated is not None and (stated.blocks_changed or stated.paid_for_keeping):
        priced = settings.trim_cost_per_t is not None and settings.set_up is not None
        unit = settings.currency or text("replan.money") if priced else "kg"
        yield text(
            "replan.worth", count=stated.blocks_changed, unit=unit,
            gained=f"{stated.gained_by_changing:,.0f}", paid=f"{stated.paid_for_keeping:,.0f}",
        )  # fmt: skip
    times = {line.number: late_text(line) for run in plan.runs for line in run.orders}
    for name in ("newly_late", "newly_short", "saved"):
        if orders := getattr(difference, name):
            late = name == "newly_late"
            said = (f"{each} ({times[each]})" if late else each for each in orders)
            yield text(f"replan.{name}", orders=", ".join(said))
    for each in difference.labels:
        for name, numbers in (("destroy", each.destroy), ("reprint", each.reprint)):
            if numbers:
                sets = in_spans(numbers)
                yield text(f"replan.{name}", run=each.run, sets=sets, plan=difference.before)
    for name in difference.given_up:
        yield text("revision.given_up", name=name)
