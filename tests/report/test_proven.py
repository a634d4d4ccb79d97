"""What is proven is said on every plan, across the width and along the jumbo, on every output."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from io import StringIO

from rich.console import Console

from tests.plan.sample import sample_plan
from tests.report.conftest import opened
from trimopt.plan.model import Plan, Replanned, RunPlan
from trimopt.plan.states import OrderState
from trimopt.report.html.plan_page import page_html
from trimopt.report.terminal.plan_terminal import print_summary
from trimopt.report.words.proof_words import metres_verdict, proof_details, verdict
from trimopt.report.words.units import METRIC


def bounded(run: RunPlan, bound: int | None) -> RunPlan:
    """The run with this bound on its jumbo metres."""
    proof = replace(
        run.proof, metres_used=20_000, metres_bound=bound, metres_bound_on="every length in range"
    )
    return replace(run, proof=proof)


def read_in(plan: Plan) -> tuple[str, str, str]:
    """Terminal, page and workbook as text, spaces made one."""
    out = StringIO()
    print_summary(plan, Console(file=out, width=100))
    book = opened(plan)
    cells = " ".join(
        str(cell.value)
        for name in ("Summary", "Basis of the plan")
        for row in book[name]
        for cell in row
    )
    texts = (out.getvalue(), page_html(plan), cells)
    return tuple(" ".join(text.split()).casefold() for text in texts)  # type: ignore[return-value]


def test_every_run_says_what_is_proven_and_over_what() -> None:
    """The verdict is everywhere, the joint bound with its gap (or that there is none) in Proof."""
    plan = sample_plan()
    plan = replace(plan, runs=(bounded(plan.runs[0], 19_900), bounded(plan.runs[1], None)))
    assert "at least 19,900 m, gap 0.500 %: every length" in metres_verdict(plan.runs[0], METRIC)
    assert "no lower bound is stated" in metres_verdict(plan.runs[1], METRIC)
    terminal, *detailed = read_in(plan)
    for run in plan.runs:
        assert verdict(run, METRIC).casefold() in terminal
        for text in detailed:
            assert verdict(run, METRIC).casefold() in text
            for line in proof_details(run, METRIC):
                assert line.casefold() in text


def test_what_prices_prove_stands_apart_from_what_a_search_proves() -> None:
    """Both bounds are said where they differ, with a gap and without; else there is one."""
    plan = sample_plan()
    open_gap, closed = plan.runs
    assert "by search" not in " ".join(proof_details(open_gap, METRIC))
    proof = replace(open_gap.proof, price_bound_kg=open_gap.proof.bound_kg - 100.0)
    by_search = "by search over whole reels and sets"
    both = f"{proof.price_bound_kg:,.0f} kg, {by_search} {proof.bound_kg:,.0f} kg"
    assert f"Lower bound by prices {both}" in proof_details(replace(open_gap, proof=proof), METRIC)
    met = replace(proof, bound_kg=proof.loss_kg, gap_kg=0.0, gap_percent=0.0, status="optimal")
    runs = (replace(open_gap, proof=met), closed)
    assert verdict(runs[0], METRIC).startswith("optimal: the loss equals its lower bound")
    for text in read_in(replace(plan, runs=runs))[1:]:
        assert f"{by_search} {met.bound_kg:,.0f} kg" in text


def test_a_run_whose_orders_are_not_whole_states_no_gap() -> None:
    """One order carried over: the bound is for whole orders, so no gap to it is judged."""
    plan = sample_plan()
    first = plan.runs[0]
    waiting = replace(first.orders[0], state=OrderState.CARRIED_OVER, lacking=first.orders[0].asked)
    short = replace(first, orders=(waiting, *first.orders[1:]))
    assert "no gap: not all orders are planned" in verdict(short, METRIC)
    plan = replace(plan, runs=(short, *plan.runs[1:]))
    for text in read_in(plan):
        assert "no gap: not all orders are planned" in text
    timetable = opened(plan)["Timetable"]
    ended = {str(cell.value) for row in timetable for cell in row}
    assert not any(waiting.number in text for text in ended)


def test_a_run_that_is_not_made_says_so() -> None:
    """All of it carried over: no figures, no sheet to work from, one sentence."""
    plan = sample_plan()
    none = replace(plan.runs[0], blocks=(), jumbos=())
    plan = replace(plan, runs=(none, *plan.runs[1:]), loads=())
    for text in read_in(plan):
        assert "nothing of this run is made" in text
    titles = opened(plan).sheetnames
    assert sum(title.startswith("Slitter") for title in titles) == len(plan.runs) - 1


def test_a_search_that_was_cut_short_is_not_said_to_have_reached_its_time_limit() -> None:
    """Ctrl-C ends it too; what more time may bring is said on every output."""
    plan = sample_plan()
    cut = replace(plan.runs[0], proof=replace(plan.runs[0].proof, clock_stopped=True))
    for said in read_in(replace(plan, runs=(cut, *plan.runs[1:]))):
        assert "the time limit or ctrl-c ended the search early" in said


def test_how_far_a_plan_that_was_cut_short_is_above_its_bound_stands_at_its_head() -> None:
    """Across the width and with its butts, or by jumbo metres where they prove more."""
    plan = sample_plan()
    runs = [
        replace(
            run,
            orders=tuple(line for line in run.orders if not line.lacking),
            proof=replace(run.proof, clock_stopped=True, gap_kg=9_000.0, metres_bound=None),
        )
        for run in plan.runs
        if run.blocks
    ]
    butts_kg = sum(run.balance.butts_kg for run in runs)
    first = bounded(runs[0], 19_000)
    area_kg = 1_000 * float(first.jumbo_width_mm) * first.grammage_gsm / 1e6
    by_metres = 9_000 * (len(runs) - 1) + butts_kg - runs[0].balance.butts_kg + area_kg
    assert area_kg < 9_000
    for each, above_kg in (
        (runs, 9_000 * len(runs) + butts_kg),
        ([first, *runs[1:]], by_metres),
    ):
        cut = replace(plan, runs=tuple(each))
        share = above_kg / sum(run.balance.used_kg for run in each)
        said = f"the loss is {above_kg:,.0f} kg above its lower bound, {share:.2%}".replace(
            "%", " %"
        )
        for text in read_in(cut):
            assert said in text.replace("\N{NO-BREAK SPACE}", " ").partition("patterns")[0]
    now = datetime(2026, 11, 23, 9)  # noqa: DTZ001
    goes_on = replace(plan, runs=tuple(runs), replanned=Replanned(now=now, keep_until=now))
    for text in read_in(goes_on):  # of a plan of the rest the search for it counts
        assert "above its lower bound" not in text
