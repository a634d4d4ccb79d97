"""The tolerance custom's table: the look-up takes the first step that holds.

So the steps must stand in order, and the last of each grammage, and of the table, must be open.
"""

from __future__ import annotations

from collections.abc import Iterator

from trimopt.errors import Fault
from trimopt.mill.mill_section import Section

_ORDER = (
    "stands out of order",
    "set the steps by grammage_to_gsm, then by below_t, both rising, the open ones last",
)


def steps_out_of_order(steps: tuple[Section, ...]) -> Iterator[Fault]:
    """Steps that could never hold, and orders for which none would."""
    for number, step in enumerate(steps):
        if not _ends_read(step):
            return
        following = steps[number + 1] if number + 1 < len(steps) else None
        if following is not None and not _ends_read(following):
            return
        same = following is not None and _end(following, "grammage_to_gsm") == _end(
            step, "grammage_to_gsm"
        )
        below = step.figure("below_t")
        if not same and below is not None:
            yield step.fault(
                "below_t",
                "ends the last step of its grammage, so larger orders would have no custom",
                "leave below_t out of this step, or add one without it after it",
            )
        if following is None:
            if "grammage_to_gsm" in step.written:
                yield step.fault(
                    "grammage_to_gsm",
                    "ends the last step, so heavier papers would have no custom",
                    "leave grammage_to_gsm out of the steps of the heaviest papers",
                )
        elif not same and _end(following, "grammage_to_gsm") < _end(step, "grammage_to_gsm"):
            yield following.fault("grammage_to_gsm", *_ORDER)
        elif same and _end(following, "below_t") <= _end(step, "below_t"):
            yield following.fault("below_t", *_ORDER)


def _end(step: Section, name: str) -> float:
    """The upper end of a step; an absent one is open."""
    figure = step.figure(name)
    return float("inf") if figure is None else float(figure)


def _ends_read(step: Section) -> bool:
    """Whether both ends, where the file gives them, could be read."""
    return all(
        name not in step.written or step.figure(name) is not None
        for name in ("grammage_to_gsm", "below_t")
    )
