"""Tables of a plan that the workbook and the page both draw."""

from __future__ import annotations

from dataclasses import dataclass

from trimopt.book.model import StockReel
from trimopt.paper import in_spans, mass_kg
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import Block, JumboUse, Plan, Position, RunPlan
from trimopt.plan.proof_data import TradePoint
from trimopt.plan.reel_rows import ReelRow, cores_across
from trimopt.plan.way_out import RunWaysOut, WayOut
from trimopt.report.table_columns import RUN_WIDTH, TableColumn
from trimopt.report.words import proof_words
from trimopt.report.words.plan_words import (
    alike,
    defects_text,
    diameters_on,
    kind_of,
    kind_word,
    mass_on,
    sets_on,
    source_of,
)
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, percent

CHANGES = (
    TableColumn("", 40, "text", lambda row: row[0]),
    TableColumn("was", 16, "count", lambda row: row[1]),
    TableColumn("now", 16, "count", lambda row: row[2]),
    TableColumn("change", 16, "count", lambda row: row[3]),
)
"""Of rows of `figure_rows`."""

_SELDOM = ("made_for_stock_kg", "defects_kg", "culls_kg")


def part_names(*runs: RunPlan) -> list[str]:
    """Give the names of a balance's parts behind that of their sum, some where a run has them."""
    return ["used_kg", *(
        name for name in Balance.PARTS
        if name not in _SELDOM or any(getattr(run.balance, name) for run in runs)
    )]  # fmt: skip


def balance_rows(run: RunPlan, *more: tuple[str, float]) -> list[tuple[str, float, float | None]]:
    """Give the rows of `BALANCE` for a run, and more behind; stock stands on both of its sides."""
    balance = run.balance
    masses = {name: getattr(balance, name) for name in part_names(run)}
    if balance.stock_used_kg:
        from_stock = {
            "stock_used_kg": balance.stock_used_kg,
            "delivered_kg": balance.delivered_kg,
            "from_stock_kg": balance.stock_used_kg - balance.stock_sheeter_kg,
        }
        if balance.stock_sheeter_kg:
            from_stock["stock_sheeter_kg"] = balance.stock_sheeter_kg
        masses = {"used_kg": balance.used_kg} | from_stock | masses
    parts = [(text(f"balance.{name}"), mass) for name, mass in masses.items()]
    used = balance.used_kg
    return [(name, mass, mass / used if used else 0.0) for name, mass in (*parts, *more)]


BALANCE = (
    TableColumn("part", 44, "text", lambda row: row[0]),
    TableColumn("mass", 16, "kg", lambda row: row[1]),
    TableColumn("share", 16, "share", lambda row: row[2]),
)
"""A row for the paper used, and one for each part that it went to."""


def ordered_kg(run: RunPlan) -> float:
    """Give what the run's orders weigh, kg."""
    return sum(line.ordered_kg for line in run.orders)


def _delivered_share(run: RunPlan) -> float | None:
    ordered = ordered_kg(run)
    return run.balance.delivered_kg / ordered if ordered else None


RUNS = (
    TableColumn("run", 36, "strong", lambda run: run.name),
    TableColumn("jumbos", 9, "count", lambda run: len(run.jumbos)),
    TableColumn("sets", 10, "count", lambda run: len(run.sets)),
    TableColumn("set_ups", 16, "text",
                lambda run: proof_words.bound_text(run.set_ups, run.set_ups_bound)),
    TableColumn("knife_moves", 16, "text",
                lambda run: proof_words.bound_text(run.knife_moves, run.knife_moves_bound)),
    TableColumn("used_t", 10, "t", lambda run: run.balance.used_kg / 1000),
    TableColumn("delivered_t", 12, "t", lambda run: run.balance.delivered_kg / 1000),
    TableColumn("ordered_t", 11, "t", lambda run: ordered_kg(run) / 1000),
    TableColumn("delivered_share", 11, "share", _delivered_share),
    TableColumn("trim_loss", 10, "share", lambda run: run.balance.trim_loss),
    TableColumn("total_loss", 10, "share", lambda run: run.balance.total_loss),
    TableColumn("minutes", 10, "count", lambda run: round(run.minutes)),
    TableColumn("gap", 15, "strong", proof_words.gap_text),
)  # fmt: skip
"""A row a run."""


def jumbos_of(*runs: RunPlan) -> list[tuple[RunPlan, JumboUse]]:
    """Give the rows of `JUMBOS` for some runs, in the order in which they are unwound."""
    return [(run, jumbo) for run in runs for jumbo in run.jumbos]


