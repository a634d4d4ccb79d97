"""Where the paper went as run, in the parts of the plan's balance and culled reels beside them.

What was measured counts as measured. What was left blank counts as planned, and the trend says on
how many sets that was so. The rules:

- a set that was done has the length wound and the jumbo's width as measured; where only both edge
  trims were measured, the width is theirs and the pattern's together;
- pattern trim is the deckle less the reels, edge trim what the jumbo had beyond the deckle; on a
  jumbo narrower than the deckle, pattern trim ends where the jumbo does;
- rejected reels weigh the mean of their set's reels, for the sheet does not say which they were;
- of the reels that were not rejected, the shares delivered, surplus, taken by the sheeter and with
  a defect are the plan's, and so is what is cut out of the jumbo;
- a set that was not done but has a length wound is lost with all its reels;
- a jumbo of which every set was run has the butt that its length leaves; of any other the set
  keeps its planned share.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trimopt.ledger.ledger_tables import PARTS
from trimopt.ledger.match_rows import Entry, PlanSet, length_m, sets_of
from trimopt.ledger.set_shares import RunShare, SetShare
from trimopt.paper import mass_kg
from trimopt.plan.model import Plan

_Key = tuple[int, int]
_Jumbo = tuple[int, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRun:
    """A set as run; `parts_kg` is by the names of `PARTS`."""

    place: int
    number: int
    length_m: float
    set_ups: int
    knife_moves: int
    parts_kg: Mapping[str, float]


def reckon(plan: Plan, shares: Sequence[RunShare], entries: Iterable[Entry]) -> tuple[SetRun, ...]:
    """Reckon every recorded set of a plan.

    Parameters
    ----------
    entries
        All that was recorded of the plan: a jumbo's butt follows from all of its sets.

    Returns
    -------
    tuple of SetRun
        In the order of the entries. The parts add up to the paper used.
    """
    sets = sets_of(plan)
    planned = {(share.place, each.number): each for share in shares for each in share.sets}
    by_key = {(entry.place, entry.number): entry for entry in entries}
    ends_m = _ends_m(plan, sets, by_key)
    changed = _first_of_blocks(sets, by_key)
    runs = []
    for key, entry in by_key.items():
        each, metres, parts_kg = sets[key], length_m(entry, sets[key]), dict.fromkeys(PARTS, 0.0)
        if metres > 0:
            parts_kg = _parts(entry, each, planned[key], ends_m.get(key), metres)
        run = SetRun(
            place=entry.place,
            number=entry.number,
            length_m=metres,
            set_ups=int(key in changed and each.block.set_up and each.block.number > 1),
            knife_moves=each.block.knife_moves if key in changed else 0,
            parts_kg=parts_kg,
        )
        runs.append(run)
    return tuple(runs)


def _first_of_blocks(
    sets: Mapping[_Key, PlanSet], entries: Mapping[_Key, Entry]
) -> frozenset[_Key]:
    """The first set of every block that was run: the knives were set for it."""
    first: dict[tuple[int, int], _Key] = {}
    for key, each in sets.items():
        entry = entries.get(key)
        if each.row.done or (entry is not None and length_m(entry, each) > 0):
            first.setdefault((each.place, each.block.number), key)
    return frozenset(first.values())


def _ends_m(
    plan: Plan, sets: Mapping[_Key, PlanSet], entries: Mapping[_Key, Entry]
) -> dict[_Key, tuple[float, float]]:
    """Butt and jumbo ends of sets whose jumbo was wholly run, in metres of jumbo."""
    members: dict[_Jumbo, list[_Key]] = defaultdict(list)
    known: dict[_Jumbo, bool] = defaultdict(lambda: True)
    measured: dict[_Jumbo, float] = {}
    for key, each in sets.items():
        entry = entries.get(key)
        for name in each.row.jumbos:
            jumbo = (each.place, name)
            members[jumbo].append(key)
            # A set of two jumbos does not say how many metres of each were wound.
            if entry is None or length_m(entry, each) == 0 or len(each.row.jumbos) > 1:
                known[jumbo] = False
            elif entry.jumbo_length_m is not None:
                measured[jumbo] = entry.jumbo_length_m
    ends: dict[_Key, tuple[float, float]] = {}
    for jumbo, keys in members.items():
        if not known[jumbo]:
            continue
        use = next(j for j in plan.runs[jumbo[0] - 1].jumbos if j.name == jumbo[1])
        metres = {key: length_m(entries[key], sets[key]) for key in keys}
        wound = sum(metres.values())
        rest_m = max(0.0, measured.get(jumbo, float(use.length_m)) - wound - use.defect_m)
        lost_m = min(float(use.loss_start_m + use.loss_end_m), rest_m)
        # A remainder that goes forward is not used.
        butt_m = 0.0 if use.carried_forward_m > 0 else rest_m - lost_m
        for key in keys:
            share = metres[key] / wound
            ends[key] = (butt_m * share, lost_m * share)
    return ends


def _jumbo_width_mm(entry: Entry, each: PlanSet) -> float:
    if entry.jumbo_width_mm is not None:
        return entry.jumbo_width_mm
    if entry.edge_front_mm is not None and entry.edge_back_mm is not None:
        return entry.edge_front_mm + entry.edge_back_mm + float(each.block.across_mm)
    return float(each.run.web_mm(each.block))


def _parts(
    entry: Entry,
    each: PlanSet,
    planned: SetShare,
    ends_m: tuple[float, float] | None,
    metres: float,
) -> dict[str, float]:
    def kg(width_mm: float, length: float = metres) -> float:
        return mass_kg(width_mm, length, each.run.grammage_gsm)

    before = dict(planned.parts_kg)
    wide = _jumbo_width_mm(entry, each)
    deckle = min(float(each.run.deckle_of(each.block)), wide)
    broke = float(each.block.across_mm - each.block.reels_mm)
    useful = float(each.block.across_mm) - broke
    rejected = (entry.reels_rejected or 0) / each.reels if each.reels else 0.0
    if not entry.done:
        rejected = 1.0
    good = kg(useful) * (1 - rejected)
    hit = sum(p.width_mm for p in each.block.positions if p.number in each.row.spoiled)
    hit_kg = kg(float(hit), each.row.length_m)
    cut = before["defects_kg"] - hit_kg
    before["defects_kg"] = hit_kg
    reels = ("delivered_kg", "surplus_kg", "sheeter_kg", "made_for_stock_kg", "defects_kg")
    whole = sum(before[name] for name in reels)
    butts, start_end = before["butts_kg"], before["start_end_kg"]
    if ends_m is not None:
        butts, start_end = kg(wide, ends_m[0]), kg(wide, ends_m[1])
    shared = {name: good * before[name] / whole if whole else 0.0 for name in reels}
    return {
        **shared,
        "defects_kg": shared["defects_kg"] + cut,
        "used_kg": kg(wide) + butts + start_end + cut,
        "edge_trim_kg": kg(wide - deckle),
        "pattern_trim_kg": kg(deckle - useful),
        "butts_kg": butts,
        "start_end_kg": start_end,
        "broke_kg": kg(broke),
        "wound_kg": kg(wide),
        "deckle_kg": kg(deckle),
        "culled_kg": kg(useful) * rejected,
    }
