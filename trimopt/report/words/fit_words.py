"""What an answer to an enquiry says in words and figures, the same on a terminal and a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.fit.answer import use_line
from trimopt.report.words.plan_words import percent

if TYPE_CHECKING:
    from trimopt.fit import Counted, Enquiry, Helped, Riding

__all__ = [
    "ESTIMATE",
    "assumed_words",
    "before_and_after",
    "helped_words",
    "paper_words",
    "use_words",
]

ESTIMATE = (
    "estimated at the prices of the run's proof, not solved: the true figure may be above or below"
)
"""What a figure of the curve is, wherever one is shown."""


def before_and_after(riding: Riding) -> tuple[tuple[str, str, str], ...]:
    """Rows of label, before and after: each figure, and whether it is proven."""
    then, now = riding.before, riding.after
    rows = (
        ("trim loss", percent(then.trim_loss), percent(now.trim_loss)),
        ("loss across the width", _kg(then.loss_kg), _kg(now.loss_kg)),
        ("  the least there is", _proven(then.proven), _proven(now.proven)),
        (_LOWER_BOUND, _bound(then), _bound(now)),
        ("set-ups", str(then.set_ups), str(now.set_ups)),
        ("  the fewest there are", _proven(then.set_ups_proven), _proven(now.set_ups_proven)),
        ("sets", f"{then.sets:,}", f"{now.sets:,}"),
        ("jumbo wound", f"{then.metres:,} m", f"{now.metres:,} m"),
    )
    both = then.proven and now.proven
    return tuple(row for row in rows if not (both and row[0] == _LOWER_BOUND))


_LOWER_BOUND = "  proven lower bound"


def _kg(mass_kg: float) -> str:
    return f"{mass_kg:,.0f} kg"


def _proven(known: bool) -> str:
    return "proven" if known else "not proven"


def _bound(counted: Counted) -> str:
    return "unknown" if counted.bound_kg is None else _kg(counted.bound_kg)


def paper_words(riding: Riding) -> str:
    """Jumbo metres and paper more, and for what."""
    beside = ""
    if riding.companion_kg:
        beside = f" and {_kg(riding.companion_kg)} for stock beside it"
    if riding.surplus_kg >= 0.5:
        beside += f"; {_kg(riding.surplus_kg)} of it more than was asked, so surplus"
    others = ""
    if abs(riding.others_kg) >= 0.5:
        less = "more" if riding.others_kg > 0 else "less"
        others = (
            f"; other orders get {_kg(abs(riding.others_kg))} {less}, inside their "
            "tolerances, which the extra paper per tonne leaves out"
        )
    return (
        f"{riding.extra_m:+,} m of jumbo, {riding.extra_kg:+,.0f} kg of paper for "
        f"{_kg(riding.delivered_kg)} delivered{beside}{others}"
    )


def use_words(riding: Riding) -> str:
    """What the extra paper per tonne is, and what is proven of it."""
    return (
        f"{use_line(riding)}: across the width at the plan's set lengths, where the run loses "
        "least with it and without; kilograms below and above the ordered quantities count as the "
        "mill file says"
    )


def assumed_words(enquiry: Enquiry) -> str:
    """What the answer takes for granted: diameter, core and tolerance."""
    parts = []
    if enquiry.chop_mm is None:
        least, greatest = enquiry.min_diameter_mm, enquiry.max_diameter_mm
        sizes = [f"from {least:g} mm"] if least is not None else []
        sizes += [f"up to {greatest:g} mm"] if greatest is not None else []
        parts.append(f"diameter {' '.join(sizes) or 'any'}")
        parts.append("any core" if enquiry.core_mm is None else f"core {enquiry.core_mm:g} mm")
    if enquiry.under is not None and enquiry.over is not None:
        custom = ", the mill's custom" if enquiry.tolerance_by_custom else ""
        under, over = 100 * float(enquiry.under), 100 * float(enquiry.over)
        parts.append(f"tolerance {under:g} % under, {over:g} % over{custom}")
    return "; ".join(parts)


def helped_words(helped: Helped) -> str:
    """One change and what it brings."""
    verb = "saves" if helped.saved >= 0 else "costs"
    return f"{helped.change}: {use_line(helped.riding)}; {verb} {abs(helped.saved):.2f} as placed"
