"""Caliper, bulk and density: three ways to say how thick a paper of a given grammage is.

References
----------
ISO 534, Paper and board: determination of thickness, density and specific volume: bulk (specific
volume) is thickness over grammage, density its inverse.
"""

from __future__ import annotations

from trimopt.paper.unit_factors import Figure


def bulk_cm3_g(caliper_um: Figure, grammage_gsm: Figure) -> float:
    """Bulk, cm³/g: caliper in µm over grammage in g/m².

    Raises
    ------
    ValueError
        The grammage is not above 0.

    Examples
    --------
    >>> bulk_cm3_g(400, 250)
    1.6
    """
    if grammage_gsm <= 0:
        raise ValueError(f"a grammage of {grammage_gsm} g/m² is not above 0")
    return float(caliper_um) / float(grammage_gsm)


def density_kg_m3(caliper_um: Figure, grammage_gsm: Figure) -> float:
    """Density, kg/m³: 1000 × grammage in g/m² over caliper in µm.

    Raises
    ------
    ValueError
        The caliper is not above 0.

    Examples
    --------
    >>> density_kg_m3(400, 250)
    625.0
    """
    if caliper_um <= 0:
        raise ValueError(f"a caliper of {caliper_um} µm is not above 0")
    return 1000.0 * float(grammage_gsm) / float(caliper_um)


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
