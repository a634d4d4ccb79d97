"""How long a winding takes, from length, speed and acceleration."""

from __future__ import annotations

import math

from trimopt.paper.unit_factors import Figure


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
