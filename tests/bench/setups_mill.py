"""Mill-like runs for the bench of set-ups: 15, 25 and 40 widths in 5 mm steps, exact demands.

Nothing here is a real mill's order book.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

from tests.cutting.one_class import exactly, one_class
from trimopt.cutting import Instance, WindingClass

SIZES = (15, 25, 40)


def mill_runs(seeds: int) -> Iterator[tuple[str, str, Instance]]:
    """Give (class, name, instance), so many seeds of each size; the same ones every time."""
    for size in SIZES:
        for seed in range(seeds):
            rng = random.Random(f"setups/{size}/{seed}")
            widths = sorted(rng.sample(range(400, 1605, 5), size), reverse=True)
            counts = [rng.randint(3, 36) for _ in widths]
            yield (
                f"mill_{size}",
                f"mill_{size}_{seed:02d}",
                one_class(
                    widths,
                    (exactly(n) for n in counts),
                    WindingClass(cost=1, width=6000, max_pieces=6000),
                ),
            )
