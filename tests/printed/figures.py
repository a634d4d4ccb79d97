"""Figures as they are printed, and what the checker finds wrong."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

_FIGURE = re.compile(r"(?<![\w.])-?\d[\d,]*(?:\.\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One thing that does not hold: of what kind, where it is printed, what it says."""

    kind: str
    where: str
    text: str

    def __str__(self) -> str:
        return f"{self.kind}: {self.where}: {self.text}"


@dataclass(slots=True)
class Notes:
    """What is found, in the order in which it is."""

    found: list[Found] = field(default_factory=list)

    def add(self, kind: str, where: str, text: str) -> None:
        """Keep a finding."""
        self.found.append(Found(kind=kind, where=where, text=text))

    def same(self, kind: str, where: str, said: object, true: object) -> None:
        """Say that two things differ."""
        if said != true:
            self.add(kind, where, f"says {said}, is {true}")

    def near(self, kind: str, where: str, said: float | None, true: float, within: float) -> None:
        """Say that a figure is off by more than it is rounded by."""
        if said is None or not abs(said - true) <= within + 1e-9 * max(1.0, abs(true)):
            self.add(kind, where, f"says {said}, is {true:.10g}")


def exact(value: object) -> Fraction:
    """A figure as it is written, exactly: 12.5, "1/3", "1,234.5", "29 1/2".

    >>> exact("1,234.5"), exact("29 1/2"), exact(0.1)
    (Fraction(2469, 2), Fraction(59, 2), Fraction(1, 10))
    """
    if isinstance(value, Fraction):
        return value
    parts = str(value).replace(",", "").split()
    return sum((Fraction(part) for part in parts), Fraction(0))


def plain(text: str) -> float:
    """The first figure of a text: "5,851 of 33,244 kg" gives 5851."""
    return figures_in(text)[0]


def figures_in(text: str) -> list[float]:
    """All figures of a text, thousands set off by commas.

    >>> figures_in("436–541 mm, 2 × 1,623 m")
    [436.0, 541.0, 2.0, 1623.0]
    """
    return [float(found.replace(",", "")) for found in _FIGURE.findall(text)]
