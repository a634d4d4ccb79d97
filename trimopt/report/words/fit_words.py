"""What an answer to an enquiry says in words and figures, the same on a terminal and a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.fit.answer import use_line
from trimopt.report.words.figures import percent
from trimopt.report.words.texts import text

if TYPE_CHECKING:
    from trimopt.fit import Alternative, Enquiry, Placement, RunCount

__all__ = ["alternative_words", "assumed_words", "before_and_after", "paper_words", "use_words"]


def before_and_after(placement: Placement) -> tuple[tuple[str, str, str], ...]:
    """Rows of label, before and after: each figure, and whether it is proven."""
    then, now = placement.before, placement.after
    rows = [
        ("trim_loss", percent(then.trim_loss), percent(now.trim_loss)),
        ("loss", _kg(then.loss_kg), _kg(now.loss_kg)),
        ("least", _proven(then.proven), _proven(now.proven)),
    ]
    if not (then.proven and now.proven):
        rows.append(("bound", _bound(then), _bound(now)))
    rows += [
        ("set_ups", str(then.set_ups), str(now.set_ups)),
        ("fewest", _proven(then.set_ups_proven), _proven(now.set_ups_proven)),
        ("sets", f"{then.sets:,}", f"{now.sets:,}"),
        ("wound", f"{then.metres:,} m", f"{now.metres:,} m"),
    ]
    return tuple((text(f"fit.{key}"), before, after) for key, before, after in rows)


def _kg(mass_kg: float) -> str:
    return f"{mass_kg:,.0f} kg"


def _proven(known: bool) -> str:
    return text("fit.proven" if known else "fit.not_proven")


def _bound(counted: RunCount) -> str:
    return text("fit.unknown") if counted.bound_kg is None else _kg(counted.bound_kg)


def paper_words(placement: Placement) -> str:
    """Jumbo metres and paper more, and for what."""
    said = text(
        "fit.paper",
        metres=placement.extra_m,
        paper=placement.extra_kg,
        delivered=_kg(placement.delivered_kg),
    )
    if placement.companion_kg:
        said += text("fit.companion", mass=_kg(placement.companion_kg))
    if placement.surplus_kg >= 0.5:
        said += text("fit.surplus", mass=_kg(placement.surplus_kg))
    if abs(placement.others_kg) >= 0.5:
        key = "fit.others_more" if placement.others_kg > 0 else "fit.others_less"
        said += text(key, mass=_kg(abs(placement.others_kg)))
    return said


def use_words(placement: Placement) -> str:
    """What the extra paper per tonne is, and what is proven of it."""
    return text("fit.use", line=use_line(placement))


def assumed_words(enquiry: Enquiry) -> str:
    """What the answer takes for granted: diameter, core and tolerance."""
    parts = []
    if enquiry.chop_mm is None:
        low, high = enquiry.min_diameter_mm, enquiry.max_diameter_mm
        sizes = [text("fit.from", mm=low)] if low is not None else []
        sizes += [text("fit.up_to", mm=high)] if high is not None else []
        parts.append(text("fit.diameter", sizes=" ".join(sizes) or text("fit.any")))
        core = enquiry.core_mm
        parts.append(text("fit.any_core") if core is None else text("fit.core", core=core))
    if enquiry.under is not None and enquiry.over is not None:
        custom = text("fit.custom") if enquiry.tolerance_by_custom else ""
        under, over = 100 * float(enquiry.under), 100 * float(enquiry.over)
        parts.append(text("fit.tolerance", under=under, over=over) + custom)
    return "; ".join(parts)


def alternative_words(alternative: Alternative) -> str:
    """One change and what it brings."""
    key = "fit.saves" if alternative.saved >= 0 else "fit.costs"
    return text(
        key,
        change=alternative.change,
        line=use_line(alternative.placement),
        tonnes=abs(alternative.saved),
    )
