"""Mill-like runs from a seed: what a board or paper mill brings to a winder, as engine instances.

Nothing here is a real mill's order book. Widths, quantities and set lengths are drawn so that the
kinds which differ for an engine all occur: steps of 5, 1 and 0.5 mm, reels and sheeter reels with
odd trims, exact quantities and ±10 %, with and without a piece limit, one to sixteen classes.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

from trimopt.cutting import Demand, Instance, Option, WindingClass


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What distinguishes one family of runs."""

    name: str
    orders: tuple[int, int]
    step_half_mm: int
    tolerance_percent: int
    classes: tuple[int, int]
    sheet_share: float
    piece_limit: bool
    min_trim: bool = False


KINDS = (
    Kind(
        name="reels_5mm_exact",
        orders=(15, 30),
        step_half_mm=10,
        tolerance_percent=0,
        classes=(1, 1),
        sheet_share=0.0,
        piece_limit=False,
    ),
    Kind(
        name="reels_1mm_exact",
        orders=(20, 60),
        step_half_mm=2,
        tolerance_percent=0,
        classes=(1, 1),
        sheet_share=0.0,
        piece_limit=True,
    ),
    Kind(
        name="reels_half_mm",
        orders=(20, 50),
        step_half_mm=1,
        tolerance_percent=10,
        classes=(1, 3),
        sheet_share=0.0,
        piece_limit=True,
    ),
    Kind(
        name="reels_classes",
        orders=(15, 50),
        step_half_mm=2,
        tolerance_percent=10,
        classes=(4, 12),
        sheet_share=0.0,
        piece_limit=True,
    ),
    Kind(
        name="sheets",
        orders=(15, 40),
        step_half_mm=2,
        tolerance_percent=10,
        classes=(1, 6),
        sheet_share=1.0,
        piece_limit=True,
    ),
    Kind(
        name="mixed_exact",
        orders=(15, 40),
        step_half_mm=2,
        tolerance_percent=0,
        classes=(2, 8),
        sheet_share=0.4,
        piece_limit=True,
    ),
    Kind(
        name="mixed",
        orders=(20, 60),
        step_half_mm=2,
        tolerance_percent=10,
        classes=(6, 16),
        sheet_share=0.4,
        piece_limit=True,
    ),
    Kind(
        name="edge_strips",
        orders=(15, 40),
        step_half_mm=2,
        tolerance_percent=10,
        classes=(1, 4),
        sheet_share=0.2,
        piece_limit=True,
        min_trim=True,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """An instance and where it came from."""

    kind: str
    seed: int
    instance: Instance

    @property
    def name(self) -> str:
        """Name that the bench prints."""
        return f"{self.kind}_{self.seed:03d}"


def mill_like_set(per_kind: int, first: int = 0) -> Iterator[Made]:
    """Give `per_kind` runs of every kind, from a number on; the same ones every time."""
    for kind in KINDS:
        for seed in range(first, first + per_kind):
            yield Made(kind=kind.name, seed=seed, instance=mill_like(kind, seed))


def mill_like(kind: Kind, seed: int) -> Instance:
    """Draw one run. Widths are in half millimetres, lengths in metres, worth in their product."""
    rng = random.Random(f"{kind.name}/{seed}")
    deckle = rng.randrange(2400, 8400, 10) * 2
    edge = rng.choice((20, 30, 40)) * 2
    lengths = sorted(rng.sample(range(3000, 12000, 50), rng.randint(*kind.classes)))
    pieces = rng.randint(6, 14) if kind.piece_limit else deckle
    slack = rng.randrange(40, 160, 10) * 2 if kind.min_trim else None
    classes = tuple(
        WindingClass(
            cost=(deckle + edge) * length,
            width=deckle,
            max_pieces=pieces,
            slack=slack,
            min_broke=100 if slack is not None else 0,
            max_broke=1000 if slack is not None else None,
        )
        for length in lengths
    )
    demands: list[Demand] = []
    options: list[Option] = []
    for i in range(rng.randint(*kind.orders)):
        if rng.random() < kind.sheet_share:
            demand, some = _sheets(rng, kind, i, deckle, lengths)
        else:
            demand, some = _reels(rng, kind, i, deckle, lengths, rng.random() < 0.5)
        demands.append(demand)
        options += some
    return Instance(demands=tuple(demands), classes=classes, options=tuple(options))


def _ranges(rng: random.Random, kind: Kind, wanted: int) -> tuple[int, int]:
    """Least and greatest quantity: the tolerance, rounded inwards, and never nothing."""
    percent = rng.choice((5, 10, 15)) if kind.tolerance_percent else 0
    low = -(-wanted * (100 - percent) // 100)
    return low, max(low, wanted * (100 + percent) // 100)


def _reels(
    rng: random.Random, kind: Kind, i: int, deckle: int, lengths: list[int], by_mass: bool
) -> tuple[Demand, list[Option]]:
    step = kind.step_half_mm
    width = rng.randrange(max(step, 500 // step * step), min(deckle // 2, 5000), step)
    target = rng.randrange(len(lengths))
    span = rng.randint(0, 2)
    eligible = range(max(0, target - span), min(len(lengths), target + span + 1))
    count = max(2, round(rng.lognormvariate(2.7, 0.9)))
    ordered = count * width * lengths[target]
    price = 100 if kind.tolerance_percent else 0
    if by_mass and kind.tolerance_percent:
        low, high = _ranges(rng, kind, ordered)
        gains = {c: width * lengths[c] for c in eligible}
        worth_back = 1
    else:
        low, high = _ranges(rng, kind, count)
        gains = dict.fromkeys(eligible, 1)
        worth_back = width * max(lengths[c] for c in eligible)
    options = [
        Option(demand=i, winding_class=c, width=width, gain=gain, worth=width * lengths[c])
        for c, gain in gains.items()
    ]
    return (
        Demand(
            low=low,
            high=high,
            ordered=ordered,
            under_price=price,
            over_price=price,
            surplus_worth=worth_back,
        ),
        options,
    )


def _sheets(
    rng: random.Random, kind: Kind, i: int, deckle: int, lengths: list[int]
) -> tuple[Demand, list[Option]]:
    across = rng.randrange(420, 1300) * 2
    chop_mm = rng.randrange(420, 1300)
    trim = rng.choice((16, 20, 24, 30, 50))
    sheets = rng.randrange(20, 600) * 1000
    low, high = (
        _ranges(rng, kind, sheets) if kind.tolerance_percent else (sheets, sheets * 21 // 20)
    )
    area = across * chop_mm  # half millimetres times millimetres: a thousandth of the unit of worth
    options = []
    for c, length in enumerate(lengths):
        for ups in range(1, 6):
            width = ups * across + trim
            if width > min(deckle, 4600):
                break
            gain = ups * (length * 1000 // chop_mm)
            options.append(
                Option(demand=i, winding_class=c, width=width, gain=gain, worth=gain * area // 1000)
            )
    return (
        Demand(
            low=low,
            high=high,
            ordered=sheets * area // 1000,
            under_price=100,
            over_price=100,
            surplus_worth=area // 1000 + 1,
        ),
        options,
    )
