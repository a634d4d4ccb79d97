"""A winder for tests, of which each states what it cares about."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from trimopt.mill.model import Core, Winder

__all__ = ["winder"]

_PLAIN = Winder(
    name="winder",
    kind="two-drum",
    web_greatest_mm=Fraction(9000),
    edge_trim_least_mm=Fraction(0),
    edge_trim_greatest_mm=None,
    reel_width_least_mm=Fraction(200),
    reel_width_greatest_mm=Fraction(4000),
    knives=12,
    knife_spacing_least_mm=Fraction(50),
    idle_knives="parked",
    reels_most=20,
    reels_a_side_most=None,
    reel_diameter_least_mm=400.0,
    reel_diameter_greatest_mm=1500.0,
    cores=(Core(inside_mm=76.0, wall_mm=10.0),),
    reel_mass_greatest_kg=None,
    set_mass_greatest_kg=None,
    set_change_min=4.0,
    set_up_min=6.0,
    knife_move_min=0.5,
    jumbo_change_min=10.0,
    speed_m_min=1200.0,
    acceleration_m_min_s=15.0,
)


def winder(**changes: Any) -> Winder:
    """The plain winder with some figures changed."""
    return replace(_PLAIN, **changes)
