"""How figures and findings are worded, alike in the workbook, the page and the terminal.

Nothing here knows a file format. Thousands are set off with a comma, decimals with a point, and
every figure that stands alone carries its unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from trimopt.plan.model import (
    Block,
    Load,
    OrderLine,
    Plan,
    Position,
    RunPlan,
    SetRow,
    TradePoint,
)
from trimopt.plan.reel_rows import cores_across, diameter_on
from trimopt.plan.states import OrderState

__all__ = [
    "TRADE_OFF_NOTE",
    "alike",
    "answer_text",
    "attention_first",
    "bound_text",
    "carried_text",
    "core_text",
    "diameter_text",
    "kind_of",
    "kind_word",
    "loads_by_sheeter",
    "loads_text",
    "metres_text",
    "metres_verdict",
    "moment",
    "moves_text",
    "needs_attention",
    "not_whole",
    "number",
    "pattern_text",
    "percent",
    "pressing",
    "quantity_text",
    "sets_on",
    "sets_text",
    "settings_text",
    "shift_text",
    "short_moment",
    "size_text",
    "state_text",
    "stretches_text",
    "trade_off_rows",
    "unused_texts",
    "verdict",
    "why_text",
    "written_text",
]

StripKind = tuple[str, str, int | None, str, Fraction, float | None]
"""Kind, sheeter, ups, order, width and core of a strip."""

TRADE_OFF_NOTE = (
    "This plan's row is as wound. The other rows are estimates before winding, with set lengths as "
    "listed and each jumbo wound to one of them: once wound, most lose less."
)


def number(value: Fraction | float, places: int = 4) -> str:
    """Give `value` with thousands set off and no more decimals than it has.

    >>> number(Fraction(2151, 2)), number(1234567), number(0.25), number(472.5, 0)
    ('1,075.5', '1,234,567', '0.25', '473')
    """
    if isinstance(value, Fraction) and value.denominator == 1:
        return f"{value.numerator:,}"
    # Half a kilogram rounds up, as in a spreadsheet; the language itself rounds half to even.
    exact = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    text = f"{exact:,f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def percent(share: float, places: int = 2) -> str:
    """Give a share of one as per cent.

    >>> percent(0.0123)
    '1.23 %'
    """
    return f"{100 * share:.{places}f} %"


def moment(when: datetime | None) -> str:
    """Give a date and a time to the minute, or a dash."""
    return when.strftime("%Y-%m-%d %H:%M") if when else "–"


def short_moment(when: datetime | None) -> str:
    """Give day, month and time, for tables that hold a week."""
    return f"{when.day} {when:%b %H:%M}" if when else ""


def core_text(block: Block) -> str:
    """Give the cores of a block's reels, such as ``core 76 mm`` or ``cores 76, 152 mm``."""
    cores = cores_across(block)
    return f"core{'' if len(cores) == 1 else 's'} {', '.join(map(number, cores))} mm"


def kind_word(position: Position) -> str:
    """Say what a strip is for."""
    if position.kind == "broke":
        return "broke"
    if position.kind == "sheeter":
        ups = f", {position.ups} ups" if position.ups else ""
        return f"{position.sheeter or 'sheeter'}{ups}"
    return "customer"


def size_text(line: OrderLine) -> str:
    """Give an order's width, or the sheet across × along the machine direction."""
    if line.chop_mm is None:
        return f"{number(line.width_mm)} mm"
    return f"{number(line.width_mm)} × {number(line.chop_mm)} mm"


def quantity_text(value: Fraction | float, unit: str) -> str:
    """Give a quantity in its unit, whole where it is nearly so.

    >>> quantity_text(Fraction(12), "reels")
    '12 reels'
    """
    return f"{number(value, 1)} {unit}"


def sets_text(block: Block) -> str:
    """Give the numbers of a block's sets, such as ``sets 4–9``."""
    first, last = block.sets[0].number, block.sets[-1].number
    return f"set {first}" if first == last else f"sets {first}–{last}"


def sets_on(run: RunPlan, jumbo: str) -> str:
    """Give the numbers of the sets that are wound from a jumbo, such as ``4–9``."""
    numbers = [
        row.number
        for block in run.blocks
        for row in block.sets
        if any(part.jumbo == jumbo for part in row.stretches)
    ]
    if not numbers:
        return ""
    return f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]}–{numbers[-1]}"


def carried_text(run: RunPlan) -> str:
    """Say what remains of the run's last jumbo; nothing where it is used up."""
    kept = [jumbo for jumbo in run.jumbos if jumbo.carried_forward_m]
    return "; ".join(
        f"carried forward: {number(jumbo.carried_forward_m)} m of jumbo {jumbo.name}, "
        f"{number(float(jumbo.width_mm) * jumbo.carried_forward_m * run.grammage_gsm / 1e6, 0)} kg"
        for jumbo in kept
    )


