"""What an answer to an enquiry says in words and figures, the same on a terminal and a page.

Of a list also what is said of its rows together. Tables that both draw have their columns here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil
from typing import TYPE_CHECKING

from trimopt.fit.answer import use_text
from trimopt.paper import Measured
from trimopt.report.table_columns import TableColumn
from trimopt.report.words.plan_words import states_text
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, moment, percent

if TYPE_CHECKING:
    from trimopt import fit
    from trimopt.fit.together import Together
    from trimopt.plan.difference import OrderDifference

_NAMED = 5  # orders, of which the rest are counted

WIDTH = TableColumn("width", 0, "mm", lambda point: point.width_mm)
"""Of a point of the curve."""

ALONE = (
    TableColumn("core", 0, "core", lambda row: row.core_mm),
    TableColumn("set_up_to", 0, "m", lambda row: row.length_m),
    TableColumn("diameter", 0, "diameter", lambda row: row.diameter_mm),
    TableColumn("reel_mm", 0, "mm", lambda row: row.reel_mm),
    TableColumn("ups", 0, "count", lambda row: row.ups),
    TableColumn("across", 0, "count", lambda row: row.across),
    TableColumn("broke_reels", 0, "count", lambda row: row.broke_reels),
    TableColumn("trim_mm", 0, "mm", lambda row: row.trim_mm),
    TableColumn("trim_of_deckle", 0, "share", lambda row: percent(row.trim_share, 1)),
)
"""A row for each core, and each number of ups: the enquiry alone across the deckle."""


def answer_lines(answer: fit.Answer, units: Units) -> tuple[tuple[str, str], ...]:
    """The answer in a few lines: a label, empty for the verdict, and what stands behind it."""
    rows = [("", answer.line)]
    if answer.stop:
        return tuple(rows)
    if answer.extra is not None:
        use = use_text(answer.extra, answer.written)
        average = text("fit.average", average=answer.extra.average)
        short = use.replace(" of paper", "")
        rows = [("", answer.line.replace(f"; {use}", "")), ("paper", f"{short}; {average}")]
        if answer.floor_price is not None:
            rows.append(("price", _price(answer.floor_price, answer)))
    if answer.when is not None:
        rows.append(
            ("when", when_words(answer.when, planned=bool(answer.from_plan) or not answer.run))
        )
    if assumed := assumed_words(answer, units):
        rows.append(("as", assumed))
    if answer.run:
        key = "fit.against" if answer.from_plan else "fit.against_new"
        notes = text("fit.notes", count=len(answer.notes)) if answer.notes else ""
        rows.append(("from", text(key, run=answer.run, plan=answer.from_plan) + notes))
    return tuple((text(f"fit.line_{key}") if key else "", line) for key, line in rows)


def _price(span: tuple[float, float], answer: fit.Answer) -> str:
    low, high = (f"{ceil(price):,}" for price in span)
    figures = high if low == high else f"{low} to {high}"
    return text("fit.floor_price", price=f"{figures} {answer.currency}".strip())


def before_and_after(planned: fit.RunWithEnquiry, units: Units) -> tuple[tuple[str, str, str], ...]:
    """Rows of label, run as planned, and run planned with the enquiry: as plans print them."""
    then, now = planned.before, planned.run
    rows = [
        ("used", *(units.said(run.balance.used_kg, "kg") for run in (then, now))),
        ("delivered", *(units.said(run.balance.delivered_kg, "kg") for run in (then, now))),
        ("trim_loss", *(percent(run.balance.trim_loss) for run in (then, now))),
        ("total_loss", *(percent(run.balance.total_loss) for run in (then, now))),
        ("set_ups", str(then.set_ups), str(now.set_ups)),
        ("moves", str(then.knife_moves), str(now.knife_moves)),
        ("sets", *(f"{len(run.sets):,}" for run in (then, now))),
        ("wound", *(units.said(sum(j.wound_m for j in run.jumbos), "m") for run in (then, now))),
        ("minutes", f"{then.minutes:,.0f}", f"{now.minutes:,.0f}"),
    ]
    return tuple((text(f"fit.{key}"), before, after) for key, before, after in rows)


def paper_words(placement: fit.Placement, units: Units) -> str:
    """Jumbo metres more as it is put into the planned sets, and for what."""
    said = text(
        "fit.paper",
        length=_signed(placement.extra_m, "m", units),
        delivered=units.said(placement.delivered_kg, "kg"),
        use=placement.use,
        kept=placement.sets_kept,
        planned=placement.sets_planned,
    )
    for kilograms, key in (
        (placement.companion_kg, "companion"),
        (placement.surplus_kg, "surplus"),
        (placement.others_kg, "others_more" if placement.others_kg > 0 else "others_less"),
    ):
        if abs(kilograms) >= 0.5:
            said += text(f"fit.{key}", mass=units.said(abs(kilograms), "kg"))
    over = [
        f"{units.said(kilograms, 'kg')} of {number}"
        for number, kilograms in placement.others_surplus
        if kilograms >= 0.5
    ]
    return said + text("fit.others_surplus", orders=", ".join(over)) if over else said


def _signed(value: float, kind: str, units: Units) -> str:
    return ("" if value < 0 else "+") + units.said(value, kind)


def assumed_words(answer: fit.Answer, units: Units) -> str:
    """As what it is made, and what of that was taken for granted."""
    enquiry = answer.enquiry
    parts = []
    if enquiry.chop_mm is None:
        usual = text(f"fit.usual_{len(enquiry.usual)}") if enquiry.usual else ""
        parts.append((answer.wound or _size(enquiry, units)) + usual)
        parts += [answer.narrowed] * bool(answer.narrowed)
    if enquiry.under is not None and enquiry.over is not None:
        custom = text("fit.custom") if enquiry.tolerance_by_custom else ""
        under, over = 100 * float(enquiry.under), 100 * float(enquiry.over)
        key = "fit.tolerance_even" if under == over else "fit.tolerance"
        parts.append(text(key, under=under, over=over) + custom)
    return "; ".join(parts)


def _size(enquiry: fit.Enquiry, units: Units) -> str:
    """Diameter and core as they were asked for."""
    low, high = enquiry.min_diameter_mm, enquiry.max_diameter_mm
    sizes = [
        text(f"fit.{key}", size=units.said(size, "mm"))
        for key, size in (("from", low), ("up_to", high))
        if size is not None
    ]
    diameter = text("fit.diameter", sizes=" ".join(sizes) or text("fit.any"))
    return f"{diameter}; {core_words(enquiry.core_mm, units)}"


def core_words(core_mm: float | None, units: Units) -> str:
    if core_mm is None:
        return text("fit.any_core")
    return text("fit.core", core=units.said(core_mm, "core"))


def others_words(answer: fit.Answer, units: Units) -> tuple[str, ...]:
    """What the plan made with it does to other orders, a line for each; or that it does nothing."""
    said = tuple(
        f"{' '.join((each.number, each.customer)).strip()}: {words}"
        for each in answer.others
        if (words := _other(each, units))
    )
    return said or (text("fit.others_none"),)


def _other(change: OrderDifference, units: Units) -> str:
    """Empty where it is less than is printed."""
    before, after = change.before, change.after
    assert before is not None
    if after is None:
        return text("fit.other_gone")
    parts = []
    amounts = [
        units.said(each.planned_kg, "kg")
        if change.unit == "kg"
        else f"{units.said(each.planned, change.unit)}, {units.said(each.planned_kg, 'kg')}"
        for each in (before, after)
    ]
    states = [states_text(each.states) for each in (before, after)]
    if amounts[0] != amounts[1]:
        parts.append(text("fit.other_amount", before=amounts[0], after=amounts[1]))
    if states[0] != states[1]:
        parts.append(text("fit.other_state", before=states[0], after=states[1]))
    days = [f"{each.finished:%Y-%m-%d}" if each.finished else "" for each in (before, after)]
    if all(days) and days[0] != days[1]:
        parts.append(text("fit.other_day", before=days[0], after=days[1]))
    return "; ".join(parts)


def when_words(when: fit.When, *, planned: bool) -> str:
    """When it is finished, which orders that may make late, and which would have to give way.

    `planned` is no where the enquiry joins a run that has no plan, so that its hours are not known.
    """
    if when.latest is None or when.earliest is None:
        said = text("fit.when_none" if planned else "fit.when_unplanned")
    else:
        ends = {name: moment(getattr(when, name)) for name in ("earliest", "latest")}
        one = len({*ends.values()}) == 1
        if when.in_place and not one:
            said = text("fit.when_in_place", **ends)
        else:
            said = text("fit.when_by" if one else "fit.when_span", **ends)
            said += _how(when)
    for key, orders in (("late", when.may_be_late), ("gives_way", when.gives_way)):
        if orders:
            said += text(f"fit.when_{key}", orders=_named(orders))
    return said if when.days_listed else said + text("fit.when_no_days")


def _how(when: fit.When) -> str:
    """With the run, or how many minutes of which hours, so that the sum can be followed."""
    if when.winding_min is None or when.begins is None:
        return text("fit.when_with_plan")
    takes = " to ".join(dict.fromkeys(f"{minutes:,.0f}" for minutes in when.winding_min))
    return text("fit.when_run_days", takes=takes, begins=moment(when.begins))


def _named(orders: Sequence[str]) -> str:
    named = ", ".join(orders[:_NAMED])
    rest = len(orders) - _NAMED
    return text("fit.when_more", orders=named, count=rest) if rest > 0 else named


def alternative_words(alternative: fit.Alternative, units: Units) -> str:
    """One change and what it brings."""
    return text(
        "fit.saves",
        change=alternative.change,
        use=alternative.placement.use,
        sign=units.sign("use"),
        tonnes=alternative.saved,
    )


def together_line(together: Together, units: Units) -> str:
    """Which can all be had, what is proven of the selection, and its extra paper."""
    count, out = len(together.chosen), [str(each.key) for each in together.declined]

    def mass(tonnes: float) -> str:
        return units.written.text(Measured.TONNAGE, 1000 * tonnes)

    if _unfound(together):
        return text("fit.together_unfound", all=len(out))
    said = text(
        f"fit.together_{'none' if not count else 'some' if out else 'all'}",
        count=count,
        all=count + len(out),
        mass=mass(together.chosen_t),
        asked=mass(together.asked_t),
        rows=", ".join(out),
    )
    if together.by != "tonnes" and count:
        said += text(f"fit.together_{together.by}", value=together.value)
    if out or together.by == "margin":
        said += _proven(together, mass)
    if together.extra is not None:
        said += text(
            "fit.together_use_some" if out else "fit.together_use",
            use=use_text(together.extra, units.written),
            rows=", ".join(map(str, together.chosen)),
        )
    return said


def _unfound(together: Together) -> bool:
    """Whether nothing was found, and nothing proven: no row is out for that."""
    return not together.chosen and not together.best


def _proven(together: Together, mass: Callable[[float], str]) -> str:
    if together.max_value is None:
        return text("fit.together_open")
    if together.best:
        return text("fit.together_best")
    most = together.max_value
    return text("fit.together_most", most=mass(most) if together.by == "tonnes" else f"{most:,.0f}")


def row_words(together: Together | None, row: int) -> tuple[str, str]:
    """Whether a row is among those that can all be had, and else which it would push out."""
    if together is None or _unfound(together):
        return "", ""
    if row in together.chosen:
        return text("fit.together_yes"), ""
    out = next((each for each in together.declined if each.key == row), None)
    if out is None:
        return "", ""
    instead = ", ".join(map(str, out.instead_of or ()))
    return text("fit.together_no"), instead