JUMBOS = (
    TableColumn("run", RUN_WIDTH, "text", lambda row: row[0].name),
    TableColumn("jumbo", 13, "strong", lambda row: row[1].name),
    TableColumn("from", 10, "text", lambda row: source_of(*row)),
    TableColumn("width", 10, "mm", lambda row: row[1].width_mm),
    TableColumn("length", 10, "m", lambda row: row[1].length_m),
    TableColumn("start_loss", 9, "m", lambda row: row[1].loss_start_m),
    TableColumn("sets", 14, "text", lambda row: sets_on(row[0], row[1].name)),
    TableColumn("wound", 10, "m", lambda row: row[1].wound_m),
    TableColumn("butt_m", 9, "m", lambda row: row[1].butt_m),
    TableColumn("end_loss", 9, "m", lambda row: row[1].loss_end_m),
    TableColumn("carried_m", 12, "m", lambda row: row[1].carried_forward_m),
    TableColumn("butt_kg", 9, "kg", lambda row: mass_on(row[0], row[1], row[1].butt_m)),
    TableColumn(
        "carried_kg", 12, "kg", lambda row: mass_on(row[0], row[1], row[1].carried_forward_m)
    ),
)
"""A row a jumbo: start loss, wound, butt, end loss and what is carried forward are its length."""


JUMBO_DEFECTS = (
    TableColumn("cut_m", 9, "m", lambda row: row[1].defect_m),
    TableColumn("defects", 40, "text", said=lambda row, units: defects_text(row[1], units)),
)
"""Behind them where a jumbo has defects: what is cut out is a part of its length too."""


def stock_of(plan: Plan) -> list[tuple[str, str, StockReel]]:
    """Give the rows of `STOCK`, as the warehouse goes from place to place."""
    return sorted(plan.stock_used, key=lambda row: (row[2].place, row[2].name))


def cut_text(reel: StockReel) -> str:
    """Say which sheeter cuts a reel from stock, or that it goes to the customer as it is."""
    use = reel.at_sheeter
    return f"{use.sheeter}, {text('strip.ups', count=use.ups)}" if use else text("strip.customer")


STOCK = (
    TableColumn("reel", 14, "strong", lambda row: row[2].name),
    TableColumn("place", 16, "text", lambda row: row[2].place),
    TableColumn("order", 12, "strong", lambda row: row[0]),
    TableColumn("customer", 24, "text", lambda row: row[1]),
    TableColumn("width", 10, "mm", lambda row: row[2].width_mm),
    TableColumn("diameter", 10, "diameter", lambda row: row[2].diameter_mm),
    TableColumn("core", 8, "core", lambda row: row[2].core_mm),
    TableColumn("length", 9, "m", lambda row: row[2].length_m),
    TableColumn("mass", 9, "kg", lambda row: row[2].mass_kg),
    TableColumn("made_on", 13, "text", lambda row: str(row[2].made_on or "")),
    TableColumn("joins", 7, "count", lambda row: row[2].joins),
    TableColumn("for", 20, "text", lambda row: cut_text(row[2])),
    TableColumn("sheets", 10, "count", lambda row: row[2].at_sheeter and row[2].at_sheeter.sheets),
    TableColumn("done", 6, "text"),
)
"""A row for each reel that is fetched from stock: order, customer, reel."""


WAYS_OUT = (
    TableColumn("way_kind", 13, "strong", lambda row: row[1].kind),
    TableColumn("order", 12, "strong", lambda row: row[1].order),
    TableColumn("way_what", 52, "text", lambda row: row[1].what),
    TableColumn("way_saved", 14, "text", said=lambda row, units: saved_text(row[0], row[1], units)),
    TableColumn("way_kg", 11, "kg", lambda row: row[1].saved_kg),
    TableColumn("way_set_ups", 9, "count", lambda row: row[1].set_ups),
    TableColumn("trim_loss", 10, "share", lambda row: row[1].trim_loss),
    TableColumn("way_asks", 11, "text", lambda row: row[1].asks),
    TableColumn("due", 15, "moment", lambda row: row[1].due),
)
"""A row a way out, behind what it is of: the best first."""


def ways_of(each: RunWaysOut) -> list[tuple[RunWaysOut, WayOut]]:
    """Give the rows of `WAYS_OUT` for a run."""
    return [(each, way) for way in each.ways]


def saved_text(each: RunWaysOut, way: WayOut, units: Units) -> str:
    """Give what a way saves, in kilograms of loss or in money."""
    if each.unit == "kg":
        return units.said(way.saved, "kg")
    return f"{way.saved:,.0f} {each.unit}"


def ways_head(each: RunWaysOut) -> str:
    """Name a run with its trim loss and the target."""
    return text(
        "plan.ways_out_run",
        run=each.run,
        trim_loss=percent(each.trim_loss),
        target=percent(each.target),
    )


def ways_count(each: RunWaysOut) -> str:
    """Count the changes that were planned."""
    return text(
        "plan.ways_out_count",
        planned=each.planned,
        ways=len(each.ways),
        unplanned=each.unplanned,
    )


