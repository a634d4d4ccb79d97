"""Ways out where a run will not trim: each change is planned, and ranked by what it saves.

For every run above the mill's target of trim loss. A figure is the cost of the run planned without
the change less its cost with it, both by the same search of quick effort; what the clock stopped
is not told. So many changes are planned, for the orders beside which most trim lies, and no longer
than so many seconds: what is left unplanned is counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from itertools import chain, islice, zip_longest

from trimopt.book.model import Book, Order, Product, grade_key, paper_key
from trimopt.budget import Budget
from trimopt.errors import InfeasibleError, OutOfTimeError
from trimopt.making.stock_widths import stock_orders
from trimopt.mill.model import Mill
from trimopt.paper import Measured, mass_kg
from trimopt.plan.model import Effort, Plan, RunPlan
from trimopt.plan.planning.plan_run import PlannedRun
from trimopt.plan.planning.run_patterns import RunTask
from trimopt.plan.planning.run_workers import planned_runs
from trimopt.plan.states import OrderState
from trimopt.plan.way_out import MOVED, NEXT_RUN, TAKEN_IN, RunWaysOut, WayOut
from trimopt.workers import own_processes

_MAX_PLANNED = 24  # changes of a run
_SECONDS = 120.0  # of all runs, no more than the time limit
_ORDERS = 4  # with most trim beside them: so many are asked of each kind
_TOLERANCE = Fraction(5, 100)  # of the quantity, more on either side
_FEW_MM = 10  # how far a customer may be asked to move a width
_DIAMETER_MM = 50.0  # below the min. diameter
_NARROWER = Fraction(1, 10)  # of its width: what a machine may be asked for, common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """A change, and the run as it is then; `way` says what it is and has no figures yet."""

    way: WayOut
    task: RunTask


def ways_out(
    plan: Plan, tasks: Sequence[RunTask], book: Book, *, processes: int | None, budget: Budget
) -> tuple[RunWaysOut, ...]:
    """What would save paper or money in each run that is above the target.

    Parameters
    ----------
    tasks
        What its runs were planned from.
    book
        Its run days say when the next run of a paper begins.
    processes
        How many runs are planned at the same time; None: one for each processor.
    """
    by_name = {task.run.name: task for task in tasks}
    above = [
        (run, by_name[run.name])
        for run in plan.runs
        if run.name in by_name and run.balance.trim_loss * 100 > _target(by_name[run.name].mill)
    ]
    lasting = Budget.lasting(min(_SECONDS, budget.left_s))
    return tuple(
        _of_run(
            run,
            task,
            _next_begins(run, book),
            _could_be_taken_in(run, book),
            processes=processes,
            budget=lasting.share(1 / (len(above) - place)),
        )
        for place, (run, task) in enumerate(above)
    )


def _target(mill: Mill) -> float:
    return mill.trim_target_percent if mill.trim_target_percent is not None else 100.0


def _next_begins(run: RunPlan, book: Book) -> datetime | None:
    """When the paper is run next, by the run days of the book; None: they do not say."""
    begins = [
        day.begins
        for day in book.run_days
        if paper_key(day) == paper_key(run) and run.finish is not None and day.begins > run.finish
    ]
    return min(begins, default=None)


def _could_be_taken_in(run: RunPlan, book: Book) -> list[Order]:
    """Lines for the next run of the paper, due ones first; none where this one lacks hours."""
    if any(OrderState.CARRIED_OVER in line.states for line in run.orders):
        return []
    later = [order for order in book.next_run if paper_key(order) == paper_key(run)]
    return sorted(later, key=lambda each: (0, each.due.isoformat()) if each.due else (1, ""))


def _of_run(
    run: RunPlan,
    task: RunTask,
    next_begins: datetime | None,
    later: Sequence[Order],
    *,
    processes: int | None,
    budget: Budget,
) -> RunWaysOut:
    settings = replace(task.settings, effort=Effort.QUICK)
    quick = replace(task, settings=settings, budget=budget, parts=(1.0,))
    changes = list(_changes(run, quick, next_begins, later))
    asked = [quick, *(each.task for each in changes[:_MAX_PLANNED])]
    answers = _planned(asked, processes)
    before = answers[0]
    ways, planned = [], 0
    for change, after in zip(changes, answers[1:], strict=False):
        if before is None or after is None:
            continue
        planned += 1
        way = _figured(change.way, before, after)
        if way.saved > 0:
            ways.append(way)
    return RunWaysOut(
        run=run.name,
        trim_loss=run.balance.trim_loss,
        target=_target(task.mill) / 100,
        unit=_unit(task),
        planned=planned,
        unplanned=len(changes) - planned,
        ways=tuple(sorted(ways, key=lambda way: (-way.saved, way.what))),
    )


def _unit(task: RunTask) -> str:
    return task.settings.currency or "money" if task.settings.priced else "kg"


def _planned(tasks: Sequence[RunTask], processes: int | None) -> list[PlannedRun | None]:
    """Each run planned by the same work; None where the clock or the change itself forbids it."""
    answers: list[PlannedRun | None] = []
    with own_processes(processes, len(tasks)) as team:
        size = team.count if team else 1
        for at in range(0, len(tasks), size):
            batch = tasks[at : at + size]
            if batch[0].budget.over():
                break
            try:
                answers += planned_runs(batch, team)
            except (InfeasibleError, OutOfTimeError):
                answers += [None] * len(batch)
    answers += [None] * (len(tasks) - len(answers))
    return [
        each if each and each.wound and not each.wound.plan.proof.clock_stopped else None
        for each in answers
    ]


def _figured(way: WayOut, before: PlannedRun, after: PlannedRun) -> WayOut:
    """The way with what it saves. An order that only one of the two leaves out decides it."""
    assert before.wound is not None
    assert after.wound is not None
    was, now = before.wound.plan, after.wound.plan
    objective = before.wound.chosen.objective
    cost = objective.cost_of_plan
    elsewhere_kg = 0.0
    if way.kind in MOVED:
        target = _target(before.wound.chosen.mill) / 100
        moved_kg = was.balance.delivered_kg - now.balance.delivered_kg
        moved_kg = max(0.0, moved_kg) if way.kind == NEXT_RUN else min(0.0, moved_kg)
        elsewhere_kg = moved_kg * target / (1 - target)
    if {each.order for each in after.left_out} - {each.order for each in before.left_out}:
        return way
    return replace(
        way,
        saved=cost(was) - cost(now) - elsewhere_kg * objective.per_kg,
        saved_kg=_lost_kg(was) - _lost_kg(now) - elsewhere_kg,
        set_ups=now.set_ups - was.set_ups,
        trim_loss=now.balance.trim_loss,
    )


def _lost_kg(run: RunPlan) -> float:
    balance = run.balance
    return balance.used_kg - balance.delivered_kg - balance.stock_worth_kg


def _changes(
    run: RunPlan, task: RunTask, next_begins: datetime | None, later: Sequence[Order]
) -> Iterator[_Change]:
    """Every change that is asked, kinds in turn, for the orders with most trim beside them."""
    trim_mm = _trim_beside(run)
    orders = sorted(task.run.ordered, key=lambda order: -trim_mm[order.number])[:_ORDERS]
    kinds: tuple[Iterator[_Change], ...] = (
        _stock_widths(task),
        chain.from_iterable(_widths(order, run, task) for order in orders),
        (_tolerance(order, task) for order in orders),
        chain.from_iterable(_diameter(order, task) for order in orders),
        chain.from_iterable(_next_run(order, run, task, next_begins) for order in orders),
        (_taken_in(order, task, next_begins) for order in later),
        _set_up(task),
        _deckle(run, task),
    )
    for turn in zip_longest(*kinds):
        yield from (change for change in turn if change is not None)


def _trim_beside(run: RunPlan) -> Counter[str]:
    """Trim in the sets of each order, kg; trim of a set is beside all of its orders."""
    found: Counter[str] = Counter()
    for block in run.blocks:
        metres = sum(row.length_m for row in block.sets)
        trim_kg = mass_kg(run.deckle_mm - block.reels_mm, metres, run.grammage_gsm)
        for number in {reel.order for reel in block.reels}:
            found[number] += round(1000 * trim_kg)
    return found


def _with(task: RunTask, order: Order, changed: Order) -> RunTask:
    orders = tuple(changed if each is order else each for each in task.run.orders)
    return replace(task, run=replace(task.run, orders=orders))


def _mm(task: RunTask, width_mm: Fraction | float) -> str:
    return task.run.written.text(Measured.WIDTH, width_mm)


def _stock_widths(task: RunTask) -> Iterator[_Change]:
    """Stock widths of the grade in another grammage, made of this one too."""
    run, mill = task.run, task.mill
    here = {order.width_mm for order in run.orders if order.stock_share is not None}
    others = [
        each
        for each in mill.stock_widths
        if grade_key(each.grade) == grade_key(run.grade) and each.width_mm not in here
    ]
    asked = tuple(replace(each, grammage_gsm=run.grammage_gsm) for each in others)
    for order in stock_orders(replace(mill, stock_widths=asked), run.grade, run.grammage_gsm):
        most = task.run.written.text(
            Measured.MASS, next(each.max_kg for each in asked if each.name == order.number)
        )
        yield _Change(
            way=WayOut(
                kind="stock width",
                what=f"{_mm(task, order.width_mm)} made for stock of this paper too, up to {most}",
                asks="planning",
            ),
            task=replace(task, run=replace(run, orders=(*run.orders, order))),
        )


def _widths(order: Order, run: RunPlan, task: RunTask) -> Iterator[_Change]:
    """A width wider by what is left beside it, and one narrower, both by a few millimetres."""
    if order.product is not Product.REEL:
        return
    step, most = task.mill.width_step_mm, Fraction(_FEW_MM)
    gaps = [
        (run.deckle_mm - block.across_mm) / sum(p.order == order.number for p in block.positions)
        for block in run.blocks
        if any(p.order == order.number for p in block.positions)
    ]
    wider = min([most, *(gap for gap in gaps if gap > 0)]) // step * step
    for width_mm in (order.width_mm + wider, order.width_mm - most // step * step):
        if width_mm != order.width_mm and width_mm >= task.mill.winder.min_reel_width_mm:
            said = f"{_mm(task, width_mm)} in place of {_mm(task, order.width_mm)}"
            yield _Change(
                way=WayOut(kind="width", order=order.number, what=said, asks="sales"),
                task=_with(task, order, replace(order, width_mm=width_mm)),
            )


def _tolerance(order: Order, task: RunTask) -> _Change:
    under, over = order.under + _TOLERANCE, order.over + _TOLERANCE
    said = (
        f"tolerance −{float(100 * under):g}/+{float(100 * over):g} % in place of "
        f"−{float(100 * order.under):g}/+{float(100 * order.over):g} %"
    )
    return _Change(
        way=WayOut(kind="tolerance", order=order.number, what=said, asks="sales"),
        task=_with(task, order, replace(order, under=min(under, Fraction(1)), over=over)),
    )


def _diameter(order: Order, task: RunTask) -> Iterator[_Change]:
    """A smaller min. diameter, no smaller than the winder's."""
    if order.product is not Product.REEL or order.min_diameter_mm is None:
        return
    least_mm = max(order.min_diameter_mm - _DIAMETER_MM, task.mill.winder.min_reel_diameter_mm)
    if least_mm < order.min_diameter_mm:
        was = _mm(task, order.min_diameter_mm)
        yield _Change(
            way=WayOut(
                kind="diameter",
                order=order.number,
                what=f"diameter from {_mm(task, least_mm)} in place of {was}",
                asks="sales",
            ),
            task=_with(task, order, replace(order, min_diameter_mm=least_mm)),
        )


