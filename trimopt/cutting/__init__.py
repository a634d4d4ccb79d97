"""The engine: widths, lengths, yields and limits in, patterns and a proven bound out. No paper."""

from trimopt.cutting.engine import (
    blocked as blocked,
    generated_patterns as generated_patterns,
    held_demands as held_demands,
    solve as solve,
)
from trimopt.cutting.model.cuts import (
    Cut as Cut,
    Pattern as Pattern,
    faults_of as faults_of,
    loss_of as loss_of,
    pattern_faults as pattern_faults,
    patterns_in as patterns_in,
    residual as residual,
)
from trimopt.cutting.model.instance import (
    SCALE as SCALE,
    Demand as Demand,
    Instance as Instance,
    Option as Option,
    WindingClass as WindingClass,
)
from trimopt.cutting.model.outcome import (
    Certificate as Certificate,
    Outcome as Outcome,
    Progress as Progress,
    Status as Status,
)
from trimopt.cutting.params import EngineParams as EngineParams
from trimopt.cutting.small_part_bound import prove as prove
