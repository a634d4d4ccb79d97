"""Keeping issued plans."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import URL, func, select

from tests.ledger.looking import require_whole
from tests.ledger.plans import small_plan
from tests.plan.sample import sample_plan
from trimopt.errors import LedgerError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import reading, writing
from trimopt.ledger.ledger_tables import every_table, plans
from trimopt.plan.codec import from_json
from trimopt.plan.model import Plan


def _rows(url: URL) -> dict[str, list[tuple[object, ...]]]:
    with reading(url) as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(select(table))), key=str)
            for table in every_table.sorted_tables
        }


def _replaced(url: URL) -> dict[str, str | None]:
    """Number of each plan and of the plan that replaced it."""
    later = plans.alias()
    with reading(url) as connection:
        return {
            row[0]: row[1]
            for row in connection.execute(
                select(plans.c.number, later.c.number).select_from(
                    plans.outerjoin(later, later.c.id == plans.c.replaced_by)
                )
            )
        }


def test_a_plan_is_kept_whole(ledger: URL) -> None:
    """The plan read back from the ledger's JSON equals the one kept, and its tables balance."""
    plan = sample_plan()
    kept = Ledger(ledger).keep(plan)
    assert kept.fresh
    assert require_whole(ledger) == {plan.number}
    with reading(ledger) as connection:
        row = connection.execute(select(plans)).mappings().one()
    assert from_json(row["document"]) == plan
    assert (row["book_fingerprint"], row["mill_fingerprint"]) == ("b" * 64, "a" * 64)
    assert (row["made_with"], row["winder"]) == ("0.1.0", "Winder 1")
    assert '"seed": 1' in row["settings"]


def test_keeping_twice_changes_nothing(ledger: URL) -> None:
    """A second keeping of the same plan leaves every row of every table as it was."""
    Ledger(ledger).keep(sample_plan())
    before = _rows(ledger)
    again = Ledger(ledger).keep(sample_plan())
    assert not again.fresh
    assert _rows(ledger) == before


def test_a_signature_is_no_change(ledger: URL) -> None:
    """The approval, which is signed after the issue, makes no other plan of it."""
    Ledger(ledger).keep(small_plan("a-1"))
    signed = replace(small_plan("a-1"), approved_by="M. Thorne")
    assert not Ledger(ledger).keep(signed).fresh


def test_a_figure_worded_otherwise_is_no_change(ledger: URL) -> None:
    """A plan that an older version kept with a whole number for one with decimals."""
    desk, plan = Ledger(ledger), small_plan("a-1")
    desk.keep(plan)
    with writing(ledger) as connection:
        kept = connection.execute(select(plans.c.document)).scalar_one()
        old = re.sub(r"(: \d+)\.0\b", r"\1", kept)
        assert old != kept
        connection.execute(plans.update().values(document=old, fingerprint="of older words"))
    assert not desk.keep(plan).fresh


def test_an_issued_plan_is_never_changed(ledger: URL) -> None:
    """The same issue with other contents is refused, and the first stays."""
    plan = small_plan("a-1")
    Ledger(ledger).keep(plan)
    with pytest.raises(LedgerError, match="other contents; an issued plan is never changed"):
        Ledger(ledger).keep(replace(plan, notes=("changed",)))
    assert require_whole(ledger) == {"a-1"}


def test_a_plan_that_does_not_balance_is_refused(ledger: URL) -> None:
    """A plan whose sets do not add up to its balance leaves nothing behind."""
    plan = small_plan("a-1")
    run = plan.runs[0]
    wrong = replace(run, balance=replace(run.balance, edge_trim_kg=run.balance.edge_trim_kg + 5))
    with pytest.raises(LedgerError, match=r"edge_trim_kg is .* in the plan but .* over its sets"):
        Ledger(ledger).keep(replace(plan, runs=(wrong,)))
    with reading(ledger) as connection:
        assert connection.scalar(select(func.count()).select_from(plans)) == 0


def test_a_later_plan_replaces(ledger: URL) -> None:
    """The plan named as replaced is marked, along a chain of issues."""
    chain = (
        small_plan("s-1"),
        small_plan("s-2", replaces="s-1", minutes=5),
        small_plan("s-3", replaces="s-2", minutes=9),
    )
    answers = [Ledger(ledger).keep(plan) for plan in chain]
    assert _replaced(ledger) == {"s-1": "s-2", "s-2": "s-3", "s-3": None}
    assert answers[1].replaced == "s-1 of 2026-03-02 05:10"


