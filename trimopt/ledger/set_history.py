"""The sets that count in a period, planned beside run."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy import (
    URL,
    ColumnElement,
    Connection,
    Row,
    Select,
    and_,
    case,
    func,
    or_,
    select,
    true,
)

from trimopt.errors import LedgerError
from trimopt.ledger.ledger_file import reading
from trimopt.ledger.ledger_tables import PARTS, as_run, pieces, plans, runs, sets
from trimopt.ledger.plan_chain import counted_sets, same_set
from trimopt.ledger.trend_model import Asked


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Sets that count, and what their pieces carried of the pattern trim.

    `sets` has the planned figures under the ledger's names, and those as run with `run_` before
    them: 0 where nothing was recorded; what the crew wrote is None where it is blank. `pieces` is
    summed by order and width.
    """

    sets: tuple[Row[Any], ...]
    pieces: tuple[Row[Any], ...]
    replaced_plans: int


def read_history(url: URL, asked: Asked) -> History:
    """Read the sets that count.

    A set counts once, as `trimopt.ledger.plan_chain` says. It stands in the period in which it is
    planned to begin.

    Raises
    ------
    LedgerError
        The ledger cannot be read, holds nothing of what was asked, or does not balance.
    """
    with reading(url) as connection:
        _require_balance(connection)
        condition = _condition(asked)
        counted = tuple(connection.execute(_sets_asked(condition)).all())
        if not counted:
            raise LedgerError(_nothing(connection, asked))
        return History(
            sets=counted,
            pieces=tuple(connection.execute(_pieces_asked(condition)).all()),
            replaced_plans=connection.scalar(
                select(func.count()).select_from(plans).where(plans.c.replaced_by.is_not(None))
            )
            or 0,
        )


def _condition(asked: Asked) -> ColumnElement[bool]:
    terms: list[ColumnElement[bool]] = [true()]
    if asked.begins is not None:
        terms.append(sets.c.at >= datetime.combine(asked.begins, time()))
    if asked.ends is not None:
        terms.append(sets.c.at < datetime.combine(asked.ends + timedelta(days=1), time()))
    if asked.grade:
        terms.append(func.lower(runs.c.grade) == asked.grade.strip().lower())
    if asked.winder:
        terms.append(func.lower(sets.c.winder) == asked.winder.strip().lower())
    return and_(*terms)


def _joined() -> Any:
    same_run = and_(runs.c.plan_id == sets.c.plan_id, runs.c.run == sets.c.run)
    counts = counted_sets()
    return (
        sets.join(counts, same_set(counts, sets))
        .join(plans, plans.c.id == sets.c.plan_id)
        .join(runs, same_run)
        .outerjoin(as_run, same_set(as_run, sets))
    )


def _sets_asked(condition: ColumnElement[bool]) -> Select[Any]:
    planned = [column for column in sets.c if column.name not in ("jumbos", "done", "issued")]
    written = (
        "done", "length_wound_m", "reason", "jumbo_width_mm", "jumbo_length_m", "edge_front_mm",
        "edge_back_mm",
    )  # fmt: skip
    summed = ("reels_rejected", "minutes_stopped", "length_m", "set_ups", "knife_moves", *PARTS)
    as_it_was = [
        *(as_run.c[name].label(f"run_{name}") for name in written),
        *(func.coalesce(as_run.c[name], 0.0).label(f"run_{name}") for name in summed),
    ]
    plan = [plans.c.number.label("plan"), plans.c.mill_name, plans.c.made_at]
    replaced = plans.c.replaced_by.is_not(None).label("replaced")
    run = [runs.c.name.label("run_name"), runs.c.grade, runs.c.grammage_gsm.label("gsm")]
    return (
        select(*planned, *as_it_was, *plan, replaced, *run)
        .select_from(_joined())
        .where(condition)
        .order_by(sets.c.at, sets.c.plan_id, sets.c.run, sets.c.number)
    )


def _pieces_asked(condition: ColumnElement[bool]) -> Select[Any]:
    """Pattern trim by order and width, as planned and as run.

    A set's pattern trim is shared over its pieces by width; reels of one set are of one length, so
    by width is by mass.
    """
    ran = as_run.c.length_m > 0
    reels_kg = sets.c.deckle_kg - sets.c.pattern_trim_kg
    as_it_was = as_run.c.pattern_trim_kg * pieces.c.reels_kg / reels_kg
    keys = (pieces.c.order_number, pieces.c.customer, pieces.c.width_mm)
    return (
        select(
            *keys,
            func.sum(pieces.c.reels).label("reels"),
            func.sum(pieces.c.reels_kg).label("reels_kg"),
            func.sum(pieces.c.pattern_trim_kg).label("planned_kg"),
            func.sum(case((ran, pieces.c.pattern_trim_kg), else_=0.0)).label("planned_of_run_kg"),
            func.sum(case((ran, as_it_was), else_=0.0)).label("run_kg"),
        )
        .select_from(_joined().join(pieces, same_set(pieces, sets)))
        .where(condition, pieces.c.kind != "broke")
        .group_by(*keys)
    )


def _require_balance(connection: Connection) -> None:
    """See that every run's sets add up to its balance, before anything is summed from them."""
    summed = (
        select(sets.c.plan_id, sets.c.run, *(func.sum(sets.c[n]).label(n) for n in PARTS))
        .group_by(sets.c.plan_id, sets.c.run)
        .subquery()
    )
    off = or_(
        summed.c.plan_id.is_(None),
        *(func.abs(summed.c[name] - runs.c[name]) > 0.01 + 1e-6 * runs.c.used_kg for name in PARTS),
    )
    wrong = connection.execute(
        select(plans.c.number, runs.c.name)
        .select_from(
            runs.join(plans, plans.c.id == runs.c.plan_id).outerjoin(
                summed, and_(summed.c.plan_id == runs.c.plan_id, summed.c.run == runs.c.run)
            )
        )
        .where(off, runs.c.used_kg > 0)
    ).first()
    if wrong is not None:
        raise LedgerError(
            f"the sets of plan {wrong.number}, {wrong.name}, do not add up to its balance: the "
            "ledger was changed from outside; put the last copy of it back"
        )


def _nothing(connection: Connection, asked: Asked) -> str:
    if not connection.scalar(select(func.count()).select_from(plans)):
        return "the ledger holds no plan yet; keep one: trimopt plan BOOK --ledger URL"
    first, last = connection.execute(select(func.min(sets.c.at), func.max(sets.c.at))).one()
    grades = ", ".join(connection.scalars(select(runs.c.grade).distinct().order_by(runs.c.grade)))
    winders = ", ".join(
        connection.scalars(select(plans.c.winder).distinct().order_by(plans.c.winder))
    )
    wanted = [f"from {asked.begins}" * bool(asked.begins), f"to {asked.ends}" * bool(asked.ends)]
    wanted += [f"grade {asked.grade}" * bool(asked.grade)]
    wanted += [f"winder {asked.winder}" * bool(asked.winder)]
    said = ", ".join(part for part in wanted if part) or "what was asked"
    span = f"sets from {first:%Y-%m-%d} to {last:%Y-%m-%d}, " if first and last else ""
    return f"no set counts for {said}; the ledger has {span}grades: {grades}; winders: {winders}"
