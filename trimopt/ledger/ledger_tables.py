"""The ledger's tables as they stand after the last migration.

The plan's JSON is kept whole in `plans.document`; everything else about a plan is drawn from it, so
that it can be summed without reading documents. Masses are kilograms, lengths metres, widths
millimetres, moments the mill's wall clock; `made_at` alone is UTC where the plan says so.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    DateTime,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    MetaData,
    Table,
    Text,
)

from trimopt.plan.mass_balance import Balance

every_table = MetaData()

PARTS = (
    "used_kg", "delivered_kg", "surplus_kg", *Balance.CAUSES, "broke_kg", "wound_kg", "deckle_kg",
    "made_for_stock_kg", "culled_kg", "defects_kg",
)  # fmt: skip
"""What a set has of its run's mass balance, as planned and as run; used is the sum of the seven
that follow it, and of what is made for stock, is culled, or has a defect."""

_LATER_PARTS = ("made_for_stock_kg", "culled_kg", "defects_kg")
_FIRST_PARTS = tuple(name for name in PARTS if name not in _LATER_PARTS)  # a step adds at the end


def balance_kg(balance: Balance, name: str) -> float:
    """Give a part of a run's mass balance by its name in `PARTS`."""
    return float(getattr(balance, "culls_kg" if name == "culled_kg" else name))


def _kilograms(names: tuple[str, ...]) -> list[Column[float]]:
    return [Column(name, Double, nullable=False) for name in names]


applied = Table(
    "ledger_migrations",
    every_table,
    Column("name", Text, primary_key=True),
    Column("applied_at", DateTime, nullable=False),
)

plans = Table(
    "plans",
    every_table,
    Column("id", Integer, primary_key=True),
    Column("fingerprint", Text, nullable=False, unique=True),  # sha256 of the unsigned document
    Column("number", Text, nullable=False),
    Column("mill_name", Text, nullable=False),
    Column("winder", Text, nullable=False),
    Column("made_at", DateTime, nullable=False),
    Column("made_with", Text, nullable=False),
    Column("plan_schema", Integer, nullable=False),
    Column("as_of", Date, nullable=False),
    Column("book_name", Text, nullable=False),
    Column("book_fingerprint", Text, nullable=False),
    Column("mill_file", Text, nullable=False),
    Column("mill_fingerprint", Text, nullable=False),
    Column("settings", Text, nullable=False),
    Column("replaces", Text, nullable=False),
    Column("replaced_by", Integer, ForeignKey("plans.id")),
    Column("kept_at", DateTime, nullable=False),
    Column("document", Text, nullable=False),
)

runs = Table(
    "runs",
    every_table,
    Column("plan_id", Integer, ForeignKey("plans.id"), primary_key=True),
    Column("run", Integer, primary_key=True),  # its place in the plan, from 1
    Column("name", Text, nullable=False),
    Column("grade", Text, nullable=False),
    Column("grammage_gsm", Double, nullable=False),
    Column("jumbo_width_mm", Double, nullable=False),
    Column("deckle_mm", Double, nullable=False),
    Column("status", Text, nullable=False),
    Column("objective_kg", Double, nullable=False),
    Column("bound_kg", Double, nullable=False),
    Column("bound_on", Text, nullable=False),
    Column("set_ups", Integer, nullable=False),
    Column("set_ups_bound", Integer),
    Column("knife_moves", Integer, nullable=False),
    Column("knife_moves_bound", Integer),
    Column("minutes", Double, nullable=False),
    *_kilograms(_FIRST_PARTS),
    Column("winder", Text, nullable=False),
    *_kilograms(_LATER_PARTS),
)

sets = Table(
    "sets",
    every_table,
    Column("plan_id", Integer, primary_key=True),
    Column("run", Integer, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("block", Integer, nullable=False),
    Column("at", DateTime, nullable=False),  # its start, or the day of the book where untimed
    Column("jumbos", Text, nullable=False),
    Column("length_m", Integer, nullable=False),
    Column("reels", Integer, nullable=False),
    Column("set_ups", Integer, nullable=False),
    Column("knife_moves", Integer, nullable=False),
    Column("minutes", Double, nullable=False),
    *_kilograms(_FIRST_PARTS),
    Column("unavoidable_kg", Double, nullable=False),
    Column("unproven_kg", Double, nullable=False),
    Column("for_set_ups_kg", Double, nullable=False),
    Column("valued_kg", Double, nullable=False),
    Column("winder", Text, nullable=False),
    *_kilograms(("made_for_stock_kg", "culled_kg")),
    Column("done", Boolean, nullable=False),  # run before its plan was replanned
    *_kilograms(("defects_kg",)),
    Column("issued", Text, nullable=False),  # the plan that it was issued with, where not this one
    ForeignKeyConstraint(["plan_id", "run"], ["runs.plan_id", "runs.run"]),
)

pieces = Table(
    "pieces",
    every_table,
    Column("plan_id", Integer, primary_key=True),
    Column("run", Integer, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("place", Integer, primary_key=True),  # position of the first of them, from the front
    Column("kind", Text, nullable=False),
    Column("order_number", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("width_mm", Double, nullable=False),
    Column("ups", Integer),
    Column("reels", Integer, nullable=False),
    Column("reels_kg", Double, nullable=False),
    Column("pattern_trim_kg", Double, nullable=False),
    ForeignKeyConstraint(["plan_id", "run", "number"], ["sets.plan_id", "sets.run", "sets.number"]),
)

holds = Table(
    "holds",
    every_table,
    Column("id", Integer, primary_key=True),  # of which its number is made, never used twice
    Column("mill_name", Text, nullable=False),
    Column("winder", Text, nullable=False),
    Column("held_at", DateTime, nullable=False),
    Column("until", Date, nullable=False),
    Column("document", Text, nullable=False),  # the order line that it would become, as JSON
    Column("ended", Text, nullable=False),  # by what, before its day; else empty
)

as_run = Table(
    "as_run",
    every_table,
    Column("plan_id", Integer, primary_key=True),
    Column("run", Integer, primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("recorded_at", DateTime, nullable=False),
    Column("source", Text, nullable=False),
    Column("done", Boolean, nullable=False),
    Column("length_wound_m", Double),  # what follows is as written; blank stays blank
    Column("reels_rejected", Integer),
    Column("reason", Text, nullable=False),
    Column("jumbo_width_mm", Double),
    Column("jumbo_length_m", Double),
    Column("edge_front_mm", Double),
    Column("edge_back_mm", Double),
    Column("minutes_stopped", Double),
    Column("remark", Text, nullable=False),
    Column("length_m", Double, nullable=False),  # what follows is reckoned from it
    Column("set_ups", Integer, nullable=False),
    Column("knife_moves", Integer, nullable=False),
    *_kilograms((*_FIRST_PARTS, "culled_kg")),
    Column("winder", Text, nullable=False),
    *_kilograms(("made_for_stock_kg", "defects_kg")),
    ForeignKeyConstraint(["plan_id", "run", "number"], ["sets.plan_id", "sets.run", "sets.number"]),
)
