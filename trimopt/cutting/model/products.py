"""Matrix products that are the same on every processor; the search takes no others.

``@`` leaves the order in which floats are summed to the linear algebra library, which has one for
each kind of processor: the last bit differs, then a choice among near equals, then the plan.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

_Numbers = NDArray[np.float64] | NDArray[np.int64]
_Whole = TypeVar("_Whole", np.float64, np.int64, np.object_)


def product(left: _Numbers, right: _Numbers) -> NDArray[np.float64]:
    """`left`, shape (…, n), times `right`, shape (n,) or (n, m), one of them floats."""
    sums = "...k,k->..." if right.ndim == 1 else "...k,kj->...j"
    return np.asarray(np.einsum(sums, left, right), dtype=np.float64)


def whole_product(left: NDArray[_Whole], right: NDArray[_Whole]) -> NDArray[_Whole]:
    """`left` times `right`, whole numbers both; in floats exact as long as no sum reaches 2⁵³."""
    return np.asarray(left @ right)
