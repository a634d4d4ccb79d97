"""What an effort means for the engine."""

from __future__ import annotations

from trimopt.cutting import EngineParams
from trimopt.cutting.params import PARAMS


def test_normal_is_the_default() -> None:
    assert EngineParams.for_effort("normal") is PARAMS


def test_more_effort_searches_longer_and_is_content_with_less_of_a_gap() -> None:
    quick, normal, thorough = (
        EngineParams.for_effort(effort).restarts for effort in ("quick", "normal", "thorough")
    )
    assert quick.work < normal.work < thorough.work
    assert quick.target_gap > normal.target_gap >= thorough.target_gap
