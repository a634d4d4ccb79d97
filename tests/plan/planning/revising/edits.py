"""Edits of a plan that a person may make: legal ones, and illegal ones with what they break."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import pi, sqrt
from random import Random

from tests.plan.planning.revising.counting import out_of_range
from trimopt import Book, Mill, Plan
from trimopt.plan.model import Block, Position, RunPlan, SetRow

Blocks = tuple[Block, ...]


def edited(plan: Plan, place: int, blocks: Sequence[Block]) -> Plan:
    """The plan with other blocks in one of its runs."""
    runs = list(plan.runs)
    runs[place] = replace(runs[place], blocks=tuple(blocks))
    return replace(plan, runs=tuple(runs))


def _with(run: RunPlan, at: int, *new: Block) -> Blocks:
    return (*run.blocks[:at], *new, *run.blocks[at + 1 :])


def _set(block: Block, at: int, **new: object) -> Block:
    sets = list(block.sets)
    sets[at] = replace(sets[at], **new)  # type: ignore[arg-type]
    return replace(block, sets=tuple(sets))


def _split(block: Block, at: int, other: Block) -> tuple[Block, ...]:
    """The block with one of its sets as another block has it."""
    parts = (
        replace(block, sets=block.sets[:at]),
        replace(other, sets=block.sets[at : at + 1]),
        replace(block, sets=block.sets[at + 1 :]),
    )
    return tuple(part for part in parts if part.sets)


def _placed(block: Block, places: dict[int, Position]) -> Block:
    positions = [places.get(at, position) for at, position in enumerate(block.positions)]
    return replace(block, positions=tuple(positions))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """A run of a plan, what it was made from, and the draw."""

    run: RunPlan
    mill: Mill
    book: Book
    draw: Random

    @property
    def no_edge(self) -> set[str]:
        """Orders that may not lie at an edge."""
        return {order.number for order in self.book.orders if order.no_edge}

    def allows(self, place: Position, length_m: int) -> bool:
        """Whether a reel so long is as large as its order asks: D² = d² + 4 t L / π."""
        order = next(each for each in self.book.orders if each.number == place.order)
        core = next(each for each in self.run.cores if each.inside_mm == place.core_mm)
        metres_mm2 = 4 * self.run.wound_caliper_um * length_m / pi
        return sqrt(core.outside_mm**2 + metres_mm2) >= (order.min_diameter_mm or 0)


# Legal edits: a run's blocks anew, or None where the draw finds none


def swap_reels(on: Ground) -> Blocks | None:
    """Two reels of a set, or of all of a block's, change places."""
    at = on.draw.randrange(len(on.run.blocks))
    block = on.run.blocks[at]
    one, other = on.draw.sample(range(len(block.positions)), 2)
    a, b = block.positions[one], block.positions[other]
    new = _placed(block, {one: b, other: a})
    ends = {new.positions[0].order, new.positions[-1].order}
    if a.order == b.order or "" in {a.order, b.order} or ends & on.no_edge:
        return None
    if on.draw.random() < 0.5:
        return _with(on.run, at, new)
    return _with(on.run, at, *_split(block, on.draw.randrange(len(block.sets)), new))


def shift_web(on: Ground) -> Blocks | None:
    """The web of a block lies a little further to the front or back."""
    at = on.draw.randrange(len(on.run.blocks))
    block, winder = on.run.blocks[at], on.mill.winder
    front = block.edge_front_mm + on.draw.choice([-7, -3, 2, 5])
    back = block.edge_front_mm + block.edge_back_mm - front
    assert winder.max_edge_trim_mm is not None
    if not all(winder.min_edge_trim_mm <= e <= winder.max_edge_trim_mm for e in (front, back)):
        return None
    return _with(on.run, at, replace(block, edge_front_mm=front))


def move_block(on: Ground) -> Blocks | None:
    """A block runs elsewhere in the order."""
    blocks = list(on.run.blocks)
    block = blocks.pop(on.draw.randrange(len(blocks)))
    blocks.insert(on.draw.randrange(len(blocks) + 1), block)
    return None if tuple(blocks) == on.run.blocks else tuple(blocks)


def shorten(on: Ground) -> Blocks | None:
    """A set is a few metres shorter."""
    at = on.draw.randrange(len(on.run.blocks))
    block = on.run.blocks[at]
    place = on.draw.randrange(len(block.sets))
    length_m = block.sets[place].length_m - on.draw.randint(1, 9)
    if not all(on.allows(p, length_m) for p in block.positions if p.order):
        return None
    blocks = _with(on.run, at, _set(block, place, length_m=length_m))
    return None if out_of_range(replace(on.run, blocks=blocks), on.mill) else blocks


