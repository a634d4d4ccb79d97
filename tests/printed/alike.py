"""Whether all outputs print the same figures, each rounded as that output rounds."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import datetime
from fractions import Fraction
from itertools import accumulate
from typing import Any

from tests.printed.facts import Facts, Json, Reel
from tests.printed.figures import Notes, exact
from tests.printed.in_metric import text_in_metric
from tests.printed.records import BlockSaid, Output, ReelSaid, RunSaid, StripSaid


def compare_reels(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """Lists of reels: one row a reel, in the order of making, and each figure of it."""
    made = [reel for run in facts.runs for reel in facts.reels(run) if reel.good]
    uses: dict[str, list[str]] = defaultdict(list)
    for said in outputs:
        where, label = said.name, said.name == "labels"  # what ran has its labels
        listed = [reel for reel in made if not (label and reel.row["done"])]
        identities = [row.identity for row in said.reels]
        true = [facts.identity(reel, label=label) for reel in listed]
        notes.same("reels", f"{where}, reels in order", identities, true)
        if len(identities) != len(listed):
            continue
        twice = [name for name, times in Counter(identities).items() if times > 1]
        notes.same("reels", f"{where}, identities that stand twice", twice, [])
        for row, reel in zip(said.reels, listed, strict=True):
            _reel(facts, said.name, row, reel, notes)
            use = row.use if not reel.for_stock else row.use.removeprefix("for ")
            uses[facts.identity(reel)].append(use)
    for identity, said_uses in uses.items():
        if len(set(said_uses)) > 1:
            notes.add("use of a reel", identity, f"outputs differ: {said_uses}")


def _reel(facts: Facts, name: str, row: ReelSaid, reel: Reel, notes: Notes) -> None:
    where = f"{name}, {row.identity}"
    line = next(x for x in reel.run["orders"] if x["number"] == reel.position["order"])
    for what, said, true in (
        ("run", row.run, reel.run["name"]),
        ("order", row.order, reel.position["order"]),
        ("customer", row.customer, line["customer"]),
        ("destination", row.destination, line["destination"]),
        ("width", facts.printed(row.width_mm), facts.printed(reel.width_mm)),
        ("length", row.length_m, reel.length_m),
        ("joins", row.joins, len(reel.row["stretches"]) - 1),
        ("jumbo", row.jumbo, reel.row["stretches"][0]["jumbo"]),
        ("set", row.set_number, reel.row["number"]),
        ("core", row.core_mm, reel.core_mm),
    ):
        notes.same(f"{what} of a reel", where, said, true)
    notes.near("mass of a reel", where, row.mass_kg, float(reel.mass_kg), 0.0501)
    if reel.diameter_mm is not None:
        notes.near(
            "diameter of a reel", where, row.diameter_mm, reel.diameter_mm, facts.near_diameter_mm
        )
    own = {"customer", "stock"}
    if reel.for_stock:
        own = {"stock" if name == "labels" else "for stock"}
    allowed = {"sheeter": {reel.position["sheeter"]}, "reel": own}
    if row.use not in allowed[reel.position["kind"]]:
        notes.add("use of a reel", where, f"says {row.use}")


def compare_blocks(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """Blocks as page, workbook and terminal draw them."""
    for said in outputs:
        for run in facts.runs:
            blocks = said.runs[run["name"]].blocks if run["name"] in said.runs else []
            where = f"{said.name}, {run['name']}"
            true = facts.blocks(run, waiting=said.name == "workbook")  # it is what the crew hold
            notes.same("blocks", where, len(blocks), len(true))
            for shown, block in zip(blocks, true, strict=False):
                _block(facts, f"{where}, block {block['number']}", shown, (run, block), notes)


def _block(facts: Facts, where: str, shown: BlockSaid, of: tuple[Json, Json], notes: Notes) -> None:
    run, block = of
    lengths = [row["length_m"] for row in block["sets"]]
    numbers = [row["number"] for row in block["sets"]]
    reels = list(facts.reels(run, block))
    own = [reel for reel in reels if reel.position["kind"] != "broke"]
    for what, said, true in (
        ("number", shown.number, block["number"]),
        ("count of sets", shown.count, len(numbers)),
        ("sets", shown.sets, (numbers[0], numbers[-1])),
        ("lengths", shown.length_m, (min(lengths), max(lengths))),
        ("cores", shown.cores_mm, tuple(sorted({reel.core_mm for reel in own if reel.core_mm}))),
    ):
        notes.same(f"{what} of a block", where, said, true)
    diameters = [reel.diameter_mm for reel in own if reel.diameter_mm is not None]
    if diameters:
        near = facts.near_diameter_mm
        notes.near("diameter of a block", where, shown.diameter_mm[0], min(diameters), near)
        notes.near("diameter of a block", where, shown.diameter_mm[1], max(diameters), near)
    _strips(facts, where, shown, reels, run, notes)
    if shown.edges_mm is not None:
        edges = (block["edge_front_mm"], block["edge_back_mm"])
        _lengths(facts, "edge trim of a block", where, shown.edges_mm, edges, notes)
    if shown.knives_mm is not None:
        _lengths(facts, "knives of a block", where, shown.knives_mm, block["knives_mm"], notes)
        notes.same("knives that move", where, shown.moved, tuple(block["knives_moved"]))
    if shown.moves is not None:
        notes.same("knife moves of a block", where, shown.moves, block["knife_moves"])
    if shown.set_up:
        word = (
            "first pattern"
            if block["number"] == 1
            else "set-up"
            if block["set_up"]
            else "no set-up"
        )
        notes.same("set-up of a block", where, shown.set_up, word)
    if shown.mark is not None:
        notes.same("mark of a block", where, shown.mark, _mark(run, block))
    if shown.cut_out is not None and not facts.inches:  # feet are rounded
        notes.same("metres cut out of a block", where, shown.cut_out, _cut_out(run, block))
    if shown.metres is not None:
        joins = where.startswith("page,")  # the crew's sheet has its joins above the block
        true = tuple((row["number"], _metres(row, joins=joins)) for row in block["sets"])
        notes.same("metres on jumbos", where, shown.metres, true)


def _cut_out(run: Json, block: Json) -> tuple[tuple[int, int], ...]:
    """What lies on the jumbo between the parts of sets, by the set that comes after it."""
    reached: dict[str, int] = defaultdict(int)
    found = []
    for each in run["blocks"]:
        for row in each["sets"]:
            for part in row["stretches"]:
                metres = part["from_m"] - reached[part["jumbo"]]
                reached[part["jumbo"]] = part["to_m"]
                if metres and each is block:
                    found.append((row["number"], metres))
    return tuple(found)


def _mark(run: Json, block: Json) -> str:
    """How a block stands beside the sheet that the crew hold, where they hold one."""
    if not any(row["issued"] for each in run["blocks"] for row in each["sets"]):
        return ""
    waiting = [row for row in block["sets"] if not row["done"]]
    if not waiting:
        return "has run"
    new = [str(row["number"]) for row in waiting if not row["issued"]]
    whole = next(each for each in run["blocks"] if each["number"] == block["number"])
    if len(new) == len(whole["sets"]):
        return "NEW"
    done = [row["number"] for row in block["sets"] if row["done"]]
    ran = f"already run: {_spans(done)}, " if done else ""
    held = f"as on the sheet of {waiting[-1]['issued']}"
    return ran + (f"CHANGED: new sets {', '.join(new)}" if new else held)


def _spans(numbers: list[int]) -> str:
    """Numbers that follow one another as "2–4"."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][-1] + 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    return ", ".join(f"{s[0]}–{s[-1]}" if len(s) > 1 else f"{s[0]}" for s in spans)


