"""An answer to an enquiry on a terminal, as a page, as JSON and in a list: the same figures."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from rich.console import Console

import trimopt
from tests.fit.asking import basis, enquiry, order
from tests.fit.programs import NAMES, run_of
from trimopt.book import Unit
from trimopt.budget import Budget
from trimopt.fit import (
    Alternative,
    Answer,
    ExtraPaper,
    RunWithEnquiry,
    Verdict,
    When,
    alone,
    curve_of,
    place_enquiry,
)
from trimopt.fit.replanned import replan_with
from trimopt.fit.run_with_enquiry import hold_sets
from trimopt.paper import UnitSystem, Written
from trimopt.paper.measures import basis_weight_unit
from trimopt.plan.model import Effort
from trimopt.plan.planning.chosen_run import ProvenOnce
from trimopt.plan.planning.run_jumbos import jumbos_for
from trimopt.report.html.fit_page import fit_page_html
from trimopt.report.json.fit_json import answer_fields
from trimopt.report.terminal.fit_terminal import print_answer
from trimopt.report.words.fit_words import answer_lines, before_and_after
from trimopt.report.words.held_words import held_as, held_text
from trimopt.report.words.units import METRIC

_LINER = NAMES[4]


@cache
def _answer() -> Answer:
    run, mill = run_of(_LINER)
    asked = order(_LINER, 735)
    placement = place_enquiry(basis(_LINER), asked, budget=Budget.lasting(30))
    assert placement is not None
    return Answer(
        enquiry=replace(enquiry(_LINER, 735), name="<b>Osk & Co</b>"),
        stop="",
        alone=alone(asked, mill, usable_m=mill.jumbo.usable_m),
        run=run.name,
        from_plan="week-1",
        curve=curve_of(basis(_LINER), asked, step_mm=Fraction(1)),
        placement=placement,
        planned=_planned(),
        extra=ExtraPaper(min_use=0.912, max_use=1.041, held_use=placement.use, average=1.03),
        alternatives=(
            Alternative(change="<i>any</i> core", order=asked, placement=placement, saved=0.25),
        ),
        notes=("a note", "another note"),
    )


@cache
def _planned() -> RunWithEnquiry:
    run, mill = run_of(_LINER)
    asked, without = order(_LINER, 735), basis(_LINER)
    held = hold_sets(without, asked, budget=Budget.lasting(30))
    assert held is not None
    jumbos = jumbos_for(run, mill, (), only_listed=False)
    made = replan_with(
        without,
        run,
        asked,
        jumbos,
        held=held,
        proven=ProvenOnce(),
        budget=Budget(),
        effort=Effort.QUICK,
    )
    assert made is not None
    return made


def test_reels_beyond_the_tolerance_are_not_called_inside_it() -> None:
    """15 reels held for 12 asked were, though three of them went to stock."""
    answer, held = _answer(), replace(order(_LINER, 735), number="HELD-1")
    _, mill = run_of(_LINER)
    assert answer.placement is not None
    for surplus_kg, said in ((0.0, "inside the tolerance"), (9.0, "the tolerance for stock")):
        placed = replace(answer.placement, surplus_kg=surplus_kg)
        asked = replace(answer.enquiry, quantity=Fraction(placed.reels + 1))
        line = held_as(replace(answer, enquiry=asked, placement=placed, planned=None), held, mill)
        assert line.startswith("held as HELD-1 until")
        assert line.endswith(said), line


def test_what_is_held_in_inches_is_listed_in_inches(tmp_path: Path) -> None:
    """As it was offered: the mill file says "as the book is written", and there is no book."""
    _, mill = run_of(_LINER)
    day = date(2026, 11, 23)
    asked = replace(_answer().enquiry, width_mm=Fraction("738.1875"))
    inch = replace(_answer(), enquiry=asked, written=Written(system=UnitSystem.INCH_POUND))
    ledger = trimopt.open_ledger(tmp_path / "ledger.sqlite")
    held = trimopt.hold_enquiry(inch, mill, ledger, day, on=day)
    assert "12 reels of 29 1/16 in, " in held_as(inch, held, mill)
    (hold,) = ledger.holds()
    assert " 29 1/16 in, " in held_text(hold, day, None)
    with pytest.raises(trimopt.LedgerError, match="HELD-1 holds just this"):
        trimopt.hold_enquiry(replace(inch, written=Written()), mill, ledger, day, on=day)


def _printed(width: int, encoding: str = "utf-8", *, details: bool = True) -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    console = Console(file=file, width=width, no_color=True)
    print_answer(_answer(), console, details=details)
    file.flush()
    return raw.getvalue().decode(encoding)


@pytest.mark.parametrize("width", [72, 80, 120])
def test_a_terminal_has_the_answer_first_and_nothing_too_wide(width: int) -> None:
    """The run with and without it, the sets, the curve."""
    lines = _printed(width).splitlines()
    assert lines[0].startswith("Neutral: ")
    assert all(len(line) <= width for line in lines)
    text = " ".join("\n".join(lines).split())
    for row in before_and_after(_planned(), METRIC):
        assert " ".join(part.strip() for part in row) in text
    assert "planned sets stay" in text
    assert "^ the width asked for" in text


def test_one_sheeter_reel_is_one() -> None:
    """In the line that sales reads out."""
    answer = _answer()
    assert answer.placement is not None
    row = replace(answer.placement.sets[0], sets=1, reels=1)
    sheets = replace(answer.enquiry, chop_mm=Fraction(900), unit=Unit.SHEETS)
    held = replace(answer.placement, sets=(row,))
    one = replace(answer, planned=None, enquiry=sheets, placement=held)
    assert one.asked.endswith(", 1 sheeter reel")


def test_six_lines_say_it() -> None:
    """The verdict, paper, when, as what, from where: the rest stands behind --details."""
    answer = replace(
        _answer(), alternatives=(), floor_price=(765.2, 801.9), currency="EUR", when=When()
    )
    rows = answer_lines(answer, METRIC)
    assert len(rows) == 6
    assert rows[0][1].startswith("Neutral: ")
    assert rows[1] == (
        "paper",
        "0.91 to 1.05 t per t sold, proven; the run itself uses 1.03",
    )
    assert rows[2] == ("price", "no less than 766 to 802 EUR per t pays for its paper")
    lines = _printed(80, details=False).splitlines()
    assert sum(line.startswith(("Neutral", "  ")) for line in lines) >= 5
    assert rows[5][1].endswith("; 2 notes: --details")


@pytest.mark.parametrize(
    ("max_use", "verdict", "said"),
    [
        (1.0301, Verdict.NEUTRAL, "1.04 t per t (run 1.03 + 0.01)"),
        (1.03, Verdict.TAKE_IT, "1.03 t per t, as the run itself"),
        (0.95, Verdict.TAKE_IT, "0.95 t per t (run 1.03 − 0.08)"),
        (1.13, Verdict.NEUTRAL, "1.13 t per t (run 1.03 + 0.10)"),
        (1.1301, Verdict.ASK_PLANNER, "1.14 t per t (run 1.03 + 0.11)"),
        (1.6, Verdict.NEUTRAL, "about 1.07 t per t (run 1.03 + 0.04)"),
        (None, Verdict.NEUTRAL, "about 1.07 t per t (run 1.03 + 0.04)"),
    ],
)
def test_the_figure_in_the_first_line_decides(
    max_use: float | None, verdict: Verdict, said: str
) -> None:
    """Even where the clock stopped the search for it: as the guide says, and no other figure."""
    planned = None if max_use is None else replace(_planned(), clock_stopped=True)
    extra = ExtraPaper(min_use=0.9, max_use=max_use, held_use=1.0704, average=1.0301)
    answer = replace(_answer(), extra=extra, planned=planned)
    assert answer.verdict is verdict
    assert f" at {said}; " in answer.line
    assert answer_lines(answer, METRIC)[0][1].endswith(said)


def test_reels_that_are_made_stand_beside_those_asked() -> None:
    """One fewer, inside the tolerance, is said; as many as asked need no words."""
    answer = _answer()
    assert "asked" not in answer.line
    reels, share = Fraction(answer.reels + 1), Fraction(1, 10)
    asked = replace(answer.enquiry, quantity=reels, under=share, over=share)
    said = replace(answer, enquiry=asked).line
    assert f"{answer.reels} × 735 mm ({reels} asked) in " in said


def test_a_terminal_without_the_signs_still_shows_it() -> None:
    """In plain ASCII."""
    assert "Neutral: 1" in _printed(80, "ascii")
    assert " x 735 mm in " in " ".join(_printed(80, "ascii").split())


def test_a_page_shows_the_same_and_escapes_what_came_from_outside() -> None:
    """No script, nothing fetched, one curve, the caution."""
    _, mill = run_of(_LINER)
    page = fit_page_html(_answer(), mill)
    for _, before, after in before_and_after(_planned(), METRIC):
        assert f'<td class="n">{before}</td><td class="n">{after}</td>' in page
    assert "<i>any</i>" not in page
    assert "&lt;i&gt;any&lt;/i&gt; core" in page
    assert page.count("<svg") == 1
    assert "<script" not in page
    assert "authorises no adjustment" in page


def test_a_page_in_inches_is_so_throughout() -> None:
    """The paper by its basis weight, and the unit of lengths in their heading."""
    run, mill = run_of(_LINER)
    grade = mill.grade(run.grade)
    assert grade is not None
    liner = replace(grade, basis_weight=basis_weight_unit("lb/1000 ft²"))
    inch = Written(system=UnitSystem.INCH_POUND)
    page = fit_page_html(replace(_answer(), written=inch), replace(mill, grades=(liner,)))
    assert "Length [ft]" in page
    assert "Length m" not in page
    head, _, _ = page.partition("</header>")
    assert "lb/1000 ft²" in head
    assert "g/m²" not in head


def test_json_has_every_figure_and_no_infinity() -> None:
    """What is proven, planned and estimated; a width that cannot be made has null."""
    fields = json.loads(json.dumps(answer_fields(_answer()), allow_nan=False))
    placement = _answer().placement
    assert placement is not None
    assert fields["sets_held"]["use"] == placement.use
    assert fields["extra_paper"] == {
        "proven_min": 0.912,
        "planned": 1.041,
        "sets_held": placement.use,
        "run_average": 1.03,
        "judged": 1.05,
    }
    assert fields["planned"]["with"]["used_kg"] == _planned().run.balance.used_kg
    assert fields["alternatives"][0]["saved_as_placed"] == 0.25
    assert len(fields["curve"]) > 2000
