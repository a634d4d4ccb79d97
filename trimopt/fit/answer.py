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
from trimopt.fit.extra_paper import ExtraPaper
from trimopt.fit.fits_alone import Alone
from trimopt.fit.replanned import RunWithEnquiry
from trimopt.fit.run_with_enquiry import PlacedSet, Placement
from trimopt.fit.when import Lacking, When
from trimopt.paper import Measured, Written
from trimopt.plan.difference import OrderDifference

_DEAR = 0.1  # t per t above what the run uses on average: the planner is asked


class Verdict(Enum):
    """What an answer comes to."""

    TAKE_IT = "take it"  # no more paper per tonne than the run uses on average
    NEUTRAL = "neutral"
    ASK_PLANNER = "ask the planner"  # it costs much more than that, or may; or no reels meet it
    CAN_BE_MADE = "can be made"  # no run was looked at
    HOURS = "hours are short"
    PAPER = "paper is short"
    NOT_ANSWERED = "not answered"
    CANNOT_BE_MADE = "cannot be made"

    @property
    def for_planner(self) -> bool:
        """Whether sales should promise nothing before the planner was asked."""
        return self in (self.ASK_PLANNER, self.HOURS, self.PAPER, self.NOT_ANSWERED)


_BROKE = ("", " and a broke reel", " and broke reels")  # none, one, more
_JUDGED = {
    Verdict.TAKE_IT: "Take it",
    Verdict.NEUTRAL: "Neutral",
    Verdict.ASK_PLANNER: "Ask the planner",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """All that is known of an enquiry. `stop` says why it cannot be made; empty: it can.

    `placement` is the quick answer: put into the sets as planned. `planned` is the run planned
    again with the enquiry in it (None: that was not asked, or none was found).
    """

    enquiry: Enquiry
    stop: str
    narrowed: str = ""  # the limit that leaves only a part of the diameters asked for
    alone: tuple[Alone, ...] = ()
    run: str = ""
    from_plan: str = ""  # number of the plan that the run is taken from
    left_out: int = 0  # lines of the book, at fault
    curve: Curve | None = None
    placement: Placement | None = None
    planned: RunWithEnquiry | None = None
    extra: ExtraPaper | None = None
    floor_price: tuple[float, float] | None = None  # money for a tonne sold, min. and max.
    currency: str = ""
    needs_sales: tuple[float, float] | None = None  # kg below and above, where no reels meet it
    lacking: Lacking | None = None  # hours or paper
    when: When | None = None  # None: without a book, or where nothing was placed
    unanswered: str = ""  # why nothing is said of the run that it would join
    shift_ends: bool = False  # the book or the plan says when
    others: tuple[OrderDifference, ...] = ()  # orders that get less, more, or another day by it
    alternatives: tuple[Alternative, ...] = ()
    notes: tuple[str, ...] = ()  # what sales must know of what stands behind the figures
    written: Written = field(default_factory=Written)  # the units that it is read in
    seconds: float = 0.0

    @property
    def verdict(self) -> Verdict:
        if self.stop:
            return Verdict.CANNOT_BE_MADE
        if self.lacking is not None:
            return Verdict.HOURS if self.lacking.what == "hours" else Verdict.PAPER
        if self.extra is None:
            return Verdict.NOT_ANSWERED if self.run else Verdict.CAN_BE_MADE
        if self.needs_sales is not None:
            return Verdict.ASK_PLANNER
        if self.extra.above <= 0:
            return Verdict.TAKE_IT
        return Verdict.NEUTRAL if self.extra.above <= _DEAR else Verdict.ASK_PLANNER

    @property
    def line(self) -> str:
        """The answer in one line, the verdict first."""
        if self.stop:
            return f"Cannot be made: {self.stop}"
        if self.lacking is not None:
            what, why = self.lacking.what, self.lacking.why
            if self.lacking.certain:
                return f"No {what} left for {self.asked}: {why}"
            return f"{what.capitalize()} may not last for {self.asked}: {why}"
        if self.extra is not None:
            made = f"{self._made} at {_deciding_text(self.extra, self.written)}"
            return f"{_JUDGED[self.verdict]}: {made}; {use_text(self.extra, self.written)}"
        if self.run:
            return f"Not answered for {self.asked}: {self.unanswered}"
        alone = ", beside other widths only"
        if self.alone:
            best = self.alone[0]
            alone = (
                f": {best.across} × {self._width(best.reel_mm)}{_BROKE[min(2, best.broke_reels)]} "
                f"across the deckle, {self._width(best.trim_mm)} of trim "
                f"({100 * best.trim_share:.1f} %)"
            )
        return f"Can be made{alone}; {self.unanswered}"

    @property
    def estimate(self) -> str:
        """What the quick answer says that it takes: no verdict that a better plan takes back."""
        if self.extra is None:
            return ""
        return f"{self._made}; {_about(self.extra, self.written)}"

    @property
    def sets(self) -> tuple[PlacedSet, ...]:
        """The sets in which it is made: of the plan made with it, else as it was placed."""
        if self.planned is not None:
            return self.planned.sets
        return () if self.placement is None else self.placement.sets

    @property
    def reels(self) -> int:
        return sum(row.sets * row.reels for row in self.sets)

    @property
    def asked(self) -> str:
        """The reels that it comes to, or what was asked."""
        width, asked = self._width(self.enquiry.width_mm), amount(self.enquiry, self.written)
        if self.enquiry.chop_mm is not None:
            across = self.written.figure(Measured.WIDTH, self.enquiry.width_mm)
            width = f"{across} × {self._width(self.enquiry.chop_mm)}"
            plural = "" if self.reels == 1 else "s"
            reels = f", {self.reels:,} sheeter reel{plural}" if self.reels else ""
            return f"{asked} of {width}{reels}"
        if not self.reels:
            return f"{asked} of {width}"
        others = f" ({float(self.enquiry.quantity):,.15g} asked)" if self.other_number else ""
        return f"{self.reels:,} × {width}{others}"

    @property
    def other_number(self) -> bool:
        """Whether it is made with more or fewer reels than were asked for."""
        reels = self.enquiry.unit is Unit.REELS
        return reels and self.reels not in (0, self.enquiry.quantity)

    @property
    def surplus_kg(self) -> float:
        """What is made of it beyond its tolerance."""
        if self.planned is not None:
            return self.planned.line.surplus_kg
        return 0.0 if self.placement is None else self.placement.surplus_kg

    @property
    def _none_meets(self) -> str:
        """What whole reels make, where none of that is inside the tolerance."""
        if self.needs_sales is None:
            return ""
        asked = amount(self.enquiry, self.written)
        below, above = (self.written.text(Measured.MASS, kg) for kg in self.needs_sales)
        return f" (of {asked}; whole reels make {below} or {above}, outside the tolerance)"

    @property
    def wound(self) -> str:
        """Diameters and cores of the enquiry's reels, which it may have left open."""
        written, sets = self.written, self.sets
        if not sets:
            return ""
        sizes = sorted(row.diameter_mm for row in sets)
        ends = (written.figure(Measured.DIAMETER, mm) for mm in (sizes[0], sizes[-1]))
        span = f"{'–'.join(dict.fromkeys(ends))} {written.unit(Measured.DIAMETER)}"
        cores = sorted({row.core_mm for row in sets if row.core_mm is not None})
        insides = " and ".join(written.figure(Measured.WIDTH, mm) for mm in cores)
        on = f" on core {insides} {written.unit(Measured.WIDTH)}" if cores else ""
        return f"ø {span}{on}"

    def _width(self, width_mm: Fraction) -> str:
        return self.written.text(Measured.WIDTH, width_mm)

    @property
    def _made(self) -> str:
        """What is made, in how many sets, and what that does not rest on."""
        sets = sum(row.sets for row in self.sets)
        said = f"{self.asked}{self._none_meets} in {sets:,} set{'' if sets == 1 else 's'}"
        said += "" if self.from_plan else ", by a plan made now"
        return said + (f", {self.left_out} lines of the book left out" if self.left_out else "")


def amount(enquiry: Enquiry, written: Written) -> str:
    """The quantity that was asked for, in words: 12 reels, 3.5 t."""
    what = _AMOUNTS.get(enquiry.unit)
    if what is not None:
        return written.text(what, enquiry.quantity, 4)
    one = enquiry.quantity == 1
    figure = f"{float(enquiry.quantity):,.15g}"
    return f"{figure} {enquiry.unit.value.removesuffix('s') if one else enquiry.unit.value}"


_AMOUNTS = {Unit.KG: Measured.TONNAGE, Unit.METRES: Measured.LENGTH}


def _deciding_text(extra: ExtraPaper, written: Written) -> str:
    """The figure that decides the verdict, beside what the run itself uses."""
    one = "t" if written.metric else "lb"
    use = f"{'about ' if extra.estimated else ''}{_signed(extra.shown)} {one} per {one}"
    if not extra.above:
        return f"{use}, as the run itself"
    sign = "+" if extra.above > 0 else "−"
    return f"{use} (run {extra.average:.2f} {sign} {abs(extra.above):.2f})"


def use_text(extra: ExtraPaper, written: Written) -> str:
    """The extra paper: a range that is proven, or an estimate, called one.

    Rounded outwards, so that what is printed is proven too; an estimate to the nearest.
    """
    of, about = _per_sold(written), _about(extra, written)
    low, high = extra.min_use, extra.max_use
    if low is None:
        if high is None:
            return about
        return f"{_signed(ceil(100 * high) / 100)} {of} as planned with it; nothing proven in time"
    if high is None:
        return f"{about}, no less than {_signed(floor(100 * low) / 100)}, proven"
    if not extra.known:
        span = f"{floor(10 * low) / 10:g} to {ceil(10 * high) / 10:g}"
        return f"{about}; proven only: {span.replace('-', '−')}"
    ends = dict.fromkeys(_signed(end) for end in (floor(100 * low) / 100, ceil(100 * high) / 100))
    return f"{' to '.join(ends)} {of}, proven"


def _per_sold(written: Written) -> str:
    one = "t" if written.metric else "lb"
    return f"{one} of paper per {one} sold"


def _about(extra: ExtraPaper, written: Written) -> str:
    how = "as planned with it"
    if extra.use == extra.held_use:
        how = "put into the planned sets"
    elif extra.use != extra.max_use:
        how = "as the run itself"
    return f"about {_signed(extra.use)} {_per_sold(written)}, {how}"


def _signed(use: float) -> str:
    return f"{round(use, 2) + 0:.2f}".replace("-", "−")  # nothing is not minus nothing
