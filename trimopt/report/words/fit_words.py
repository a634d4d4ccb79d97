"""What an answer to an enquiry says in words and figures, the same on a terminal and a page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trimopt.fit.answer import use_line
from trimopt.report.words.figures import moment, percent
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

if TYPE_CHECKING:
    from trimopt.fit import Alternative, Enquiry, Placement, RunCount, When

__all__ = [
    "alternative_words", "assumed_words", "before_and_after", "core_words", "paper_words",
    "use_words", "when_words",
]  # fmt: skip

_NAMED = 5  # orders, of which the rest are counted


def before_and_after(placement: Placement, units: Units) -> tuple[tuple[str, str, str], ...]:
    """Rows of label, before and after: each figure, and whether it is proven."""
    then, now = placement.before, placement.after
    rows = [
        ("trim_loss", percent(then.trim_loss), percent(now.trim_loss)),
        ("loss", units.said(then.loss_kg, "kg"), units.said(now.loss_kg, "kg")),
        ("least", _proven(then.proven), _proven(now.proven)),
    ]
    if not (then.proven and now.proven):
        rows.append(("bound", _bound(then, units), _bound(now, units)))
    rows += [
        ("set_ups", str(then.set_ups), str(now.set_ups)),
        ("fewest", _proven(then.set_ups_proven), _proven(now.set_ups_proven)),
        ("sets", f"{then.sets:,}", f"{now.sets:,}"),
        ("wound", units.said(then.metres, "m"), units.said(now.metres, "m")),
    ]
    return tuple((text(f"fit.{key}"), before, after) for key, before, after in rows)


def _proven(known: bool) -> str:
    return text("fit.proven" if known else "fit.not_proven")


def _bound(counted: RunCount, units: Units) -> str:
    unknown = counted.bound_kg is None
    return text("fit.unknown") if unknown else units.said(counted.bound_kg or 0.0, "kg")


def paper_words(placement: Placement, units: Units) -> str:
    """Jumbo metres and paper more, and for what."""
    said = text(
        "fit.paper",
        length=_signed(placement.extra_m, "m", units),
        paper=_signed(placement.extra_kg, "kg", units),
        delivered=units.said(placement.delivered_kg, "kg"),
    )
    for kilograms, key in (
        (placement.companion_kg, "companion"),
        (placement.surplus_kg, "surplus"),
        (placement.others_kg, "others_more" if placement.others_kg > 0 else "others_less"),
    ):
        if abs(kilograms) >= 0.5:
            said += text(f"fit.{key}", mass=units.said(abs(kilograms), "kg"))
    return said


def _signed(value: float, kind: str, units: Units) -> str:
    return ("" if value < 0 else "+") + units.said(value, kind)


def use_words(placement: Placement, units: Units) -> str:
    """What the extra paper for what is delivered is, and what is proven of it."""
    return text("fit.use", line=use_line(placement, units.written))


def assumed_words(enquiry: Enquiry, units: Units) -> str:
    """What the answer takes for granted: diameter, core and tolerance."""
    parts = []
    if enquiry.chop_mm is None:
        low, high = enquiry.min_diameter_mm, enquiry.max_diameter_mm
        sizes = [
            text(f"fit.{key}", size=units.said(size, "mm"))
            for key, size in (("from", low), ("up_to", high))
            if size is not None
        ]
        parts.append(text("fit.diameter", sizes=" ".join(sizes) or text("fit.any")))
        core = enquiry.core_mm
        parts.append(core_words(core, units))
    if enquiry.under is not None and enquiry.over is not None:
        custom = text("fit.custom") if enquiry.tolerance_by_custom else ""
        under, over = 100 * float(enquiry.under), 100 * float(enquiry.over)
        parts.append(text("fit.tolerance", under=under, over=over) + custom)
    return "; ".join(parts)


def core_words(core_mm: float | None, units: Units) -> str:
    """On which core."""
    if core_mm is None:
        return text("fit.any_core")
    return text("fit.core", core=units.said(core_mm, "core"))


def when_words(when: When, *, planned: bool) -> str:
    """When it is finished, which orders that may make late, and which would have to give way.

    `planned` says whether the run has a plan, whose hours are known.
    """
    if when.latest is None or when.earliest is None:
        said = text("fit.when_none" if planned or when.days_listed else "fit.when_unplanned")
    else:
        ends = {name: moment(getattr(when, name)) for name in ("earliest", "latest")}
        said = text("fit.when_by" if len({*ends.values()}) == 1 else "fit.when_span", **ends)
        said += text("fit.when_with_plan" if when.with_plan else "fit.when_later")
    for key, orders in (("late", when.may_be_late), ("gives_way", when.gives_way)):
        if orders:
            said += text(f"fit.when_{key}", orders=_named(orders))
    return said if when.days_listed else said + text("fit.when_no_days")


def _named(orders: Sequence[str]) -> str:
    named = ", ".join(orders[:_NAMED])
    rest = len(orders) - _NAMED
    return text("fit.when_more", orders=named, count=rest) if rest > 0 else named


def alternative_words(alternative: Alternative, units: Units) -> str:
    """One change and what it brings."""
    key = "fit.saves" if alternative.saved >= 0 else "fit.costs"
    return text(
        key,
        change=alternative.change,
        line=use_line(alternative.placement, units.written),
        tonnes=abs(alternative.saved),
    )
