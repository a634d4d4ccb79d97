"""How much slower this machine is now than where bounds of processor seconds were chosen."""

from __future__ import annotations

from time import process_time

_USUAL_S = 0.07  # of one core of 2024 with no other work


def slowness() -> float:
    """One, or as many times as long as usual a small piece of work takes, at its quickest of three.

    Others at work on a machine take its caches and its clock: even seconds of processor grow.
    """
    return max(1.0, min(_spent_s() for _ in range(3)) / _USUAL_S)


def _spent_s() -> float:
    begun = process_time()
    rows = {str(n * 7919 % 100_003): (n, n / 7) for n in range(100_000)}
    assert len(sorted(rows, key=lambda name: rows[name][1])) == 100_000
    return process_time() - begun
