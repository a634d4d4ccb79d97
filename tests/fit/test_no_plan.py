"""Why there is no plan to put an enquiry into: each cause by its name, and not the time for all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from math import inf
from types import SimpleNamespace
from unittest.mock import Mock

import pytest

from tests.fit.programs import NAMES
from tests.fit.small_books import WORK, asked, book_of, mill_of, planned
from trimopt import interrupt
from trimopt.book import Unit
from trimopt.budget import Budget
from trimopt.cutting import Outcome, Status
from trimopt.errors import OutOfTimeError, PlanError
from trimopt.fit import EnquiryService, basis_of_plan
from trimopt.making import runs_of
from trimopt.plan.planning import plan_run
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.run_jumbos import jumbos_in_book

_NAME = NAMES[4]


@pytest.fixture
def _takes_the_key_back() -> Iterator[None]:
    yield
    interrupt.ask_to_stop(yes=False)


def _clock_ends(budget: Budget) -> None:
    budget.ends_at = -inf
    assert budget.over()


@pytest.mark.usefixtures("_takes_the_key_back")
@pytest.mark.parametrize(
    ("ended", "said"),
    [
        (_clock_ends, "within the time limit; give more --time-limit"),
        (lambda _: interrupt.ask_to_stop(), "interrupted before there was a whole plan"),
        (lambda _: None, "found with this effort; ask for more"),
    ],
)
def test_what_ended_the_search_is_named(
    monkeypatch: pytest.MonkeyPatch, ended: Callable[[Budget], None], said: str
) -> None:
    """The clock, Ctrl-C, or the search's own work: each asks for something else."""

    def nothing(_: object, *, budget: Budget, **__: object) -> Outcome:
        ended(budget)
        return Outcome(
            status=Status.OUT_OF_TIME, cuts=(), loss=None, bound=0, price_bound=0, certificate=None
        )

    for name in ("solve", "prove"):
        monkeypatch.setattr(f"trimopt.plan.planning.run_patterns.{name}", nothing)
    with pytest.raises(OutOfTimeError, match=said):
        make_plan(book_of(_NAME, 2), mill_of(_NAME), budget=Budget())


def test_a_plan_that_does_not_fit_says_in_what() -> None:
    """Sets off odd jumbos, other orders than the book's, no prices, sets the book does not give."""
    mill, book = mill_of(_NAME), book_of(_NAME, 2)
    settings, (known,) = planned(book, mill).settings, planned(book, mill).runs
    runs = runs_of(book, mill)
    jumbos = jumbos_in_book(runs[0], runs, book, mill)
    block = known.blocks[0]
    for plan, said in (
        (replace(known, blocks=(replace(block, jumbo_width_mm=Fraction(2000)),)), "other widths"),
        (replace(known, orders=known.orders[1:]), "not every order of the run can be made"),
        (replace(known, proof=replace(known.proof, gain_price=())), "proven .* in time"),
        (replace(known, blocks=(replace(block, length_m=1),)), "sets that this book"),
    ):
        with pytest.raises(PlanError, match=said):
            basis_of_plan(plan, runs[0], jumbos, settings, grid_mm=Fraction(1), budget=Budget())


def test_a_run_of_which_nothing_can_be_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """No set of it is wound: that is said, and not that time was short."""
    monkeypatch.setattr(plan_run, "plan_run", lambda _: SimpleNamespace(wound=None))
    answer = EnquiryService(mill_of(_NAME), book_of(_NAME, 2), **WORK).answer(
        asked(_NAME, 1533, 14, Unit.REELS)
    )
    assert "no order of " in answer.line
    assert answer.line.endswith("can be made")


def test_paper_that_another_order_takes_is_no_lack_of_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A plan made with the enquiry that makes nothing of it: the paper does not last."""
    service, ask = "trimopt.fit.enquiry_service.replan_with", asked(_NAME, 1533, 14, Unit.REELS)
    mill, book = mill_of(_NAME), book_of(_NAME, 2)
    of_book = EnquiryService(mill, book, planned(book, mill), **WORK)
    monkeypatch.setattr(service, lambda *_, **__: None)
    full = of_book.answer(ask)
    assert full.line.startswith("No paper left for ")
    assert "in time" not in " ".join(full.notes)
    monkeypatch.setattr(service, Mock(side_effect=OutOfTimeError("K: interrupted")))
    assert of_book.answer(ask).notes[-1].endswith("so planned sets are held: K: interrupted")
