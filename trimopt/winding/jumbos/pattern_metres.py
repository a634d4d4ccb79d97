"""Patterns and the metres of each, sought over every length that orders allow.

Where diameters are wide, listed set lengths and whole numbers of sets bind more than paper does: a
pattern may be wound for as many metres as orders want, in sets that are cut where jumbos end. So
patterns come from the linear program of the joint bound (`trimopt.winding.jumbos.joint_bound`), and
a mixed-integer program says how many metres and sets of each: lengths go on between the limits of a
set, orders stay inside their ranges, and of the loss all is counted but the butts that depend on
the running order. A pattern whose lengths cannot fill a jumbo, however many sets, is charged for
what they leave from the third jumbo on: one block shares its first and its last with others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import inf

from ortools.linear_solver import pywraplp

from trimopt.book.model import Product
from trimopt.budget import Budget
from trimopt.cutting import SCALE, Instance, Pattern, generated_patterns
from trimopt.cutting.model.cuts import Across, pieces_across
from trimopt.cutting.search.pattern_enumeration import all_patterns
from trimopt.making import PreparedRun, piece_of_way, ways
from trimopt.mill.model import Mill
from trimopt.paper import mass_kg
from trimopt.winding.jumbos.joint_bound import every_length

_NODES = 300  # of branch and bound: half a second of a run of thirty orders
_MAX_JUMBOS = 1_000
_MAX_LOOKED = 3_000  # patterns of a class that are counted out: of a few orders on their own core

# What rounding to whole metres and sheets takes, so that orders stay inside their ranges: of an
# order's limits, and of a set's sheets (its chops may be cut where two jumbos end).
_ROUNDED, _CHOPS = 0.003, 2.5

_Width = tuple[int, int]  # place of an order, width of a piece in the engine's units


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternMetres:
    """A pattern with its sets and their metres together; one set has `min_m` to `max_m`.

    `pieces` are ((place of the order, width in the engine's units), count), rising.
    """

    core_mm: float
    pieces: Across
    min_m: int
    max_m: int
    sets: int
    metres: int


def pattern_metres(
    making: PreparedRun, mill: Mill, usable_m: int, *, budget: Budget
) -> tuple[PatternMetres, ...]:
    """Find patterns, and how many sets and metres of each, for least loss at free lengths.

    Parameters
    ----------
    usable_m
        Usable length of its jumbos.
    budget
        Where it is over, nothing is found.

    Returns
    -------
    tuple of PatternMetres
        None where sets are wound on several cores at once, or no plan was found.
    """
    if any(winding.core_mm is None for winding in making.classes):
        return ()
    wide, ends = every_length(making, mill, (usable_m,))
    found = generated_patterns(wide, budget=budget)
    if not found or budget.over():
        return ()
    every = (*found, *_counted_out(wide))
    across = dict.fromkeys((ends[p.winding_class][0] or 0.0, pieces_across(wide, p)) for p in every)
    return _PatternProgram(making, mill, usable_m).solved(across, budget)


def _counted_out(wide: Instance) -> Iterator[Pattern]:
    """Every pattern of the classes that have few.

    Where few sets are wound on a core, what fills their jumbos decides, which prices do not know.
    """
    for place in range(len(wide.classes)):
        yield from all_patterns(wide, max_looked=_MAX_LOOKED, classes=(place,)) or ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _PieceYield:
    """What one piece gives: area and yield, for a metre of it and for a whole reel."""

    min_m: int
    max_m: int
    area_m: float
    area_reel: float
    gain_m: float
    gain_reel: float


class _PatternProgram:
    """The mixed-integer program; areas in metres of jumbo."""

    def __init__(self, making: PreparedRun, mill: Mill, usable_m: int) -> None:
        self.making = making
        self.mill = mill
        self.usable_m = usable_m
        self.paper_per_m = int(mill.jumbo.width_mm / making.unit_mm)
        self.solver = pywraplp.Solver.CreateSolver("SCIP")

    @cached_property
    def pieces(self) -> dict[tuple[float, _Width], _PieceYield]:
        """What the pieces of every order give, by core and width; the first way of each."""
        found: dict[tuple[float, _Width], _PieceYield] = {}
        making = self.making
        for place, order in enumerate(making.run.orders):
            for way in ways(order, self.mill, usable_m=self.usable_m):
                longest_m = self._max_m(way.span.max_m)
                if way.span.min_m > longest_m:
                    continue
                given = piece_of_way(order, way, length_m=longest_m, unit_mm=making.unit_mm)
                gain, area = given.gain, given.area / self.paper_per_m
                lost = _CHOPS * ((way.ups or 0) + 1) if order.product is Product.SHEET else 0.0
                by_reel = gain == 1 and order.product is Product.REEL
                width = int(way.width_mm / making.width_unit_mm)
                found.setdefault(
                    (way.core.inside_mm, (place, width)),
                    _PieceYield(
                        min_m=way.span.min_m,
                        max_m=longest_m,
                        area_m=area / longest_m,
                        area_reel=-lost * area / gain if gain else 0.0,
                        gain_m=0.0 if by_reel else gain / longest_m,
                        gain_reel=1.0 if by_reel else -lost,
                    ),
                )
        return found

    def _max_m(self, max_m: int) -> int:
        """No longer than the mass of the widest set allows."""
        max_kg = self.mill.winder.max_set_mass_kg
        if max_kg is None:
            return max_m
        kg_per_m = mass_kg(self.mill.deckle_mm, 1, self.making.run.grammage_gsm)
        return min(max_m, int(max_kg / kg_per_m))

    def solved(
        self, across: dict[tuple[float, Across], None], budget: Budget
    ) -> tuple[PatternMetres, ...]:
        solver, pieces = self.solver, self.pieces
        demands = self.making.instance.demands
        gains: list[list[pywraplp.LinearExpr]] = [[] for _ in demands]
        areas: list[list[pywraplp.LinearExpr]] = [[] for _ in demands]
        costs, columns = [], []
        for core_mm, counts in across:
            if any((core_mm, width) not in pieces for width, _ in counts):
                continue
            held = [(pieces[core_mm, width], width[0], count) for width, count in counts]
            min_m = max(piece.min_m for piece, _, _ in held)
            max_m = min(piece.max_m for piece, _, _ in held)
            if min_m > max_m:
                continue
            metres = solver.NumVar(0, _MAX_JUMBOS * self.usable_m, "")
            sets = solver.IntVar(0, _MAX_JUMBOS * (self.usable_m // min_m + 1), "")
            solver.Add(metres >= min_m * sets)
            solver.Add(metres <= max_m * sets)
            columns.append((core_mm, counts, min_m, max_m, sets, metres))
            costs += [metres, *self._butts(min_m, max_m, sets)]
            for piece, place, count in held:
                gains[place].append(count * (piece.gain_m * metres + piece.gain_reel * sets))
                areas[place].append(count * (piece.area_m * metres + piece.area_reel * sets))
        for place in range(len(demands)):
            costs += self._order(place, gains[place], areas[place])
        solver.Minimize(solver.Sum(costs))
        if not self._found(budget):
            return ()
        return tuple(
            PatternMetres(
                core_mm=core_mm,
                pieces=counts,
                min_m=min_m,
                max_m=max_m,
                sets=many,
                metres=round(metres.solution_value()),
            )
            for core_mm, counts, min_m, max_m, sets, metres in columns
            if (many := round(sets.solution_value())) > 0
        )

    def _found(self, budget: Budget) -> bool:
        """Whether the solver found metres, by so many nodes or until the budget is over."""
        self.solver.SetSolverSpecificParametersAsString(f"limits/nodes = {_NODES}")
        if budget.left_s < inf:
            self.solver.SetTimeLimit(max(1, int(1000 * budget.left_s)))
        return self.solver.Solve() in {self.solver.OPTIMAL, self.solver.FEASIBLE}

    def _butts(
        self, min_m: int, max_m: int, sets: pywraplp.Variable
    ) -> Iterator[pywraplp.Variable]:
        """Metres of the butts that a long block leaves whatever its lengths."""
        most = self.usable_m // min_m
        left_m = self.usable_m - most * max_m
        if most and left_m > 0:
            butts = self.solver.NumVar(0, self.solver.infinity(), "")
            self.solver.Add(most * butts >= left_m * (sets - 2 * most))
            yield butts

    def _order(
        self, place: int, gains: list[pywraplp.LinearExpr], areas: list[pywraplp.LinearExpr]
    ) -> Iterator[pywraplp.LinearExpr]:
        """The order's range, and what is lost on it: what it takes of the paper, negative."""
        solver, demand = self.solver, self.making.instance.demands[place]
        made, area = solver.Sum(gains), solver.Sum(areas)
        whole = all(piece.gain_m == 0 for (_, (at, _)), piece in self.pieces.items() if at == place)
        room = 0.0 if whole else _ROUNDED
        solver.Add(made >= demand.low * (1 + room))
        if demand.high is not None:
            beyond = solver.NumVar(0, solver.infinity(), "")
            most = max(demand.high * (1 - room / 2), demand.low * (1 + room))
            solver.Add(made - beyond <= most)
            area = area - demand.surplus_worth / self.paper_per_m * beyond
        yield -1 * area
        if demand.ordered is not None:
            under, over = (solver.NumVar(0, solver.infinity(), "") for _ in range(2))
            solver.Add(area + under - over == demand.ordered / self.paper_per_m)
            yield demand.under_price / SCALE * under
            yield demand.over_price / SCALE * over
