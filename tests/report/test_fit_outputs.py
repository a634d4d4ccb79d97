"""An answer to an enquiry on a terminal, as a page, as JSON and in a list: the same figures."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from rich.console import Console

from tests.fit.asking import basis, enquiry, order
from tests.fit.programs import NAMES, run_of
from trimopt.budget import Budget
from trimopt.fit import Alternative, Answer, alone, curve_of, place_enquiry
from trimopt.report.html.fit_page import fit_page_html
from trimopt.report.json.fit_json import answer_fields
from trimopt.report.terminal.fit_terminal import print_answer
from trimopt.report.words.fit_words import before_and_after, use_words
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
        alternatives=(
            Alternative(change="<i>any</i> core", order=asked, placement=placement, saved=0.25),
        ),
        notes=("a note", "another note"),
    )


def _printed(width: int, encoding: str = "utf-8") -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding)
    print_answer(_answer(), Console(file=file, width=width, no_color=True))
    file.flush()
    return raw.getvalue().decode(encoding)


@pytest.mark.parametrize("width", [72, 80, 120])
def test_a_terminal_has_the_answer_first_and_nothing_too_wide(width: int) -> None:
    """Each figure before and after, what is proven of it, the sets, the curve."""
    lines = _printed(width).splitlines()
    assert " ".join(lines[0:2]).startswith("Fits: 12 × 735 mm in")
    assert all(len(line) <= width for line in lines)
    text = " ".join("\n".join(lines).split())
    placement = _answer().placement
    assert placement is not None
    for row in before_and_after(placement, METRIC):
        assert " ".join(part.strip() for part in row) in text
    assert "proven" in use_words(placement, METRIC)
    assert "planned sets stay as they are" in text
    assert "^ the width asked for" in text


def test_a_terminal_without_the_signs_still_shows_it() -> None:
    """In plain ASCII."""
    assert "Fits: 12 x 735 mm" in " ".join(_printed(80, "ascii").split())


def test_a_page_shows_the_same_and_escapes_what_came_from_outside() -> None:
    """No script, nothing fetched, one curve, the caution."""
    _, mill = run_of(_LINER)
    page = fit_page_html(_answer(), mill)
    placement = _answer().placement
    assert placement is not None
    for _, before, after in before_and_after(placement, METRIC):
        assert f'<td class="n">{before}</td><td class="n">{after}</td>' in page
    assert "<i>any</i>" not in page
    assert "&lt;i&gt;any&lt;/i&gt; core" in page
    assert page.count("<svg") == 1
    assert "<script" not in page
    assert "authorises no adjustment" in page


def test_json_has_every_figure_and_no_infinity() -> None:
    """Before and after each with its bound; a width that cannot be made has null."""
    fields = json.loads(json.dumps(answer_fields(_answer()), allow_nan=False))
    told = fields["with_the_book"]
    placement = _answer().placement
    assert placement is not None
    for name, counted in (("before", placement.before), ("after", placement.after)):
        assert told[name]["set_ups"] == counted.set_ups
        assert told[name]["bound_kg"] == counted.bound_kg
        assert told[name]["proven"] is counted.proven
        assert told[name]["set_ups_proven"] is counted.set_ups_proven
    assert told["marginal_use"] == placement.marginal_use
    assert fields["extra_paper"] == {
        "proven_min": placement.min_marginal,
        "proven_max": placement.max_marginal,
        "as_placed": placement.marginal_use,
    }
    assert fields["alternatives"][0]["saved_as_placed"] == 0.25
    assert len(fields["curve"]) > 2000
