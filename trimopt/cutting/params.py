"""Every tuned number of the engine, in one frozen object that benches can vary.

A search is handed an `EngineParams` and reads its own group of it: ::

    solve(instance, params=replace(PARAMS, local_search=LocalSearchParams(beam=5)))

What the numbers were chosen on, and what other values did, stands in `NOTES.md` beside this file.
Numbers that are no choice stay with the code they belong to: tolerances of floats, the sizes that
64 bits allow, and the weights by which work of different kinds is counted.

Gaps are shares of the cost of the paper used, heat and losses of moves are shares of a set (of its
cost in the dearest class), effort is in deterministic seconds of the constraint solver.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class StageParams:
    """The stages of one search (`engine.py`)."""

    turns: int = 11  # of the local search where nothing comes after it, at most
    exchanges: int = 300  # in a turn
    close_gap: float = 2e-3  # at which the local search alone need not go on
    far_gap: float = 3e-3  # from which on it begins hotter: mostly a whole set is too many
    far_exchanges: int = 2_400
    far_heat: float = 0.01
    min_progress: float = 2e-4  # as a gap: a turn that brings less is idle
    max_idle_turns: int = 3
    near_patterns: int = 1_000  # patterns of least reduced cost in the pool
    max_sums: int = 4_000  # sums of whole pieces that are kept while a range is tightened
    # Patterns of the integer program that proves: where the gap is open, and where it is close.
    max_pool: int = 1_200
    max_pool_close: int = 250
    pool_effort: float = 0.15
    # A search rests, and ends, where plan and bound are within a gap and the last part of its work
    # brought little: so much of it all, and not less than about a second's.
    resting_gap: float = 2e-3
    resting_share: float = 0.5
    resting_work: int = 2_000_000_000
    near_gap: float = 1.5e-3  # within which less work is enough
    near_work: int = 1_400_000_000
    resting_progress: float = 1e-4  # as a gap


@dataclass(frozen=True, slots=True, kw_only=True)
class GridParams:
    """Runs whose widths have a very fine common step (`width_grid.py`).

    The tables of all classes together have a cell for each option and step; 16 bytes a cell at the
    most.
    """

    steps: tuple[int, ...] = (110_880, 55_440, 27_720)  # to the width of a set
    max_cells: int = 40_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalSearchParams:
    """Exchanges of whole sets over a pool of patterns (`search/local_search.py`)."""

    beam: int = 3  # first patterns that are followed up where several are put in
    heat: float = 0.003  # at the first exchange; it sinks to nothing
    # Where patterns have a price: the share of exchanges that take every set of one or two of
    # them, and the sets put in after as many as one of them had.
    whole_pattern_share: float = 0.25
    sets_after: int = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class RestartParams:
    """Turns of fresh starts, partial destruction, moves of pieces (`search/restarts.py`)."""

    target_gap: float = 5e-4  # at which a search is content
    work: int = 4_000_000_000  # of a whole search, and of the turns at least
    min_work: int = 1_000_000_000
    piece_move_work: int = 500_000_000  # in one turn
    starts: int = 4  # to choose from
    start_exchanges: int = 300
    order_exchanges: int = 5  # for each order, where that is more
    repairs: int = 4  # times that a part is left out and made anew
    repair_exchanges: int = 150
    exchanges_after: int = 450  # once pieces were moved
    min_left_out: int = 20  # sets that are made anew
    max_left_out: int = 60
    max_rise: float = 6e-4  # as a gap: what whole sets may lose above the linear program
    gap_share: float = 0.9  # of the gap: what sets that are made anew must save


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceMoveParams:
    """Pieces and numbers of sets changed before patterns (`search/piece_moves/`)."""

    classes: tuple[int, ...] = (1, 2, 3, 3, 4, 5, 6, 8)  # drawn from: changed in one sweep
    max_group: int = 6  # orders in the group of a class
    max_spare: int = 6  # orders in no group
    changes: int = 14  # of each order
    ways: int = 700  # kept, of a group and of all classes settled so far
    max_tried: int = 20  # ways held against the linear programs
    max_idle_sweeps: int = 100
    pairs: int = 35_000  # looked at at a time
    max_waste: float = 0.03  # left unused in a class, in the first band
    bands: int = 8
    max_loss: float = 0.3  # ways that lose so much more than the plan lead nowhere
    shuffle: float = 0.003  # of the order of ways that lose nearly the same
    # Of one order: options changed at once, and those of them that change by one piece more.
    max_options: int = 8
    few_options: int = 5
    few_kept: int = 120  # changes of a few pieces to draw from
    choices_kept: int = 300  # whole choices of its pieces to draw from
    choices_offered: int = 4
    max_regret: float = 0.3  # a change that is so much worse than the best is not offered
    order_shuffle: float = 0.02
    per_piece: float = 0.01  # what a piece of change counts beside its loss, as it may not fit
    packing_work: int = 400_000_000  # of making the patterns of one class


@dataclass(frozen=True, slots=True, kw_only=True)
class ConvexifiedParams:
    """The linear program that knows whole pieces (`lp/convexified/`)."""

    max_ways: int = 30_000  # to make an order of whole pieces: with more it stays a range
    max_cells: int = 0  # of a table of them, from which cuts begin
    ways_begun: int = 30  # columns of each order at first, and added in a round
    ways_added: int = 5
    ways_read: int = 20  # from a table at a time
    max_rounds: int = 100
    shuffle: float = 0.3  # of a set: of the order in which a dive rounds patterns up
    max_mixtures: int = 20  # prices shrunk so often until they are safe


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolBoundParams:
    """Cuts over the patterns that a better plan can hold (`search/pool_bound.py`)."""

    patterns: int = 8_000  # at most; 0: no cuts
    table_ways: int = 20_000  # of a demand with a table: with more it stays at its prices
    spans: int = 1  # tried: each half the one before, where patterns were too many
    columns_begun: int = 1_000
    columns_added: int = 300
    work: int = 400_000_000
    max_cuts: int = 150
    cuts_a_round: int = 40
    candidates: int = 100  # rows of the tableau that are looked at
    multiples: tuple[int, ...] = (1, 2, 3)  # of each
    min_missing: float = 0.01  # of a column: what it misses of a whole number
    min_broken: float = 1e-3  # of the right side
    max_alike: float = 0.95  # cosine between two cuts of a round
    # It ends where so many rounds bring less than a share of the gap that it is to close.
    idle_rounds: int = 4
    min_progress: float = 0.02
    # Branching (`search/pool_branching.py`), where cuts close so much of the gap to be closed.
    branch_work: int = 0  # at most; 0: none
    branch_rounds: int = 3  # of cuts in each part
    branches_tried: int = 8
    min_branched: float = 0.5
    # It ends where half of its work closed less than a share of what was open.
    branch_look: int = 1_000_000_000
    min_branch_share: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallPartParams:
    """Independent parts of few orders that are searched through (`small_part_bound.py`)."""

    max_demands: int = 6
    max_looked: int = 3_000  # choices of pieces
    max_pool: int = 300
    effort: float = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class InsertionParams:
    """A new demand in a plan (`insertion.py`)."""

    exchanges: int = 200
    near_patterns: int = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceParams:
    """Which of some demands join a plan (`optional_demands/`); the rest as of one."""

    min_near: int = 12  # patterns near the program that hold one of them, at least
    rounds: int = 5  # shares of the limits that are tried
    exchanges: int = 40  # times that one declined is put in, in place of what has to go
    max_pool: int = 120  # patterns of the integer program
    effort: float = 0.5  # of it


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUpParams:
    """The trade-off of loss against patterns (`setups/`)."""

    builds: int = 64  # between two looks at the budget
    plans_kept: int = 24  # of equal loss, for each number of patterns
    max_units: int = 20_000  # of width: above it bit fields get slow, and widths are rounded up
    trials: int = 40  # numbers of sets tried for one pattern of a build
    max_items: int = 40  # options among which one pattern of a build is looked for
    max_options: int = 2  # of one demand in a class that a build may use
    # Exchanges with a price on each pattern: from least to most, as shares of the paper; the
    # patterns nearest to the bound's prices; turns between builds, and the builds one counts for.
    pattern_prices: tuple[float, float] = (1e-4, 1e-2)
    near_patterns: int = 300
    exchanges: int = 200  # in a turn
    turns: int = 4
    turn_work: int = 32
    max_paired: int = 40  # patterns whose sets are changed in pairs; above it one at a time
    draws: int = 8  # deals of sets for one choice of patterns that go
    deal_units: int = 2_048  # in which what is left of a demand is counted
    fills_tried: int = 2  # different fills of one dealt pattern
    fills: int = 4  # of all dealt patterns, for each of them
    # The integer program over all patterns: what it may hold, and what is looked at for that.
    max_patterns: int = 1_500
    max_looked: int = 60_000
    exact_effort: float = 2.0  # for fewest patterns at the least loss
    point_effort: float = 0.5  # for the least loss of each number of patterns below
    # The search rests, and ends, where so much of all its work, and not fewer builds than these,
    # found nothing within so much of the paper above the least loss.
    resting_share: float = 0.5
    resting_builds: int = 256
    resting_loss: float = 0.02
    near_cap: int = 2  # points on either side of a cap that the search keeps near
    share_before_cap: float = 0.4  # of the time, for the whole trade-off before that
    work_near_cap: int = 3  # times the work of the whole trade-off


@dataclass(frozen=True, slots=True, kw_only=True)
class BinPackingParams:
    """Fewest sets of one class (`bin_packing/`)."""

    depth: int = 3  # levels of a dive at which the second choice may be taken
    deviations: int = 2  # second choices that one dive may take
    few_of_a_width: int = 4  # pieces of a width, on average, up to which arcs replace the dive
    max_listed: int = 50_000  # ways along the arcs that are few enough to be listed
    listed_at_once: int = 1_000  # so few that no more prices are asked for
    columns_taken: int = 4  # over from the root for each piece
    # Prices of tilted programs: the share of a piece that is not asked for, in turn; the patterns
    # that tilt; rounds; and what is little to shut out, so often in a row before it ends.
    tilt_shares: tuple[float, ...] = (0.3, 0.2, 0.5, 0.1)
    tilt_patterns: int = 100
    tilt_columns: int = 10  # rounds of column generation in one tilted program
    tilt_rounds: int = 12
    tilt_little: float = 0.95
    tilt_max_idle: int = 4
    # Rows over three items in a list of patterns.
    min_violation: float = 0.02
    rows_a_round: int = 30
    rows_an_item: int = 4
    row_rounds: int = 20
    columns_a_round: int = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineParams:
    """All groups; each search reads its own."""

    stages: StageParams = field(default_factory=StageParams)
    grid: GridParams = field(default_factory=GridParams)
    local_search: LocalSearchParams = field(default_factory=LocalSearchParams)
    restarts: RestartParams = field(default_factory=RestartParams)
    piece_moves: PieceMoveParams = field(default_factory=PieceMoveParams)
    convexified: ConvexifiedParams = field(default_factory=ConvexifiedParams)
    pool_bound: PoolBoundParams = field(default_factory=PoolBoundParams)
    small_parts: SmallPartParams = field(default_factory=SmallPartParams)
    insertion: InsertionParams = field(default_factory=InsertionParams)
    choice: ChoiceParams = field(default_factory=ChoiceParams)
    set_ups: SetUpParams = field(default_factory=SetUpParams)
    bin_packing: BinPackingParams = field(default_factory=BinPackingParams)

    @classmethod
    def for_effort(cls, effort: str) -> EngineParams:
        """What an effort means for the engine: pool, swift, quick, normal (`PARAMS`), thorough."""
        return _FOR_EFFORT[effort]


PARAMS = EngineParams()

_QUICK = replace(
    PARAMS,
    stages=StageParams(resting_work=500_000_000, near_gap=0.0),
    restarts=RestartParams(work=1_500_000_000, min_work=500_000_000, target_gap=1e-3),
    pool_bound=PoolBoundParams(patterns=0),
    set_ups=SetUpParams(exact_effort=0.1, point_effort=0.1),
)
_SWIFT = replace(  # the first plan of what a started plan lacks
    _QUICK,
    stages=StageParams(resting_work=150_000_000, far_exchanges=600, near_gap=0.0),
    restarts=RestartParams(work=0, min_work=0, target_gap=1e-3),  # one start, no turns
    convexified=ConvexifiedParams(max_ways=1_000),
)
_FOR_EFFORT = {
    "pool": replace(  # patterns alone, for a program that chooses among them: no closer program
        _SWIFT,
        stages=replace(_SWIFT.stages, near_patterns=200),
        restarts=replace(_SWIFT.restarts, target_gap=1.0),
    ),
    "swift": _SWIFT,
    "quick": _QUICK,
    "normal": PARAMS,
    "thorough": replace(
        PARAMS,
        stages=StageParams(resting_gap=1e-3, resting_work=20_000_000_000, near_gap=0.0),
        restarts=RestartParams(work=52_000_000_000),
        pool_bound=PoolBoundParams(
            patterns=50_000,
            spans=3,
            work=10_000_000_000,
            max_cuts=250,
            idle_rounds=8,
            min_progress=0.01,
            branch_work=20_000_000_000,
        ),
        convexified=ConvexifiedParams(max_cells=16_000_000),
        set_ups=SetUpParams(exact_effort=4.0, point_effort=4.0, resting_share=1.0),
    ),
}
