"""Formulae of paper: length, diameter, mass, sheets, basis weights, customs, time."""

from trimopt.paper.customs import custom_tolerance as custom_tolerance
from trimopt.paper.measures import (
    BASIC_SIZES_IN as BASIC_SIZES_IN,
    Measure as Measure,
    basis_weight_unit as basis_weight_unit,
    gsm_per_lb as gsm_per_lb,
)
from trimopt.paper.printed_figures import (
    INCHES as INCHES,
    Measured as Measured,
    UnitSystem as UnitSystem,
    Written as Written,
    consecutive as consecutive,
    in_spans as in_spans,
    number as number,
    span as span,
)
from trimopt.paper.reel import (
    caliper_from_bulk_um as caliper_from_bulk_um,
    caliper_from_density_um as caliper_from_density_um,
    mass_kg as mass_kg,
    mass_length_m as mass_length_m,
    reel_diameter_mm as reel_diameter_mm,
    reel_length_m as reel_length_m,
    winding_min as winding_min,
)
from trimopt.paper.sheets import (
    sheets_from_length as sheets_from_length,
    sheets_mass_kg as sheets_mass_kg,
)
from trimopt.paper.unit_factors import (
    FOOT_M as FOOT_M,
    INCH_MM as INCH_MM,
    POUND_KG as POUND_KG,
    SHORT_TON_KG as SHORT_TON_KG,
    common_step as common_step,
)
