"""What the bench of set-ups is compared with.

The sequential heuristic follows R. W. Haessler, "A heuristic programming solution to a nonlinear
cutting stock problem", Management Science 17 (1971) B793-B802, in its idea only: one pass, a
pattern is taken where it reaches the aspiration levels for trim and repeats, which are lowered
when none does.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from ortools.sat.python import cp_model

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting import SCALE, Cut, Instance, Pattern
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate
from trimopt.cutting.lp.master import Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.search.search_state import Search

#: Searched patterns for one step of the pass.
NODES = 4_000


def one_pass(instance: Instance) -> tuple[Cut, ...]:
    """Aspiration levels, one pass; textbook instances of one class."""
    size = instance.classes[0].width, instance.classes[0].max_pieces
    widths = [option.width for option in instance.options]
    need = [demand.low for demand in instance.demands]
    return tuple(
        Cut(Pattern(0, tuple(sorted(found))), sets) for found, sets in aspired(size, widths, need)
    )


def aspired(
    size: tuple[int, int], widths: list[int], need: list[int]
) -> Iterator[tuple[list[tuple[int, int]], int]]:
    """Patterns, as (place of a width, count), and their sets, until nothing is needed.

    `size` is the deckle and the most pieces of a set.
    """
    order = sorted(range(len(widths)), key=lambda i: -widths[i])
    rest = list(need)
    while any(rest):
        area = sum(w * n for w, n in zip(widths, rest, strict=True))
        repeat = max(1, min(max(rest), area // size[0]))
        trim = 0.01
        found = None
        while found is None:
            found = _first(size, widths, order, [n // repeat for n in rest], trim)
            if found is None:
                if repeat > 1:
                    repeat = max(1, repeat * 3 // 4)
                else:
                    trim = min(1.0, trim * 2 + 0.01)
        sets = min(rest[i] // n for i, n in found)
        for i, n in found:
            rest[i] -= n * sets
        yield found, sets


def _first(
    limits: tuple[int, int], widths: list[int], order: list[int], caps: list[int], trim: float
) -> list[tuple[int, int]] | None:
    """Widest pieces first, the first pattern within the trim."""
    deckle, stations = limits
    nodes = 0

    def grow(at: int, room: int, pieces: int) -> list[tuple[int, int]] | None:
        nonlocal nodes
        nodes += 1
        if room <= trim * deckle and pieces < stations:
            return []
        if at == len(order) or nodes > NODES:
            return [] if room <= trim * deckle else None
        i = order[at]
        for n in range(min(caps[i], room // widths[i], pieces), -1, -1):
            more = grow(at + 1, room - n * widths[i], pieces - n)
            if more is not None:
                return [(i, n), *more] if n else more
        return None

    found = grow(0, deckle, stations)
    return found or None


def pool_of(instance: Instance, cuts: tuple[Cut, ...]) -> tuple[Pattern, ...]:
    """The patterns that column generation makes, and those of the engine's plan."""
    master = Master(instance)
    patterns = [cut.pattern for cut in cuts]
    for k, option in enumerate(instance.options):
        limits = instance.classes[option.winding_class]
        count = min(limits.width // option.width, limits.max_pieces)
        patterns.append(Pattern(option.winding_class, ((k, count),)))
    for pattern in dict.fromkeys(patterns):
        master.add(pattern)
    search = Search(instance=instance, budget=Budget.lasting(30))
    with suppress(SearchEnded):
        generate(master, [Pricer(instance, offer) for offer in class_offers(instance)], search)
    return tuple(master.patterns)


def pool_program(
    instance: Instance, pool: tuple[Pattern, ...], loss: int, seconds: float
) -> int | None:
    """Fewest of the given patterns that make the run within a loss; None where none was found.

    The pool is what column generation and the engine's plan left; textbook instances.
    """
    model = cp_model.CpModel()
    patterns = pool
    most = loss // SCALE
    sets = [model.new_int_var(0, most, "") for _ in patterns]
    used = [model.new_bool_var("") for _ in patterns]
    for number, taken in zip(sets, used, strict=True):
        model.add(number <= most * taken)
    model.add(sum(sets) <= most)
    for i, demand in enumerate(instance.demands):
        made = sum(
            n * number
            for pattern, number in zip(patterns, sets, strict=True)
            for k, n in pattern.pieces
            if instance.options[k].demand == i
        )
        model.add(made >= demand.low)
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return int(solver.objective_value + 0.5)
