"""Formulae of paper: length, diameter, mass, sheets, sizes, basis weights, customs, time."""

from trimopt.paper.basis_weights import BASIC_SIZES_IN, gsm_from_basis_weight, gsm_per_lb
from trimopt.paper.customs import CustomStep, custom_tolerance
from trimopt.paper.cycle import winding_min
from trimopt.paper.iso_sizes import ISO_SERIES, iso_size_mm
from trimopt.paper.measures import Measure, basis_weight_unit
from trimopt.paper.reel import mass_kg, mass_length_m, reel_diameter_mm, reel_length_m
from trimopt.paper.sheets import (
    reams,
    sheet_mass_g,
    sheets_from_length,
    sheets_in_mass,
    sheets_in_reams,
    sheets_mass_kg,
)
from trimopt.paper.thickness import (
    bulk_cm3_g,
    caliper_from_bulk_um,
    caliper_from_density_um,
    density_kg_m3,
)
from trimopt.paper.unit_factors import FOOT_M, INCH_MM, POUND_KG, SHORT_TON_KG, Figure, common_step
from trimopt.paper.written import INCHES, Measured, UnitSystem, Written, number

__all__ = [
    "BASIC_SIZES_IN",
    "FOOT_M",
    "INCHES",
    "INCH_MM",
    "ISO_SERIES",
    "POUND_KG",
    "SHORT_TON_KG",
    "CustomStep",
    "Figure",
    "Measure",
    "Measured",
    "UnitSystem",
    "Written",
    "basis_weight_unit",
    "bulk_cm3_g",
    "caliper_from_bulk_um",
    "caliper_from_density_um",
    "common_step",
    "custom_tolerance",
    "density_kg_m3",
    "gsm_from_basis_weight",
    "gsm_per_lb",
    "iso_size_mm",
    "mass_kg",
    "mass_length_m",
    "number",
    "reams",
    "reel_diameter_mm",
    "reel_length_m",
    "sheet_mass_g",
    "sheets_from_length",
    "sheets_in_mass",
    "sheets_in_reams",
    "sheets_mass_kg",
    "winding_min",
]
