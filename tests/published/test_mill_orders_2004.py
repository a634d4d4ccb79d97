"""Real orders of a paper mill, reels and sheets: every file planned and verified.

M. H. Correia, J. F. Oliveira, J. S. Ferreira, "Reel and sheet cutting at a paper mill", Computers &
Operations Research 31 (2004) 1223-1243; ESICUP collection, CC0. The limits of winder and sheeter
are stated in `tests.mill_files`.
"""

from __future__ import annotations

import pytest

from tests.mill_files import mill_file, mill_files
from tests.slow_clock import slow_clock
from trimopt.check import verify_plan
from trimopt.plan.model import Effort, Request
from trimopt.plan.planning.plan_book import make_plan

FILES = mill_files() or ["none"]


@pytest.mark.parametrize("name", FILES)
def test_every_file_is_planned_and_holds(name: str) -> None:
    """No order is lost, every order has what it needs, and the check finds nothing wrong.

    In two seconds of the processor, whoever else is at work.
    """
    if name == "none":
        pytest.skip("TRIMOPT_DATA names no folder of open data sets")
    book, mill = mill_file(name)
    request = Request(effort=Effort.QUICK, time_limit_s=2.0)
    with slow_clock(1.0):
        plan = make_plan(book, mill, request, number=f"{name}-1")
    (run,) = plan.runs
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    planned = {line.number for line in run.orders} | {left.order for left in plan.left_out}
    assert planned == {order.number for order in book.orders}
    assert {line.state for line in run.orders} <= {"met", "over", "needs sales", "late"}
    assert run.proof.bound_kg <= run.proof.loss_kg
