"""What the check says of a plan that goes on: what is left of a jumbo, and what it states."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest

from tests.plan.leaves import with_leaf
from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import done, goes_on, replan, rows
from trimopt import JumboInStock, Plan, verify_plan
from trimopt.book.model import Book, Defect


@pytest.fixture(scope="module")
def streaked(cases: tuple[Case, Case]) -> tuple[Case, Book, Plan]:
    """Two sets were run, and a streak is found in what is left of their jumbo."""
    case, _ = cases
    run = case.plan.runs[0]
    streak = Defect(
        from_m=12_000, to_m=13_000, from_mm=Fraction(700), to_mm=Fraction(720), what="streak"
    )
    listed = JumboInStock(
        name=run.jumbos[0].name,
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        width_mm=run.jumbo_width_mm,
        length_m=16_690,
        loss_start_m=120,
        loss_end_m=80,
        defects=(streak,),
    )
    book = replace(case.book, jumbos=(*case.book.jumbos, listed))
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 2))
    goes_on(answer, book, case)
    return case, book, answer.plan


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("defects", (), "defects"),
        ("nominal", True, "nominal"),
        ("loss_end_m", 0, "end loss, m"),
    ],
)
def test_what_is_left_of_a_jumbo_is_as_listed(
    streaked: tuple[Case, Book, Plan], field: str, value: object, said: str
) -> None:
    """A streak beyond what was run is on the crew's sheet, or the plan does not hold."""
    case, book, plan = streaked
    name = plan.runs[0].jumbos[0].name
    changed = with_leaf(plan, ("runs", 0, "jumbos", 0, field), value)
    found = [each.what for each in verify_plan(changed, book, case.mill) if name in each.where]
    assert said in found


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("blocks_changed", -1, "blocks changed"),
        ("paid_for_keeping", -0.1, "paid for keeping"),
        ("gained_by_changing", float("nan"), "gained by changing"),
    ],
)
def test_what_was_paid_and_gained_is_never_below_nothing(
    streaked: tuple[Case, Book, Plan], field: str, value: object, said: str
) -> None:
    """What it was cannot be reckoned again from the plan; what it cannot be is found."""
    case, book, plan = streaked
    changed = with_leaf(plan, ("replanned", field), value)
    assert said in [each.what for each in verify_plan(changed, book, case.mill)]


def test_what_was_run_is_finished_when_the_plan_goes_on(
    streaked: tuple[Case, Book, Plan],
) -> None:
    """An hour before the last set is finished is no hour at which others may start."""
    case, book, plan = streaked
    assert plan.replanned is not None
    now = plan.replanned.now - timedelta(minutes=10)
    said = [
        str(each)
        for each in verify_plan(with_leaf(plan, ("replanned", "now"), now), book, case.mill)
    ]
    assert any("set 2: was run before the plan goes on" in each for each in said)


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("blocks", 0, "positions", 0, "kind"), "slab", "kind of strip"),
        (("blocks", 0, "sets", 0, "seconds"), (55,), "reels that go as seconds"),
        (("blocks", 0, "sets", 0, "spoiled"), (55,), "spoiled reels, each once"),
    ],
)
def test_what_was_run_has_reels_of_its_own(
    streaked: tuple[Case, Book, Plan], path: tuple[str | int, ...], value: object, said: str
) -> None:
    """A set that ran is asked for no limits, but it is a set."""
    case, book, plan = streaked
    changed = with_leaf(plan, ("runs", 0, *path), value)
    assert said in [each.what for each in verify_plan(changed, book, case.mill)]


def test_a_set_stays_whose_nominal_length_no_order_may_have_any_more(
    cases: tuple[Case, Case],
) -> None:
    """Orders now want thinner reels: what was wound shorter than nominal is thin enough."""
    case = cases[0]
    thinner = (
        replace(each, max_diameter_mm=1175.0) if (each.min_diameter_mm or 0) < 1175 else each
        for each in case.book.orders
        if each.product.value == "reel"
    )
    book = replace(case.book, orders=tuple(thinner), instructions=())
    start = case.plan.settings.start
    assert start is not None
    answer = replan(case.plan, book, case.mill, keep_until=start + timedelta(hours=24))
    goes_on(answer, book, case)
    stayed = [block for block, _ in rows(answer.plan.runs[0]) if block.length_m == 2748]
    assert stayed
