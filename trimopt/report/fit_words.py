"""What an answer to an enquiry says in words and figures, the same on a terminal and a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.report.words import percent

if TYPE_CHECKING:
    from trimopt.fit import Counted, Helped, Riding

__all__ = ["before_and_after", "helped_words", "paper_words", "use_words"]


def before_and_after(riding: Riding) -> tuple[tuple[str, str, str], ...]:
    """Rows of label, before and after: each figure, and whether it is proven."""
    then, now = riding.before, riding.after
    rows = (
        ("trim loss", percent(then.trim_loss), percent(now.trim_loss)),
        ("loss across the width", _kg(then.loss_kg), _kg(now.loss_kg)),
        ("  the least there is", _proven(then.proven), _proven(now.proven)),
        ("  no plan loses less than", _bound(then), _bound(now)),
        ("set-ups", str(then.set_ups), str(now.set_ups)),
        ("  the fewest there are", _proven(then.set_ups_proven), _proven(now.set_ups_proven)),
        ("sets", f"{then.sets:,}", f"{now.sets:,}"),
        ("jumbo wound", f"{then.metres:,} m", f"{now.metres:,} m"),
    )
    both = then.proven and now.proven
    return tuple(row for row in rows if not (both and row[0] == "  no plan loses less than"))


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
            "tolerances, and the marginal use takes that off"
        )
    return (
        f"{riding.extra_m:+,} m of jumbo, {riding.extra_kg:+,.0f} kg of paper for "
        f"{_kg(riding.delivered_kg)} delivered{beside}{others}"
    )


def use_words(riding: Riding) -> str:
    """Marginal use, and what is proven of it."""
    use = f"marginal use {riding.marginal_use:.2f} t of paper per t"
    least, most = riding.marginal_least, riding.marginal_most
    if least is None or most is None:
        return f"{use}; no bound was proven in time"
    return f"{use}; however the run is planned it lies between {least:.2f} and {most:.2f}, proven"


def helped_words(helped: Helped) -> str:
    """One change and what it brings."""
    verb = "saves" if helped.saved >= 0 else "costs"
    use = helped.riding.marginal_use
    return f"{use:6.2f} t per t, {verb} {abs(helped.saved):.2f}: {helped.change}"