def _lengths(
    facts: Facts,
    kind: str,
    where: str,
    said: tuple[Fraction, ...],
    true: Sequence[object],
    notes: Notes,
) -> None:
    """Compare widths that are printed to four decimals."""
    notes.same(kind, where, len(said), len(true))
    for one, other in zip(said, true, strict=False):
        notes.near(kind, where, float(one), float(exact(other)), facts.near_width_mm)


def _metres(row: Json, *, joins: bool) -> str:
    parts = row["stretches"]
    said = " + ".join(f"{p['jumbo']} {p['from_m']:,}–{p['to_m']:,} m" for p in parts)
    metres = accumulate(p["to_m"] - p["from_m"] for p in parts[:-1] if joins)
    return ", ".join([said, *(f"join at {metre:,} m" for metre in metres)])


def _strips(
    facts: Facts, where: str, shown: BlockSaid, reels: list[Reel], run: Json, notes: Notes
) -> None:
    """Strips alike: how many, and what they are; cores and diameters where they are printed."""
    first = [reel for reel in reels if reel.row is reels[0].row]
    customers = {line["number"]: line["customer"] for line in run["orders"]}
    true: Counter[tuple[Any, ...]] = Counter()
    for reel in first:
        kind, order = reel.position["kind"], reel.position["order"]
        count = reel.position["ups"]
        ups = f", {count} up{'' if count == 1 else 's'}"
        terminal = where.startswith("terminal")  # the name of the stock width says it there
        own = "for stock" if reel.for_stock and not terminal else "customer"
        use = {"broke": "broke", "reel": own}.get(kind, reel.position["sheeter"] + ups)
        customer = " ".join(customers.get(order, "").split())
        true[facts.printed(reel.width_mm), order, customer, use] += 1
    said: Counter[tuple[Any, ...]] = Counter()
    for strip in shown.strips:
        customer = " ".join(strip.customer.split())
        said[facts.printed(strip.width_mm), strip.order, customer, strip.use] += strip.count
    notes.same("reels of a block", where, dict(said), dict(true))
    for strip in shown.strips:
        _strip(facts, where, strip, reels, notes)


