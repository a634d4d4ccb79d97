"""Simulated shifts: a plan is run set by set, things happen, and the rest is planned again.

    from tests.shifts import SimulatedShift
    shift = SimulatedShift(7)
    for happened in shift.live():
        print(happened)              # what happened, what was kept, what it cost

A shift is the same for a number as long as this package does not change, where no clock stops a
search. It raises AssertionError where a plan of the rest breaks what must hold of it.
"""

from __future__ import annotations

from tests.shifts.simulated import Happened as Happened, SimulatedShift as SimulatedShift
