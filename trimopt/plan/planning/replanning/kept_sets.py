"""Sets that stay as they were issued: those that may, laid onto the jumbos from where they stand.

A set may stay while its orders want it: each reel is one of its order as the book has it now, and
no order gets more than it may, or more than the plan as issued gave it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction
from functools import cached_property
from itertools import count, groupby
from operator import itemgetter

from trimopt.book.model import Book, Instruction, Stretch
from trimopt.budget import Budget
from trimopt.cutting import Pattern
from trimopt.making import PreparedRun, Run, required
from trimopt.making.reel_patterns import ReelPatterns
from trimopt.paper import in_spans
from trimopt.plan.model import Block, Position, RunPlan, SetRow, Settings
from trimopt.plan.planning.chosen_run import supply_of
from trimopt.plan.planning.order_tally import made_of
from trimopt.plan.planning.replanning.issued_places import IssuedPlaces
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.revising.edited_run import EditedRun
from trimopt.plan.planning.revising.set_faults import set_faults
from trimopt.plan.planning.run_jumbos import jumbos_for
from trimopt.plan.planning.run_patterns import RunTask
from trimopt.winding import Butt, JumboSupply, LaidSet, StockJumbo
from trimopt.winding.jumbos.laying import lay_lengths
from trimopt.winding.knives.knife_moves import Beam_mm, left_by

_SetKind = tuple[int, int, tuple[int, ...]]  # block, length, spoiled reels: few beside the sets
_CUT_ANEW = "its jumbo, of another width or with defects, is cut anew"
UNNAMED = 10_000
"""Added to a run's place while its rest is planned: no nominal jumbo is then named like one opened.