def other_order(on: Ground) -> Blocks | None:
    """In one set a reel is for another order of the same width."""
    widths = {line.number: line.width_mm for line in on.run.orders if line.product == "reel"}
    found = [
        (at, place, number)
        for at, block in enumerate(on.run.blocks)
        for place, position in enumerate(block.positions)
        for number, width_mm in widths.items()
        if position.order not in {"", number} and width_mm == position.width_mm
    ]
    if not found:
        return None
    at, place, number = on.draw.choice(found)
    block = on.run.blocks[at]
    new = _placed(block, {place: replace(block.positions[place], order=number)})
    blocks = _with(on.run, at, *_split(block, on.draw.randrange(len(block.sets)), new))
    return None if out_of_range(replace(on.run, blocks=blocks), on.mill) else blocks


def fresh_jumbo(on: Ground) -> Blocks | None:
    """The last set comes off a jumbo of its own."""
    name = on.run.jumbos[-1].name
    stem, number = name.rsplit(" ", 1)
    block = on.run.blocks[-1]
    part = replace(
        block.sets[-1].stretches[0], jumbo=f"{stem} {int(number) + on.draw.randint(1, 2)}"
    )
    if sum(p.jumbo == name for b in on.run.blocks for s in b.sets for p in s.stretches) < 2:
        return None
    return _with(on.run, len(on.run.blocks) - 1, _set(block, -1, stretches=(part,)))


def another_set(on: Ground) -> Blocks | None:
    """A set more of a block, or one fewer."""
    at = on.draw.randrange(len(on.run.blocks))
    block = on.run.blocks[at]
    sets = block.sets[:-1] if on.draw.random() < 0.5 else (*block.sets, block.sets[-1])
    blocks = _with(on.run, at, *([replace(block, sets=sets)] if sets else []))
    return None if out_of_range(replace(on.run, blocks=blocks), on.mill) else blocks


LEGAL: tuple[Callable[[Ground], Blocks | None], ...] = (
    swap_reels, shift_web, move_block, shorten, other_order, fresh_jumbo, another_set,
)  # fmt: skip


# Illegal edits


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """What an edit breaks: at these sets, or at these orders, in these words."""

    blocks: Blocks
    words: str
    sets: tuple[int, ...] = ()
    orders: frozenset[str] = frozenset()


Break = Callable[[Ground], Broken | None]


def _drawn(on: Ground) -> tuple[int, Block, int, SetRow]:
    at = on.draw.randrange(len(on.run.blocks))
    block = on.run.blocks[at]
    place = on.draw.randrange(len(block.sets))
    return at, block, place, block.sets[place]


def _one_set(on: Ground, change: Callable[[Block], Block | None], words: str) -> Broken | None:
    """One set of a block as `change` has it."""
    at, block, place, row = _drawn(on)
    new = change(block)
    if new is None:
        return None
    blocks = _with(on.run, at, *_split(block, place, new))
    return Broken(blocks=blocks, words=words, sets=(row.number,))


def _one_place(
    on: Ground, change: Callable[[Position], Position | None], words: str
) -> Broken | None:
    def changed(block: Block) -> Block | None:
        at = on.draw.randrange(len(block.positions))
        new = change(block.positions[at])
        return None if new is None else _placed(block, {at: new})

    return _one_set(on, changed, words)


def wrong_width(on: Ground) -> Broken | None:
    """A reel is not as wide as its order."""

    def change(place: Position) -> Position | None:
        wide = place.width_mm + Fraction(on.draw.choice([-60, -1, 2, 80]), 2)
        return replace(place, width_mm=wide) if place.order else None

    return _one_place(on, change, "mm wide; order")


def no_order(on: Ground) -> Broken | None:
    """A reel is for an order that the run does not have."""
    return _one_place(on, lambda place: replace(place, order="9999"), "is no order")


def wrong_ups(on: Ground) -> Broken | None:
    """More ups than the sheeter cuts."""

    def change(place: Position) -> Position | None:
        return replace(place, ups=9) if place.ups else None

    return _one_place(on, change, "at 9 ups")


def no_sheeter(on: Ground) -> Broken | None:
    """Reels for a sheeter that the mill does not have."""

    def change(place: Position) -> Position | None:
        return replace(place, sheeter="Sheeter 8") if place.ups else None

    return _one_place(on, change, "Sheeter 8 is no sheeter")


def too_wide(on: Ground) -> Broken | None:
    """A wider order in place of a reel: the set goes beyond the deckle."""
    at, block, place, row = _drawn(on)
    for position in block.positions:
        for line in on.run.orders:
            more = line.width_mm - position.width_mm
            left = on.run.deckle_mm - sum(p.width_mm for p in block.positions)
            on_core = any(
                p.order == line.number for b in on.run.blocks for p in b.positions
                if b.core_mm == block.core_mm
            )  # fmt: skip
            if on_core and more > left and not (line.product == "sheet" or position.ups):
                reel = replace(position, kind="reel", order=line.number, width_mm=line.width_mm)
                new = _placed(block, {position.number - 1: reel})
                if {new.positions[0].order, new.positions[-1].order} & _inside(on.run):
                    continue
                blocks = _with(on.run, at, *_split(block, place, new))
                return Broken(blocks=blocks, words="the deckle is", sets=(row.number,))
    return None


def _inside(run: RunPlan) -> set[str]:
    """Orders that are never at an edge of the plan."""
    ends = {b.positions[end].order for b in run.blocks for end in (0, -1)}
    return {line.number for line in run.orders} - ends


