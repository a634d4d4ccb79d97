"""What each order gets and where the paper goes, reckoned again."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from datetime import datetime
from fractions import Fraction

from tests.printed.facts import Facts, Json, Reel
from tests.printed.figures import Notes, exact
from tests.printed.inputs import Asked

_KG = 0.01


def check_amounts(facts: Facts, notes: Notes) -> None:
    """Every order of the book, and the balance of every run."""
    planned = Counter(line["number"] for run in facts.runs for line in run["orders"])
    left_out = {each["order"] for each in facts.plan["left_out"]}
    for number, asked in facts.inputs.asked.items():
        times = planned[number] + (number in left_out)
        # One of a paper that has no run, or of lengths that no set has, is in no plan.
        runs = [run for run in facts.runs if _of_paper(run, asked)]
        if (times != 1) if asked.share is None else (times > len(runs)):
            notes.add("orders", number, f"stands {times} times in the plan")
    for run in facts.runs:
        made: dict[str, list[Reel]] = defaultdict(list)
        for reel in facts.reels(run):
            if reel.good:
                made[reel.position["order"]].append(reel)
        for line in run["orders"]:
            if line["number"] in facts.inputs.asked:
                asked = facts.inputs.asked[line["number"]]
                each = _order if asked.share is None else _for_stock
                each(facts, run, line, asked, made[line["number"]], notes)
        _balance(facts, run, notes)
        _proof(run, notes)
        _trade_off(run, facts.plan["settings"], notes)


def _of_paper(run: Json, asked: Asked) -> bool:
    return (run["grade"].casefold(), exact(run["grammage_gsm"])) == (
        asked.grade.casefold(),
        asked.gsm,
    )


def _for_stock(
    facts: Facts, run: Json, line: Json, asked: Asked, reels: list[Reel], notes: Notes
) -> None:
    """A stock width: no more than the mill's most, none of it delivered, all in whole reels."""
    where = f"{run['name']}, stock width {asked.number}"
    mill = next(x for x in facts.inputs.mill["stock_width"] if x["name"] == asked.number)
    kg = sum((reel.mass_kg for reel in reels), Fraction(0))
    notes.near("planned kg for stock", where, float(line["planned_kg"]), float(kg), _KG)
    notes.same("planned for stock", where, exact(line["planned"]), Fraction(len(reels)))
    if kg > exact(mill["max_t"]) * 1000 + Fraction(1, 100):
        notes.add("planned kg for stock", where, f"{float(kg):.1f}, {mill['max_t']} t at the most")
    none = [float(line[name]) for name in ("ordered_kg", "delivered_kg", "lacking_kg")]
    notes.same("delivered for stock", where, none, [0.0, 0.0, 0.0])
    notes.same("state of an order", where, (line["state"], line["also"]), ("for stock", []))
    alone = [
        block["number"]
        for block in run["blocks"]
        if {p["order"] for p in block["positions"] if p["kind"] != "broke"} <= _widths_of(facts)
    ]
    notes.same("blocks for stock alone", where, alone, [])


def _widths_of(facts: Facts) -> set[str]:
    return {number for number, each in facts.inputs.asked.items() if each.share is not None}


def _given(facts: Facts, asked: Asked, reel: Reel) -> Fraction:
    """What a reel gives to its order, in the order's unit."""
    if asked.sheet:
        sheets = facts.sheets_of(reel)
        return sheets * asked.sheet_kg if asked.unit == "kg" else Fraction(sheets)
    return {"reels": Fraction(1), "m": Fraction(reel.length_m), "kg": reel.mass_kg}[asked.unit]


def stock_reels(facts: Facts, asked: Asked, reels: list[Reel]) -> list[Reel]:
    """Customer's reels made when the upper limit was already reached: whole ones too many."""
    _, most = _limits(facts, asked)
    if asked.unit == "reels":
        most = Fraction(math.floor(most))
    found, total = [], Fraction(0)
    for reel in reels:
        if total >= most and not asked.sheet:
            found.append(reel)
        total += _given(facts, asked, reel)
    return found