def trade_points(run: RunPlan) -> list[TradePoint]:
    """Give the points of the trade-off, fewest patterns first; none where there is no choice."""
    points = sorted(run.trade_off, key=lambda point: point.patterns)
    return points if len(points) > 1 else []


TRADE_OFF = (
    TableColumn("patterns", 11, "count", lambda point: point.patterns),
    TableColumn("loss_butts", 12, "kg", proof_words.lost_with_butts_kg),
    TableColumn("trim_loss", 11, "share", proof_words.trade_trim_loss),
    TableColumn("knife_moves", 11, "count", lambda point: point.knife_moves),
    TableColumn("figures", 22, "text", proof_words.trade_text),
    TableColumn("across_loss", 18, "kg", lambda point: point.loss_kg),
    TableColumn("loss_bound", 12, "kg", lambda point: point.loss_bound_kg),
)
"""A row for each number of patterns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strips:
    """Strips of a block that are alike: the subject of a row of the table of reels."""

    run: RunPlan
    block: Block
    count: int
    position: Position

    @property
    def positions(self) -> str:
        """Where they lie, such as ``1–3, 6``."""
        kind = kind_of(self.position)
        return in_spans([p.number for p in self.block.positions if kind_of(p) == kind])

    @property
    def customer(self) -> str:
        lines = (line for line in self.run.orders if line.number == self.position.order)
        return next((line.customer for line in lines), "")

    @property
    def use(self) -> str:
        lines = (line for line in self.run.orders if line.number == self.position.order)
        if any(line.stock_share is not None for line in lines):
            return text("strip.for_stock")
        return kind_word(self.position)

    @property
    def max_kg(self) -> float:
        """What is lifted: a reel of the longest set, whatever the block's nominal length."""
        longest = max((each.length_m for each in self.block.sets), default=self.block.length_m)
        return mass_kg(self.position.width_mm, longest, self.run.grammage_gsm)


REELS = (
    TableColumn("positions", 6, "text", lambda row: row.positions),
    TableColumn("reels", 6, "count", lambda row: row.count),
    TableColumn("width", 9, "mm", lambda row: row.position.width_mm),
    TableColumn("core", 8, "core", lambda row: row.position.core_mm),
    TableColumn("diameter", 10, "text", unit="diameter", said=lambda row, units: units.range_of(
        diameters_on(row.run, row.block, row.position.core_mm), "diameter")),
    TableColumn("order", 9, "text", lambda row: row.position.order),
    TableColumn("customer", 10, "text", lambda row: row.customer),
    TableColumn("for", 9, "text", lambda row: row.use),
    TableColumn("max_mass", 7, "kg", lambda row: row.max_kg),
)  # fmt: skip
"""Where a set mixes cores, each position says its own. Widths are columns of the grid."""


def strips_alike(run: RunPlan, block: Block) -> list[Strips]:
    """Give the rows of `REELS` for a block, from the front side."""
    return [Strips(run=run, block=block, count=n, position=p) for n, p in alike(block)]


def has_mixed_cores(block: Block) -> bool:
    """Whether the reels of a set are on more than one core, so that each says its own."""
    return len(cores_across(block)) > 1


def _use_of(reel: ReelRow) -> str:
    if reel.surplus:
        return text("strip.stock")
    if reel.for_stock:
        return text("strip.for_stock")
    if reel.kind == "sheeter":
        return f"{reel.sheeter}, {text('strip.ups', count=reel.ups)}"
    return text("strip.customer")


REEL_LIST = (
    TableColumn("reel", 17, "strong", lambda reel: reel.identity),
    TableColumn("run", RUN_WIDTH, "text", lambda reel: reel.run),
    TableColumn("jumbo", 9, "text", lambda reel: reel.jumbo),
    TableColumn("set", 6, "count", lambda reel: reel.set_number),
    TableColumn("position", 9, "count", lambda reel: reel.position),
    TableColumn("order", 12, "text", lambda reel: reel.order),
    TableColumn("customer", 26, "text", lambda reel: reel.customer),
    TableColumn("destination", 18, "text", lambda reel: reel.destination),
    TableColumn("for", 20, "text", _use_of),
    TableColumn("width", 10, "mm", lambda reel: reel.width_mm),
    TableColumn("core", 8, "core", lambda reel: reel.core_mm),
    TableColumn("length", 9, "m", lambda reel: reel.length_m),
    TableColumn("diameter", 10, "diameter", lambda reel: reel.diameter_mm),
    TableColumn("mass", 9, "kg", lambda reel: reel.mass_kg),
    TableColumn("joins", 7, "count", lambda reel: reel.joins),
)
"""A row a reel, in order of making: the workbook's list, and what a label says."""