def test_a_plan_of_the_same_book_stands_whatever_its_folder(ledger: URL) -> None:
    """Two desks with folders of their own: the second plan replaces the first, not beside it."""
    held, again = Ledger(ledger), small_plan("", minutes=9)
    held.keep(small_plan("Shift-1"))
    held.keep(small_plan("Shift-2", replaces="Shift-1", minutes=5))

    def replaced(plan: Plan, stem: str) -> str:
        with held.numbering(plan, stem) as (_, standing, _):
            return standing

    assert replaced(again, "shift") == "Shift-2"
    assert replaced(again, "week") == ""
    assert replaced(replace(again, winder="Winder 9"), "shift") == ""
    assert replaced(replace(again, runs=()), "shift") == ""


def test_order_of_arrival_does_not_matter(ledger: URL) -> None:
    """A plan that reaches the ledger after the one that replaces it is marked all the same."""
    Ledger(ledger).keep(small_plan("s-2", replaces="s-1", minutes=5))
    Ledger(ledger).keep(small_plan("s-1"))
    assert _replaced(ledger) == {"s-1": "s-2", "s-2": None}


@pytest.mark.parametrize("back", [False, True])
def test_a_plan_begun_before_the_one_it_replaces(ledger: URL, back: bool) -> None:
    """Of two desks that plan one book at once, the one that began first may be numbered last."""
    chain = [
        small_plan("s-1", minutes=2),
        small_plan("s-2", replaces="s-1", minutes=3),
        small_plan("s-3", replaces="s-2", minutes=1),
    ]
    for plan in reversed(chain) if back else chain:
        Ledger(ledger).keep(plan)
    assert _replaced(ledger) == {"s-1": "s-2", "s-2": "s-3", "s-3": None}


def test_numbers_that_come_again(ledger: URL) -> None:
    """Of two plans of one number the latest before is the one replaced, and the answer says so."""
    first, second = small_plan("s-1"), small_plan("s-1", minutes=600)
    third = small_plan("s-2", replaces="s-1", minutes=700)
    Ledger(ledger).keep(first)
    Ledger(ledger).keep(second)
    answer = Ledger(ledger).keep(third)
    assert answer.replaced == "s-1 of 2026-03-02 15:10"
    assert "2 plans of number s-1" in answer.note
    with reading(ledger) as connection:
        standing = connection.scalars(
            select(plans.c.made_at).where(plans.c.replaced_by.is_(None)).order_by(plans.c.made_at)
        ).all()
    assert [f"{moment:%H:%M}" for moment in standing] == ["05:10", "16:50"]


def test_a_plan_of_the_same_shift_under_another_name_is_told(ledger: URL) -> None:
    """Both count in the trend; one of other hours stands alone."""
    keep = Ledger(ledger).keep
    assert not keep(small_plan("monday-1")).note
    assert not keep(_days_later(small_plan("next week-1"), 7)).note
    copied = keep(small_plan("monday (2)-1", minutes=5))
    assert copied.note.startswith("plan monday-1 has some of the same orders in the same hours")
    later = small_plan("monday (2)-2", replaces="monday (2)-1", minutes=9)
    assert "plan monday-1 has" in keep(later).note


def _days_later(plan: Plan, days: int) -> Plan:
    """The same sets, so many days later."""
    (run,) = plan.runs
    blocks = tuple(
        replace(block, sets=tuple(
            replace(row, start=row.start + timedelta(days)) for row in block.sets if row.start
        ))
        for block in run.blocks
    )  # fmt: skip
    return replace(plan, runs=(replace(run, blocks=blocks),))


def test_another_winder_is_not_replaced(ledger: URL) -> None:
    """A plan of the same number for another winder stands."""
    Ledger(ledger).keep(small_plan("s-1"))
    other: Plan = replace(small_plan("s-2", replaces="s-1", minutes=5), winder="Winder 9")
    answer = Ledger(ledger).keep(other)
    assert answer.note == "plan s-1, which it replaces, is not in the ledger"
    assert _replaced(ledger) == {"s-1": None, "s-2": None}


def test_other_orders_are_not_replaced(ledger: URL) -> None:
    """A plan of the same number with none of the orders is another desk's, and stands."""
    Ledger(ledger).keep(small_plan("s-1"))
    plan = small_plan("s-2", replaces="s-1", minutes=5)
    lines = tuple(replace(line, number=f"other {line.number}") for line in plan.runs[0].orders)
    blocks = tuple(
        replace(
            block,
            positions=tuple(
                replace(each, order=f"other {each.order}") if each.order else each
                for each in block.positions
            ),
        )
        for block in plan.runs[0].blocks
    )
    other = replace(plan, runs=(replace(plan.runs[0], orders=lines, blocks=blocks),))
    assert Ledger(ledger).keep(other).note == "plan s-1, which it replaces, is not in the ledger"
    assert _replaced(ledger) == {"s-1": None, "s-2": None}
