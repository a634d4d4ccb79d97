"""Every enquiry has its answer or the limit that stops it; what would help is solved."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.fit.asking import basis, enquiry, order
from tests.fit.programs import NAMES, run_of, widths_mm
from tests.fit.small_books import WORK
from trimopt.book import Unit
from trimopt.book.model import Book, Instruction, Order, Product
from trimopt.budget import Budget
from trimopt.errors import OrderBookError
from trimopt.fit import (
    Alternative,
    Curve,
    EnquiryService,
    Placement,
    as_order,
    curve_of,
    place_enquiry,
    solve_alternatives,
)
from trimopt.fit.alternatives import changes
from trimopt.fit.answer import Answer, Verdict, amount, use_text
from trimopt.fit.extra_paper import ExtraPaper
from trimopt.fit.planned_run import widened
from trimopt.mill.model import Mill
from trimopt.paper import Written

_LINER = NAMES[4]
_WIDTHS = 50


def _fills_a_set(mill: Mill, width_mm: int) -> bool:
    """Whether reels of one width and broke reels make a set, by trying every number of both."""
    winder = mill.winder
    return any(
        left_mm <= mill.deckle_mm - mill.narrowest_web_mm + broke * winder.max_reel_width_mm
        for reels in range(1, winder.max_reels + 1)
        for broke in range(winder.max_reels - reels + 1)
        if (left_mm := mill.deckle_mm - reels * width_mm) >= broke * winder.narrowest_broke_mm
    )


@pytest.mark.parametrize("name", NAMES)
def test_an_enquiry_that_cannot_be_made_has_its_reason(name: str) -> None:
    """Fifty widths, some beyond what the winder takes: stopped just where they are, with a way."""
    _, mill = run_of(name)
    service = EnquiryService(mill)
    least = mill.winder.min_reel_width_mm
    most = min(mill.winder.max_reel_width_mm, mill.deckle_mm)
    for width_mm in widths_mm(mill, _WIDTHS, beyond=400):
        answer = service.answer(enquiry(name, width_mm))
        if least <= width_mm <= most:
            assert answer.stop == ""
            assert bool(answer.alone) == _fills_a_set(mill, width_mm)
            assert answer.alone or "made, beside other widths only; " in answer.line
            continue
        near = least if width_mm < least else most
        assert answer.line.startswith(f"Cannot be made: a width of {width_mm} mm is ")
        assert f"{float(near):g} mm would pass" in answer.stop
        assert service.answer(enquiry(name, int(near))).stop == ""


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"quantity": Fraction(0)}, "quantity"),
        ({"quantity": Fraction(5, 2)}, "quantity"),
        ({"quantity": 6.0}, "quantity"),
        ({"width_mm": 735.0}, "width_mm"),
        ({"width_mm": "735"}, "width_mm"),
        ({"unit": Unit.SHEETS}, "unit"),
        ({"unit": "reels"}, "unit"),
        ({"chop_mm": Fraction(1000)}, "unit"),
        ({"max_diameter_mm": float("nan")}, "max_diameter_mm"),
        ({"grammage_gsm": None}, "grammage_gsm"),
        ({"under": Fraction(5)}, "under"),
        ({"over": -0.05}, "over"),
    ],
)
def test_what_a_program_asks_is_an_enquiry_or_a_fault(
    changed: dict[str, object], named: str
) -> None:
    """No figure is rounded, guessed or divided by: each fault names its field."""
    _, mill = run_of(NAMES[0])
    asked = replace(
        enquiry(NAMES[0], 735), unit=Unit.REELS, quantity=Fraction(6), core_mm=152.0, under=None
    )
    asked = replace(asked, **changed)  # type: ignore[arg-type]
    with pytest.raises(OrderBookError) as refused:
        EnquiryService(mill).answer(asked)
    assert [fault.column for fault in refused.value.faults] == [named]


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"core_mm": 90.0}, "core of 90 mm; 76, 152 or 305 mm would pass"),
        ({"max_diameter_mm": 300.0}, "makes diameters of 600 to 1500 mm; a max. of 600 mm"),
        ({"max_reel_mass_kg": 20.0}, "the order's max. reel mass 20 kg"),
        ({"chop_mm": Fraction(5000), "unit": Unit.KG}, "no sheeter cuts a chop of 5000 mm"),
    ],
)
def test_the_limit_is_named(changed: dict[str, object], named: str) -> None:
    """Core, diameter, mass and sheeter."""
    _, mill = run_of(NAMES[0])
    asked = replace(enquiry(NAMES[0], 735), **changed)  # type: ignore[arg-type]
    assert named in EnquiryService(mill).answer(asked).stop


def _solved() -> tuple[Order, Curve, Placement, Mill]:
    _, mill = run_of(_LINER)
    asked = replace(
        order(_LINER, 1510, 12),
        max_diameter_mm=1200.0,
        min_diameter_mm=1100.0,
        core_mm=152.0,
    )
    placement = place_enquiry(basis(_LINER), asked, budget=Budget())
    assert placement is not None
    wider = widened(basis(_LINER), asked)  # no planned length is in its range
    assert wider is not None
    curve = curve_of(wider, asked, step_mm=mill.width_step_mm)
    return asked, curve, placement, mill


def test_every_way_that_a_mill_has_is_tried() -> None:
    """Widths nearby, a stock width, diameters, quantity, tolerance, core: each a whole enquiry."""
    asked, curve, placement, _ = _solved()
    found = list(changes(asked, basis(_LINER), curve, placement, (Fraction(600),)))
    texts = [text for text, *_ in found]
    assert any("wider: " in text or "narrower: " in text for text in texts)
    assert "stock reels of 600 mm made beside it" in texts
    assert any(text.startswith("up to ") and "in diameter" in text for text in texts)
    assert {"one reel more", "one reel fewer", "any of the mill's cores"} <= set(texts)
    assert any(text.startswith("a tolerance of 10 %") for text in texts)
    assert len(texts) == len(set(texts))
    assert all(companions or order != asked for _, order, companions in found)


def test_a_mass_or_sheets_change_by_a_reel_too() -> None:
    """One reel in the unit that was asked."""
    asked, curve, placement, _ = _solved()
    heavy = replace(asked, quantity=Fraction(9000), unit=Unit.KG)
    texts = [text for text, *_ in changes(heavy, basis(_LINER), curve, placement)]
    assert any(text.startswith("one reel more (") and "kg)" in text for text in texts)
    sheets = replace(
        heavy, product=Product.SHEET, chop_mm=Fraction(900), unit=Unit.SHEETS, core_mm=None
    )
    texts = [text for text, *_ in changes(sheets, basis(_LINER), curve, placement)]
    assert any("sheets)" in text for text in texts)


def test_what_would_help_is_solved_and_the_best_stands_first() -> None:
    """Told one by one; an interrupt leaves what is known so far."""
    asked, curve, placement, _ = _solved()
    told: list[Alternative] = []

    def two(alternative: Alternative) -> None:
        told.append(alternative)
        if len(told) == 2:
            raise KeyboardInterrupt

    found = solve_alternatives(
        basis(_LINER), asked, curve, placement, budget=Budget(), observer=two
    )
    assert len(told) == 2
    assert sorted(found, key=lambda one: -one.saved) == list(found)
    assert set(map(id, found)) == set(map(id, told))
    for alternative in found:
        shown = round(placement.use, 2) - round(alternative.placement.use, 2)
        assert alternative.saved == pytest.approx(shown)  # of the figures as printed
        assert alternative.saved >= 0.005  # what costs more than was asked does not help
        assert alternative.placement.reels >= 1


def test_an_enquiry_is_an_order_like_any_other() -> None:
    """Reels without a chop, sheets with one."""
    asked = enquiry(_LINER, 700)
    assert as_order(asked).product is Product.REEL
    assert as_order(replace(asked, chop_mm=Fraction(900))).product is Product.SHEET


def test_an_amount_reads_as_a_person_would_say_it() -> None:
    """One reel is no reels, and large numbers stand in groups of three."""
    asked = enquiry(_LINER, 700)
    for quantity, said in ((1, "1 reel"), (12, "12 reels"), (1_000_000, "1,000,000 reels")):
        assert amount(replace(asked, quantity=Fraction(quantity)), Written()) == said


def test_a_bound_below_nothing_has_a_minus_sign() -> None:
    """A range that is proven and wide is told apart from what is found."""
    extra = ExtraPaper(min_use=-0.93, max_use=1.2, held_use=1.06, average=1.03)
    assert use_text(extra, Written()).endswith("; proven only: −1 to 1.2")
    for low, high in ((-0.93, -0.9), (-0.93, None), (None, -0.9)):
        said = use_text(replace(extra, min_use=low, max_use=high, held_use=-0.91), Written())
        assert "−0.9" in said
        assert "-" not in said
    nothing = replace(extra, min_use=None, max_use=None, held_use=-0.001)
    assert use_text(nothing, Written()).startswith("about 0.00 t")


@pytest.mark.parametrize(
    ("held_use", "max_use", "said"),
    [
        (
            1.31,
            1.04,
            "about 1.04 t of paper per t sold, as planned with it; proven only: −1.4 to 1.1",
        ),
        (
            1.31,
            -0.2,
            "about 1.03 t of paper per t sold, as the run itself; proven only: −1.4 to −0.2",
        ),
        (
            0.99,
            1.04,
            "about 0.99 t of paper per t sold, put into the planned sets; proven only: −1.4 to 1.1",
        ),
    ],
)
def test_no_estimate_is_above_a_plan_that_was_made(
    held_use: float, max_use: float, said: str
) -> None:
    """Where it was the verdict was to ask the planner, who had a plan that needs less."""
    extra = ExtraPaper(min_use=-1.4, max_use=max_use, held_use=held_use, average=1.03)
    assert use_text(extra, Written()) == said
    assert extra.above <= 0.01


def test_a_mass_that_no_whole_reels_make_is_not_simply_taken() -> None:
    """However cheap: 0.3 t was answered 'Take it' with two reels of 534 kg."""
    asked = replace(enquiry(_LINER, 735), quantity=Fraction(300), unit=Unit.KG)
    extra = ExtraPaper(min_use=-1.4, max_use=0.2, held_use=0.2, average=1.03)
    answer = Answer(enquiry=asked, stop="", run="A", extra=extra)
    assert answer.verdict is Verdict.TAKE_IT
    between = replace(answer, needs_sales=(0.0, 534.0))
    assert between.verdict is Verdict.ASK_PLANNER
    assert "0.3 t; whole reels make 0 kg or 534 kg, outside the tolerance" in between.line


def test_instructions_of_the_scheduler_are_named() -> None:
    """What keeps them and what does not is said; those for other runs do not count."""
    run, mill = run_of(_LINER)
    instruction = Instruction(
        row=2, what="set-ups", number=30, grade=run.grade, grammage_gsm=run.grammage_gsm
    )
    book = Book(
        source="week.xlsx",
        fingerprint="0" * 64,
        as_of=date(2026, 11, 23),
        orders=run.orders[:4],
        instructions=(instruction,),
    )
    noted = EnquiryService(mill, book, **WORK).answer(enquiry(_LINER, 735), quick=True)
    assert any("has instructions" in note for note in noted.notes)
    other = replace(book, instructions=(replace(instruction, grade="Other"),))
    notes = EnquiryService(mill, other, **WORK).answer(enquiry(_LINER, 735), quick=True).notes
    assert not any("instructions" in note for note in notes)
