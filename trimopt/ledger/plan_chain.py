"""Which plan replaces which, and in which of them a set counts.

Plans that replace each other are a chain, in the order in which they were made. Where two say that
they replace the same plan, the later replaces the earlier as well: the crew hold one sheet. The
last plan of a chain stands; of the others only what was run counts.

A set that a plan takes over as it was issued is the same set, and counts once: in the plan that it
is recorded under, else in the last that had it to run yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from heapq import merge
from itertools import pairwise
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    Row,
    Subquery,
    and_,
    case,
    exists,
    func,
    literal,
    or_,
    select,
    update,
)

from trimopt.ledger.ledger_tables import as_run, pieces, plans, runs, sets
from trimopt.plan.model import Plan
from trimopt.text import one_form

_Plan = Row[Any]
_KEY = ("plan_id", "run", "number")
_ALIKE = ("last", "name", "origin", "number")
# A plan's moment is when its making began: one begun later at another desk may be issued before.
_WHILE_PLANNED = timedelta(hours=1)


def join_chain(connection: Connection, plan_id: int) -> tuple[str, str]:
    """Put a plan that nothing names as replacing into the chain of the plan that it replaces.

    Numbers are counted in a folder of plans, so they come again when it is emptied or when another
    desk has its own. The plan meant is the latest earlier one of that number for the same mill and
    winder, with some of the same orders, else one that was begun while this one was being planned
    and issued first; where there is none, the latest that replaces it too.

    Returns
    -------
    str
        Number and moment of the plan before it in the chain; empty where it replaces none.
    str
        What the reader should know of that.
    """
    me = _plan(connection, plan_id)
    if not me.replaces:
        return "", ""
    of_number = plans.c.number == me.replaces
    meant = _earlier(connection, me, of_number)
    meant = meant or _earlier(connection, me, of_number, within=_WHILE_PLANNED)
    beside = [] if meant else _earlier(connection, me, plans.c.replaces == me.replaces)
    if not meant and not beside:
        return "", f"plan {me.replaces}, which it replaces, is not in the ledger"
    first = (meant or beside)[0]
    theirs, mine = _after(connection, first), [me, *_after(connection, me)]
    chain = [first, *merge(theirs, mine, key=lambda each: (each.made_at, each.id))]
    for one, other in pairwise(chain):
        connection.execute(update(plans).where(plans.c.id == one.id).values(replaced_by=other.id))
    before = chain[chain.index(me) - 1]
    return f"{before.number} of {before.made_at:%Y-%m-%d %H:%M}", _note(me, chain, meant)


def join_those_after(connection: Connection, plan_id: int) -> None:
    """Put plans that were kept before the one that they replace into its chain."""
    me = _plan(connection, plan_id)
    waiting = select(plans.c.id).where(
        _like(me),
        plans.c.replaces == me.number,
        plans.c.made_at >= me.made_at - _WHILE_PLANNED,
        ~plans.c.id.in_(select(plans.c.replaced_by).where(plans.c.replaced_by.is_not(None))),
    )
    for later in connection.scalars(waiting.order_by(plans.c.made_at, plans.c.id)).all():
        join_chain(connection, later)


def note_beside(connection: Connection, plan_id: int) -> str:
    """What to know of plans that stand beside one, for orders and hours that are its own too."""
    me = _plan(connection, plan_id)
    if _after(connection, me):
        return ""
    mine, its = sets.alias(), sets.alias()
    hours = select(func.min(mine.c.at), func.max(mine.c.at)).where(mine.c.plan_id == plan_id)
    first, last = connection.execute(hours).one()
    found = connection.scalars(
        select(plans.c.number)
        .where(
            _like(me),
            plans.c.replaced_by.is_(None),
            exists().where(its.c.plan_id == plans.c.id, its.c.at.between(first, last)),
        )
        .order_by(plans.c.made_at, plans.c.id)
    ).all()
    if not found:
        return ""
    which = f"plans {', '.join(found)} have" if len(found) > 1 else f"plan {found[0]} has"
    return (
        f"{which} some of the same orders in the same hours, and neither replaces the other, so "
        "the trend counts both: plan a shift under one name of its book"
    )


def standing(connection: Connection, plan: Plan, stem: str) -> str:
    """The number of the plan that a new plan of a book replaces; empty where it replaces none.

    It is the last that was made under the book's name for the same mill and winder with some of
    the same orders, and that no other replaces.
    """
    ordered = plan.order_numbers - {""}
    its = pieces.alias()
    found = connection.scalars(
        select(plans.c.number)
        .where(
            plans.c.mill_name == plan.mill_name,
            plans.c.winder == plan.winder,
            plans.c.replaced_by.is_(None),
            exists().where(its.c.plan_id == plans.c.id, its.c.order_number.in_(ordered)),
        )
        .order_by(plans.c.made_at.desc(), plans.c.id.desc())
    )
    book = one_form(stem).casefold()
    stems = ((each, each.rpartition("-")[0]) for each in found)
    return next((each for each, its_stem in stems if one_form(its_stem).casefold() == book), "")


def newest_after(connection: Connection, plan_id: int) -> str:
    """The number of the last plan of the chain behind a plan; empty where that is the last."""
    later = _after(connection, _plan(connection, plan_id))
    return str(later[-1].number) if later else ""


def counted_sets() -> Subquery:
    """The sets that count, by plan, run and number, each once."""
    same = _same_sets()
    ran = func.coalesce(as_run.c.length_m, 0.0) > 0
    alike = tuple(same.c[name] for name in _ALIKE)
    to_run_last = case((same.c.done, -same.c.back), else_=same.c.back)
    judged = (
        select(
            same.c.plan_id,
            same.c.run,
            same.c.number,
            func.row_number()
            .over(partition_by=alike, order_by=(case((ran, 0), else_=1), same.c.done, to_run_last))
            .label("turn"),
            func.max(case((or_(same.c.back == 0, same.c.done, ran), 1), else_=0))
            .over(partition_by=alike)
            .label("counts"),
        )
        .select_from(same.outerjoin(as_run, same_set(as_run, same)))
        .subquery()
    )
    return (
        select(judged.c.plan_id, judged.c.run, judged.c.number)
        .where(judged.c.turn == 1, judged.c.counts == 1)
        .subquery()
    )


def recorded_elsewhere(connection: Connection, plan_id: int) -> Sequence[Row[Any]]:
    """What is recorded under other plans of sets that a plan has to run.

    Returns
    -------
    sequence of Row
        Columns of `as_run`, with `run` and `number` as of this plan, and `plan`, the number of the
        other.
    """
    same = _same_sets()
    mine, other = same.alias(), same.alias()
    written = [column for column in as_run.c if column.name not in _KEY]
    found = (
        select(mine.c.run, mine.c.number, plans.c.number.label("plan"), *written)
        .select_from(mine)
        .join(
            other,
            and_(
                *(mine.c[name] == other.c[name] for name in _ALIKE),
                mine.c.plan_id != other.c.plan_id,
            ),
        )
        .join(as_run, same_set(as_run, other))
        .join(plans, plans.c.id == other.c.plan_id)
        .where(mine.c.plan_id == plan_id, ~mine.c.done)
        .order_by(mine.c.run, mine.c.number, plans.c.made_at)
    )
    return connection.execute(found).all()


def same_set(one: FromClause, other: FromClause) -> ColumnElement[bool]:
    """Condition on two rows: of the same set of the same plan."""
    return and_(*(one.c[name] == other.c[name] for name in _KEY))


def _same_sets() -> Subquery:
    """Every set with what makes it the same (`_ALIKE`), and `back`, plans before the chain's last.

    Its `origin` is the plan that it was first issued with.
    """
    chain = (
        select(plans.c.id.label("plan_id"), plans.c.id.label("last"), literal(0).label("back"))
        .where(plans.c.replaced_by.is_(None))
        .cte("chain", recursive=True)
    )
    earlier = plans.alias("earlier")
    chain = chain.union_all(
        select(earlier.c.id, chain.c.last, chain.c.back + 1).join(
            chain, earlier.c.replaced_by == chain.c.plan_id
        )
    )
    origin = case((sets.c.issued == "", plans.c.number), else_=sets.c.issued)
    return (
        select(
            sets.c.plan_id,
            sets.c.run,
            sets.c.number,
            sets.c.done,
            runs.c.name,
            chain.c.last,
            chain.c.back,
            origin.label("origin"),
        )
        .join(plans, plans.c.id == sets.c.plan_id)
        .join(chain, chain.c.plan_id == sets.c.plan_id)
        .join(runs, and_(runs.c.plan_id == sets.c.plan_id, runs.c.run == sets.c.run))
        .subquery()
    )


def _plan(connection: Connection, plan_id: int) -> _Plan:
    known = [plans.c[n] for n in ("id", "number", "mill_name", "winder", "made_at", "replaces")]
    return connection.execute(select(*known).where(plans.c.id == plan_id)).one()


def _after(connection: Connection, plan: _Plan) -> list[_Plan]:
    """The plans of the chain behind a plan, in order."""
    found: list[_Plan] = []
    at = plan.id
    while (
        at := connection.scalar(select(plans.c.replaced_by).where(plans.c.id == at))
    ) is not None:
        found.append(_plan(connection, at))
    return found


def _like(me: _Plan) -> ColumnElement[bool]:
    """Condition on a plan: of the same mill and winder, with reels for some of the same orders."""
    its, mine = pieces.alias(), pieces.alias()
    orders = select(mine.c.order_number).where(mine.c.plan_id == me.id, mine.c.order_number != "")
    return and_(
        plans.c.mill_name == me.mill_name,
        plans.c.winder == me.winder,
        plans.c.id != me.id,
        exists().where(its.c.plan_id == plans.c.id, its.c.order_number.in_(orders)),
    )


def _earlier(
    connection: Connection,
    me: _Plan,
    condition: ColumnElement[bool],
    *,
    within: timedelta = timedelta(),
) -> Sequence[_Plan]:
    """Plans like one that were made before it, or `within` so long after, the latest first."""
    found = connection.scalars(
        select(plans.c.id)
        .where(_like(me), condition, plans.c.made_at <= me.made_at + within)
        .order_by(plans.c.made_at.desc(), plans.c.id.desc())
    ).all()
    return [_plan(connection, each) for each in found]


def _note(me: _Plan, chain: Sequence[_Plan], meant: Sequence[_Plan]) -> str:
    at = chain.index(me)
    said = []
    if len(meant) > 1:
        said.append(
            f"{len(meant)} plans of number {me.replaces} stood in the ledger; the latest was taken "
            "as the one replaced"
        )
    if chain[at - 1].number != me.replaces:
        said.append(
            f"{chain[at - 1].number} replaced {me.replaces} before: this later plan replaces it "
            "too, so destroy its sheets and labels; of it only sets that were run count"
        )
    if chain[-1] is not me and chain[at + 1].replaces != me.number:
        said.append(
            f"{chain[at + 1].number}, made later, replaces {me.replaces} too: of this plan only "
            "sets that were run count"
        )
    return "; ".join(said)
