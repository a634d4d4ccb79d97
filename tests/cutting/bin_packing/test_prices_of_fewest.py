"""Runs where the loss is so much a set have prices that prove a bound, however they are solved."""

from __future__ import annotations

import pytest

from tests.cutting.one_class import one_class
from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, WindingClass, solve
from trimopt.cutting.lp.bound_certificate import price_bound


def _run(widths: tuple[int, ...], reels: tuple[int, ...], deckle: int) -> Instance:
    """Reels of those widths and counts in one class; a set costs ten times its width."""
    return one_class(
        widths,
        (Demand(low=n, high=n, surplus_worth=10 * w) for w, n in zip(widths, reels, strict=True)),
        WindingClass(cost=10 * deckle, width=deckle, max_pieces=deckle),
        worth=10,
    )


@pytest.mark.parametrize(
    ("widths", "reels", "deckle"),
    [
        ((5,), (4,), 10),  # the widths alone prove it
        ((6, 4), (3, 3), 10),
        ((7, 5, 3), (2, 3, 4), 16),
        ((6,), (3,), 10),  # the widths alone do not
    ],
)
def test_every_answer_has_its_prices(
    widths: tuple[int, ...], reels: tuple[int, ...], deckle: int
) -> None:
    """A certificate stands beside the plan, proves what is claimed for it, and no more than it."""
    instance = _run(widths, reels, deckle)
    outcome = solve(instance, budget=Budget())
    assert outcome.certificate is not None
    assert price_bound(instance, outcome.certificate) == outcome.price_bound
    assert outcome.loss is not None
    assert outcome.price_bound <= outcome.bound <= outcome.loss
