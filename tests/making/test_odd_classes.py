"""Winding classes on jumbos of other widths than the mill's own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.plan.sample_book import sample_book, sample_mill
from trimopt.making import prepare
from trimopt.making.odd_classes import with_odd_classes
from trimopt.making.prepare_run import runs_of


def test_a_set_that_is_too_heavy_on_a_wide_jumbo_has_no_options_there() -> None:
    """Its edge strips may be 60 mm, and the web between them must not weigh more than 2,790 kg."""
    mill = sample_mill()
    mill = replace(mill, winders=(replace(mill.winder, max_set_mass_kg=2_790.0),))
    run = runs_of(sample_book(), mill)[0]
    making = prepare(run, mill)
    wide = Fraction(3_660)
    odd = with_odd_classes(making, mill, [wide])
    served = {
        odd.classes[each.winding_class].length_m
        for each in odd.options
        if odd.classes[each.winding_class].jumbo_width_mm == wide
    }
    every = {each.length_m for each in making.classes}
    # 3,540 mm are wound at the least: 2,790 kg of 250 g/m² are 3,152 m of them.
    assert served == {length_m for length_m in every if length_m <= 3_152}
    assert 0 < len(served) < len(every)
