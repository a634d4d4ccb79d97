"""Plans are the same on every kind of processor, though numpy and BLAS sum otherwise on each."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from trimopt.cutting.model.products import product

_SEARCH = """
from tests.bench.mill_like import KINDS, mill_like
from trimopt import Budget
from trimopt.cutting import solve
kind = next(kind for kind in KINDS if kind.name == "reels_classes")
outcome = solve(mill_like(kind, 21), budget=Budget())
print(outcome.loss, outcome.bound, outcome.cuts)
"""

_WIDE = importlib.import_module("numpy._core._multiarray_umath").__cpu_dispatch__

#: What one processor has and another has not: kernels of BLAS, wide registers of numpy.
_OTHER = {"OPENBLAS_CORETYPE": "Nehalem", "NPY_DISABLE_CPU_FEATURES": " ".join(_WIDE)}


def _cuts(other: dict[str, str]) -> str:
    found = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", _SEARCH],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        env={**os.environ, **other},
    )
    return found.stdout


def test_another_processor_finds_the_same_plan() -> None:
    """An old one, with another kernel of BLAS and no wide registers."""
    here = _cuts({})
    assert here
    assert _cuts(_OTHER) == here


@pytest.mark.parametrize("shapes", [((7,), (7,)), ((5, 7), (7,)), ((7,), (7, 3)), ((5, 7), (7, 3))])
def test_a_product_is_that_of_the_library(shapes: tuple[tuple[int, ...], tuple[int, ...]]) -> None:
    draw = np.random.default_rng(4)
    left, right = (draw.random(shape) for shape in shapes)
    assert np.allclose(product(left, right), left @ right, rtol=1e-12)
    whole = draw.integers(-9, 9, shapes[0])
    assert np.allclose(product(whole, right), whole @ right, rtol=1e-12)
