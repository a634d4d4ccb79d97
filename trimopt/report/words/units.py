"""How outputs write figures and moments: the one place that turns them into text or a cell.

A figure comes as the plan keeps it, and its kind says what it is: "mm" (a width or another size,
exact), "core" and "diameter" (mm), "m", "kg", "t", "gsm", "um" (a caliper), "use" (extra paper for
what is delivered), "reels" or "sheets". Every other kind ("count", "share" …) has no unit.
Thousands are set off with a comma, decimals with a point.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from fractions import Fraction

from trimopt.paper import INCHES, Measured, UnitSystem, Written, number

Figure = Fraction | float

_MEASURED = {
    "mm": Measured.WIDTH,
    "core": Measured.WIDTH,
    "diameter": Measured.DIAMETER,
    "m": Measured.LENGTH,
    "kg": Measured.MASS,
    "t": Measured.TONNAGE,
    "um": Measured.CALIPER,
}
_KG_IN_T = 1000
_FINEST_CELL = 64  # parts of an inch that a cell's format shows


class Units:
    """Figures in the units of a book or a mill: text for people, numbers for cells."""

    def __init__(self, written: Written) -> None:
        self.written = written

    @property
    def fractions(self) -> bool:
        """Whether widths are read in parts of an inch."""
        return not self.written.metric and INCHES[self.written.inches] > 0

    def sign(self, kind: str) -> str:
        """Give the unit of a kind; empty where it has none."""
        if kind in _MEASURED:
            return self.written.unit(_MEASURED[kind])
        if kind == "use":
            one = "t" if self.written.metric else "lb"
            return f"{one} per {one}"
        return kind if kind in ("reels", "sheets") else ""

    def bare(self, value: Figure, kind: str, places: int | None = None) -> str:
        """Give a figure without its unit, where that stands beside it or in a heading.

        >>> METRIC.bare(Fraction(2151, 2), "mm"), METRIC.bare(1422.4, "diameter")
        ('1,075.5', '1,422')
        """
        if kind == "t":
            return f"{float(self.written.value(Measured.TONNAGE, _KG_IN_T * value)):,.2f}"
        if kind == "use":
            return f"{value:.3f}"
        if kind in _MEASURED:
            return self.written.figure(_MEASURED[kind], value, places)
        return number(value, 4 if places is None else places)

    def place(self, value: Figure) -> str:
        """Give a place across the web, where a knife stands: the metric one behind, if asked for.

        >>> METRIC.place(Fraction(2151, 2))
        '1,075.5'
        """
        bare = self.bare(value, "mm")
        beside = self.written.metric_beside and not self.written.metric
        return f"{bare} ({METRIC.bare(value, 'mm', 1)})" if beside else bare

    def said(self, value: Figure, kind: str, places: int | None = None) -> str:
        """Give a figure with its unit.

        >>> METRIC.said(12345.6, "kg")
        '12,346 kg'
        """
        if kind == "gsm":
            return self.written.grammage(value)
        return self._beside(METRIC.bare(value, kind, places), self.bare(value, kind, places), kind)

    def _beside(self, metric: str, text: str, kind: str) -> str:
        """Figures with their unit, and the metric ones behind where the mill asks for them."""
        said = f"{text} {self.sign(kind)}"
        if self.written.metric or not self.written.metric_beside or kind not in _MEASURED:
            return said
        return f"{said} ({metric} {METRIC.sign(kind)})"

    def span(self, values: Iterable[Figure], kind: str) -> str:
        """Give the least and the greatest of some figures, with their unit.

        >>> METRIC.span([1250.2, 1149.9], "diameter"), METRIC.span([820], "mm")
        ('1,150–1,250 mm', '820 mm')
        """
        some = tuple(values)
        return self._beside(METRIC.range_of(some, kind), self.range_of(some, kind), kind)

    def range_of(self, values: Iterable[Figure], kind: str) -> str:
        """Give the same without the unit."""
        some = tuple(values)
        low, high = self.bare(min(some), kind), self.bare(max(some), kind)
        return low if low == high else f"{low}–{high}"

    def several(self, values: Iterable[Figure], kind: str, between: str = ", ") -> str:
        """Give figures side by side, with their unit once.

        >>> METRIC.several((420, 594), "mm", " × ")
        '420 × 594 mm'
        """
        some = tuple(values)
        metric, text = (
            between.join(units.bare(value, kind) for value in some) for units in (METRIC, self)
        )
        return self._beside(metric, text, kind)

    def cell(self, value: Figure, kind: str) -> tuple[Figure, str]:
        """Give the number of a spreadsheet's cell, and the kind of number format that it has."""
        if self.written.metric or kind not in _MEASURED:
            return value, kind
        scale = _KG_IN_T if kind == "t" else 1
        shown = self.written.value(_MEASURED[kind], scale * value)
        if kind == "diameter":
            shown = Fraction(round(16 * shown), 16)
        if kind in ("mm", "core", "diameter"):
            kind = (
                "inch"
                if self.fractions and _FINEST_CELL % shown.denominator == 0
                else "decimal inch"
            )
        return shown, kind

    def kept(self, shown: Fraction, kind: str) -> Fraction:
        """Turn a figure that was read in its unit into what a plan keeps."""
        return shown * self.written.factor(_MEASURED[kind]) if kind in _MEASURED else shown


METRIC = Units(Written())


def units_named(system: str) -> Units:
    """Give units by the name of their system, as a program has it."""
    return Units(Written(system=UnitSystem(system)))


def percent(share: float | None, places: int = 2) -> str:
    """Give a share of one as per cent, or a dash where there is none.

    >>> percent(0.0123), percent(-0.000001), percent(None)
    ('1.23 %', '0.00 %', '–')
    """
    return "–" if share is None else f"{round(100 * share, places) + 0.0:.{places}f} %"


def moment(when: datetime | None) -> str:
    """Give a date and a time to the minute, or a dash.

    The mill's own clock has no zone; a plan is made at a moment of the world's, and says so.

    >>> moment(datetime(2026, 11, 23, 6)), moment(datetime(2026, 11, 23, 6, tzinfo=UTC))
    ('2026-11-23 06:00', '2026-11-23 06:00 UTC')
    """
    if when is None:
        return "–"
    said, zone = when, ""
    if when.tzinfo is not None:
        said, zone = when.astimezone(UTC), " UTC"
    return f"{said:%Y-%m-%d %H:%M}{zone}"


def short_moment(when: datetime | None) -> str:
    """Give day, month and time, for tables that hold a week."""
    return f"{when.day} {when:%b %H:%M}" if when else ""
