"""Length, diameter and mass of a reel, from the caliper of its paper, and how long it winds.

The web on a reel is an annulus seen from its side: its area π/4 (D² − d²) is length times caliper.
Caliper, bulk and density are three ways to say how thick a paper of a given grammage is.

References
----------
ISO 534, Paper and board: determination of thickness, density and specific volume: bulk (specific
volume) is thickness over grammage, density its inverse.
"""

from __future__ import annotations

import math

from trimopt.paper.unit_factors import Figure


def caliper_from_bulk_um(bulk: Figure, grammage_gsm: Figure) -> float:
    """Caliper, µm, of a paper with a bulk in cm³/g.

    Examples
    --------
    >>> caliper_from_bulk_um(1.6, 250)
    400.0
    """
    return float(bulk) * float(grammage_gsm)


def caliper_from_density_um(density: Figure, grammage_gsm: Figure) -> float:
    """Caliper, µm, of a paper with a density in kg/m³.

    Raises
    ------
    ValueError
        The density is not above 0.

    Examples
    --------
    >>> caliper_from_density_um(625, 250)
    400.0
    """
    if density <= 0:
        raise ValueError(f"a density of {density} kg/m³ is not above 0")
    return 1000.0 * float(grammage_gsm) / float(density)


def reel_length_m(outer_mm: Figure, core_outer_mm: Figure, caliper_um: Figure) -> float:
    """Length of web on a reel, m.

    L = π (D² − d²) / (4 t). The area is in mm² and the caliper in µm, and mm²/µm is a metre, so
    no factor is left over.

    Parameters
    ----------
    outer_mm
        Diameter D of the reel, mm, no less than `core_outer_mm`.
    core_outer_mm
        Outside diameter d of the core (inside diameter and two walls) or of the spool, mm.
    caliper_um
        Wound caliper t, µm, above 0.

    Raises
    ------
    ValueError
        The reel is smaller than its core, or the caliper is not above 0.

    Examples
    --------
    >>> round(reel_length_m(1250, 178, 400), 1)
    3005.8
    """
    _check_core_and_caliper(core_outer_mm, caliper_um)
    if outer_mm < core_outer_mm:
        raise ValueError(f"a reel of {outer_mm} mm is smaller than its core of {core_outer_mm} mm")
    outer, core = float(outer_mm), float(core_outer_mm)
    # The product form keeps all figures where D and d lie close together.
    return math.pi * (outer - core) * (outer + core) / (4 * float(caliper_um))


def reel_diameter_mm(length_m: Figure, core_outer_mm: Figure, caliper_um: Figure) -> float:
    """Diameter of a reel with `length_m` of web on it, mm: D = √(d² + 4 t L / π).

    Parameters
    ----------
    length_m
        Length of web, m, 0 or more.
    core_outer_mm
        Outside diameter of the core, mm.
    caliper_um
        Wound caliper, µm, above 0.

    Raises
    ------
    ValueError
        The length is negative, the core is negative, or the caliper is not above 0.

    Examples
    --------
    >>> round(reel_diameter_mm(3005.8, 178, 400), 1)
    1250.0
    """
    _check_core_and_caliper(core_outer_mm, caliper_um)
    if length_m < 0:
        raise ValueError(f"a length of {length_m} m is negative")
    core = float(core_outer_mm)
    around = core * core + 4 * float(caliper_um) * float(length_m) / math.pi
    # The root of a square may be a last figure below what was squared: no reel is below its core.
    return max(core, math.sqrt(around))


def mass_kg(width_mm: Figure, length_m: Figure, grammage_gsm: Figure) -> float:
    """Mass of a web, kg: width × length × grammage.

    Parameters
    ----------
    width_mm, length_m
        Width, mm, and length, m, of the web.
    grammage_gsm
        Grammage, g/m² (ISO 536).

    Examples
    --------
    >>> mass_kg(1000, 4000, 250)
    1000.0
    """
    return float(width_mm) * float(length_m) * float(grammage_gsm) / 1e6


def mass_length_m(mass: Figure, width_mm: Figure, grammage_gsm: Figure) -> float:
    """Length of web that weighs `mass` kg, m.

    Parameters
    ----------
    mass
        Mass, kg, 0 or more.
    width_mm
        Width, mm, above 0.
    grammage_gsm
        Grammage, g/m² (ISO 536), above 0.

    Raises
    ------
    ValueError
        The mass is negative, or the width or the grammage is not above 0.

    Examples
    --------
    >>> mass_length_m(1000, 1000, 250)
    4000.0
    """
    if mass < 0:
        raise ValueError(f"a mass of {mass} kg is negative")
    if width_mm <= 0 or grammage_gsm <= 0:
        raise ValueError(f"width {width_mm} mm and grammage {grammage_gsm} g/m² must be above 0")
    return float(mass) * 1e6 / (float(width_mm) * float(grammage_gsm))


def _check_core_and_caliper(core_outer_mm: Figure, caliper_um: Figure) -> None:
    if caliper_um <= 0:
        raise ValueError(f"a caliper of {caliper_um} µm is not above 0")
    if core_outer_mm < 0:
        raise ValueError(f"a core of {core_outer_mm} mm is negative")


def winding_min(length_m: Figure, speed_m_min: Figure, acceleration_m_min_s: Figure) -> float:
    """Minutes to wind a length from standstill to standstill.

    The winder runs up at a steady acceleration a, holds its speed v, and runs down at the same a.
    With v in m/min, a in m/min per second and L in m, run-up and run-down take v/a seconds and
    v²/(120 a) metres each, so that

    - L ≥ v²/(60 a): the speed is reached (a trapezoid), and the winding takes
      L/v + v/(60 a) minutes;
    - L below that: it is not (a triangle, its peak √(60 a L)), and it takes
      2 √(L/(60 a)) minutes.

    Both give the same at L = v²/(60 a).

    Parameters
    ----------
    length_m
        Length of the set, m, 0 or more.
    speed_m_min
        Winding speed, m/min, above 0.
    acceleration_m_min_s
        Change of speed in each second, m/min, above 0.

    Raises
    ------
    ValueError
        The length is negative, or the speed or the acceleration is not above 0.

    Examples
    --------
    >>> round(winding_min(4000, 1000, 20), 3)
    4.833
    >>> round(winding_min(300, 1000, 20), 3)
    1.0
    """
    if length_m < 0:
        raise ValueError(f"a length of {length_m} m is negative")
    if speed_m_min <= 0 or acceleration_m_min_s <= 0:
        raise ValueError(
            f"speed {speed_m_min} m/min and acceleration {acceleration_m_min_s} m/min per second "
            "must be above 0"
        )
    length, speed, acceleration = float(length_m), float(speed_m_min), float(acceleration_m_min_s)
    if length >= speed * speed / (60 * acceleration):
        return length / speed + speed / (60 * acceleration)
    return 2 * math.sqrt(length / (60 * acceleration))