def _limits(facts: Facts, asked: Asked) -> tuple[Fraction, Fraction]:
    under, over = facts.inputs.tolerance(asked)
    least, most = asked.quantity * (1 - under), asked.quantity * (1 + over)
    if asked.ream is not None:  # whole reams at either end
        least = math.ceil(least / asked.ream) * asked.ream
        most = math.floor(most / asked.ream) * asked.ream
    there = asked.made + asked.in_stock
    return max(Fraction(0), least - there), max(Fraction(0), most - there)


def _order(
    facts: Facts, run: Json, line: Json, asked: Asked, reels: list[Reel], notes: Notes
) -> None:
    where = f"{run['name']}, order {asked.number}"
    least, most = _limits(facts, asked)
    given = sum((_given(facts, asked, reel) for reel in reels), Fraction(0))
    notes.near("planned of an order", where, float(exact(line["planned"])), float(given), _KG)
    for what, true in (("asked", asked.quantity), ("made_before", asked.made)):
        notes.near("asked of an order", where, float(exact(line[what])), float(true), 1e-6)
    for what, true in (("min_quantity", least), ("max_quantity", most)):
        within = 0.06 if asked.unit != "sheets" else 1.0
        if asked.sheet and asked.unit == "kg":
            within = float(asked.sheet_kg) + _KG
        notes.near(f"{what} of an order", where, float(exact(line[what])), float(true), within)
    kg = sum((reel.mass_kg for reel in reels), Fraction(0))
    if asked.sheet:
        kg = sum(facts.sheets_of(reel) for reel in reels) * asked.sheet_kg
    notes.near("planned kg of an order", where, float(line["planned_kg"]), float(kg), _KG)
    surplus = _surplus_kg(facts, asked, reels, given, least, most)
    notes.near("surplus kg of an order", where, float(line["surplus_kg"]), float(surplus), 0.06)
    delivered = float(kg - surplus)
    notes.near("delivered kg of an order", where, float(line["delivered_kg"]), delivered, 0.06)
    wanted = max(Fraction(0), asked.quantity - asked.made - asked.in_stock)
    ordered = {
        "kg": lambda: float(wanted),
        "m": lambda: float(wanted * asked.width_mm * asked.gsm) / 1e6,
        "sheets": lambda: float(wanted * asked.sheet_kg),
        "reels": lambda: float(wanted) * facts.inputs.full_reel_kg(asked),
    }[asked.unit]()
    notes.near("ordered kg of an order", where, float(line["ordered_kg"]), ordered, 0.06)
    last = max((reel.row["number"] for reel in reels), default=None)
    notes.same("last set of an order", where, line["last_set"], last)
    finished = _finished(facts, run, asked, reels)
    said = line["finished"] and datetime.fromisoformat(line["finished"])
    notes.same("finished of an order", where, said, finished)
    _state(where, line, asked, (given, least, most), finished, notes)


def _surplus_kg(
    facts: Facts,
    asked: Asked,
    reels: list[Reel],
    given: Fraction,
    least: Fraction,
    most: Fraction,
) -> Fraction:
    """What lies above the upper limit: whole reels, or whole sheets; of others the excess."""
    if asked.unit == "reels":
        high = max(math.floor(most), math.ceil(least))
        return sum((reel.mass_kg for reel in reels[high:]), Fraction(0))
    if asked.sheet:
        each = asked.sheet_kg if asked.unit == "kg" else Fraction(1)
        high = max(math.floor(most / each), math.ceil(least / each))
        sheets = sum(facts.sheets_of(reel) for reel in reels)
        return max(0, sheets - high) * asked.sheet_kg
    if asked.unit == "m":  # whole metres
        least, most = Fraction(math.ceil(least)), Fraction(math.floor(most))
    beyond = max(Fraction(0), given - max(most, least))
    return beyond if asked.unit == "kg" else beyond * asked.width_mm * asked.gsm / 1_000_000


def _finished(facts: Facts, run: Json, asked: Asked, reels: list[Reel]) -> datetime | None:
    """When the last set is wound; of sheets, when the last load is cut."""
    ends = [reel.row["finish"] for reel in reels if reel.row["finish"]]
    loads = [
        load["finish"]
        for load in facts.plan["loads"]
        if (load["run"], load["order"]) == (run["name"], asked.number)
    ]
    return max(map(datetime.fromisoformat, loads or ends), default=None)


