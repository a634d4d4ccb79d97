"""What a plan changes against the one that it replaces, in words: terminal, page and workbook."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from trimopt.paper import in_spans, number
from trimopt.plan.difference import LOST_TO, OrderDifference, PlanDifference, SetChange
from trimopt.plan.model import Plan
from trimopt.report.words.plan_words import late_text, states_text
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units


def all_change_lines(plan: Plan, difference: PlanDifference) -> Iterator[str]:
    """What page and workbook say of a change below its figures."""
    yield from change_lines(plan, difference)
    yield from order_lines(plan, difference, Units(plan.written))


_Row = tuple[str, str, str, str]


def figure_rows(difference: PlanDifference, units: Units) -> Iterator[_Row]:
    """Figures: name, before, after and the change. What paper is lost to stands where it moves."""
    before, after = difference.figures_before, difference.figures_after
    unit = units.sign("kg")

    def row(name: str, was: float, now: float, kind: str, places: int = 0) -> _Row:
        shown = [units.bare(value, kind, places) for value in (was, now, abs(now - was))]
        sign = "" if shown[2].strip("0.") == "" else "+" if now > was else "\N{MINUS SIGN}"
        return name, shown[0], shown[1], sign + shown[2]

    yield row(text("revision.lost", unit=unit), before.lost_kg, after.lost_kg, "kg")
    for part, was, now in zip(LOST_TO, before.lost_to_kg, after.lost_to_kg, strict=True):
        found = row(text("revision.lost_to", part=text(f"balance.{part}").lower()), was, now, "kg")
        if found[1] != found[2]:
            yield found
    yield row(text("revision.used", unit=unit), before.used_kg, after.used_kg, "kg")
    for name, was, now in (
        ("set_ups", before.set_ups, after.set_ups),
        ("moves", before.knife_moves, after.knife_moves),
        ("hours", before.minutes / 60, after.minutes / 60),
        ("sets", before.sets, after.sets),
        ("jumbos", before.jumbos, after.jumbos),
        ("late", before.late_orders, after.late_orders),
    ):
        yield row(text(f"revision.{name}"), was, now, "count", 1 if name == "hours" else 0)


def change_lines(plan: Plan, difference: PlanDifference) -> Iterator[str]:
    """Sets, what changing gained and keeping cost, orders newly late, short or saved, labels."""
    counts = Counter(each.change for each in difference.sets)
    done = (text("replan.done", count=difference.sets_done),) if difference.sets_done else ()
    said = [*done, text("revision.sets_kept", count=difference.sets_kept)]
    said += [text(f"revision.{one}", count=counts[one]) for one in SetChange if counts[one]]
    yield text("revision.sets_line", changes=", ".join(said))
    stated, settings = plan.replanned, plan.settings
    if stated is not None and (stated.blocks_changed or stated.paid_for_keeping):
        unit = settings.currency or text("replan.money") if settings.priced else "kg"
        yield text(
            "replan.worth", count=stated.blocks_changed, unit=unit,
            gained=number(stated.gained_by_changing, 0), paid=number(stated.paid_for_keeping, 0),
        )  # fmt: skip
    times = {line.number: late_text(line) for run in plan.runs for line in run.orders}
    for name in ("newly_late", "newly_short", "saved"):
        if orders := getattr(difference, name):
            late = name == "newly_late"
            names = (f"{each} ({times[each]})" if late else each for each in orders)
            yield text(f"replan.{name}", orders=", ".join(names))
    for each in difference.labels:
        for name in ("destroy", "reprint", "relabel"):
            if numbers := getattr(each, name):
                yield text(
                    f"replan.{name}", count=len(numbers), run=each.run, sets=in_spans(numbers),
                    plan=difference.before,
                )  # fmt: skip
    for lost in difference.spoiled:
        yield text(
            "replan.spoiled", count=len(lost.positions), run=lost.run, number=lost.set_number,
            places=in_spans(lost.positions),
        )  # fmt: skip
    for name in difference.given_up:
        yield text("revision.given_up", name=name)


def order_lines(
    plan: Plan, difference: PlanDifference, units: Units, *, most: int | None = None
) -> Iterator[str]:
    """The orders that get something else, `most` of them, those first whose state or mass changes.

    Parameters
    ----------
    plan
        The second of the two plans.
    """
    left_out = {each.order: each.why for each in plan.left_out}
    in_both = {each.number for each in difference.orders}
    anew = [each for each in difference.left_out if each.order not in in_both]
    changed = [each for each in difference.orders if not each.in_time_only]
    changed.sort(key=lambda each: (_same_states(each), -_more_kg(each)))
    if not changed and not anew:
        yield text("revision.orders_none")
    yield from (text("revision.left_out", order=each.order, why=each.why) for each in anew)
    yield from (_order_text(each, units, left_out) for each in changed[:most])
    if rest := changed[len(changed) if most is None else most :]:
        mass = units.said(max(map(_more_kg, rest)), "kg")
        yield text("revision.orders_more", count=len(rest), mass=mass)
    moved = [each for each in difference.orders if each.in_time_only]
    if moved:
        words = text("revision.orders_in_time", count=len(moved))
        later = max(_later_min(each) for each in moved)
        yield text("revision.later", text=words, minutes=later) if later > 0 else words


def _same_states(each: OrderDifference) -> bool:
    states = [None if side is None else side.states for side in (each.before, each.after)]
    return states[0] == states[1]


def _more_kg(each: OrderDifference) -> float:
    before, after = (0.0 if side is None else side.planned_kg for side in (each.before, each.after))
    return abs(after - before)


def _later_min(each: OrderDifference) -> float:
    before, after = (None if side is None else side.finished for side in (each.before, each.after))
    return 0.0 if before is None or after is None else (after - before).total_seconds() / 60


def _order_text(each: OrderDifference, units: Units, left_out: Mapping[str, str]) -> str:
    """An order before and after: cancelled, left out or new where it is in one of them alone."""
    shown = {}
    for name, side in (("before", each.before), ("after", each.after)):
        if side is not None:
            quantity, mass = (
                units.said(side.planned, each.unit, 1),
                units.said(side.planned_kg, "kg"),
            )
            shown[name] = quantity if each.unit == "kg" else f"{quantity} ({mass})"
            if side.from_stock:
                shown[name] = text("revision.with_stock", made=shown[name], count=side.from_stock)
            shown[f"{name}_states"] = states_text(side.states)
    if each.after is None:
        name = "order_left_out" if each.number in left_out else "order_cancelled"
    elif each.before is None:
        name = "order_new"
    else:
        name = "order" if _same_states(each) else "order_state"
    order = f"{each.number} {each.customer}".strip()
    return text(f"revision.{name}", order=order, why=left_out.get(each.number, ""), **shown)