def shift_text(plan: Plan) -> str:
    """Say when the shift ends and what of it is used; nothing where it has no end."""
    until = plan.settings.until
    finished = [run.finish for run in plan.runs if run.finish is not None]
    if until is None or not finished:
        return ""
    last = max(finished)
    left = round((until - last).total_seconds() / 60)
    return (
        f"the shift ends {moment(until)}; the last set is finished {moment(last)}, {left} min "
        "before"
    )


def unused_texts(plan: Plan) -> list[str]:
    """Say of each listed jumbo that no run takes what it is, and why."""
    return [
        f"{each.name}, {each.grade} {each.grammage_gsm:.8g} g/m², {number(each.width_mm)} mm, "
        f"{each.length_m:,} m: {each.why}"
        for each in plan.unused_jumbos
    ]


def stretches_text(row: SetRow) -> str:
    """Give the jumbo and the metres that a set is wound from."""
    return " + ".join(f"{s.jumbo} {s.from_m:,}–{s.to_m:,} m" for s in row.stretches)


def metres_text(block: Block) -> str:
    """Give the set length, or its range where sets of the block differ."""
    lengths = sorted({row.length_m for row in block.sets} or {block.length_m})
    if len(lengths) == 1:
        return f"{lengths[0]:,} m"
    return f"{lengths[0]:,}–{lengths[-1]:,} m"


def moves_text(block: Block) -> str:
    """Count knife moves, idle knives in them, beside the knives that the pattern uses.

    A first block that is set up without a move stands before all that is known of the knives.
    """
    if block.number == 1 and block.set_up and not block.knife_moves:
        return f"knife moves not known, {len(block.knives_mm)} knives"
    moves = f"{block.knife_moves} knife move" + ("" if block.knife_moves == 1 else "s")
    return f"{moves}, {len(block.knives_mm)} knives"


def diameter_text(run: RunPlan, block: Block, core_mm: float | None = None) -> str:
    """Give the diameter of a block's reels, or its range where sets or cores differ.

    With a core it is that of the reels on it alone.
    """
    cores = cores_across(block) if core_mm is None else (core_mm,)
    whole = {round(diameter_on(run, core, row.length_m)) for core in cores for row in block.sets}
    if len(whole) == 1:
        return f"{min(whole):,} mm"
    return f"{min(whole):,}–{max(whole):,} mm"


def alike(block: Block) -> tuple[tuple[int, Position], ...]:
    """Count the strips of a block that are of one order, width, core and use, from the front."""
    groups: dict[StripKind, list[Position]] = {}
    for position in block.positions:
        groups.setdefault(kind_of(position), []).append(position)
    return tuple((len(group), group[0]) for group in groups.values())


def kind_of(position: Position) -> StripKind:
    """What strips that are listed together have in common: all but their place."""
    use = position.kind, position.sheeter, position.ups
    return *use, position.order, position.width_mm, position.core_mm


def pattern_text(block: Block) -> str:
    """Give a pattern as counts and widths, widest first, such as ``3 × 1,120 + 2 × 735``."""
    counts: dict[Fraction, int] = {}
    for position in block.positions:
        counts[position.width_mm] = counts.get(position.width_mm, 0) + 1
    return " + ".join(
        f"{counts[width]} × {number(width)}" for width in sorted(counts, reverse=True)
    )


def bound_text(value: int, bound: int | None) -> str:
    """Give a count beside the fewest that are possible, where that is known."""
    if bound is None:
        return f"{value:,}"
    return f"{value:,} (fewest)" if value <= bound else f"{value:,} (at least {bound:,})"


def not_whole(run: RunPlan) -> bool:
    """Whether orders of the run are short or carried over: its bound is for whole orders."""
    return any(line.lacking for line in run.orders)


def answer_text(run: RunPlan) -> str:
    """Say in two words how good a run's patterns are."""
    if not run.blocks:
        return "none made"
    if not_whole(run):
        return "not whole"
    return "optimal" if run.proof.status == "optimal" else f"gap {run.proof.gap_percent:.3f} %"


def verdict(run: RunPlan) -> str:
    """Say in one sentence how good a run's patterns are and what was proven."""
    if not run.blocks:
        return "nothing of this run is made"
    proof = run.proof
    stopped = "; the clock stopped the search" if proof.clock_stopped else ""
    over = f", {proof.bound_on}" if proof.bound_on else ""
    over += _proven_by(run)
    if not_whole(run):
        return f"no gap is judged, for not all of the orders is made{over}{stopped}"
    if proof.status == "optimal":
        return f"optimal: no less loss is possible{over}{stopped}"
    return (
        f"gap {number(proof.gap_kg, 0)} kg, {proof.gap_percent:.3f} % of paper used, above the "
        f"proven bound{over}{stopped}"
    )


def _proven_by(run: RunPlan) -> str:
    """Say what prices prove alone, where a search proved more.

    The plan's check proves the prices' bound again; what a search proved it cannot do again.
    """
    prices, bound = number(run.proof.price_bound_kg, 0), number(run.proof.bound_kg, 0)
    if prices == bound:
        return ""
    return f"; proven by prices {prices} kg, by search over whole reels and sets {bound} kg"


