"""A winder for tests, of which each states what it cares about."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from trimopt.mill.model import Core, Winder

_PLAIN = Winder(
    name="winder",
    kind="two-drum",
    max_web_mm=Fraction(9000),
    min_edge_trim_mm=Fraction(0),
    max_edge_trim_mm=None,
    min_reel_width_mm=Fraction(200),
    max_reel_width_mm=Fraction(4000),
    knives=12,
    min_knife_spacing_mm=Fraction(50),
    idle_knives="parked",
    max_reels=20,
    max_reels_per_side=None,
    min_reel_diameter_mm=400.0,
    max_reel_diameter_mm=1500.0,
    cores=(Core(inside_mm=76.0, wall_mm=10.0),),
    max_reel_mass_kg=None,
    max_set_mass_kg=None,
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
