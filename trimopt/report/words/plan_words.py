"""How a plan's figures and findings are worded, alike in the workbook, the page and the terminal.

Nothing here knows a file format. Every figure that stands alone carries its unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.book.model import Stretch
from trimopt.paper import in_spans, mass_kg, number, span
from trimopt.plan.model import Block, JumboUse, OrderLine, Plan, Position, RunPlan, SetRow
from trimopt.plan.reel_rows import cores_across, diameter_on
from trimopt.plan.sheeter_load import Load
from trimopt.plan.states import OrderState
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, moment

StripKind = tuple[str, str, int | None, str, Fraction, float | None]
"""Kind, sheeter, ups, order, width and core of a strip."""


def core_text(block: Block, units: Units) -> str:
    """Give the cores of a block's reels, such as ``core 76 mm`` or ``cores 76, 152 mm``."""
    cores = cores_across(block)
    return text("block.cores", count=len(cores), cores=units.several(cores, "core"))


def kind_word(position: Position) -> str:
    if position.kind != "sheeter":
        return text("strip.broke" if position.kind == "broke" else "strip.customer")
    sheeter = position.sheeter or text("strip.sheeter")
    if not position.ups:
        return sheeter
    return f"{sheeter}, {text('strip.ups', count=position.ups)}"


def size_text(line: OrderLine, units: Units) -> str:
    """Give an order's width, or the sheet across × along the machine direction."""
    sides = (line.width_mm,) if line.chop_mm is None else (line.width_mm, line.chop_mm)
    return units.several(sides, "mm", " × ")


def quantity_text(value: Fraction | float, line: OrderLine, units: Units) -> str:
    """Give a quantity of an order in its unit; what was ordered in reams in reams too."""
    shown = units.said(value, line.unit, 1)
    if not (line.sheets_a_ream and "ream" in dict(line.as_written).get("quantity", "")):
        return shown
    reams = Fraction(value) / line.sheets_a_ream
    return text("order.reams", count=reams, reams=number(reams, 1), sheets=shown)


def sets_text(block: Block) -> str:
    """Give the numbers of a block's sets, such as ``sets 4–9``."""
    first, last = block.sets[0].number, block.sets[-1].number
    return text("block.sets", count=last - first + 1, sets=span(first, last))


def sets_on(run: RunPlan, jumbo: str) -> str:
    """Give the numbers of the sets that are wound from a jumbo, such as ``4–9``."""
    numbers = [row.number for row in run.sets if any(part.jumbo == jumbo for part in row.stretches)]
    return span(numbers[0], numbers[-1]) if numbers else ""


def carried_text(run: RunPlan, units: Units) -> str:
    """Say what remains of the run's last jumbo; nothing where it is used up."""
    return "; ".join(
        text(
            "run.carried",
            length=units.said(jumbo.carried_forward_m, "m"),
            jumbo=jumbo.name,
            mass=units.said(mass_on(run, jumbo, jumbo.carried_forward_m), "kg"),
        )
        for jumbo in run.jumbos
        if jumbo.carried_forward_m
    )


def mass_on(run: RunPlan, jumbo: JumboUse, length_m: int) -> float:
    """Give the mass of some metres of a jumbo, kg."""
    return mass_kg(jumbo.width_mm, length_m, run.grammage_gsm)


def shift_text(plan: Plan) -> str:
    """Say when the shift ends and what of it is used; nothing where it has no end."""
    until = plan.settings.until
    finished = [run.finish for run in plan.runs if run.finish is not None]
    if until is None or not finished:
        return ""
    last = max(finished).replace(second=0, microsecond=0)  # both figures, as they are read
    left = round((until - last).total_seconds() / 60)
    return text("plan.shift", until=moment(until), last=moment(last), minutes=number(left))


def source_of(run: RunPlan, jumbo: JumboUse) -> str:
    """Say whether a jumbo is one of the mill's stock, and where it is not of the run's width."""
    source = text("jumbo.nominal" if jumbo.nominal else "jumbo.stock")
    if jumbo.width_mm == run.jumbo_width_mm:
        return source
    narrow = jumbo.width_mm < run.jumbo_width_mm
    return text("jumbo.narrow" if narrow else "jumbo.wide", source=source)