def _strip(facts: Facts, where: str, strip: StripSaid, reels: list[Reel], notes: Notes) -> None:
    alike = [
        reel
        for reel in reels
        if (facts.printed(reel.width_mm), reel.position["order"])
        == (facts.printed(strip.width_mm), strip.order)
        and (strip.core_mm is None or reel.core_mm == strip.core_mm)
        and (not strip.places or reel.position["number"] in strip.places)
    ]
    if not alike:
        notes.add("core of a strip", where, f"no reel of {strip.order} on {strip.core_mm} mm")
        return
    if strip.max_kg is not None:
        most = float(max(reel.mass_kg for reel in alike))
        notes.near("most kg of a block", where, strip.max_kg, most, 1e-6)
    sizes = [reel.diameter_mm for reel in alike if reel.diameter_mm is not None]
    if strip.diameter_mm is not None and sizes:
        for said_mm, true_mm in zip(strip.diameter_mm, (min(sizes), max(sizes)), strict=True):
            notes.near("diameter of a strip", where, said_mm, true_mm, facts.near_diameter_mm)


def _moment(value: object) -> datetime | None:
    return datetime.fromisoformat(value) if isinstance(value, str) and value else None


def compare_orders(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """Orders as workbook and page print them."""
    for said in outputs:
        for run in facts.runs:
            rows = said.runs[run["name"]].orders
            where = f"{said.name}, {run['name']}"
            shown = [line for line in run["orders"] if line["state"] != "for stock"]
            shown += [x for x in run["orders"] if x["state"] == "for stock" and exact(x["planned"])]
            numbers = sorted(line["number"] for line in shown)
            notes.same("orders", where, sorted(rows), numbers)
            for line in run["orders"]:
                if line["number"] in rows:
                    _order(facts, f"{where}, {line['number']}", rows[line["number"]], line, notes)


def _order(facts: Facts, where: str, row: dict[str, Any], line: Json, notes: Notes) -> None:
    from_stock = sum(one.gives for one in facts.served.get(line["number"], ()))
    asked = float(exact(line["asked"]) - exact(line["made_before"]) - from_stock)
    for what, true in (
        ("asked", asked),
        ("planned", float(exact(line["planned"]))),
        ("difference", float(exact(line["planned"])) - asked),
    ):
        if what in row:
            notes.near(f"{what} of an order", where, row[what], true, 0.0501)
        if f"{what} in reams" in row:
            reams = row[f"{what} in reams"] * line["sheets_a_ream"]
            notes.near(f"{what} in reams", where, reams, true, 0.0501 * line["sheets_a_ream"])
    for what in ("delivered kg", "ordered kg", "surplus kg"):
        if what in row:
            true = float(line[what.replace(" ", "_")])
            notes.near(f"{what} of an order", where, row[what], true, 0.501)
    notes.same("unit of an order", where, row["unit"], line["unit"])
    states = [line["state"], *(state.removeprefix("met, ") for state in line["also"])]
    notes.same("state of an order", where, row["state"].lower(), ", ".join(states))
    finished = None if exact(line["lacking"]) else _moment(line["finished"])
    for what, moment in (("due", _moment(line["due"])), ("finished", finished)):
        said = row[what]
        if isinstance(said, str):
            true_text = f"{moment.day} {moment:%b %H:%M}" if moment else ""
            notes.same(f"{what} of an order", where, said, true_text)
        elif (said is None) != (moment is None) or (
            moment is not None and abs((said - moment).total_seconds()) > 1
        ):
            notes.add(f"{what} of an order", where, f"says {said}, is {moment}")


def compare_calls(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """What needs attention: headline, states and orders, alike everywhere."""
    calls = [(each["order"], "left out") for each in facts.plan["left_out"]]
    calls += [
        (line["number"], line["state"])
        for run in facts.runs
        for line in run["orders"]
        if line["state"] not in ("met", "for stock")
    ]
    headlines = {said.heading.rstrip(".") for said in outputs}
    if len(headlines) > 1:
        notes.add("attention", "headlines", f"differ: {headlines}")
    for said in outputs:
        quiet = said.heading.startswith("Every order of the book is planned and met")
        notes.same("attention", f"{said.name}: {said.heading}", quiet, not calls)
        counts = Counter(state for _, state in calls)
        for state, count in counts.items():
            if f"{count} {state}" not in said.heading:
                notes.add("attention", said.name, f"{said.heading}: does not say {count} {state}")


def compare_unused(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """Listed jumbos that no run takes: each named, with the reason."""
    read = text_in_metric if facts.inches else str
    true = [
        (row["name"], read(f"{row['length_m']:,} m: {row['why']}"))
        for row in facts.plan["unused_jumbos"]
    ]
    for said in outputs:
        found = [
            (name, " ".join(why.split()))
            for (name, why), text in zip(true, said.unused, strict=False)
            if text.startswith(f"{name}, ") and " ".join(why.split()) in " ".join(text.split())
        ]
        notes.same("listed jumbos not used", said.name, len(found), len(said.unused))
        notes.same("listed jumbos not used", said.name, len(said.unused), len(true))


def compare_runs(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """Sums of a run wherever they stand, each to the places it is printed to."""
    for said in outputs:
        notes.same("number of the plan", said.name, said.number, facts.plan["number"])
        names = [run["name"] for run in facts.runs]
        notes.same("runs", said.name, list(said.runs), names)
        for run in facts.runs:
            if run["name"] in said.runs:
                shown = said.runs[run["name"]]
                _figures(facts, f"{said.name}, {run['name']}", shown, run, notes)
                _jumbos(facts, f"{said.name}, {run['name']}", shown, run, notes)
                _trade_off(f"{said.name}, {run['name']}", shown, run, notes)


def _figures(facts: Facts, where: str, shown: RunSaid, run: Json, notes: Notes) -> None:
    balance = {key: float(value) for key, value in run["balance"].items()}
    ordered = sum(float(line["ordered_kg"]) for line in run["orders"])
    trim = balance["edge_trim_kg"] + balance["pattern_trim_kg"]
    used, wound, deckle = balance["used_kg"], balance["wound_kg"], balance["deckle_kg"]
    delivered = balance["delivered_kg"]

    def share(part: float, whole: float) -> float:
        return part / whole if whole else 0.0

    sets = sum(len(block["sets"]) for block in run["blocks"])
    kg = {"Paper used": used, "Delivered in tolerance": delivered}
    kg |= {"Surplus": balance["surplus_kg"], "Edge trim": balance["edge_trim_kg"]}
    kg |= {"Pattern trim": balance["pattern_trim_kg"], "Butts": balance["butts_kg"]}
    kg |= {"Sheeter trim and waste": balance["sheeter_kg"], "broke reels": balance["broke_kg"]}
    kg |= {"Jumbo start and end": balance["start_end_kg"], "Sum of the parts": used}
    kg |= {"Broke reels, in pattern trim": balance["broke_kg"]}
    kg |= {"Reels of no order": balance["culls_kg"], "Defects cut out": balance["defects_kg"]}
    stock, trimmed = balance["stock_used_kg"], balance["stock_sheeter_kg"]
    kg |= {"Stock used": stock, "Sheeter trim and waste of stock": trimmed}
    kg |= {"Delivered from stock": stock - trimmed, "Sum of the parts": used + stock}
    kg |= {"Made for stock": balance["made_for_stock_kg"]}
    kg |= {"Web wound, full width": wound, "Web wound, deckle width": deckle}
    true: dict[str, tuple[float, float]] = {
        "jumbos": (len(run["jumbos"]), 0), "sets": (sets, 0), "blocks": (len(run["blocks"]), 0),
        "set-ups": (run["set_ups"], 0), "knife moves": (run["knife_moves"], 0),
        "minutes": (float(run["minutes"]), 0.501),
        "used t": (used / 1000, 0.00501), "delivered t": (delivered / 1000, 0.00501),
        "ordered t": (ordered / 1000, 0.00501),
        "delivered / ordered": (share(delivered, ordered), 1e-6),
        "ordered %": (100 * share(delivered, ordered), 0.0501),
        "trim %": (100 * share(trim, wound), 0.00501), "trim loss": (share(trim, wound), 1e-9),
        "deckle %": (100 * share(balance["pattern_trim_kg"], deckle), 0.00501),
        "total %": (100 * share(used - delivered, used), 0.00501),
        "total loss": (share(used - delivered, used), 1e-9),
        "losses Trim loss": (share(trim, wound), 1e-9),
        "losses on the deckle": (share(balance["pattern_trim_kg"], deckle), 1e-9),
        "losses Total loss": (share(used - delivered, used), 1e-9),
        "losses Trim loss kg": (trim, 0.501), "losses Trim loss of kg": (wound, 0.501),
        "losses on the deckle kg": (balance["pattern_trim_kg"], 0.501),
        "losses on the deckle of kg": (deckle, 0.501),
        "losses Total loss kg": (used - delivered, 0.501), "losses Total loss of kg": (used, 0.501),
        "trim kg": (trim, 0.501), "wound kg": (wound, 0.501),
        "jumbo mm": (facts.printed(exact(run["jumbo_width_mm"])), 0),
        "deckle mm": (facts.printed(exact(run["deckle_mm"])), 0),
        "carried m": (sum(jumbo["carried_forward_m"] for jumbo in run["jumbos"]), 0),
    }  # fmt: skip
    for name, mass in kg.items():
        true |= {f"{name} kg": (mass, 0.501), f"{name} share": (share(mass, used), 1e-6)}
        true |= {f"{name} %": (100 * share(mass, used), 0.00501)}
        true |= {f"summary {name} kg": (mass, 1e-3)}
        true |= {f"summary {name} share": (share(mass, used), 1e-6)}
    for name, figure in shown.figures.items():
        width = name in ("jumbo mm", "deckle mm")
        said = facts.printed(exact(figure)) if width else figure
        if name in true:
            notes.near("sums of a run", f"{where}, {name}", said, *true[name])
        elif not name.startswith("Carried forward"):
            notes.add("sums of a run", where, f"{name} ({said}) is not known to the checker")


def _jumbos(facts: Facts, where: str, shown: RunSaid, run: Json, notes: Notes) -> None:
    if not shown.jumbos and where.startswith("terminal"):
        return
    notes.same("jumbos", where, len(shown.jumbos), len(run["jumbos"]))
    a_metre = exact(run["grammage_gsm"]) / 1_000_000
    for row, jumbo in zip(shown.jumbos, run["jumbos"], strict=False):
        sets = [
            each["number"]
            for block in run["blocks"]
            for each in block["sets"]
            if any(part["jumbo"] == jumbo["name"] for part in each["stretches"])
        ]
        true = {
            "name": jumbo["name"],
            "from": _from(jumbo, run),
            "sets": f"{sets[0]}" if len(sets) == 1 else f"{sets[0]}–{sets[-1]}",
            "Width mm": facts.printed(exact(jumbo["width_mm"])),
            "Length m": jumbo["length_m"],
            "Start loss m": jumbo["loss_start_m"],
            "Wound m": jumbo["wound_m"],
            "Butt m": jumbo["butt_m"],
            "End loss m": jumbo["loss_end_m"],
            "Carried forward m": jumbo["carried_forward_m"],
        }
        for what, value in true.items():
            said = facts.printed(row[what]) if what == "Width mm" else row[what]
            notes.same(f"{what} of a jumbo", f"{where}, {jumbo['name']}", said, value)
        for what in ("Butt", "Carried forward"):
            if f"{what} kg" in row:
                kg = float(exact(jumbo["width_mm"]) * true[f"{what} m"] * a_metre)
                notes.near(f"{what} kg of a jumbo", where, row[f"{what} kg"], kg, 1e-6)


def _from(jumbo: Json, run: Json) -> str:
    if jumbo["nominal"]:
        return "nominal"
    width, usual = exact(jumbo["width_mm"]), exact(run["jumbo_width_mm"])
    return "stock" if width == usual else f"stock, {'narrow' if width < usual else 'wide'}"


def _trade_off(where: str, shown: RunSaid, run: Json, notes: Notes) -> None:
    points = sorted(run["trade_off"], key=lambda point: point["patterns"])
    points = points if len(points) > 1 else []  # one is no choice, and is not printed
    notes.same("rows of the trade-off", where, len(shown.trade_off), len(points))
    for row, point in zip(shown.trade_off, points, strict=False):
        at = f"{where}, {point['patterns']} patterns"
        own = point["chosen"]
        kind = "" if own else "_estimate"
        with_butts = float(point["with_butts_kg" if own else "with_butts_estimate_kg"])
        trim = 100 * float(point[f"trim_loss{kind}"])
        words = "this plan, as wound" if own else "estimate"
        notes.same("patterns of the trade-off", at, row.patterns, point["patterns"])
        notes.same("marked row of the trade-off", at, row.figures, words)
        notes.same("knife moves of the trade-off", at, row.moves, point["knife_moves"])
        notes.near("kg with butts", at, row.with_butts_kg, with_butts, 0.501)
        notes.near("trim loss of the trade-off", at, row.trim_percent, trim, 0.00501)
        if row.loss_kg is not None:
            notes.near("loss of the trade-off", at, row.loss_kg, float(point["loss_kg"]), 0.501)
