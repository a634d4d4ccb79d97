"""The bound from prices: never above the loss of a plan, whatever the prices."""

from __future__ import annotations

import ast
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

import trimopt
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Order
from trimopt.check.findings import Findings
from trimopt.check.price_proof import demands_of, loss_units, pieces_of, price_bound_units
from trimopt.plan.model import RunPlan

_MILL = sample_mill()
_RUN = sample_plan().runs[0]
_ORDERS: tuple[Order, ...] = sample_book().orders[:4]
_PIECES = pieces_of(_RUN, _MILL, _ORDERS)
_DEMANDS = demands_of(_RUN, _MILL, _ORDERS, _PIECES)


def _bound(run: RunPlan) -> int | None:
    return price_bound_units(run, _MILL, _DEMANDS, _PIECES, Findings())


def test_every_way_to_make_a_reel_is_there() -> None:
    """Three reel orders in two set lengths, and one or two sheets across for the fourth."""
    kinds = {(piece.order, int(piece.width_mm), piece.winding_class) for piece in _PIECES}
    assert kinds == {
        (order, width, c)
        for order, width in ((0, 1000), (1, 780), (2, 740), (2, 1460), (3, 600))
        for c in (0, 1)
    }


def test_a_reel_that_no_set_may_weigh_is_none() -> None:
    """1,100 kg a set: 1,400 mm of the first length, 1,466 of the second; 1,460 fits there alone."""
    winder = replace(_MILL.winder, max_set_mass_kg=1100.0)
    pieces = pieces_of(_RUN, replace(_MILL, winders=(winder,)), _ORDERS)
    lengths = [row.length_m for row in _RUN.set_lengths]
    assert lengths == [3150, 3000]
    assert {piece.winding_class for piece in pieces if piece.width_mm == 1460} == {1}
    assert {piece.winding_class for piece in pieces if piece.width_mm == 1000} == {0, 1}


def test_loss_by_hand() -> None:
    """28,350 kg wound less 27,178.7 delivered, and a tenth of 49.8 kg under and 496.6 over."""
    kg_a_unit = Fraction(20) * 250 / 1_000_000 / 1000
    loss_kg = float(loss_units(_RUN, _MILL, _ORDERS, _DEMANDS) * kg_a_unit)
    assert loss_kg == pytest.approx(_RUN.proof.loss_kg, abs=0.01)
    assert loss_kg == pytest.approx(1225.956, abs=0.01)


_prices = st.tuples(*[st.integers(-(10**6), 10**6)] * 4)


@settings(max_examples=150)
@given(gain=_prices, worth=_prices, shares=st.tuples(*[st.integers(0, 1100)] * 4))
def test_no_prices_prove_more_than_the_loss(
    gain: tuple[int, ...], worth: tuple[int, ...], shares: tuple[int, ...]
) -> None:
    """Prices that pass both conditions prove a bound that a real plan's loss is not below."""
    scale = 2**10
    proof = replace(
        _RUN.proof,
        scale=scale,
        gain_price=gain,
        worth_price=tuple(
            scale * share + extra // 10**4 for share, extra in zip(shares, worth, strict=True)
        ),
    )
    bound = _bound(replace(_RUN, proof=proof))
    assert bound is None or bound <= loss_units(_RUN, _MILL, _ORDERS, _DEMANDS)


def test_prices_that_overprice_a_set_prove_nothing() -> None:
    """At 3600/3560 a full deckle is worth what it costs; a little more is too much."""
    proof = _RUN.proof
    assert _bound(_RUN) is not None
    dearer = replace(proof, worth_price=tuple(price + 10**4 for price in proof.worth_price))
    assert _bound(replace(_RUN, proof=dearer)) is None


def _imports(module: str) -> set[str]:
    """What a module of the package imports, from its text."""
    root = Path(trimopt.__file__).parents[1]
    path = root.joinpath(*module.split(".")).with_suffix(".py")
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            source = node.module or ""
            modules = (f"{source}.{alias.name}" for alias in node.names)
            found.update(modules if root.joinpath(*source.split("."), "").is_dir() else [source])
        elif isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
    return found


def test_the_check_shares_nothing_with_what_makes_a_plan() -> None:
    """What the check imports, at any depth, is data or a formula of paper; it solves nothing."""
    seen: set[str] = set()
    ahead = ["trimopt.check.plan_check"]
    ours = ("trimopt.check.", "trimopt.plan.")
    while ahead:
        module = ahead.pop()
        seen.add(module)
        ahead += [m for m in _imports(module) if m.startswith(ours) and m not in seen]
    assert {m for m in seen if m.startswith("trimopt.plan.")} == {
        "trimopt.plan.mass_balance",
        "trimopt.plan.model",
        "trimopt.plan.proof_data",
        "trimopt.plan.sheeter_load",
        "trimopt.plan.states",
        "trimopt.plan.way_out",
    }
    allowed = (*ours, "trimopt.paper", "trimopt.mill.", "trimopt.book.", "trimopt.errors")
    for module in seen:
        for name in _imports(module):
            own = name.split(".")[0] == "trimopt"
            assert name.startswith(allowed) if own else name.split(".")[0] != "ortools", name