def warnings_of(run: RunPlan, block: Block, units: Units) -> list[str]:
    """Say what the crew must know of a block's jumbos: another width, defects, what is cut out."""
    said, web_mm = [], run.web_mm(block)
    if web_mm != run.jumbo_width_mm:
        name = "block.narrow" if web_mm < run.jumbo_width_mm else "block.wide"
        said.append(text(name, width=units.said(web_mm, "mm")))
    jumbos = {jumbo.name: jumbo for jumbo in run.jumbos}
    parts = [(row, part) for row in block.sets for part in row.stretches]
    if not any(jumbos[part.jumbo].defects for _, part in parts if part.jumbo in jumbos):
        return said
    for name in ("spoiled", "seconds"):
        numbers = sorted({n for row, _ in parts if not row.done for n in getattr(row, name)})
        if numbers:
            places = in_spans(numbers)
            what = ", ".join(dict.fromkeys(_bands_in(jumbos, parts)))
            said.append(text(f"block.{name}", count=len(numbers), places=places, what=what))
    reached = _reached_m(run)
    for row, part in parts:
        before_m = reached[part]
        if part.from_m > before_m:
            joined = dict(zip(row.stretches[1:], row.joins_at_m, strict=True))
            said.append(
                text(
                    "block.join" if part in joined else "block.cut",
                    number=row.number,
                    metres=units.said(part.from_m - before_m, "m"),
                    what=", ".join(_taken_out(jumbos[part.jumbo], before_m, part.from_m, units)),
                    at=units.said(joined.get(part, 0), "m"),
                )
            )
    return said


def _reached_m(run: RunPlan) -> dict[Stretch, int]:
    """Where the set before ends on the jumbo of each part of a set; 0 where it is the first."""
    reached: dict[str, int] = {}
    found = {}
    for part in (part for row in run.sets for part in row.stretches):
        found[part] = reached.get(part.jumbo, 0)
        reached[part.jumbo] = part.to_m
    return found


def _taken_out(jumbo: JumboUse, from_m: int, to_m: int, units: Units) -> Iterator[str]:
    """What the defects between two metres are, and how much more lies there that no set takes."""
    left_m = to_m - from_m
    for each in jumbo.defects:
        start = max(from_m, each.from_m - jumbo.loss_start_m)
        end = min(to_m, each.to_m - jumbo.loss_start_m)
        if start < end and each.side_to_side(jumbo.width_mm):
            left_m -= end - start
            yield each.what or text("block.defect")
    if left_m:
        yield text("block.of_no_set", metres=units.said(left_m, "m"))


def _bands_in(
    jumbos: Mapping[str, JumboUse], parts: Sequence[tuple[SetRow, Stretch]]
) -> Iterator[str]:
    """What the bands are that lie in some sets."""
    for _, part in parts:
        jumbo = jumbos[part.jumbo]
        for each in jumbo.defects:
            start, end = each.from_m - jumbo.loss_start_m, each.to_m - jumbo.loss_start_m
            if start < part.to_m and part.from_m < end and not each.side_to_side(jumbo.width_mm):
                yield each.what or text("block.defect")


def defects_text(jumbo: JumboUse, units: Units) -> str:
    """Name the defects of a jumbo: what, metres from its outside, and where across."""
    said = []
    for each in jumbo.defects:
        words = [each.what or text("block.defect"), units.span((each.from_m, each.to_m), "m")]
        if not each.side_to_side(jumbo.width_mm):
            words.append(units.span((each.from_mm, each.to_mm), "mm"))
        said.append(", ".join(words))
    return "; ".join(said)


def unused_texts(plan: Plan, units: Units) -> list[str]:
    """Say of each listed jumbo that no run takes what it is, and why."""
    return [
        f"{each.name}, {each.grade} {units.said(each.grammage_gsm, 'gsm')}, "
        f"{units.said(each.width_mm, 'mm')}, {units.said(each.length_m, 'm')}: {each.why}"
        for each in plan.unused_jumbos
    ]