`on_jumbos` gives them their names.
"""


@dataclass(frozen=True, kw_only=True)
class MayStay:
    """The sets issued and not run that may stay, and numbers of the others by why not.

    `cut_anew` is how many of them run before the first set that an odd jumbo gives up, all where
    such a jumbo is new or has more to give; None: no odd jumbo is to be cut but as issued.
    `behind` are those that run after that set and give no order too much: the ones on odd jumbos
    that give none up are not in `blocks`.
    `too_much` are others that may stay, but give an order that asks for less now more than it may:
    however soon they start, they are not frozen. An odd jumbo with such a set is cut anew.
    """

    blocks: tuple[Block, ...] = ()
    refused: Mapping[str, Sequence[int]] = field(default_factory=dict)
    cut_anew: int | None = None
    behind: tuple[Block, ...] = ()
    too_much: tuple[Block, ...] = ()


def that_may_stay(case: Standing, settings: Settings, known: frozenset[str]) -> MayStay:
    """Find the sets that may stay.

    Parameters
    ----------
    known
        Orders of the book as it is now: one that is none of them is cancelled.
    """
    if case.issued is None or not case.tail:
        return MayStay()
    why = dict(_not_allowed(case, case.issued, settings))
    why.update(_cancelled(case, known))
    gifts, places = _Gifts(case, case.tail), IssuedPlaces(case=case)
    asked = _Gifts(case, case.tail, as_asked=True, gives=gifts.gives)
    stay: list[tuple[Block, SetRow, bool]] = []  # and whether it gives too much
    left = {use.name for use in case.issued.jumbos if use.carried_forward_m}
    behind: list[tuple[Block, SetRow]] = []
    cut_at, cut, unused = None, frozenset[str](), case.odd - (case.as_listed - left)
    for block, row in ((each, row) for each in case.tail for row in each.sets):
        on_odd = case.odd & {*row.jumbos}
        against = why.get(row.number) or (_CUT_ANEW if on_odd & cut else "")
        against = against or places.against(block, row)
        too_many = "" if against else asked.against(block, row)
        against = against or (too_many if on_odd else "") or gifts.against(block, row)
        if against:
            why[row.number] = against
            cut |= on_odd
            cut_at = len(stay) if on_odd and cut_at is None else cut_at
            continue
        places.take(row)
        unused -= on_odd - left
        if cut_at is not None and not too_many:
            behind.append((block, row))
        if cut_at is None or not on_odd:
            stay.append((block, row, bool(too_many)))
    cut_at = len(stay) if unused and cut_at is None else cut_at
    # What runs before a set on an odd jumbo stays with it.
    held = max((at for at, (_, row, _) in enumerate(stay) if case.odd & {*row.jumbos}), default=-1)
    free = [too_many and at > held for at, (_, _, too_many) in enumerate(stay)]
    alike: dict[str, list[int]] = {}
    for number in sorted(why):
        alike.setdefault(why[number], []).append(number)
    return MayStay(
        blocks=_blocks((b, row) for (b, row, _), each in zip(stay, free, strict=True) if not each),
        refused=alike,
        cut_anew=None if cut_at is None else cut_at - sum(free[:cut_at]),
        behind=_blocks(behind),
        too_much=_blocks((b, row) for (b, row, _), each in zip(stay, free, strict=True) if each),
    )


def _blocks(sets: Iterable[tuple[Block, SetRow]]) -> tuple[Block, ...]:
    """Sets, each with its block, as blocks that have no others."""
    of = ((block, [row for _, row in each]) for block, each in groupby(sets, itemgetter(0)))
    return tuple(replace(block, sets=tuple(rows)) for block, rows in of)


def named(run: str, reason: str, numbers: Sequence[int]) -> str:
    """Sets that do not stay, and why."""
    return f"{run}, set{'s' if numbers[1:] else ''} {in_spans(numbers)}: {reason}"


def still_wanted(
    case: Standing, blocks: Sequence[Block], *, as_asked: bool = False
) -> tuple[Block, ...]:
    """Blocks with the sets with which no order gets more than it may, after the head of the run.

    Parameters
    ----------
    as_asked
        Or than it may by what it asks for now.
    """
    gifts = _Gifts(case, blocks, as_asked=as_asked)
    wanted = (
        replace(block, sets=tuple(row for row in block.sets if not gifts.against(block, row)))
        for block in blocks
    )
    return tuple(block for block in wanted if block.sets)


def _cancelled(case: Standing, known: frozenset[str]) -> Iterator[tuple[int, str]]:
    """Sets with a reel of an order that the book has no more."""
    known |= {order.number for order in case.run.orders}  # also stock widths
    for block in case.tail:
        gone = {p.order for p in block.positions if p.kind != "broke"} - known
        for row in block.sets if gone else ():
            verb = "is" if len(gone) == 1 else "are"
            yield row.number, f"{' and '.join(sorted(gone))} {verb} cancelled"


def _not_allowed(case: Standing, issued: RunPlan, settings: Settings) -> Iterator[tuple[int, str]]:
    """Sets that winder, sheeters or orders as they are now do not allow, with the first reason."""
    lengths = tuple(dict.fromkeys((block.core_mm, block.length_m) for block in case.tail))
    making = case.making(case.run.orders, lengths)
    edited = EditedRun(
        issued=issued,
        blocks=case.tail,
        moved=False,
        layouts_written=False,
        lengths_written=False,
        other_jumbos=frozenset(),
        mill=case.mill,
        making=replace(making, run=case.run),
        supply=supply_from(case),
        usable_m=max(case.jumbos.usable_m, default=case.mill.jumbo.usable_m),
        settings=settings,
    )
    for fault in reversed(set_faults(edited)):
        for number in fault.sets:
            yield number, fault.what


class _Gifts:
    """What sets give to the orders, one after another, and what each order may get.

    No order gets more than it may, or than the plan as issued gave it; as they ask now, no more
    beyond what they may get than that plan gave. `gives` is what the sets of these blocks are known
    to give.
    """

    def __init__(
        self,
        case: Standing,
        blocks: Sequence[Block],
        *,
        as_asked: bool = False,
        gives: dict[_SetKind, dict[str, Fraction]] | None = None,
    ) -> None:
        self._mill = case.mill
        lengths = tuple(dict.fromkeys((b.core_mm, b.length_m) for b in (*case.head, *blocks)))
        self._making = replace(case.making(case.run.orders, lengths), run=case.run)
        self._got = made_of(self._making, case.mill, case.head)
        self.gives = {} if gives is None else gives
        issued = () if case.issued is None else case.issued.orders
        was = {line.number: (line.planned, line.max_quantity) for line in issued}
        self._max: dict[str, Fraction] = {}
        for order in case.run.orders:
            most = required(order, self._making.unit_mm).max_quantity
            planned, could = was.get(order.number, (Fraction(0), Fraction(0)))
            beyond = most + max(Fraction(0), planned - could)
            self._max[order.number] = beyond if as_asked else max(most, planned)

    def against(self, block: Block, row: SetRow) -> str:
        """What stands against a set; where nothing does, its orders have got it."""
        kind = block.number, row.length_m, row.spoiled
        if kind not in self.gives:
            made = made_of(self._making, self._mill, [replace(block, sets=(row,))])
            self.gives[kind] = {number: quantity for number, quantity in made.items() if quantity}
        gives = self.gives[kind]
        for number, quantity in gives.items():
            if self._got[number] + quantity > self._max[number]:
                return f"order {number} would get more than it may"
        for number, quantity in gives.items():
            self._got[number] += quantity
        return ""


def supply_from(case: Standing) -> JumboSupply:
    """The jumbos that the rest of a run is wound from, the started one first."""
    jumbos = jumbos_for(
        case.run, case.mill, case.stock, only_listed=case.jumbos.only_listed, own_width=True
    )
    return supply_of(
        jumbos, case.place + UNNAMED, in_order=case.in_order, started=case.started is not None
    )


def task_of(
    case: Standing,
    lacking: Run,
    book: Book,
    *,
    settings: Settings,
    start: datetime,
    before: Block | None,
    instructions: tuple[Instruction, ...],
    budget: Budget,
) -> RunTask:
    """What the planning of the rest needs: orders as they lack, jumbos and knives as they stand."""
    places: Beam_mm = ()
    if before is not None:
        places = left_by(before.beam_mm, before.knives_mm, case.mill.winder)
    knives = tuple(place for place in places if place is not None)
    winder = replace(case.mill.winder, knives_at_mm=knives or case.mill.winder.knives_at_mm)
    return RunTask(
        place=case.place + UNNAMED,
        run=lacking,
        mill=replace(case.mill, winders=(winder,)),
        settings=settings,
        stock=case.stock,
        only_listed_jumbos=book.only_listed_jumbos,
        jumbos_in_order=book.jumbos_in_order,
        start=start,
        budget=budget,
        instructions=instructions,
        jumbo_started=case.started is not None,
        own_width=True,
    )


def without_odd(task: RunTask, case: Standing) -> RunTask:
    """The same without odd jumbos: sets on these are laid on them alone, beside no kept block."""
    stock = tuple(jumbo for jumbo in task.stock if not case.is_odd(jumbo))
    started = task.jumbo_started and stock[:1] == task.stock[:1]
    return replace(task, stock=stock, jumbo_started=started)


@dataclass(frozen=True)
class BlockPieces:
    """Blocks of plans as the engine has them, over the lengths of a run made ready."""

    making: PreparedRun

    @cached_property
    def _run(self) -> ReelPatterns:
        return ReelPatterns(self.making)

    def of(self, block: Block) -> Counter[int | None]:
        """Its reels, by their options; None: those that no order takes so, at this length."""
        there = self._run.winding_class(block.core_mm, block.length_m)
        return Counter(self._option(there, reel) for reel in block.reels)

    def _option(self, winding_class: int | None, reel: Position) -> int | None:
        """Where cores of a set are mixed, the length says which one a reel of an order is on."""
        k = self._run.option(winding_class, reel.order, reel.width_mm)
        other = k is not None and reel.core_mm not in (None, self.making.options[k].core_mm)
        return None if other else k

    def pattern(self, block: Block) -> Pattern | None:
        """Its pattern; None: an order does not take a reel of it."""
        pieces = self.of(block)
        counts = tuple(sorted((k, n) for k, n in pieces.items() if k is not None))
        if not counts or None in pieces:
            return None
        return Pattern(self.making.options[counts[0][0]].winding_class, counts)


@dataclass(frozen=True, kw_only=True)
class OnJumbos:
    """Blocks of a rest on the jumbos of the whole run, and those jumbos by name, whole."""

    blocks: tuple[Block, ...]
    jumbos: Mapping[str, StockJumbo]
    with_butts: frozenset[str]  # jumbos that leave one which is lost
    places: tuple[int, ...] = ()  # of the blocks, among those of which some may find no paper


def on_jumbos(
    case: Standing,
    blocks: Sequence[Block],
    sets: Sequence[LaidSet],
    butts: Sequence[Butt],
    name: str,
) -> OnJumbos:
    """Blocks whose sets were laid, with jumbos as the whole run names and measures them.

    Parameters
    ----------
    sets
        One for each set of the blocks, in running order.
    name
        What nominal jumbos of the run are called, before their number.
    """
    name_of: dict[str, str] = {}
    jumbos: dict[str, StockJumbo] = {}
    number = case.nominal_number(name)
    for butt in butts:
        own = butt.jumbo.name
        if butt.jumbo.nominal:
            number += 1
            while f"{name} {number}" in case.run.listed_jumbos:
                number = next(
                    n for n in count(number + 1) if f"{name} {n}" not in case.listed_names
                )
            own = f"{name} {number}"
        name_of[butt.jumbo.name] = own
        jumbos[own] = replace(butt.jumbo, name=own, started=False)
    started = case.started
    if started is not None:
        jumbos[started.name] = started
    offset = {} if started is None else {started.name: case.reached_m[started.name]}
    laid = iter(sets)
    placed: dict[int, Block] = {}
    for place, block in enumerate(blocks):
        rows = []
        for row in block.sets:
            each = next(laid)
            stretches = tuple(
                Stretch(
                    jumbo=name_of[part.jumbo],
                    from_m=part.from_m + offset.get(part.jumbo, 0),
                    to_m=part.to_m + offset.get(part.jumbo, 0),
                )
                for part in each.stretches
            )
            rows.append(replace(row, length_m=each.length_m, stretches=stretches))
        if rows:
            placed[place] = replace(block, sets=tuple(rows))
    lost = (butt.jumbo.name for butt in butts if butt.left_m and not butt.carried_forward)
    with_butts = frozenset(map(name_of.__getitem__, lost))
    return OnJumbos(
        blocks=tuple(placed.values()), jumbos=jumbos, with_butts=with_butts, places=tuple(placed)
    )


def end_to_end(case: Standing, blocks: Sequence[Block], name: str) -> OnJumbos:
    """Blocks with sets as long as issued, from where the jumbos stand, as far as these last."""
    lengths = [(at, row.length_m) for at, block in enumerate(blocks) for row in block.sets]
    laying = None
    while laying is None:
        laying = lay_lengths(lengths, supply_from(case))
        lengths = lengths[: len(laying.sets) if laying else -1]
    blocks, _ = first_sets(blocks, len(laying.sets))
    return on_jumbos(case, blocks, laying.sets, laying.butts, name)


def first_sets(blocks: Sequence[Block], count: int) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
    """Blocks parted after so many sets."""
    first, later = [], []
    for block in blocks:
        if count > 0:
            first.append(replace(block, sets=block.sets[:count]))
        if count < len(block.sets):
            later.append(replace(block, sets=block.sets[max(0, count) :]))
        count -= len(block.sets)
    return tuple(first), tuple(later)


def numbers_of(blocks: Sequence[Block]) -> frozenset[int]:
    """The numbers of their sets."""
    return frozenset(row.number for block in blocks for row in block.sets)


def sets_numbered(blocks: Sequence[Block], numbers: Set[int]) -> tuple[Block, ...]:
    """Blocks with those of their sets alone that have one of these numbers."""
    parted = (
        replace(block, sets=tuple(row for row in block.sets if row.number in numbers))
        for block in blocks
    )
    return tuple(block for block in parted if block.sets)


def with_a_reel_of(blocks: Sequence[Block]) -> frozenset[str]:
    """Orders that have a reel of these sets."""
    return frozenset(
        position.order
        for block in blocks
        for row in block.sets
        for position in block.positions
        if position.number not in row.spoiled
    )
