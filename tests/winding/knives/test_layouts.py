"""One layout: positions, edge strips, broke reels, and what cannot be laid out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.winding.knife_counts import lay_out
from tests.winding.winders import winder
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Winder
from trimopt.winding import Lot, Strip
from trimopt.winding.knives.arrange_job import run_unit_mm


def _lot(*widths: str, inside: int = 0, broke: int = 0) -> Lot:
    strips = tuple(
        Strip(key=f"{i}", width_mm=Fraction(w), no_edge=i < inside) for i, w in enumerate(widths)
    )
    return Lot(number=7, strips=strips, sets=3, length_m=6000, core_mm=76.0, broke_reels=broke)


_MACHINE = winder(
    min_edge_trim_mm=Fraction(20),
    max_edge_trim_mm=Fraction(60),
    max_reel_width_mm=Fraction(3000),
    knives=6,
    max_reels=5,
    min_knife_spacing_mm=Fraction(110),
)


def test_half_millimetres_stay_exact() -> None:
    """Widths of 1000.5 mm and 5/16 in end exactly where they must."""
    lot = _lot("1000.5", "127/16", "1500")
    layout = lay_out(lot, replace(_MACHINE, min_knife_spacing_mm=Fraction(5)), Fraction(2600))
    assert (
        layout.knives_mm[-1] - layout.knives_mm[0] == Fraction("1000.5") + Fraction(127, 16) + 1500
    )
    assert layout.edge_back_mm == 2600 - layout.knives_mm[-1]


def test_knives_that_stand_are_used() -> None:
    """Of all orders of three reels, that is taken in which two knives inside may stay."""
    lot = _lot("700", "900", "1100")
    layout = lay_out(lot, _MACHINE, Fraction(2760), before_mm=[Fraction(940), Fraction(2040)])
    assert {Fraction(940), Fraction(2040)} <= set(layout.knives_mm)


def test_no_shift_centres_the_set() -> None:
    """Where the web is not shifted both edge strips are equal, in half millimetres too."""
    layout = lay_out(_lot("700", "925"), replace(_MACHINE, web_shift=False), Fraction(1700))
    assert layout.edge_front_mm == layout.edge_back_mm == Fraction("37.5")
    assert run_unit_mm((_lot("700"),), replace(_MACHINE, web_shift=False), Fraction(1700)) == 10


@pytest.mark.parametrize("broke", [1, 2])
@pytest.mark.parametrize("tenths", range(26_001, 26_011))
def test_no_shift_centres_a_set_with_broke_reels(tenths: int, broke: int) -> None:
    """They take what leaves two equal strips: in tenths one was half a tenth wider."""
    machine = replace(_MACHINE, web_shift=False, min_reel_width_mm=Fraction(110))
    web_mm = Fraction(tenths, 10)
    for most in (None, Fraction(2482), Fraction("2482.07")):
        lot = replace(_lot("700.3", "925.5", broke=broke), max_web_mm=most)
        layout = lay_out(lot, machine, web_mm)
        assert layout.edge_front_mm == layout.edge_back_mm
        assert 20 <= layout.edge_front_mm <= 60
        assert most is None or layout.knives_mm[-1] - layout.knives_mm[0] <= most


def test_broke_reel_shelters_a_no_edge_reel() -> None:
    """A no-edge reel lies between the other strip and the broke reel that its lot needs."""
    layout = lay_out(_lot("900", "1000", inside=1, broke=1), _MACHINE, Fraction(2300))
    assert [strip.no_edge for strip in layout.strips] == [False, True, False]
    broke = next(strip for strip in layout.strips if strip.broke)
    assert 280 <= broke.width_mm <= 360


@pytest.mark.parametrize(
    ("lot", "machine", "web", "text"),
    [
        (_lot("900", "1000"), _MACHINE, 2300, "add a broke reel"),
        (_lot("900", "1000"), _MACHINE, 1930, "each edge strip must be at least 20 mm"),
        (_lot("900", "1000", broke=1), _MACHINE, 1990, "change the number of broke reels"),
        (_lot(*["400"] * 6), _MACHINE, 2500, "6 strips, and the winder takes 5"),
        (_lot(*["400"] * 5), replace(_MACHINE, knives=5), 2100, "6 knives, and there are 5"),
        (_lot("100", "1800"), _MACHINE, 2000, "least knife spacing, 110 mm"),
        (_lot("900", "1000", inside=1), _MACHINE, 1960, "may not lie at an edge"),
        (_lot(), _MACHINE, 1960, "no strips"),
        (
            _lot("900", "1000"),
            replace(_MACHINE, max_web_mm=Fraction(1800)),
            1960,
            "take 1900 mm, and the winder 1800 mm",
        ),
    ],
)
def test_what_cannot_be_laid_out_is_named(lot: Lot, machine: Winder, web: int, text: str) -> None:
    """Each limit that stops a lot stands in the error, with the lot's number."""
    with pytest.raises(InfeasibleError, match=text) as error:
        lay_out(lot, machine, Fraction(web))
    assert "lot 7" in str(error.value)
