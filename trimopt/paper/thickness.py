"""Caliper, bulk and density: three ways to say how thick a paper of a given grammage is.

References
----------
ISO 534, Paper and board: determination of thickness, density and specific volume: bulk (specific
volume) is thickness over grammage, density its inverse.
"""

from __future__ import annotations

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
