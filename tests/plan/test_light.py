"""Orders whose reels are there in number while their tonnes are not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.leaves import with_leaf
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Unit
from trimopt.check import verify_plan
from trimopt.plan.model import Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.states import OrderState

_MILL = sample_mill()
_TWELVE = board_reel(quantity=Fraction(12), min_diameter_mm=1000.0)


def _book(**order: object) -> Book:
    """One order; the only jumbo winds no reel beyond 1,010 mm, at most 1,250 mm is ordered."""
    stock = tuple(board_jumbo(f"K{n}", 2035) for n in range(8))
    return Book(
        source="short.xlsx",
        fingerprint="c" * 64,
        as_of=date(2026, 3, 2),
        orders=(replace(_TWELVE, **order),),  # type: ignore[arg-type]  # Order's own fields
        jumbos=stock,
        only_listed_jumbos=True,
    )


def _plan(book: Book) -> Plan:
    return make_plan(book, _MILL, Request(), number="short-1")


def test_all_reels_with_two_thirds_of_the_tonnes_are_met_but_light() -> None:
    """Twelve reels of at most 2,035 m where 3,162 m are the target: state and text say so.

    Metres: π · (1,250² − 180²) / (4 · 380) = 3,162; each metre of 800 mm weighs 0.2 kg.
    """
    book = _book()
    plan = _plan(book)
    (line,) = plan.runs[0].orders
    assert line.state == "met, light"
    assert line.planned == 12
    assert line.text == f"{line.planned_kg:,.0f} kg; at the target diameter 7,589 kg or more"
    assert verify_plan(plan, book, _MILL) == ()


@pytest.mark.parametrize("state", ["met", "late"])
def test_the_check_does_not_take_met_for_light(state: str) -> None:
    """A plan that calls such an order met, or anything else, is found out."""
    book = _book()
    said = verify_plan(
        with_leaf(_plan(book), ("runs", 0, "orders", 0, "state"), state), book, _MILL
    )
    assert [f"order R: state: the plan says {state}; found met, light" in str(x) for x in said] == [
        True
    ]


def test_an_order_by_mass_that_is_met_is_met_in_tonnes() -> None:
    """By kilograms the number of reels makes up for their length."""
    book = _book(quantity=Fraction(4800), unit=Unit.KG, under=Fraction(1, 10), over=Fraction(1, 10))
    plan = _plan(book)
    assert [line.state for line in plan.runs[0].orders] == ["met"]
    light = replace(plan.runs[0].orders[0], state=OrderState.LIGHT)
    said = verify_plan(with_leaf(plan, ("runs", 0, "orders"), (light,)), book, _MILL)
    assert "state: the plan says met, light; found met" in str(said[0])


def test_typical_times_are_said() -> None:
    """Where the mill file leaves speeds, times or limits out, the plan names them."""
    winder = replace(_MILL.winder, typical=("speed_m_min", "set_up_min"))
    mill = replace(_MILL, winders=(winder,))
    plan = make_plan(_book(), mill, Request(), number="short-1")
    assert any(note.endswith("speed_m_min, set_up_min.") for note in plan.notes)
    unstated = replace(winder, max_edge_trim_mm=None, max_reel_mass_kg=None, max_set_mass_kg=None)
    plan = make_plan(_book(), replace(_MILL, winders=(unstated,)), Request())
    assert any(
        note.endswith("without a limit: max_edge_trim_mm, max_reel_mass_kg, max_set_mass_kg.")
        for note in plan.notes
    )
    assert not any("typical" in note for note in _plan(_book()).notes)