def metres_verdict(run: RunPlan) -> str:
    """Say how many jumbo metres a run takes, beside the fewest that are proven, and over what."""
    proof = run.proof
    used = proof.metres_used or 0
    if proof.metres_bound is None:
        return f"jumbo metres used {used:,}, butts in them; no bound on them is stated"
    gap = (used - proof.metres_bound) / used if used else 0.0
    return (
        f"jumbo metres used {used:,}, butts in them; proven at least {proof.metres_bound:,}, gap "
        f"{percent(gap, 3)}: {proof.metres_bound_on}"
    )


def trade_off_rows(run: RunPlan) -> list[tuple[TradePoint, float, float, str]]:
    """Give the points of the trade-off, fewest patterns first, with what is printed of each.

    Its loss with butts in kg, its trim loss, and whether they are the plan's own or estimates.
    """
    return [
        (
            point,
            (point.with_butts_kg if point.chosen else point.with_butts_estimate_kg) or 0.0,
            (point.trim_loss if point.chosen else point.trim_loss_estimate) or 0.0,
            "this plan, as wound" if point.chosen else "estimate",
        )
        for point in sorted(run.trade_off, key=lambda point: point.patterns)
    ]


def needs_attention(line: OrderLine) -> bool:
    """Whether somebody must do something about the order."""
    return line.state is not OrderState.MET


def attention_first(run: RunPlan) -> tuple[OrderLine, ...]:
    """Give the run's orders, those that need attention first, then by due date and number."""
    return tuple(sorted(run.orders, key=pressing))


def pressing(line: OrderLine) -> tuple[int, str, str]:
    """Sort by the state, the most pressing first, then by due date and number."""
    due = line.due.isoformat() if line.due else "9999"
    return list(OrderState).index(line.state), due, line.number


def state_text(line: OrderLine) -> str:
    """Give all that holds of an order, the most pressing first, such as ``late, over``."""
    return ", ".join([line.state, *(state.removeprefix("met, ") for state in line.also)])


def why_text(line: OrderLine) -> str:
    """Say why an order is in its states; nothing where it is met."""
    parts = [line.text] if line.text else []
    if OrderState.LATE in line.states and line.finished and line.due:
        parts.append(f"finished {line.finished:%d %b %H:%M}, due {line.due:%d %b %H:%M}")
    return "; ".join(parts)


def settings_text(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Give what the planner was told, as pairs of name and value; what was not told is left out."""
    told = plan.settings
    limit = "none" if told.time_limit_s is None else f"{number(told.time_limit_s)} s"
    pairs = [
        *([("Shift ends", moment(told.until))] if told.until is not None else []),
        ("Seed", str(told.seed)),
        ("Time limit", limit),
        ("Value of a kg below the ordered quantity", f"{number(told.under)} kg of loss"),
        ("Value of a kg above the ordered quantity", f"{number(told.over)} kg of loss"),
    ]
    optional = (
        ("Value of a tonne of trim", told.trim_cost_per_t, told.currency),
        ("Value of a set-up", told.set_up, told.currency),
        ("Value of a knife move", told.knife_move, told.currency),
        ("Paper given up for a set-up fewer", told.give_up_kg, "kg"),
    )
    pairs += [
        (name, f"{number(value)} {unit}".rstrip())
        for name, value, unit in optional
        if value is not None
    ]
    if told.split_blocks:
        pairs.append(("Blocks may be split", "where the butts saved are worth more"))
    also = (told.core_change_is_set_up, "core"), (told.length_change_is_set_up, "set length")
    if any(counts for counts, _ in also):
        changes = " or ".join(name for counts, name in also if counts)
        pairs.append(("Set-ups", f"a change of pattern, and of {changes} alone"))
    return tuple(pairs)


def loads_by_sheeter(plan: Plan) -> tuple[tuple[str, tuple[Load, ...]], ...]:
    """Give the loads of each sheeter that has any, in the plan's order."""
    names = dict.fromkeys(load.sheeter for load in plan.loads)
    return tuple(
        (name, tuple(load for load in plan.loads if load.sheeter == name)) for name in names
    )


def loads_text(loads: Sequence[Load]) -> str:
    """Count a sheeter's loads, with their times and those that leave stands empty."""
    count = f"{len(loads):,} load" + ("" if len(loads) == 1 else "s")
    parts = sum(load.part for load in loads)
    said = f"{count}, {moment(loads[0].start)} to {moment(loads[-1].finish)}"
    if not parts:
        return f"{said}; all full"
    return f"{said}; {parts:,} part load" + ("" if parts == 1 else "s")


def written_text(line: OrderLine) -> str:
    """Give an order's figures as the book wrote them, where they were converted."""
    return ", ".join(f"{column}: {value}" for column, value in line.as_written)
