"""Mixed-integer cuts of rows of whole numbers, in exact arithmetic.

Of columns that are whole and not below 0, equations of whole numbers hold, and so does any sum of
them: with multipliers u, Σ α_j z_j = β. Where φ_j and φ are the fractions of α_j and β, then ::

    Σ_{φ_j <= φ} φ_j / φ z_j + Σ_{φ_j > φ} (1 - φ_j) / (1 - φ) z_j >= 1

which a point that is not whole may break. A cut is kept in whole numbers, Σ γ_j z_j >= ρ, and may
be a row of the next sum, with its surplus t = Σ γ_j z_j - ρ as a column of its own.

Whatever the multipliers are, the cut holds: they are made whole first, in units of a sum, and all
sums and quotients after that are exact or rounded up, which only weakens the cut.

References
----------
R. E. Gomory (1960), "An algorithm for the mixed integer problem", RAND report RM-2597.
W. Cook, S. Dash, R. Fukasawa, M. Goycoolea (2009), "Numerically safe Gomory mixed-integer cuts",
INFORMS Journal on Computing 21, 641-649.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.products import whole_product

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RIGHT = 1 << 18
"""The right side of a cut, but for a part in so many."""

_UNIT = 1 << 38  # of multipliers and sums
_PART = 1 << 24  # of a quotient of two fractions
_EXACT = 2.0**53  # whole numbers below it are exact as floats, and so are their sums
_MAX_SHRUNK = 8  # by which a right side may fall for rows that have less than nothing on theirs
_MIN_FRACTION = 0.02  # of a right side: with less the cut's figures grow


def mixed_integer_cuts(
    multipliers: Floats, rows: Floats, rights: Floats, equations: int
) -> tuple[Floats, Floats]:
    """Return the coefficients and the right side of the cuts that multipliers of the rows give.

    Parameters
    ----------
    multipliers
        Shape (cuts, rows); those of cuts count for `RIGHT` times as much.
    rows, rights
        Whole numbers, shapes (rows, columns) and (rows): so many `equations`, then cuts.

    Returns
    -------
    tuple of coefficients and right sides
        Whole numbers, shapes (cuts, columns) and (cuts); a cut that cannot be had, or would be
        worth little, has a right side of 0.
    """
    units = np.full(len(rows), float(_UNIT))
    units[equations:] /= RIGHT
    whole = np.rint(multipliers * units)
    exact = whole_product(np.abs(whole), np.abs(rows)).max(axis=1, initial=0.0) < _EXACT
    exact &= whole_product(np.abs(whole), np.abs(rights)) < _EXACT
    whole[~exact] = 0.0
    below = whole_product(whole, rights).astype(np.int64) % _UNIT
    good = exact & (np.minimum(below, _UNIT - below) > _MIN_FRACTION * _UNIT)
    below[~good] = _UNIT // 2
    above = _UNIT - below
    part = whole_product(whole, rows).astype(np.int64) % _UNIT
    first = -(-(part * _PART) // below[:, None])
    second = -(-((_UNIT - part) * _PART) // above[:, None])
    # Of its two coefficients a column has the lesser, which is that of the formula.
    coefficients = np.minimum(first, second).astype(np.float64) * RIGHT
    surplus = _of_surplus(whole[:, equations:], below, above)
    right = _PART * RIGHT + whole_product(surplus, rights[equations:])
    # What is not negative sums up exactly where the sum is exact, and so do parts of it with signs.
    sizes = coefficients + whole_product(surplus, np.abs(rows[equations:]))
    good &= sizes.max(axis=1, initial=0.0) < _EXACT
    good &= whole_product(surplus, np.abs(rights[equations:])) < _EXACT - _PART * RIGHT
    good &= right >= _PART * RIGHT // _MAX_SHRUNK
    coefficients += whole_product(surplus, rows[equations:])
    right[~good], coefficients[~good] = float(_PART * RIGHT), 0.0
    shrink = right.astype(np.int64) // RIGHT
    coefficients = -(-coefficients.astype(np.int64) // shrink[:, None])
    rounded = -(-right.astype(np.int64) // shrink)
    return coefficients.astype(np.float64), np.where(good, rounded, 0).astype(np.float64)


def _of_surplus(whole: Floats, below: Ints, above: Ints) -> Floats:
    """Coefficients of the surplus of each cut in a sum, `_PART` · `RIGHT` times as large, up."""
    # A surplus has the coefficient -u in the sum. It is no more than 0.5 ** 18 in most sums, so
    # that it is taken for a number that need not be whole.
    share = np.where(whole < 0, below[:, None], above[:, None])
    exact = [
        [-(-abs(int(u)) * _PART * RIGHT // int(f)) for u, f in zip(*row, strict=True)]
        for row in zip(whole, share, strict=True)
    ]
    return np.array(exact, dtype=np.float64).reshape(whole.shape)