def _state(
    where: str,
    line: Json,
    asked: Asked,
    amounts: tuple[Fraction, Fraction, Fraction],
    finished: datetime | None,
    notes: Notes,
) -> None:
    """The words beside an order say what the figures say: of amount one, and late or not."""
    given, least, most = amounts
    slack = Fraction(0)
    if asked.unit == "kg":
        slack = asked.sheet_kg if asked.sheet else Fraction(1, 100)
    right = set()
    if given < least:
        right |= {"short", "carried over"}
    if given > most:
        right |= {"over", "needs sales"}
    if least - slack <= given <= most + slack:
        right |= _inside(line, asked, least)
    late = finished is not None and asked.due is not None and finished > asked.due
    said = {line["state"], *line["also"]}
    amount = said - {"late"} or {"met"}
    if not (len(amount) == 1 and amount <= right):
        text = f"{float(given):g} of {float(least):g} to {float(most):g} {asked.unit}"
        notes.add("state of an order", where, f"says {sorted(said)}: {text}")
    if not amount & {"short", "carried over"} and late != ("late" in said):
        text = f"says {sorted(said)}, finished {finished}, due {asked.due}"
        notes.add("late and not said", where, text)


def _inside(line: Json, asked: Asked, least: Fraction) -> set[str]:
    """Met, or light: below the mass of the lower limit at the target diameter."""
    wanted = asked.quantity - asked.made - asked.in_stock
    if wanted <= 0:
        return {"met"}
    beyond = float(line["planned_kg"]) - float(line["ordered_kg"]) * float(least / wanted)
    return {"met"} if beyond > 0.1 else {"met, light"} if beyond < -0.1 else {"met", "met, light"}


def _balance(facts: Facts, run: Json, notes: Notes) -> None:
    where = run["name"]
    winder = facts.inputs
    said = {key: float(value) for key, value in run["balance"].items()}
    gsm = exact(run["grammage_gsm"]) / 1_000_000
    widths = {jumbo["name"]: exact(jumbo["width_mm"]) for jumbo in run["jumbos"]}
    edge, web = winder.winder_mm("min_edge_trim_mm"), winder.winder_mm("max_web_mm")
    assert edge is not None
    assert web is not None
    wound = deckle = Fraction(0)
    for block in run["blocks"]:
        for row in block["sets"]:
            for part in row["stretches"]:
                width, metres = widths[part["jumbo"]], part["to_m"] - part["from_m"]
                wound += width * metres * gsm
                deckle += min(width - 2 * edge, web) * metres * gsm
    by_kind: dict[str, Fraction] = defaultdict(Fraction)
    widths_of = _widths_of(facts)
    for reel in facts.reels(run):
        kind = reel.position["kind"]
        if reel.position["number"] in reel.row["spoiled"]:
            kind = "culled" if reel.row["done"] else "defect"
        elif reel.position["order"] in widths_of:
            kind = "for stock"
        by_kind[kind] += reel.mass_kg
    used = sum(kg for kind, kg in by_kind.items() if kind != "broke")
    cut = gsm * sum(exact(j["width_mm"]) * j["defect_m"] for j in run["jumbos"])
    stock = [one for line in run["orders"] for one in facts.served.get(line["number"], ())]
    lines = run["orders"]
    sheets = sum(float(line["planned_kg"]) for line in lines if line["product"] == "sheet")
    butts = sum(exact(j["width_mm"]) * j["butt_m"] for j in run["jumbos"]) * gsm
    ends = gsm * sum(
        exact(j["width_mm"]) * (j["loss_start_m"] + j["loss_end_m"]) for j in run["jumbos"]
    )
    true = {
        "wound_kg": wound,
        "deckle_kg": deckle,
        "edge_trim_kg": wound - deckle,
        "pattern_trim_kg": deckle - used,
        "defects_kg": cut + by_kind["defect"],
        "made_for_stock_kg": by_kind["for stock"],
        "stock_used_kg": sum(one.kg for one in stock),
        "stock_sheeter_kg": sum(one.kg - one.given_kg for one in stock),
        "culls_kg": by_kind["culled"],
        "broke_kg": by_kind["broke"],
        "sheeter_kg": float(by_kind["sheeter"]) - sheets,
        "butts_kg": butts,
        "start_end_kg": ends,
        "used_kg": wound + butts + ends + cut,
        "delivered_kg": sum(float(line["delivered_kg"]) for line in lines),
        "surplus_kg": sum(float(line["surplus_kg"]) for line in lines),
        "under_kg": sum(max(0.0, _missed(line)) for line in lines),
        "over_kg": sum(max(0.0, -_missed(line)) for line in lines),
    }
    for name, kg in true.items():
        notes.near("balance", f"{where}, {name}", said[name], float(kg), 0.1)
    parts = ("delivered_kg", "surplus_kg", "edge_trim_kg", "pattern_trim_kg", "sheeter_kg",
             "butts_kg", "start_end_kg", "culls_kg", "defects_kg", "made_for_stock_kg")  # fmt: skip
    total = sum(said[part] for part in parts)
    notes.near("balance", f"{where}, sum of the parts", total, said["used_kg"], 0.1)
    if min(said.values()) < -_KG:
        notes.add("balance", where, "a part is below 0")


