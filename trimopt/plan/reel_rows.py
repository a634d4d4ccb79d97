"""Rows that follow from a run's plan: reels to be made, cores to cut, the sheeter's work."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.mill.model import Mill
from trimopt.paper import mass_kg, reel_diameter_mm, sheets_mass_kg
from trimopt.plan.model import Block, OrderLine, Position, RunPlan, SetRow

_SAME_CORE_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class ReelRow:
    """One reel to be made. Its identity leads back to jumbo, set and position.

    `J01-003-2` is the second reel from the front of the run's third set, wound from jumbo J01; of a
    joined set the jumbo is the one it begins on. Spaces in a jumbo's name become low lines.
    """

    identity: str
    run: str
    jumbo: str
    set_number: int
    position: int
    kind: str  # "reel" for a customer, "sheeter" for the sheeter
    order: str
    customer: str
    destination: str
    grade: str
    grammage_gsm: float
    weight: str  # the same as it is read: 250 g/m², 42 lb/1000 ft²
    width_mm: Fraction
    core_mm: float | None
    length_m: int
    diameter_mm: float
    mass_kg: float  # paper alone
    joins: int
    surplus: bool  # made beyond the order's upper limit: to stock
    for_stock: bool = False  # of a stock width
    sheeter: str = ""
    ups: int | None = None
    issued: str = ""  # the plan whose label it bears, where not its own


@dataclass(frozen=True, slots=True, kw_only=True)
class CoreRow:
    """Cores of one length to cut; broke reels are wound on cores too."""

    core_mm: float | None
    width_mm: Fraction
    pieces: int
    for_broke: int  # how many of them


@dataclass(frozen=True, slots=True, kw_only=True)
class SheeterRow:
    """What a sheeter has to do with the reels of one order and one number of ups."""

    sheeter: str
    order: str
    customer: str
    reel_width_mm: Fraction
    ups: int
    across_mm: Fraction
    chop_mm: Fraction
    reels: int
    sheets: int
    reams: Fraction | None  # None where the order names no count
    edge_trim_mm: Fraction  # each side
    kg_in: float
    kg_out: float
    lengths_m: tuple[int, ...]  # of its reels, each once, longest first


@dataclass(frozen=True, slots=True)
class _NumberedReel:
    block: Block
    row: SetRow
    position: Position

    @property
    def core_mm(self) -> float | None:
        return self.position.core_mm if self.position.core_mm is not None else self.block.core_mm

    @property
    def spoiled(self) -> bool:
        return self.position.number in self.row.spoiled


def _strips(run: RunPlan) -> Iterator[_NumberedReel]:
    """All strips in the order in which they are made, front side first."""
    for block, row in run.sets_in_blocks:
        for position in block.positions:
            yield _NumberedReel(block, row, position)


def reels_of(run: RunPlan) -> tuple[ReelRow, ...]:
    """One row for each reel to be made, in the order of making; broke reels are none.

    `surplus` marks whole reels alone, those without which the limit is already reached.
    """
    lines = {line.number: line for line in run.orders}
    beyond = _surplus(run, lines)
    rows = []
    for place, strip in enumerate(_strips(run)):
        if strip.position.kind == "broke" or strip.spoiled:
            continue
        row, position = strip.row, strip.position
        line = lines.get(position.order)
        jumbo = row.stretches[0].jumbo if row.stretches else ""
        rows.append(
            ReelRow(
                identity=f"{'_'.join(jumbo.split())}-{row.number:03d}-{position.number}",
                run=run.name,
                jumbo=jumbo,
                set_number=row.number,
                position=position.number,
                kind=position.kind,
                order=position.order,
                customer=line.customer if line is not None else "",
                destination=line.destination if line is not None else "",
                grade=run.grade,
                grammage_gsm=run.grammage_gsm,
                weight=run.weight,
                width_mm=position.width_mm,
                core_mm=strip.core_mm,
                length_m=row.length_m,
                diameter_mm=diameter_on(run, strip.core_mm, row.length_m),
                mass_kg=mass_kg(position.width_mm, row.length_m, run.grammage_gsm),
                joins=max(0, len(row.stretches) - 1),
                surplus=place in beyond,
                issued=row.issued,
                for_stock=line is not None and line.stock_share is not None,
                sheeter=position.sheeter,
                ups=position.ups,
            )
        )
    return tuple(rows)


def diameter_on(run: RunPlan, core_mm: float | None, length_m: int) -> float:
    """Diameter of so many metres on a core, mm: the one place that gives it.

    Of a core that the winder does not have (in an edited plan) no walls are known.
    """
    outside_mm = core_mm or 0.0
    for core in run.cores:
        if core_mm is not None and abs(core.inside_mm - core_mm) < _SAME_CORE_MM:
            outside_mm = core.outside_mm
    return reel_diameter_mm(length_m, outside_mm, run.wound_caliper_um)


def largest_mm(run: RunPlan, block: Block, length_m: int) -> float:
    """Diameter of the largest reel of a set so long, mm."""
    return max((diameter_on(run, core, length_m) for core in cores_across(block)), default=0.0)


def cores_across(block: Block) -> tuple[float, ...]:
    """Inside diameters of the cores that a block's reels are wound on, smallest first."""
    cores = {
        block.core_mm if position.core_mm is None else position.core_mm for position in block.reels
    }
    return tuple(sorted(core for core in cores if core is not None))


