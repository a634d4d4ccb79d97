"""The answer to an enquiry, and what it comes to in one line."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction
from math import ceil, floor

from trimopt.book.model import Unit
from trimopt.fit.alternatives import Alternative
from trimopt.fit.curve import Curve
from trimopt.fit.enquiry import Enquiry
from trimopt.fit.fits_alone import Alone
from trimopt.fit.hours_and_paper import Lacking
from trimopt.fit.run_with_enquiry import Placement
from trimopt.fit.when import When
from trimopt.paper import Measured, Written

__all__ = ["Answer", "Verdict", "amount", "use_line"]


class Verdict(Enum):
    """What an answer comes to."""

    FITS = "fits"
    CAN_BE_MADE = "can be made"  # no run was looked at
    HOURS = "hours are short"
    PAPER = "paper is short"
    NOT_ANSWERED = "not answered"
    CANNOT_BE_MADE = "cannot be made"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """All that is known of an enquiry. `stop` says why it cannot be made; empty: it can."""

    enquiry: Enquiry
    stop: str
    alone: tuple[Alone, ...] = ()
    run: str = ""
    from_plan: str = ""  # number of the plan that the run is taken from
    curve: Curve | None = None
    placement: Placement | None = None
    lacking: Lacking | None = None  # hours or paper
    when: When | None = None  # None: without a book, or where nothing was placed
    unanswered: str = ""  # why nothing is said of the run that it would join
    shift_ends: bool = False  # the book or the plan says when
    alternatives: tuple[Alternative, ...] = ()
    notes: tuple[str, ...] = ()  # what sales must know of what stands behind the figures
    written: Written = field(default_factory=Written)  # the units that it is read in
    seconds: float = 0.0

    @property
    def verdict(self) -> Verdict:
        """What it comes to."""
        if self.stop:
            return Verdict.CANNOT_BE_MADE
        if self.lacking is not None:
            return Verdict.HOURS if self.lacking.what == "hours" else Verdict.PAPER
        if self.placement is not None:
            return Verdict.FITS
        return Verdict.NOT_ANSWERED if self.run else Verdict.CAN_BE_MADE

    @property
    def line(self) -> str:
        """The answer in one line."""
        if self.stop:
            return f"Cannot be made: {self.stop}"
        if self.lacking is not None:
            what, why = self.lacking.what, self.lacking.why
            if self.lacking.certain:
                return f"No {what} left for {self._asked}: {why}"
            return f"{what.capitalize()} may not last for {self._asked}: {why}"
        if self.placement is not None:
            sets = sum(row.sets for row in self.placement.sets)
            made = f"{self._asked} in {sets:,} set{'' if sets == 1 else 's'}{self._wound}"
            return f"Fits: {made}; {use_line(self.placement, self.written)}{self._unknown_hours}"
        if self.run:
            return f"Not answered for {self._asked}: {self.unanswered}"
        alone = ""
        if self.alone:
            best = self.alone[0]
            alone = (
                f": {best.across} × {self._width(best.reel_mm)} across the deckle, "
                f"{self._width(best.trim_mm)} of trim ({100 * best.trim_share:.1f} %)"
            )
        return f"Can be made{alone}; {self.unanswered}"

    def _width(self, width_mm: Fraction) -> str:
        return self.written.text(Measured.WIDTH, width_mm)

    @property
    def _asked(self) -> str:
        """The reels that it comes to, or what was asked."""
        width, asked = self._width(self.enquiry.width_mm), amount(self.enquiry, self.written)
        if self.enquiry.chop_mm is not None:
            across = self.written.figure(Measured.WIDTH, self.enquiry.width_mm)
            width = f"{across} × {self._width(self.enquiry.chop_mm)}"
            reels = "" if self.placement is None else f", {self.placement.reels:,} sheeter reels"
            return f"{asked} of {width}{reels}"
        if self.placement is not None:
            return f"{self.placement.reels:,} × {width}"
        return f"{asked} of {width}"

    @property
    def _wound(self) -> str:
        """Diameters and cores of the enquiry's reels as placed, which it may have left open."""
        if self.placement is None or self.enquiry.chop_mm is not None:
            return ""
        written, sets = self.written, self.placement.sets
        sizes = sorted(row.diameter_mm for row in sets)
        ends = (written.figure(Measured.DIAMETER, mm) for mm in (sizes[0], sizes[-1]))
        span = f"{'–'.join(dict.fromkeys(ends))} {written.unit(Measured.DIAMETER)}"
        cores = sorted({row.core_mm for row in sets if row.core_mm is not None})
        insides = " and ".join(written.figure(Measured.WIDTH, mm) for mm in cores)
        on = f" on core {insides} {written.unit(Measured.WIDTH)}" if cores else ""
        return f", ø {span}{on}"

    @property
    def _unknown_hours(self) -> str:
        unknown = self.shift_ends and not self.from_plan
        return "; whether the hours last is not known without a plan" if unknown else ""


def amount(enquiry: Enquiry, written: Written) -> str:
    """The quantity that was asked for, in words: 12 reels, 3.5 t."""
    what = _AMOUNTS.get(enquiry.unit)
    if what is not None:
        return written.text(what, enquiry.quantity, 4)
    return f"{float(enquiry.quantity):,g} {enquiry.unit.value}"


_AMOUNTS = {Unit.KG: Measured.TONNAGE, Unit.METRES: Measured.LENGTH}


def use_line(placement: Placement, written: Written) -> str:
    """The range that is proven of the extra paper, and what it is as the enquiry was placed.

    Rounded outwards, so that what is printed is proven too.
    """
    one = "t" if written.metric else "lb"
    of, placed = f"{one} of extra paper per {one}", f"{placement.marginal_use:.2f}"
    minimum, maximum = placement.min_marginal, placement.max_marginal
    if minimum is None or maximum is None:
        return f"{placed} {of} as placed, butts apart; no range proven in time"
    low, high = f"{floor(100 * minimum) / 100:.2f}", f"{ceil(100 * maximum) / 100:.2f}"
    if low == high:
        return f"{low} {of}, butts apart, proven"
    return f"{low} to {high} {of}, butts apart, proven ({placed} as placed)"
