"""Putting what a person wrote on the sheet Sets onto the plan that was issued.

What follows from a set alone is worked out again: its diameter, the back edge, the knives, whether
a block is a set-up, where untouched metres lie on the jumbo. Totals (orders, balance, counts,
proof) stay as issued: they are the claims that the check then finds to hold or not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from trimopt.plan.model import Block, Position, RunPlan, SetRow, Settings, Stretch
from trimopt.plan.reel_rows import largest_mm
from trimopt.report.words.units import Units

__all__ = ["WrittenSet", "WrittenStrip", "apply_sets"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenStrip:
    """A place in a set as written: `order` empty for a broke reel."""

    order: str
    broke: bool
    width_mm: Fraction
    ups: int | None
    core_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSet:
    """A row of the sheet. `issued` is the set it was, `stretches` None where metres are to follow.

    `metres_kept` says that jumbo and metres stand as they were issued.
    """

    row: int
    issued: int
    core_mm: float | None
    length_m: int
    edge_front_mm: Fraction
    jumbo: str
    stretches: tuple[Stretch, ...] | None
    metres_kept: bool
    strips: tuple[WrittenStrip, ...]


@dataclass(frozen=True, slots=True)
class _Issued:
    block: Block
    each: SetRow


def apply_sets(
    run: RunPlan, written: Sequence[WrittenSet], told: Settings, units: Units
) -> tuple[RunPlan, tuple[str, ...]]:
    """Give the run with its sets as written, in that order, and the changes in words.

    Parameters
    ----------
    run : RunPlan
        The run as issued.
    written : sequence of WrittenSet
        Its sets in the order in which they are to run.
    told : Settings
        Of the plan: what counts as a set-up.
    units : Units
        Of the words.

    Returns
    -------
    RunPlan
        The run itself where nothing was changed.
    tuple of str
        One sentence a change.
    """
    issued = {each.number: _Issued(block, each) for block in run.blocks for each in block.sets}
    changes = _changes(run, issued, written, units)
    if not changes:
        return run, ()
    rows, laid = _metres(issued, written)
    changes += [f"{run.name}: metres on jumbo {name} laid again" for name in laid]
    blocks = _blocks(run, issued, written, rows, told)
    # Times of an edited run fall away: they hold for the sets as issued.
    orders = tuple(replace(line, finished=None) for line in run.orders)
    run = replace(run, blocks=_numbered(run, blocks, told), orders=orders, start=None, finish=None)
    return run, tuple(changes)


def _blocks(
    run: RunPlan,
    issued: dict[int, _Issued],
    written: Sequence[WrittenSet],
    rows: Sequence[SetRow],
    told: Settings,
) -> list[Block]:
    """Put sets of one layout that follow each other in one block, as far as they were in one."""
    blocks: list[Block] = []
    web_mm = {block.number: _web(block) for block in run.blocks}
    for set_number, (each, row) in enumerate(zip(written, rows, strict=True), start=1):
        old = issued[each.issued].block
        new_set = replace(row, number=set_number, length_m=each.length_m, start=None, finish=None)
        draft = _block(old, _positions(old, each, run), each, web_mm[old.number], new_set)
        new_set = replace(new_set, diameter_mm=largest_mm(run, draft, each.length_m))
        last = blocks[-1] if blocks else None
        if (
            last is not None
            and _same(last, draft)
            and _origin(last, issued, written) == old.number
            and not (told.length_change_is_set_up and last.sets[-1].length_m != each.length_m)
        ):
            blocks[-1] = replace(last, sets=(*last.sets, new_set))
        else:
            blocks.append(replace(draft, sets=(new_set,)))
    return blocks


def _changes(
    run: RunPlan, issued: dict[int, _Issued], written: Sequence[WrittenSet], units: Units
) -> list[str]:
    """Say what was changed: set by set, then which sets are missing, then their order."""
    said: list[str] = []
    seen: Counter[int] = Counter()
    for each in written:
        seen[each.issued] += 1
        changes = ["one set more"] if seen[each.issued] > 1 else []
        changes += _changes_of(each, issued[each.issued], units)
        name = f"{run.name}, set {each.issued} as issued (row {each.row})"
        said += [f"{name}: {words}" for words in changes]
    said += [f"{run.name}: set {n} is taken out" for n in issued if n not in seen]
    kept = [each.issued for each in written]
    if any(later < earlier for earlier, later in pairwise(kept)):
        said.append(f"{run.name}: sets run in the order {', '.join(map(str, kept))} as issued")
    return said


def _changes_of(each: WrittenSet, old: _Issued, units: Units) -> list[str]:
    """Say in what a set differs from how it was issued."""
    said = []
    if each.length_m != old.each.length_m:
        was, now = units.bare(old.each.length_m, "m"), units.said(each.length_m, "m")
        said.append(f"length {was} to {now}")
    if each.core_mm != old.block.core_mm:
        said.append("another core")
    if each.edge_front_mm != old.block.edge_front_mm:
        was, now = units.bare(old.block.edge_front_mm, "mm"), units.said(each.edge_front_mm, "mm")
        said.append(f"front edge {was} to {now}")
    if not each.metres_kept and each.stretches != old.each.stretches:
        said.append("jumbo or metres")
    before = [_strip_words(p.order, p.width_mm, p.ups, units) for p in old.block.positions]
    after = [_strip_words(s.order, s.width_mm, s.ups, units) for s in each.strips]
    for place, (was, now) in enumerate(zip(before, after, strict=False), start=1):
        if was != now:
            said.append(f"position {place}: {was} to {now}")
    if len(after) != len(before):
        said.append(f"{len(before)} to {len(after)} strips across")
    return said


def _strip_words(order: str, width_mm: Fraction, ups: int | None, units: Units) -> str:
    name = f"order {order}" if order else "broke"
    return f"{name} {units.said(width_mm, 'mm')}" + (f" of {ups} ups" if ups else "")


def _metres(
    issued: dict[int, _Issued], written: Sequence[WrittenSet]
) -> tuple[list[SetRow], list[str]]:
    """Give each set its stretches; on jumbos with untouched metres, one set after the other.

    Metres are laid again only on a jumbo whose sets all kept theirs and lie wholly on it, and that
    was wound without a space between sets when it was issued.
    """
    rows = [replace(issued[w.issued].each, stretches=w.stretches or (_unset(w),)) for w in written]
    laid: list[str] = []
    for name in dict.fromkeys(w.jumbo for w in written):
        used = [(i, w) for i, w in enumerate(written) if _touches(w, name)]
        old = sorted(
            (s.from_m, s.to_m)
            for each in issued.values()
            for s in each.each.stretches
            if s.jumbo == name
        )
        close = all(a[1] == b[0] for a, b in pairwise(old))
        free = all(w.metres_kept and len(rows[i].stretches) == 1 for i, w in used)
        if not (old and close and free):
            continue
        at = old[0][0]
        moved = False
        for i, w in used:
            stretch = Stretch(jumbo=name, from_m=at, to_m=at + w.length_m)
            moved = moved or rows[i].stretches != (stretch,)
            rows[i] = replace(rows[i], stretches=(stretch,))
            at += w.length_m
        if moved:
            laid.append(name)
    return rows, laid


def _unset(written: WrittenSet) -> Stretch:
    return Stretch(jumbo=written.jumbo, from_m=0, to_m=written.length_m)


def _touches(written: WrittenSet, jumbo: str) -> bool:
    if written.stretches is None:
        return written.jumbo == jumbo
    return any(stretch.jumbo == jumbo for stretch in written.stretches)


def _web(block: Block) -> Fraction:
    inside = sum((p.width_mm for p in block.positions), Fraction(0))
    return block.edge_front_mm + inside + block.edge_back_mm


def _positions(old: Block, written: WrittenSet, run: RunPlan) -> tuple[Position, ...]:
    known = [p for b in run.blocks for p in b.positions]
    sheets = {line.number for line in run.orders if line.product == "sheet"}
    made: list[Position] = []
    for place, strip in enumerate(written.strips, start=1):
        like = next((p for p in known if p.order == strip.order and p.sheeter), None)
        kind = "broke" if strip.broke else "sheeter" if strip.order in sheets else "reel"
        sheeter = like.sheeter if like and kind == "sheeter" else ""
        core = strip.core_mm if written.core_mm is None else written.core_mm
        if core is None and place <= len(old.positions):
            core = old.positions[place - 1].core_mm
        made.append(
            Position(
                number=place, kind=kind, order=strip.order, width_mm=strip.width_mm, core_mm=core,
                ups=strip.ups, sheeter=sheeter,
            )
        )  # fmt: skip
    return tuple(made)


def _block(
    old: Block,
    positions: tuple[Position, ...],
    written: WrittenSet,
    web_mm: Fraction,
    row: SetRow,
) -> Block:
    if positions == old.positions and written.edge_front_mm == old.edge_front_mm:
        return replace(old, sets=(row,), core_mm=written.core_mm)
    knives = [written.edge_front_mm]
    for position in positions:
        knives.append(knives[-1] + position.width_mm)
    return replace(
        old,
        core_mm=written.core_mm,
        positions=positions,
        edge_front_mm=written.edge_front_mm,
        edge_back_mm=web_mm - knives[-1],
        knives_mm=tuple(knives),
        knives_moved=(False,) * len(knives),
        knife_moves=0,
        beam_mm=(),
        sets=(row,),
    )


def _same(one: Block, other: Block) -> bool:
    return (one.positions, one.edge_front_mm, one.core_mm) == (
        other.positions,
        other.edge_front_mm,
        other.core_mm,
    )


def _origin(block: Block, issued: dict[int, _Issued], written: Sequence[WrittenSet]) -> int:
    return issued[written[block.sets[-1].number - 1].issued].block.number


def _numbered(run: RunPlan, blocks: Sequence[Block], told: Settings) -> tuple[Block, ...]:
    """Number the blocks, and mark set-ups and knives afresh from the first changed one on.

    A knife counts as moved where no knife stood before: the least that a change of layout can cost.
    """
    done: list[Block] = []
    alike = True
    for index, block in enumerate(blocks):
        old = run.blocks[index] if index < len(run.blocks) else None
        alike = alike and old is not None and old.knives_mm == block.knives_mm
        new = replace(block, number=index + 1)
        if all(each.length_m != block.length_m for each in block.sets):
            new = replace(new, length_m=block.sets[0].length_m)
        new = replace(new, diameter_mm=largest_mm(run, new, new.length_m))
        if alike and old is not None:
            new = replace(
                new, knives_moved=old.knives_moved, knife_moves=old.knife_moves,
                beam_mm=old.beam_mm,
            )  # fmt: skip
        elif done:
            stood = set(done[-1].knives_mm)
            moved = tuple(knife not in stood for knife in block.knives_mm)
            new = replace(new, knives_moved=moved, knife_moves=sum(moved), beam_mm=())
        else:
            none = (False,) * len(block.knives_mm)
            new = replace(new, knives_moved=none, knife_moves=0, beam_mm=())
        if done:
            new = replace(new, set_up=_set_up(done[-1], new, told))
        done.append(new)
    return tuple(done)


def _set_up(before: Block, block: Block, told: Settings) -> bool:
    """Whether the winder is set up anew: for other widths across, or as the mill file says."""
    if told.core_change_is_set_up and before.core_mm != block.core_mm:
        return True
    if told.length_change_is_set_up and before.length_m != block.length_m:
        return True
    return _widths(before) != _widths(block)


def _widths(block: Block) -> Counter[Fraction]:
    return Counter(position.width_mm for position in block.positions)