def first_too_many(given: Sequence[Fraction], max_quantity: Fraction, unit: str) -> int:
    """Place of the first reel that is wholly above an order's upper limit: it and all after it.

    Parameters
    ----------
    given
        What each reel gives to the order, in its unit, in the order of making.
    max_quantity
        The upper limit. No part of a reel is sold, so a limit of 8.8 reels is 8.

    Examples
    --------
    >>> first_too_many([Fraction(400)] * 3, Fraction(800), "kg")
    2
    >>> first_too_many([Fraction(400)] * 3, Fraction(801), "kg")  # a part of the third is sold
    3
    """
    if unit == "reels":
        max_quantity = Fraction(math.floor(max_quantity))
    made = Fraction(0)
    for place, each in enumerate(given):
        if made >= max_quantity:
            return place
        made += each
    return len(given)


def _surplus(run: RunPlan, lines: dict[str, OrderLine]) -> set[int]:
    """Places, in the order of making, of customers' reels made wholly above the upper limit.

    A sheeter reel is none of them: what is made of it is cut with the rest.
    """
    places: dict[str, list[int]] = defaultdict(list)
    given: dict[str, list[Fraction]] = defaultdict(list)
    for place, strip in enumerate(_strips(run)):
        line = lines.get(strip.position.order)
        if line is not None and strip.position.kind == "reel" and not strip.spoiled:
            places[line.number].append(place)
            given[line.number].append(_given(run, strip, line))
    return {
        place
        for number, own in places.items()
        for place in own[
            first_too_many(given[number], lines[number].max_quantity, lines[number].unit) :
        ]
    }


def _given(run: RunPlan, strip: _NumberedReel, line: OrderLine) -> Fraction:
    """What one reel gives to its order, in the order's unit."""
    if line.unit == "kg":
        area = strip.position.width_mm * strip.row.length_m
        return area * Fraction(str(run.grammage_gsm)) / 1_000_000
    return Fraction(strip.row.length_m if line.unit == "m" else 1)


def cores_to_cut(run: RunPlan) -> tuple[CoreRow, ...]:
    """Cores by inside diameter and length: one for each strip of a set to run, widest first."""
    pieces: Counter[tuple[float | None, Fraction]] = Counter()
    broke: Counter[tuple[float | None, Fraction]] = Counter()
    for strip in (strip for strip in _strips(run) if not strip.row.done):
        kind = (strip.core_mm, strip.position.width_mm)
        pieces[kind] += 1
        broke[kind] += strip.position.kind == "broke"
    return tuple(
        CoreRow(
            core_mm=core_mm, width_mm=width_mm, pieces=count, for_broke=broke[core_mm, width_mm]
        )
        for (core_mm, width_mm), count in sorted(
            pieces.items(), key=lambda item: (item[0][0] or 0.0, -item[0][1])
        )
    )


def sheeter_list(run: RunPlan, mill: Mill) -> tuple[SheeterRow, ...]:
    """The sheeters' work: a row for each sheeter, order, reel width and ups, in order of making.

    Reels from stock that have no like among those made come last.

    Parameters
    ----------
    mill
        Its sheeters give trim and waste.

    Returns
    -------
    tuple of SheeterRow
        Sheets are counted reel by reel, the waste share taken off each and rounded down. `kg_in` is
        the reels' paper, `kg_out` the sheets'; edge trim and waste are between them.
    """
    lines = {line.number: line for line in run.orders}
    groups: dict[tuple[str, str, Fraction, int], list[int]] = defaultdict(list)
    for strip in _strips(run):
        position = strip.position
        if position.kind == "sheeter" and position.ups is not None and not strip.spoiled:
            group = (position.sheeter, position.order, position.width_mm, position.ups)
            groups[group].append(strip.row.length_m)
    for number, reel in ((line.number, reel) for line in run.orders for reel in line.stock):
        if (use := reel.at_sheeter) is not None:
            groups[use.sheeter, number, reel.width_mm, use.ups].append(reel.length_m)
    rows = []
    for (name, number, width_mm, ups), lengths_m in groups.items():
        line, sheeter = lines.get(number), mill.sheeter(name)
        if line is None or sheeter is None or line.chop_mm is None:
            continue  # the check says so; a list of work holds only what can be done
        sheets = sum(sheeter.sheets(each, line.chop_mm, ups) for each in lengths_m)
        g = run.grammage_gsm
        rows.append(
            SheeterRow(
                sheeter=name,
                order=number,
                customer=line.customer,
                reel_width_mm=width_mm,
                ups=ups,
                across_mm=line.width_mm,
                chop_mm=line.chop_mm,
                reels=len(lengths_m),
                sheets=sheets,
                reams=Fraction(sheets, line.sheets_a_ream) if line.sheets_a_ream else None,
                edge_trim_mm=(width_mm - ups * line.width_mm) / 2,
                kg_in=sum(mass_kg(width_mm, each, g) for each in lengths_m),
                kg_out=sheets_mass_kg(sheets, line.width_mm, line.chop_mm, g),
                lengths_m=tuple(sorted(set(lengths_m), reverse=True)),
            )
        )
    return tuple(rows)