def _missed(line: Json) -> float:
    return float(line["ordered_kg"]) - float(line["delivered_kg"])


def _proof(run: Json, notes: Notes) -> None:
    where, proof = run["name"], run["proof"]
    loss, bound = float(proof["loss_kg"]), float(proof["bound_kg"])
    notes.near("gap", where, float(proof["gap_kg"]), loss - bound, _KG)
    if proof["status"] == "optimal" and abs(loss - bound) > _KG:
        notes.add("gap", where, f"optimal with a gap of {loss - bound:.2f} kg")
    if bound > loss + _KG or float(proof["price_bound_kg"]) > bound + _KG:
        notes.add("gap", where, "a bound lies above what it bounds")
    metres = sum(jumbo["wound_m"] + jumbo["butt_m"] for jumbo in run["jumbos"])
    if proof["metres_used"] is not None:
        notes.same("jumbo metres used", where, proof["metres_used"], metres)
    if proof["metres_bound"] is not None and proof["metres_bound"] > metres:
        notes.add("gap", where, f"{metres} m used, at least {proof['metres_bound']} proven")


def _trade_off(run: Json, told: Json, notes: Notes) -> None:
    """The marked row states the plan's own figures."""
    chosen = [point for point in run["trade_off"] if point["chosen"]]
    if not run["trade_off"]:
        return
    notes.same("marked row of the trade-off", run["name"], len(chosen), 1)
    balance = run["balance"]
    for point in chosen:
        where = f"{run['name']}, this plan"
        moves = point["knife_moves"]
        if moves is not None:
            notes.same("marked row: knife moves", where, moves, run["knife_moves"])
        wound = balance["wound_kg"] or 1  # nothing is, where stock serves all
        trim = (balance["edge_trim_kg"] + balance["pattern_trim_kg"]) / wound
        said = 100 * float(point["trim_loss"])
        notes.near("marked row: trim loss", where, said, 100 * float(trim), 0.00501)
        lost = balance["used_kg"] - balance["start_end_kg"] - balance["delivered_kg"]
        lost -= balance["stock_worth_kg"]
        lost += (
            exact(told["under"]) * balance["under_kg"] + exact(told["over"]) * balance["over_kg"]
        )
        said = float(point["with_butts_kg"])
        notes.near("marked row: kg with butts", where, said, float(lost), 0.06)
        patterns = {
            (
                block["core_mm"] if told["core_change_is_set_up"] else None,
                tuple(
                    sorted(str(p["width_mm"]) for p in block["positions"] if p["kind"] != "broke")
                ),
            )
            for block in run["blocks"]
        }
        if point["patterns"] < len(patterns):
            notes.add("marked row: patterns", where, f"{point['patterns']} of {len(patterns)}")
