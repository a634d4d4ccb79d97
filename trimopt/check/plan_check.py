"""The independent check of a plan: everything recomputed from mill file, order book and sets.

It imports nothing of what makes a plan. It serves a plan that was just made, and one that somebody
has changed by hand: a figure that no longer holds is a finding with what was found in its place;
nonsense is a finding too, never an exception.

How words that leave a choice are read stands beside the line that reads them, in
`trimopt.check.check_formulas` and the other files here. The wider ones:

- A run has the jumbo width of the mill file, or of a jumbo in stock for its grade and grammage. A
  jumbo of another width is wound in blocks of its own, which state their width and deckle.
- Jumbo names lead back from a reel to its jumbo, so no two runs share one.
- An order of the book stands in one run, or is left out with a reason, and not both.
- Sets may be longer or shorter than their block's nominal length, inside every reel's range; the
  loss beside the bound is reckoned at the nominal lengths, the balance at the sets' own.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from trimopt.book.model import Book, Order, grade_key
from trimopt.check.findings import CheckContext, Finding, Findings
from trimopt.check.instructions_check import check_every_instruction, check_instructions
from trimopt.check.jumbos_check import (
    check_defects,
    check_jumbos,
    check_times,
    check_unused,
    stock_of,
)
from trimopt.check.knives_check import check_knives
from trimopt.check.orders_check import check_balance, check_orders, made_by
from trimopt.check.proof_check import check_proof, check_set_lengths
from trimopt.check.request_check import (
    check_held,
    check_replanned,
    check_settings,
    check_shift,
    check_ways_out,
    held_beside,
)
from trimopt.check.sets_check import check_sets
from trimopt.check.sheeters_check import check_loads, cut_by
from trimopt.check.stock_check import check_stock, check_stock_widths, stock_widths
from trimopt.errors import MillFileError, types_checked
from trimopt.mill.model import Mill
from trimopt.plan.model import CAUTION, SCHEMA, Block, Plan, Request, RunPlan
from trimopt.plan.states import LACKING


@types_checked
def verify_plan(
    plan: Plan, book: Book, mill: Mill, request: Request | None = None
) -> tuple[Finding, ...]:
    """What does not hold in a plan. Empty: everything holds.

    Parameters
    ----------
    plan
        Just made, or read back after somebody changed it.
    book, mill
        The order book and the mill file that it was made from.
    request
        What was asked, where it is known; else it is what the plan says.

    Returns
    -------
    tuple of Finding
        In the order of the plan: what concerns the whole, then run by run.
    """
    notes, orders_alone = Findings(), book
    _guarded(notes, "held enquiries", lambda: check_held(plan, orders_alone, notes))
    book = held_beside(book, plan)
    _guarded(notes, "plan", lambda: _check_heading(plan, book, mill, notes))
    _guarded(notes, "settings", lambda: check_settings(plan, book, mill, request, notes))
    _guarded(notes, "orders", lambda: _check_every_order(plan, book, mill, notes))
    _guarded(notes, "jumbos", lambda: _check_jumbo_names(plan, notes))
    _guarded(notes, "jumbos", lambda: check_unused(plan, book, notes))
    _guarded(notes, "shift", lambda: check_shift(plan, notes))
    _guarded(notes, "sets done", lambda: check_replanned(plan, notes))
    _guarded(notes, "instructions", lambda: check_every_instruction(plan, book, notes))
    by_number = {order.number: order for order in book.orders}
    _guarded(notes, "stock", lambda: check_stock(plan, book, mill, by_number, notes))
    _guarded(notes, "ways out", lambda: check_ways_out(plan, book, mill, notes))
    _guarded(notes, "sheeters", lambda: check_loads(plan, by_number, mill, notes))
    findings = list(notes.findings)
    before: Block | None = None
    done: Block | None = None  # the last that has run
    for run in plan.runs:
        ran = [block for block in run.blocks if block.sets and block.sets[0].done]
        findings += _check_run(run, plan, book, mill, by_number, before=done if ran else before)
        before = run.blocks[-1] if run.blocks else before
        done = ran[-1] if ran else done
    return tuple(findings)


def _guarded(notes: Findings, what: str, check: Callable[[], None]) -> None:
    """Run one part of the check; what nonsense breaks in it is a finding like any other."""
    try:
        check()
    except (ArithmeticError, ValueError, LookupError, TypeError, AttributeError) as fault:
        notes.add(what, "could be checked", "", f"{type(fault).__name__}: {fault}")


def _check_heading(plan: Plan, book: Book, mill: Mill, notes: Findings) -> None:
    for what, claimed, found in (
        # A plan that an earlier program issued is read in today's fields, and stays as issued.
        ("schema", plan.schema, min(max(plan.schema, 1), SCHEMA)),
        ("mill", plan.mill_name, mill.name),
        ("winder", plan.winder, mill.winder.name),
        ("fingerprint of the order book", plan.book.fingerprint, book.fingerprint),
        ("fingerprint of the mill file", plan.mill.fingerprint, mill.fingerprint),
        ("day it was judged at", plan.as_of, book.as_of),
        ("caution", plan.caution, CAUTION),
    ):
        notes.same("", what, claimed, found)
    names = Counter(run.name for run in plan.runs)
    for name, times in names.items():
        if times > 1:
            notes.add("", f"a run's name, {name}", f"{times} times", "once")


def _check_every_order(plan: Plan, book: Book, mill: Mill, notes: Findings) -> None:
    known = {order.number for order in book.orders}
    runs_of = Counter(line.number for run in plan.runs for line in run.orders)
    left_out = {row.order for row in plan.left_out}
    instructions = {one.name for one in (*book.instructions, *plan.request.instructions)}
    held = {each.number for each in plan.request.held}
    for number, times in runs_of.items():
        if number not in known | {each.name for each in mill.stock_widths}:
            notes.add(f"order {number}", "stands in the order book", "", "not there")
        if times > 1:
            notes.add(f"order {number}", "stands once in the plan", times, 1)
        if number in left_out:
            notes.add(f"order {number}", "planned or left out", "both", "one of them")
    for number in sorted(known - set(runs_of) - left_out):
        notes.add(f"order {number}", "planned, or left out with a reason", "", "neither")
    for each in book.left_out:
        if each not in plan.left_out:
            notes.add(f"order {each.order}", "is named as left out", "", each.why)
    for row in plan.left_out:
        if row not in book.left_out and row.order not in known | instructions | held:
            notes.add(f"order {row.order}", "left out of the plan", "", "not in the order book")


def _check_jumbo_names(plan: Plan, notes: Findings) -> None:
    runs_of: dict[str, list[str]] = {}
    for run in plan.runs:
        for name in {jumbo.name for jumbo in run.jumbos}:
            runs_of.setdefault(name, []).append(run.name)
    for name, runs in sorted(runs_of.items()):
        if len(runs) > 1:
            notes.add(f"jumbo {name}", "belongs to one run", tuple(runs), "two runs name it")


def _check_run(
    run: RunPlan,
    plan: Plan,
    book: Book,
    mill: Mill,
    by_number: Mapping[str, Order],
    *,
    before: Block | None,
) -> tuple[Finding, ...]:
    notes = Findings(run.name)
    of_paper = _mill_for(run, mill, notes)
    if of_paper is None:
        return notes.findings
    known = {**by_number, **stock_widths(mill, run)}
    orders = {
        line.number: replace(known[line.number], stock=line.stock)
        for line in run.orders
        if line.number in known
    }
    case = CheckContext(
        run=run,
        mill=of_paper,
        book=book,
        orders=orders,
        notes=notes,
        cut=cut_by(plan, run.name),
        before=before,
        instructions=tuple(
            one
            for one in (*book.instructions, *plan.request.instructions)
            if one.named <= by_number.keys()
        ),
    )
    for what, check in (
        ("run", _check_same_paper),
        ("set lengths", check_set_lengths),
        ("sets", check_sets),
        ("knives", check_knives),
        ("jumbos", check_jumbos),
        ("defects", check_defects),
        ("times", check_times),
        ("orders", _check_quantities),
        ("stock widths", check_stock_widths),
        ("proof", check_proof),
        ("instructions", check_instructions),
    ):
        _guarded(notes, what, partial(check, case))
    return notes.findings


def _mill_for(run: RunPlan, mill: Mill, notes: Findings) -> Mill | None:
    """The mill as the run sees it: a jumbo stated by diameter or mass has its length.

    None: its grammage is none, or the mill's losses leave nothing of such a jumbo.
    """
    if not 0 < run.grammage_gsm < math.inf:
        notes.add("run", "grammage", run.grammage_gsm, "no grammage of a paper")
        return None
    grade = mill.grade(run.grade)
    if grade is None:
        return mill
    try:
        return mill.for_paper(grade, run.grammage_gsm)
    except MillFileError as fault:
        notes.add("run", "a jumbo of this paper", "", str(fault))
        return None


def _check_quantities(case: CheckContext) -> None:
    made = made_by(case.run, case.orders, case.mill)
    check_orders(case, made)
    check_balance(case, made)


def _check_same_paper(case: CheckContext) -> None:
    """Grade, grammage, caliper, jumbo width and deckle of a run, and that its orders share them."""
    run, notes = case.run, case.notes
    if case.mill.grade(run.grade) is None:
        notes.add("run", "grade", run.grade, "not in the mill file")
    notes.near("run", "wound caliper, µm", run.wound_caliper_um, case.caliper_um, 0.051)
    for order in case.orders.values():
        where = f"order {order.number}"
        if grade_key(order.grade) != grade_key(run.grade):
            notes.add(where, "grade of its run", run.grade, order.grade)
        notes.same(where, "grammage of its run", run.grammage_gsm, order.grammage_gsm)
    notes.same("run", "winder", run.winder, case.winder.name)
    for row in case.run.sets:
        notes.same(f"set {row.number}", "winder", row.winder, run.winder)
    for jumbo in run.jumbos:
        notes.same(f"jumbo {jumbo.name}", "winder", jumbo.winder, run.winder)
    notes.same("run", "cores of the winder", run.cores, case.winder.cores)
    stock = stock_of(run, case.book, case.mill)
    widths = {case.mill.jumbo.width_mm} | {jumbo.width_mm for jumbo in stock.values()}
    if run.jumbo_width_mm not in widths:
        notes.add("run", "jumbo width, mm", run.jumbo_width_mm, tuple(sorted(widths)))
    inside_mm = run.jumbo_width_mm - 2 * case.winder.min_edge_trim_mm
    notes.same("run", "deckle, mm", run.deckle_mm, min(inside_mm, case.winder.max_web_mm))
    waiting = [line for line in run.orders if line.min_quantity > 0]
    if not run.blocks and any(line.state not in LACKING for line in waiting):
        notes.add("run", "blocks", "none", "orders are still to be made")
