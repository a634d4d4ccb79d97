"""Plans of the rest where the mill file has changed since the plan was issued."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import done, goes_on, replan
from trimopt.plan.planning.replanning.issued_places import IssuedPlaces
from trimopt.plan.planning.replanning.standing import standing_runs


@pytest.mark.parametrize("end", ["start", "end"])
def test_a_jumbo_not_yet_opened_loses_what_is_known_now(cases: tuple[Case, Case], end: str) -> None:
    """A set that it has no metres for any more does not stay; opened jumbos are as they were."""
    case = cases[0]
    issued, name = case.plan.runs[0], f"loss_{end}_m"
    more = replace(case.mill.jumbo, **{name: getattr(case.mill.jumbo, name) + 20})
    mill = replace(case.mill, jumbo=more)
    stands = standing_runs(case.plan, case.book, mill, done(case.plan, 0, 1))[0]
    first, *others = issued.jumbos
    opened_m = first.length_m - first.loss_start_m - first.loss_end_m
    assert [each.usable_m for each in stands.opened] == [opened_m]
    usable = {stands.jumbo(use.name) for use in others}
    assert {jumbo and jumbo.usable_m for jumbo in usable} == {stands.mill.jumbo.usable_m}
    places, said = IssuedPlaces(case=stands), list[str]()
    for block in stands.tail:
        for row in block.sets:
            said.append(places.against(block, row))
            if not said[-1]:
                places.take(row)
    assert any("ends before it" in why for why in said)


def test_knives_that_are_now_parked_stood_idle_where_sets_ran(cases: tuple[Case, Case]) -> None:
    """Sets that ran stand as they ran; from the next block on idle knives are parked."""
    case = cases[0]
    parked = replace(case.mill.winder, idle_knives="parked")
    mill = replace(case.mill, winders=(parked,))
    block = next(b for b in case.plan.runs[0].blocks if _standing(b.beam_mm) > len(b.knives_mm))
    answer = replan(case.plan, case.book, mill, done(case.plan, 0, block.sets[0].number))
    goes_on(answer, case.book, replace(case, mill=mill))
    for each in answer.plan.runs[0].blocks:
        if not any(row.done for row in each.sets):
            assert _standing(each.beam_mm) == len(each.knives_mm)


def _standing(beam_mm: tuple[object, ...]) -> int:
    return sum(place is not None for place in beam_mm)