def too_little(on: Ground) -> Broken | None:
    """A reel is left out: too much is left for the edge strips."""

    def change(block: Block) -> Block | None:
        left = block.positions[1:-1]
        if len(left) < 2 or not left[0].order or {left[0].order, left[-1].order} & _inside(on.run):
            return None
        return replace(block, positions=left)

    return _one_set(on, change, "both edge strips take")


def bad_edge(on: Ground) -> Broken | None:
    """The web lies too far to the front."""
    return _one_set(
        on, lambda block: replace(block, edge_front_mm=Fraction(11)), "11 mm at the front"
    )


def far_back(on: Ground) -> Broken | None:
    """The web lies so far back that the strip there is too narrow."""

    def change(block: Block) -> Block:
        front = block.edge_front_mm + block.edge_back_mm - 9
        return replace(block, edge_front_mm=front)

    return _one_set(on, change, "an edge strip of")


def to_the_edge(on: Ground) -> Broken | None:
    """A reel that may not lie at the edge changes places with the first."""
    at, block, place, row = _drawn(on)
    for number, position in enumerate(block.positions):
        if position.order in on.no_edge and number:
            new = _placed(block, {0: position, number: block.positions[0]})
            blocks = _with(on.run, at, *_split(block, place, new))
            return Broken(blocks=blocks, words="may not lie at the edge", sets=(row.number,))
    return None


def broke_inside(on: Ground) -> Broken | None:
    """A reel between others is made broke."""

    def change(block: Block) -> Block | None:
        if len(block.positions) < 3:
            return None
        inner = block.positions[1]
        if not all(position.order for position in block.positions[:3]):
            return None
        broke = replace(inner, kind="broke", order="", ups=None, sheeter="")
        return _placed(block, {1: broke})

    return _one_set(on, change, "a broke reel between other reels")


def narrow_broke(on: Ground) -> Broken | None:
    """A broke reel narrower than the winder makes."""

    def change(place: Position) -> Position | None:
        if not place.order:
            return None
        width_mm = Fraction(120)
        return replace(place, kind="broke", order="", ups=None, sheeter="", width_mm=width_mm)

    return _one_place(on, change, "is the narrowest")


def wrong_core(on: Ground) -> Broken | None:
    """A core that the winder does not have."""
    at, block, place, row = _drawn(on)
    blocks = _with(on.run, at, *_split(block, place, replace(block, core_mm=203.0)))
    return Broken(blocks=blocks, words="a core of 203 mm", sets=(row.number,))


def too_long(on: Ground) -> Broken | None:
    """A set longer, or shorter, than its orders' diameters allow."""
    at, block, place, row = _drawn(on)
    length_m, words = on.draw.choice([(row.length_m + 900, "at most"), (900, "or more")])
    if not any(p.order and not p.ups for p in block.positions):
        return None
    blocks = _with(on.run, at, _set(block, place, length_m=length_m))
    return Broken(blocks=blocks, words=words, sets=(row.number,))


def no_jumbo(on: Ground) -> Broken | None:
    """A set off a jumbo that there is not."""
    at, block, place, row = _drawn(on)
    part = replace(row.stretches[0], jumbo="M-77")
    blocks = _with(on.run, at, _set(block, place, stretches=(part,)))
    return Broken(blocks=blocks, words="no jumbo M-77", sets=(row.number,))


def jumbo_twice(on: Ground) -> Broken | None:
    """A set off a jumbo that was finished before."""
    at, block, place, row = _drawn(on)
    part = replace(row.stretches[0], jumbo=on.run.jumbos[0].name)
    if row.stretches[0].jumbo in {jumbo.name for jumbo in on.run.jumbos[:2]}:
        return None
    blocks = _with(on.run, at, _set(block, place, stretches=(part,)))
    return Broken(blocks=blocks, words="one is unwound at a time", sets=(row.number,))


def sets_out(on: Ground) -> Broken | None:
    """A block is left out, and orders are short."""
    at = on.draw.randrange(len(on.run.blocks))
    blocks = _with(on.run, at)
    orders = frozenset(out_of_range(replace(on.run, blocks=blocks), on.mill))
    return Broken(blocks=blocks, words="short: ", orders=orders) if orders else None


def sets_more(on: Ground) -> Broken | None:
    """A block runs twice as often, and orders are over."""
    at = on.draw.randrange(len(on.run.blocks))
    block = on.run.blocks[at]
    blocks = _with(on.run, at, replace(block, sets=block.sets * 2))
    orders = frozenset(out_of_range(replace(on.run, blocks=blocks), on.mill))
    return Broken(blocks=blocks, words="over: ", orders=orders) if orders else None


BREAKS: tuple[Break, ...] = (
    wrong_width, no_order, wrong_ups, no_sheeter, too_wide, too_little, bad_edge, far_back,
    to_the_edge, broke_inside, narrow_broke, wrong_core, too_long, no_jumbo, jumbo_twice,
    sets_out, sets_more,
)  # fmt: skip
