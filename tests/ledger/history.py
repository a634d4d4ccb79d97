"""An invented mill's history: three shifts a day, five grades, seeded.

Plans are written down, not solved: patterns of random widths that fill most of a deckle, laid onto
jumbos end to end. Masses follow from width × length × grammage alone, with nothing of the package,
so that a balance that closes here closes for the ledger's reasons. One shift in sixteen is planned
anew when part of it has been run.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from fractions import Fraction

from trimopt.book.model import Stretch
from trimopt.ledger.match_rows import Entry
from trimopt.mill.model import Core
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import (
    SCHEMA,
    Block,
    JumboUse,
    OrderLine,
    Plan,
    Position,
    Request,
    RunPlan,
    SetRow,
    Settings,
    Source,
)
from trimopt.plan.proof_data import Proof, SetLength, TradePoint
from trimopt.plan.states import OrderState

GRADES = (
    ("Coated board", 240.0, 330.0),
    ("Plain board", 300.0, 470.0),
    ("White liner", 150.0, 190.0),
    ("Brown liner", 125.0, 175.0),
    ("Fluting", 105.0, 160.0),
)
"""Name, grammage g/m², wound caliper µm."""

WIDE, DECKLE = 4400, 4350
_WIDTHS = tuple(range(480, 1460, 20))
_CUSTOMERS = ("Amberly Boxes", "Birchmoor Packs", "Calder & Wren", "Dunlin Print", "Eskdale Trays")
_LOSS_START_M, _LOSS_END_M = 90, 60
_REASONS = ("web break", "wrinkles", "telescoped", "ragged slit edge", "off width")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """The plans of a shift in the order of their issue, each with what was run of it."""

    plans: tuple[tuple[Plan, tuple[Entry, ...]], ...]


def shifts(days: int, *, seed: int = 20, first: date = date(2024, 1, 1)) -> Iterator[Shift]:
    """Give all shifts of so many days, three a day at 06:00, 14:00 and 22:00."""
    rng = random.Random(seed)
    for day in range(days):
        for hour in (6, 14, 22):
            start = datetime.combine(first + timedelta(days=day), time(hour))
            yield _shift(rng, start, drift=0.25 * day / max(1, days))


def _shift(rng: random.Random, start: datetime, *, drift: float) -> Shift:
    stem = f"{start:%Y-%m-%d-%H}"
    plan = _plan(rng, start, f"{stem}-1", "", drift)
    entries = _entries(rng, plan, drift)
    if rng.random() > 1 / 16:
        return Shift(plans=((plan, entries),))
    # Planned anew in the middle of the shift: the first plan keeps the sets that were run.
    some = tuple(entry for entry in entries if entry.number <= 2 and entry.place == 1)
    again = _plan(rng, start + timedelta(hours=2), f"{stem}-2", plan.number, drift)
    return Shift(plans=((plan, some), (again, _entries(rng, again, drift))))


def _plan(rng: random.Random, start: datetime, number: str, replaces: str, drift: float) -> Plan:
    # Campaigns: a grade holds for some days, and now and then a shift makes two.
    first = (start.toordinal() // 3) % len(GRADES)
    grades = [first] if rng.random() < 0.75 else [first, (first + 1) % len(GRADES)]
    runs, at = [], start
    shift = number.rpartition("-")[0]  # planned anew, a shift has the same orders
    for place, grade in enumerate(grades):
        run = _run(
            rng, at, grade, f"{shift}.{place}", blocks=4 if len(grades) == 1 else 2, drift=drift
        )
        runs.append(run)
        assert run.finish is not None
        at = run.finish
    winder = f"Winder {(start - timedelta(hours=6)).toordinal() % 2 + 1}"
    return Plan(
        schema=SCHEMA,
        number=number,
        replaces=replaces,
        made_at=start - timedelta(minutes=50),
        made_with="0.1.0",
        mill_name="Mill of the invented history",
        winder=winder,
        book=Source(name="shift.xlsx", fingerprint="c" * 64),
        mill=Source(name="mill.toml", fingerprint="d" * 64),
        as_of=start.date(),
        request=Request(seed=1),
        settings=Settings(seed=1),
        runs=tuple(_on_winder(run, winder) for run in runs),
    )


def _on_winder(run: RunPlan, winder: str) -> RunPlan:
    blocks = tuple(
        replace(block, sets=tuple(replace(row, winder=winder) for row in block.sets))
        for block in run.blocks
    )
    jumbos = tuple(replace(jumbo, winder=winder) for jumbo in run.jumbos)
    return replace(run, winder=winder, blocks=blocks, jumbos=jumbos)


def _pattern(rng: random.Random, drift: float) -> tuple[int, ...]:
    """Widths that leave less than the narrowest reel, and seldom much of that."""
    best: tuple[int, ...] = ()
    tries = 12 if rng.random() > drift else 3
    for _ in range(tries):
        kinds = rng.sample(_WIDTHS, 2)
        widths: list[int] = []
        while (left := DECKLE - sum(widths)) >= min(kinds) and len(widths) < 8:
            widths.append(rng.choice([width for width in kinds if width <= left]))
        if sum(widths) > sum(best):
            best = tuple(sorted(widths, reverse=True))
    return best


def _run(
    rng: random.Random, start: datetime, grade: int, key: str, *, blocks: int, drift: float
) -> RunPlan:
    name, gsm, caliper = GRADES[grade]
    length, jumbo_sets = rng.choice(((3600, 3), (2900, 4)))
    left_over = rng.choice((0, 0, 40, 160))
    usable = length * jumbo_sets + left_over
    patterns = [_pattern(rng, drift) for _ in range(blocks)]
    counts = [rng.choice((1, 2, 3, 4)) for _ in patterns]
    rows = _rows(sum(counts), length, jumbo_sets, start, counts)
    laid: list[Block] = []
    numbers: dict[int, str] = {}
    before: list[int] = []
    for number, (pattern, count) in enumerate(zip(patterns, counts, strict=True), start=1):
        positions = tuple(
            _position(place, width, key, numbers, sheets=grade == 0)
            for place, width in enumerate(pattern, start=1)
        )
        spare = WIDE - sum(pattern)
        knives = [spare // 2]
        for width in pattern:
            knives.append(knives[-1] + width)
        moved = tuple(bool(before) and knife not in before for knife in knives)
        done = sum(len(block.sets) for block in laid)
        laid.append(
            Block(
                number=number,
                core_mm=150.0,
                length_m=length,
                diameter_mm=1200.0,
                positions=positions,
                edge_front_mm=Fraction(knives[0]),
                edge_back_mm=Fraction(WIDE - knives[-1]),
                knives_mm=tuple(Fraction(knife) for knife in knives),
                knives_moved=moved,
                knife_moves=sum(moved),
                set_up=True,
                sets=tuple(rows[done : done + count]),
            )
        )
        before = knives
    return _with_sums(rng, name, gsm, caliper, tuple(laid), length, usable, left_over, start)


def _rows(
    total: int, length: int, jumbo_sets: int, start: datetime, counts: list[int]
) -> list[SetRow]:
    firsts = {sum(counts[:n]) for n in range(1, len(counts))}
    rows, at = [], start
    for n in range(total):
        at += timedelta(minutes=9 if n in firsts else 0)
        finish = at + timedelta(minutes=length / 240)
        from_m = n % jumbo_sets * length
        stretch = Stretch(jumbo=f"J{n // jumbo_sets + 1}", from_m=from_m, to_m=from_m + length)
        rows.append(
            SetRow(
                number=n + 1, winder="", length_m=length, diameter_mm=1200.0, stretches=(stretch,),
                start=at, finish=finish,
            )
        )  # fmt: skip
        at = finish + timedelta(minutes=4)
    return rows


def _position(
    place: int, width: int, key: str, numbers: dict[int, str], *, sheets: bool
) -> Position:
    number = numbers.setdefault(width, f"{key}.{len(numbers) + 1}")
    if sheets and width % 100 == 0:
        return Position(
            number=place, kind="sheeter", order=number, width_mm=Fraction(width), core_mm=150.0,
            ups=2, sheeter="Sheeter C",
        )  # fmt: skip
    return Position(
        number=place, kind="reel", order=number, width_mm=Fraction(width), core_mm=150.0
    )


def _with_sums(
    rng: random.Random, name: str, gsm: float, caliper: float, blocks: tuple[Block, ...],
    length: int, usable: int, left_over: int, start: datetime,
) -> RunPlan:  # fmt: skip
    def kg(width: float, metres: float) -> float:
        return width * metres * gsm / 1e6

    sets = [row for block in blocks for row in block.sets]
    wound_m = len(sets) * length
    reels: dict[str, tuple[Position, int]] = {}
    trim = 0.0
    for block in blocks:
        trim += kg(DECKLE - sum(float(p.width_mm) for p in block.positions),
                   length * len(block.sets))  # fmt: skip
        for p in block.positions:
            count = reels.get(p.order, (p, 0))[1]
            reels[p.order] = (p, count + len(block.sets))
    lines = tuple(
        _line(rng, p, count, kg(float(p.width_mm), length)) for p, count in reels.values()
    )
    jumbos, used_m, ends_m, butts_m = _jumbos(sets, length, usable, left_over)
    delivered = sum(line.delivered_kg for line in lines)
    surplus = sum(line.surplus_kg for line in lines)
    sheeter = kg(DECKLE, wound_m) - trim - delivered - surplus
    balance = Balance(
        used_kg=kg(WIDE, used_m), delivered_kg=delivered, surplus_kg=surplus,
        edge_trim_kg=kg(WIDE - DECKLE, wound_m), pattern_trim_kg=trim, sheeter_kg=sheeter,
        butts_kg=kg(WIDE, butts_m), start_end_kg=kg(WIDE, ends_m), broke_kg=0.0,
        wound_kg=kg(WIDE, wound_m), deckle_kg=kg(DECKLE, wound_m),
    )  # fmt: skip
    loss = kg(WIDE, wound_m) - delivered + 3.5  # with the value of what tolerances leave
    given = rng.choice((0.0, 0.04)) * loss
    bound = (loss - given) * rng.choice((1.0, 0.995))
    moves = sum(block.knife_moves for block in blocks)
    finish = sets[-1].finish
    assert finish is not None
    return RunPlan(
        name=f"{name} {gsm:g} g/m²", winder="", grade=name, grammage_gsm=gsm,
        wound_caliper_um=caliper, cores=(Core(inside_mm=150.0, wall_mm=15.0),),
        jumbo_width_mm=Fraction(WIDE), deckle_mm=Fraction(DECKLE),
        set_lengths=(SetLength(core_mm=150.0, length_m=length, diameter_mm=1200.0),),
        proof=Proof(
            status="feasible", loss_kg=loss, bound_kg=bound, price_bound_kg=bound,
            gap_kg=loss - bound, gap_percent=0.1, bound_on="loss over all patterns", scale=1,
            gain_price=(), worth_price=(), width_unit_mm=Fraction(1), clock_stopped=False,
            seconds=0.1,
        ),
        blocks=blocks, jumbos=jumbos, orders=lines, balance=balance, set_ups=len(blocks) - 1,
        set_ups_bound=None, knife_moves=moves, knife_moves_bound=None,
        minutes=(finish - start).total_seconds() / 60 + 4, start=start, finish=finish,
        trade_off=(
            TradePoint(patterns=len(blocks) + 1, loss_kg=loss - given, loss_bound_kg=bound,
                       trim_loss=0.02, knife_moves=None, chosen=False),
            TradePoint(patterns=len(blocks), loss_kg=loss, loss_bound_kg=bound, trim_loss=0.02,
                       knife_moves=moves, chosen=True),
        ),
    )  # fmt: skip


def _line(rng: random.Random, position: Position, count: int, reel_kg: float) -> OrderLine:
    sheet = position.kind == "sheeter"
    planned = count * reel_kg * (0.97 if sheet else 1.0)
    surplus = reel_kg if not sheet and count > 2 and rng.random() < 0.05 else 0.0
    return OrderLine(
        number=position.order, customer=rng.choice(_CUSTOMERS),
        product="sheet" if sheet else "reel", width_mm=position.width_mm, chop_mm=None,
        unit="reels", asked=Fraction(count), made_before=Fraction(0), min_quantity=Fraction(count),
        max_quantity=Fraction(count), planned=Fraction(count), ordered_kg=planned,
        planned_kg=planned,
        delivered_kg=planned - surplus, surplus_kg=surplus, due=None, finished=None, last_set=None,
        state=OrderState.OVER if surplus else OrderState.MET, text="",
    )  # fmt: skip


def _jumbos(
    sets: list[SetRow], length: int, usable: int, left_over: int
) -> tuple[tuple[JumboUse, ...], int, int, int]:
    wound: dict[str, int] = {}
    for row in sets:
        wound[row.stretches[0].jumbo] = wound.get(row.stretches[0].jumbo, 0) + length
    uses, used, ends, butts = [], 0, 0, 0
    for name, metres in wound.items():
        whole = metres + left_over == usable
        end = _LOSS_END_M if whole else 0
        butt = left_over if whole else 0
        used += _LOSS_START_M + metres + butt + end
        ends += _LOSS_START_M + end
        butts += butt
        uses.append(
            JumboUse(
                name=name, winder="", nominal=True, width_mm=Fraction(WIDE),
                length_m=_LOSS_START_M + usable + _LOSS_END_M, loss_start_m=_LOSS_START_M,
                loss_end_m=end, wound_m=metres, butt_m=butt,
                carried_forward_m=0 if whole else usable - metres + _LOSS_END_M,
            )
        )  # fmt: skip
    return tuple(uses), used, ends, butts


_BLANK = Entry(
    place=1, number=1, done=True, length_wound_m=None, reels_rejected=None, reason="",
    jumbo_width_mm=None, jumbo_length_m=None, edge_front_mm=None, edge_back_mm=None,
    minutes_stopped=None, remark="",
)  # fmt: skip


def _entries(rng: random.Random, plan: Plan, drift: float) -> tuple[Entry, ...]:
    """What the crew wrote: mostly as planned, some culls, stops, a narrow jumbo, a lost set."""
    entries = []
    for place, run in enumerate(plan.runs, start=1):
        for block in run.blocks:
            for row in block.sets:
                entry = replace(_BLANK, place=place, number=row.number)
                if rng.random() < 0.6:
                    entry = replace(entry, length_wound_m=float(row.length_m - rng.randint(0, 30)))
                if rng.random() < 0.3:
                    entry = replace(entry, jumbo_width_mm=float(WIDE + rng.randint(-12, 20)))
                if rng.random() < 0.04 + drift / 10:
                    entry = replace(entry, reels_rejected=1, reason=rng.choice(_REASONS))
                if rng.random() < 0.05:
                    entry = replace(entry, minutes_stopped=float(rng.randint(5, 60)))
                if rng.random() < 0.01:
                    entry = replace(
                        entry, done=False, length_wound_m=800.0, reels_rejected=None,
                        reason="web break",
                    )  # fmt: skip
                entries.append(entry)
    return tuple(entries)