def _next_run(
    order: Order, run: RunPlan, task: RunTask, next_begins: datetime | None
) -> Iterator[_Change]:
    """The run without an order that can wait: where it is made it is taken to lose the target."""
    orders = tuple(each for each in task.run.orders if each is not order)
    earliest = next_begins or run.finish
    too_late = order.due is not None and earliest is not None and order.due <= earliest
    if not too_late and any(each.stock_share is None for each in orders):
        said = f"made in {_next_of(next_begins)}, at the target of trim loss there"
        yield _moved(NEXT_RUN, order, said, task, orders)


def _taken_in(order: Order, task: RunTask, next_begins: datetime | None) -> _Change:
    """The run with an order of the next one, which is taken to lose the target there."""
    said = f"{_mm(task, order.width_mm)}, made in this run, not in {_next_of(next_begins)}"
    return _moved(TAKEN_IN, order, said, task, (*task.run.orders, order))


def _moved(kind: str, order: Order, what: str, task: RunTask, orders: tuple[Order, ...]) -> _Change:
    """The run with these orders, of which `order` is one more or one less."""
    kept = tuple(one for one in task.instructions if order.number not in one.named)
    return _Change(
        way=WayOut(kind=kind, order=order.number, what=what, asks="planning", due=order.due),
        task=replace(task, run=replace(task.run, orders=orders), instructions=kept),
    )


