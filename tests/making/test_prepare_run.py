"""A run made ready: set lengths, options and limits as worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from hypothesis import given, strategies as st

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Order, Unit
from trimopt.making import PreparedRun, Run, prepare, runs_of

MILL = sample_mill()


def _prepared(*orders: Order) -> PreparedRun:
    return prepare(Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders), MILL)


def test_runs_are_grade_and_grammage() -> None:
    """The sample book has two grades, so two runs, each with its own orders only."""
    runs = runs_of(sample_book(), MILL)
    assert [(run.grade, run.grammage_gsm) for run in runs] == [
        ("Folding board", 250.0),
        ("Sack kraft", 120.0),
    ]


def test_set_lengths_are_the_longest_and_the_jumbo_shared_out() -> None:
    """12,700 m of usable jumbo in fifths is 2,540 m, too short; only the longest is offered."""
    making = _prepared(board_reel())
    assert [(c.core_mm, c.length_m) for c in making.classes] == [(152.0, 3162)]
    wider = _prepared(board_reel(min_diameter_mm=1000.0))
    assert [c.length_m for c in wider.classes] == [3162, 2540]


def test_orders_with_overlapping_diameters_share_a_class() -> None:
    """A length inside both ranges serves both orders."""
    making = _prepared(
        board_reel("A"), board_reel("B", min_diameter_mm=1100.0, max_diameter_mm=1210.0)
    )
    served = {
        making.classes[k].length_m: {
            option.order.number for option in making.options if option.winding_class == k
        }
        for k in range(len(making.classes))
    }
    assert {"A", "B"} in served.values()


def test_yield_of_sheets_is_ups_times_whole_chops_less_waste() -> None:
    """Two ups of 1,000 mm chops in 3,162 m, less 1 %: floor(2 x 3162 x 0.99) = 6,260 sheets."""
    making = _prepared(board_reel(), board_sheet())
    option = next(
        o for o in making.options if o.ups == 2 and making.classes[o.winding_class].length_m == 3162
    )
    assert (int(option.width_mm), option.gain) == (1420, 6260)
    assert option.area * making.unit_mm == 6260 * 700


def test_limits_of_a_class() -> None:
    """3,600 mm jumbo, 20–60 mm edge trim, 9 knives, 7 reels, 9 t a set: by hand."""
    making = _prepared(board_reel())
    (limits,) = making.instance.classes
    unit = making.width_unit_mm
    assert limits.cost * making.unit_mm == 3600 * 3162
    assert limits.width == 3560 // unit  # 9 t at 3,162 m is 11.4 m of width: no limit
    assert limits.max_pieces == 7
    assert limits.slack is not None
    # Used width of at least 3,480 mm leaves no strip wider than 60 mm.
    assert (limits.width - limits.slack) * unit >= 3480 > (limits.width - limits.slack - 1) * unit


def test_a_set_mass_limit_narrows_the_set() -> None:
    """2.4 t at 3,162 m and 250 g/m² is 3,036 mm: no set can fill the web, so none is offered."""
    light = replace(MILL, winders=(replace(MILL.winder, max_set_mass_kg=2400.0),))
    run = Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=(board_reel(),))
    making = prepare(run, light)
    assert making.classes == ()
    assert [order.number for order, _ in making.stopped] == ["R"]


def test_widths_are_whole_in_the_runs_unit() -> None:
    """Half a millimetre and a sixteenth of an inch stay exact."""
    making = _prepared(
        board_reel("A", width_mm=Fraction(1601, 2)),
        board_reel("B", width_mm=Fraction("25.4") * 30 + Fraction("25.4") / 16),
    )
    for option in making.options:
        assert (option.width_mm / making.unit_mm).denominator == 1
        assert (option.width_mm / making.width_unit_mm).denominator == 1
    assert (MILL.jumbo.width_mm / making.unit_mm).denominator == 1


def test_an_order_nothing_can_meet_needs_sales() -> None:
    """1 t exactly cannot be met by reels of 632 kg at the longest; both counts are said."""
    making = _prepared(board_reel(unit=Unit.KG, quantity=Fraction(1000)))
    (note,) = making.needs_sales
    assert note.below is not None
    assert note.above is not None
    assert note.below < 1000 < note.above
    assert math.isclose(float(note.above), note.above_kg or 0, rel_tol=1e-9)


@given(
    length_m=st.integers(2900, 3160),
    width=st.integers(600, 3400),
    count=st.integers(1, 40),
)
def test_worth_never_exceeds_the_paper_that_a_piece_takes(
    length_m: int, width: int, count: int
) -> None:
    """No option delivers more paper than its own width times its length."""
    making = prepare(
        Run(
            name="run",
            grade="Folding board",
            grammage_gsm=250.0,
            orders=(
                board_reel(width_mm=Fraction(width, 2) + 300, quantity=Fraction(count)),
                board_sheet(width_mm=Fraction(width, 4) + 300),
            ),
        ),
        MILL,
        lengths=[(152.0, length_m)],
    )
    for option in making.options:
        paper = option.width_mm * making.classes[option.winding_class].length_m
        assert option.area * making.unit_mm <= paper