def stretches_text(row: SetRow, units: Units) -> str:
    """Give the jumbo and the metres that a set is wound from, and where it is joined."""
    parts = [f"{s.jumbo} {units.span((s.from_m, s.to_m), 'm')}" for s in row.stretches]
    at = [text("block.joined", at=units.said(metre, "m")) for metre in row.joins_at_m]
    return ", ".join([" + ".join(parts), *at])


def metres_text(block: Block, units: Units) -> str:
    """Give the set length, or its range where sets of the block differ."""
    return units.span([row.length_m for row in block.sets] or [block.length_m], "m")


def held_text(run: RunPlan, block: Block) -> str:
    """Say how a block of a run that goes on stands beside the sheet that the crew hold.

    The block may be whole, or what is `still_to_run` of it.
    """
    if not any(row.issued for row in run.sets):
        return ""
    waiting = [row for row in block.sets if not row.done]
    ran = [row.number for row in block.sets if row.done]
    if not waiting:
        return text("block.run")
    new = [str(row.number) for row in waiting if not row.issued]
    whole = next(each for each in run.blocks if each.number == block.number)
    if len(new) == len(whole.sets):
        return text("block.new_block")
    held = text("block.as_held", plan=waiting[-1].issued)
    if new:
        held = text("block.new_sets", sets=", ".join(new))
    return (text("block.ran", sets=in_spans(ran)) if ran else "") + held


def still_to_run(block: Block) -> Block:
    """A block without its sets that have run: if some have, the winder is set up for it."""
    waiting = tuple(row for row in block.sets if not row.done)
    if len(waiting) == len(block.sets):
        return block
    unmoved = (False,) * len(block.knives_mm)
    return replace(block, sets=waiting, set_up=False, knife_moves=0, knives_moved=unmoved)


def change_text(block: Block) -> str:
    """Say whether the winder is set up anew for a block."""
    if block.number == 1:
        return text("block.first")
    return text("block.set_up" if block.set_up else "block.no_set_up")


def moves_text(block: Block) -> str:
    """Count knife moves, idle knives in them, beside the knives that the pattern uses.

    Where nobody said how the knives stood before the first block, its moves are not known.
    """
    knives = text("block.knives", count=len(block.knives_mm))
    if block.number == 1 and block.set_up and not block.knife_moves:
        return f"{text('block.moves_unknown')}, {knives}"
    return f"{text('block.moves', count=block.knife_moves)}, {knives}"


def diameters_on(run: RunPlan, block: Block, core_mm: float | None = None) -> list[float]:
    """Give the diameters of a block's reels, mm; with a core, of those on it alone."""
    cores = cores_across(block) if core_mm is None else (core_mm,)
    return [diameter_on(run, core, row.length_m) for core in cores for row in block.sets]


def diameter_text(run: RunPlan, block: Block, units: Units, core_mm: float | None = None) -> str:
    """Give the diameter of a block's reels, or its range where sets or cores differ."""
    return units.span(diameters_on(run, block, core_mm), "diameter")


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


def needs_attention(line: OrderLine) -> bool:
    """Whether somebody must do something about the order."""
    done = line.state in (OrderState.MET, OrderState.FOR_STOCK)
    return not done or line.held_until is not None


def attention_first(run: RunPlan) -> tuple[OrderLine, ...]:
    """Give the run's orders, those that need attention first, then by due date and number.

    Stock widths come last, where any of them is made.
    """
    lines = (line for line in run.orders if line.stock_share is None or line.planned)
    return tuple(sorted(lines, key=pressing))


def pressing(line: OrderLine) -> tuple[int, str, str]:
    """Sort by the state, the most pressing first, then by due date and number."""
    due = line.due.isoformat() if line.due else "9999"
    return list(OrderState).index(line.state), due, line.number


def state_text(line: OrderLine) -> str:
    """Give all that holds of an order, the most pressing first, such as ``late, over``."""
    states = states_text(line.states)
    return states if line.held_until is None else text("order.held", state=states)


