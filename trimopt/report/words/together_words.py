"""What is said of the enquiries of a list together: one line, and a word or two beside each row."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trimopt.fit.answer import use_text
from trimopt.paper import Measured
from trimopt.report.words.texts import text

if TYPE_CHECKING:
    from trimopt.fit.together import Together
    from trimopt.report.words.units import Units


def together_line(together: Together, units: Units) -> str:
    """Which can all be had, what is proven of the selection, and its extra paper."""
    count, out = len(together.chosen), [str(each.key) for each in together.declined]

    def mass(tonnes: float) -> str:
        return units.written.text(Measured.TONNAGE, 1000 * tonnes)

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


def _proven(together: Together, mass: Callable[[float], str]) -> str:
    if together.max_value is None:
        return text("fit.together_open")
    if together.best:
        return text("fit.together_best")
    most = together.max_value
    return text("fit.together_most", most=mass(most) if together.by == "tonnes" else f"{most:,.0f}")


def row_words(together: Together | None, row: int) -> tuple[str, str]:
    """Whether a row is among those that can all be had, and else which it would push out."""
    if together is None:
        return "", ""
    if row in together.chosen:
        return text("fit.together_yes"), ""
    out = next((each for each in together.declined if each.key == row), None)
    if out is None:
        return "", ""
    instead = ", ".join(map(str, out.instead_of or ()))
    return text("fit.together_no"), instead
