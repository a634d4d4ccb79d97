"""Runs to ask, and the linear program that the curve stands for, solved again for any width.

For a small demand q of a width in a class, added to a run, let LP(q) be the least loss of the
linear program, the paper of what is added not taken off. Weak duality: prices of the run that no
pattern overruns, with the price of the curve for the new piece, are prices of the new program, so
LP(q) >= bound of the prices + q · curve. LP is convex in q and its slope at 0 is the greatest price
that any optimal prices of LP(0) give to the width: where these are unique, the curve's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import numpy as np

from tests.mill_files import mill_file, mill_files
from trimopt.book import Book, read_book
from trimopt.budget import Budget
from trimopt.cutting import SCALE, Certificate, Demand, Instance, Option
from trimopt.cutting.lp.bound_certificate import certificate, price_bound
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate
from trimopt.cutting.lp.master import LPSolution, Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.marginal_values import marginal_loss
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.search.search_state import Search
from trimopt.cutting.search.single_order_patterns import single_order_patterns
from trimopt.making import PreparedRun, Run, prepare, runs_of
from trimopt.mill import read_mill
from trimopt.mill.model import Mill
from trimopt.plan.model import Request, Settings
from trimopt.plan.planning.request_settings import settings_of

ROOT = Path(__file__).parents[2]
GRID_MM = Fraction(1)
#: The added piece yields so much, so that a demand of 1 is a thousandth of a reel.
PIECES = 1000
#: The solver's optimum is good to 1e-9 of a run's loss, which is some sets; for a thousandth of a
#: reel that is this share of a set's cost.
SLIP = 1e-5


@cache
def _week() -> dict[str, tuple[Run, Mill]]:
    mill = read_mill(ROOT / "orders" / "mill.toml")
    found = {}
    for run in runs_of(read_book(ROOT / "orders" / "week.xlsx", mill), mill):
        grade = mill.grade(run.grade)
        assert grade is not None
        found[run.name] = run, mill.for_paper(grade, run.grammage_gsm)
    return found


#: The runs of the example week, and the published mill orders where their data is there.
NAMES: tuple[str, ...] = (*_week(), *mill_files())


def run_of(name: str) -> tuple[Run, Mill]:
    """A run, and the mill as it sees it."""
    if name in _week():
        return _week()[name]
    book, mill = mill_file(name)
    (run,) = runs_of(book, mill)
    return run, mill


def settings_for(mill: Mill) -> Settings:
    """What holds where nothing is asked but the mill's own."""
    book = Book(source="none", fingerprint="", as_of=date.min, orders=())
    return settings_of(book, mill, Request())


def widths_mm(mill: Mill, count: int, *, beyond: int = 0) -> tuple[int, ...]:
    """Widths drawn with a fixed seed from what the winder takes, and so far beyond either end."""
    least = math.ceil(mill.winder.min_reel_width_mm) - beyond
    most = math.floor(min(mill.winder.max_reel_width_mm, mill.deckle_mm)) + beyond
    draw = Random(735)
    return tuple(draw.randint(max(1, least), most) for _ in range(count))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """A width in a class: the curve's value for a piece, and the program's change for one."""

    width_mm: int
    value: float  # units of loss, from the prices of the run; infinite: it fits no set
    change: float
    prices_differ: bool  # those of the program solved again are not the run's, and prove as much

    def exceeds(self, cost: float) -> bool:
        """Whether the curve says more than the program's change."""
        return self.value > self.change + SLIP * cost

    def equals(self, cost: float) -> bool:
        """Whether the curve says what the program's change is."""
        return abs(self.value - self.change) <= SLIP * cost


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Base:
    """A run's linear program at its optimum."""

    making: PreparedRun
    patterns: tuple[Pattern, ...]
    point: LPSolution
    prices: Certificate
    proved: int

    def cost(self, winding_class: int) -> float:
        """What a set of a class costs, in units of loss."""
        return float(SCALE * self.making.instance.classes[winding_class].cost)

    def classes(self, count: int) -> tuple[int, ...]:
        """Classes drawn with a fixed seed."""
        draw = Random(12)
        return tuple(draw.randrange(len(self.making.classes)) for _ in range(count))

    def asked(self, winding_class: int, width_mm: int) -> Asked:
        """Solve again with a thousandth of a reel of a width more."""
        width = int(width_mm / self.making.width_unit_mm)
        instance = self.making.instance
        value = float(marginal_loss(instance, self.prices, winding_class)[width - 1])
        if not math.isfinite(value):
            return Asked(width_mm=width_mm, value=value, change=math.inf, prices_differ=False)
        added = Option(
            demand=len(instance.demands), winding_class=winding_class, width=width, gain=PIECES
        )
        more = replace(
            instance,
            demands=(*instance.demands, Demand(low=1, high=None)),
            options=(*instance.options, added),
        )
        _, point = _optimum(more, self.patterns)
        change = PIECES * (point.loss - self.point.loss)
        return Asked(
            width_mm=width_mm, value=value, change=change, prices_differ=self._others(point)
        )

    def _others(self, point: LPSolution) -> bool:
        """Whether the point's prices, without the piece added, are the run's too, but others."""
        instance = self.making.instance
        count = len(instance.demands)
        gains, worths = point.gain_price[:count].tolist(), point.worth_price[:count].tolist()
        offers = class_offers(instance)
        safe = certificate(instance, offers, gains, worths)
        if safe is None:
            return False
        cost = SCALE * max(limits.cost for limits in instance.classes)
        as_good = price_bound(instance, safe[0]) >= self.proved - SLIP * cost
        ours = np.array([self._pays(k, self.point) for k in range(len(instance.options))])
        theirs = np.array([self._pays(k, point) for k in range(len(instance.options))])
        return bool(as_good and np.abs(ours - theirs).max() > SLIP * cost)

    def _pays(self, k: int, point: LPSolution) -> float:
        option = self.making.instance.options[k]
        i = option.demand
        return float(point.gain_price[i] * option.gain + point.worth_price[i] * option.worth)


def _optimum(
    instance: Instance, known: tuple[Pattern, ...]
) -> tuple[tuple[Pattern, ...], LPSolution]:
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    master = Master(instance)
    for pattern in (*known, *single_order_patterns(instance, pricers)):
        if pattern is not None:
            master.add(pattern)
    search = Search(instance=instance, budget=Budget())
    point, optimal = generate(master, pricers, search)
    assert optimal
    return tuple(master.patterns), point


def base_of(name: str) -> Base:
    """The linear program of a run."""
    run, mill = run_of(name)
    making = prepare(run, mill, grid_mm=GRID_MM)
    patterns, point = _optimum(making.instance, ())
    safe = certificate(
        making.instance,
        class_offers(making.instance),
        point.gain_price.tolist(),
        point.worth_price.tolist(),
    )
    assert safe is not None
    return Base(
        making=making,
        patterns=patterns,
        point=point,
        prices=safe[0],
        proved=price_bound(making.instance, safe[0]),
    )