def _next_of(begins: datetime | None) -> str:
    return "the next run of this paper" + (f" of {begins:%Y-%m-%d %H:%M}" if begins else "")


def _set_up(task: RunTask) -> Iterator[_Change]:
    """One set-up more where an instruction sets a cap."""
    caps = [one for one in task.instructions if one.what == "set-ups" and one.number is not None]
    for cap in islice(sorted(caps, key=lambda one: one.number or 0), 1):
        raised = tuple(
            replace(one, number=one.number + 1) if one in caps and one.number is not None else one
            for one in task.instructions
        )
        said = f"at most {(cap.number or 0) + 1} set-ups in place of {cap.number}"
        yield _Change(
            way=WayOut(kind="set-up", what=said, asks="planning"),
            task=replace(task, instructions=raised),
        )


def _deckle(run: RunPlan, task: RunTask) -> Iterator[_Change]:
    """A jumbo a little narrower, by what is left in every set, or in most; where none is listed."""
    left = sorted(run.deckle_mm - block.reels_mm for block, _ in run.sets_in_blocks)
    asked = (left[0], left[len(left) // 2]) if left else ()
    narrower = dict.fromkeys(Fraction(mm // 5 * 5) for mm in asked)
    mill = task.mill
    for less_mm in narrower if not task.stock else ():
        width_mm = mill.jumbo.width_mm - less_mm
        if 0 < less_mm <= _NARROWER * mill.jumbo.width_mm:
            said = f"jumbos {_mm(task, width_mm)} wide in place of {_mm(task, mill.jumbo.width_mm)}"
            yield _Change(
                way=WayOut(kind="deckle", what=said, asks="machine"),
                task=replace(
                    task, mill=replace(mill, jumbo=replace(mill.jumbo, width_mm=width_mm))
                ),
            )