def states_text(states: Sequence[OrderState]) -> str:
    """Give states that hold together, the most pressing first."""
    names = [state.name.lower() for state in states]
    also = ["light_too" if name == "light" else name for name in names[1:]]
    return ", ".join(text(f"state.{name}") for name in (*names[:1], *also))


def replaces_text(plan: Plan) -> str:
    """Name the plan that a plan replaces, who replaced it and why; nothing where there is none."""
    if not plan.revised_by:
        return text("plan.replaced", number=plan.replaces) if plan.replaces else ""
    by, why = plan.revised_by, plan.revised_why
    name = "plan.replaced_replanned" if plan.replanned else "plan.replaced_revised"
    return text(name, number=plan.replaces, by=by, why=why)


def why_text(line: OrderLine) -> str:
    """Say why an order is in its states; nothing where it is met."""
    parts = [line.text] if line.text else []
    if line.held_until is not None:
        parts.insert(0, text("order.held_until", until=line.held_until))
    if late := late_text(line):
        parts.append(late)
    return "; ".join(parts)


def late_text(line: OrderLine) -> str:
    """Say when a late order is finished and due; nothing of others."""
    if OrderState.LATE not in line.states or line.finished is None or line.due is None:
        return ""
    return text("order.late", finished=moment(line.finished), due=moment(line.due))


def settings_text(plan: Plan, units: Units) -> tuple[tuple[str, str], ...]:
    """Give what the plan rests on, as pairs of name and value; what was not asked is left out."""
    told = plan.settings
    limit = text("basis.none") if told.time_limit_s is None else f"{number(told.time_limit_s)} s"
    pairs: list[tuple[str, str | None]] = [
        ("until", moment(told.until) if told.until is not None else None),
        ("seed", str(told.seed)),
        ("time_limit", limit),
        ("under", text("basis.of_loss", mass=f"{number(told.under)} {units.sign('kg')}")),
        ("over", text("basis.of_loss", mass=f"{number(told.over)} {units.sign('kg')}")),
    ]
    for key, value in (
        ("trim_cost", told.trim_cost_per_t),
        ("set_up_cost", told.set_up),
        ("knife_move_cost", told.knife_move),
    ):
        said = None if value is None else f"{number(value)} {told.currency}".rstrip()
        pairs.append((key, said))
    give_up = None if told.give_up_kg is None else units.said(told.give_up_kg, "kg", 4)
    pairs.append(("give_up", give_up))
    if told.split_blocks:
        pairs.append(("split_blocks", text("basis.split_worth")))
    also = (told.core_change_is_set_up, "core"), (told.length_change_is_set_up, "length")
    if any(counts for counts, _ in also):
        changes = text("basis.or").join(text(f"basis.{name}") for counts, name in also if counts)
        pairs.append(("set_ups", text("basis.also_set_up", changes=changes)))
    return tuple(
        (text(f"basis.{key}", unit=units.sign("kg")), value)
        for key, value in pairs
        if value is not None
    )


def loads_by_sheeter(plan: Plan) -> tuple[tuple[str, tuple[Load, ...]], ...]:
    """Give the loads of each sheeter that has any, in the plan's order."""
    names = dict.fromkeys(load.sheeter for load in plan.loads)
    return tuple(
        (name, tuple(load for load in plan.loads if load.sheeter == name)) for name in names
    )


def loads_text(loads: Sequence[Load]) -> str:
    """Count a sheeter's loads, with their times and those that leave stands empty."""
    parts = sum(load.part for load in loads)
    count = text("load.count", count=len(loads))
    times = text("load.times", start=moment(loads[0].start), finish=moment(loads[-1].finish))
    full = text("load.parts", count=parts) if parts else text("load.all_full")
    return f"{count}, {times}; {full}"


def written_text(line: OrderLine) -> str:
    """Give an order's figures as the book wrote them, where they were converted."""
    return ", ".join(f"{key.replace('_', ' ')}: {value}" for key, value in line.as_written)
