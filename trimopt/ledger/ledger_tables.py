"""The ledger's tables, as a new ledger has them; `migrations.py` changes those of older ones.

The plan's JSON is kept whole in `plans.document`; everything else about a plan is drawn from it, so
that it can be summed without reading documents. Masses are kilograms, lengths metres, widths
millimetres, moments the mill's wall clock; `made_at` alone is UTC where the plan says so.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    DateTime,
    Double,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

from trimopt.plan.mass_balance import Balance

every_table = MetaData()

PARTS = (
    "used_kg", "delivered_kg", "surplus_kg", *Balance.CAUSES, "broke_kg", "wound_kg", "deckle_kg",
    "made_for_stock_kg", "culled_kg", "defects_kg",
)  # fmt: skip
"""What a set has of its run's mass balance, as planned and as run; used is the sum of the seven
that follow it, and of what is made for stock, is culled, or has a defect."""


def balance_kg(balance: Balance, name: str) -> float:
    """Give a part of a run's mass balance by its name in `PARTS`."""
    return float(getattr(balance, "culls_kg" if name == "culled_kg" else name))


def _some(kind: type[Any], *names: str, null: bool = False) -> list[Column[Any]]:
    """Columns of one type; none may be null unless it is said."""
    return [Column(name, kind, nullable=null) for name in names]


def _keys(*names: str) -> list[Column[Any]]:
    return [Column(name, Integer, primary_key=True) for name in names]


def _refer(table: str, *names: str) -> ForeignKeyConstraint:
    """Columns that are a row of another table of the same names."""
    return ForeignKeyConstraint(names, [f"{table}.{name}" for name in names])


applied = Table(
    "ledger_migrations",
    every_table,
    Column("name", Text, primary_key=True),
    *_some(DateTime, "applied_at"),
)

plans = Table(
    "plans",
    every_table,
    *_keys("id"),
    *_some(Text, "fingerprint", "number", "mill_name", "winder"),  # sha256 of unsigned document
    *_some(DateTime, "made_at"),
    *_some(Text, "made_with"),
    *_some(Integer, "plan_schema"),
    *_some(Date, "as_of"),
    *_some(Text, "book_name", "book_fingerprint", "mill_file", "mill_fingerprint", "settings"),
    *_some(Text, "replaces"),
    *_some(Integer, "replaced_by", null=True),
    *_some(DateTime, "kept_at"),
    *_some(Text, "document"),
    ForeignKeyConstraint(["replaced_by"], ["plans.id"]),
    UniqueConstraint("fingerprint"),
    UniqueConstraint("mill_name", "winder", "number", "made_at"),
)

runs = Table(
    "runs",
    every_table,
    *_keys("plan_id", "run"),  # a run's place in the plan, from 1
    *_some(Text, "name", "grade"),
    *_some(Double, "grammage_gsm", "jumbo_width_mm", "deckle_mm"),
    *_some(Text, "status"),
    *_some(Double, "objective_kg", "bound_kg"),
    *_some(Text, "bound_on"),
    *_some(Integer, "set_ups"),
    *_some(Integer, "set_ups_bound", null=True),
    *_some(Integer, "knife_moves"),
    *_some(Integer, "knife_moves_bound", null=True),
    *_some(Double, "minutes", *PARTS),
    *_some(Text, "winder"),
    ForeignKeyConstraint(["plan_id"], ["plans.id"]),
)

sets = Table(
    "sets",
    every_table,
    *_keys("plan_id", "run", "number"),
    *_some(Integer, "block"),
    *_some(DateTime, "at"),  # its start, or the day of the book where untimed
    *_some(Text, "jumbos"),
    *_some(Integer, "length_m", "reels", "set_ups", "knife_moves"),
    *_some(Double, "minutes", *PARTS),
    *_some(Double, "unavoidable_kg", "unproven_kg", "for_set_ups_kg", "valued_kg"),
    *_some(Text, "winder"),
    *_some(Boolean, "done"),  # run before its plan was replanned
    *_some(Text, "issued"),  # the plan that it was issued with, where not this one
    _refer("runs", "plan_id", "run"),
    Index("sets_at", "at"),
)

pieces = Table(
    "pieces",
    every_table,
    *_keys("plan_id", "run", "number", "place"),  # position of the first of them, from the front
    *_some(Text, "kind", "order_number", "customer"),
    *_some(Double, "width_mm"),
    *_some(Integer, "ups", null=True),
    *_some(Integer, "reels"),
    *_some(Double, "reels_kg", "pattern_trim_kg"),
    _refer("sets", "plan_id", "run", "number"),
)

holds = Table(
    "holds",
    every_table,
    *_keys("id"),  # of which its number is made, never used twice
    *_some(Text, "mill_name", "winder"),
    *_some(DateTime, "held_at"),
    *_some(Date, "until"),
    *_some(Text, "document"),  # the order line that it would become, as JSON
    *_some(Text, "ended"),  # by what, before its day; else empty
)

as_run = Table(
    "as_run",
    every_table,
    *_keys("plan_id", "run", "number"),
    *_some(DateTime, "recorded_at"),
    *_some(Text, "source"),
    *_some(Boolean, "done"),
    *_some(Double, "length_wound_m", null=True),  # what follows is as written; blank stays blank
    *_some(Integer, "reels_rejected", null=True),
    *_some(Text, "reason"),
    *_some(Double, "jumbo_width_mm", "jumbo_length_m", "edge_front_mm", "edge_back_mm", null=True),
    *_some(Double, "minutes_stopped", null=True),
    *_some(Text, "remark"),
    *_some(Double, "length_m"),  # what follows is reckoned from it
    *_some(Integer, "set_ups", "knife_moves"),
    *_some(Double, *PARTS),
    *_some(Text, "winder"),
    _refer("sets", "plan_id", "run", "number"),
)
