"""How good a plan is, in words: its proof, its optimality gap, the points of the trade-off."""

from __future__ import annotations

from trimopt.paper import mass_kg
from trimopt.plan.model import Plan, RunPlan
from trimopt.plan.proof_data import TradePoint
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, percent


def bound_text(value: int, bound: int | None) -> str:
    """Give a count beside the fewest that are possible, where that is known."""
    if bound is None:
        return f"{value:,}"
    return text("run.fewest" if value <= bound else "run.at_least", value=value, bound=bound)


def not_whole(run: RunPlan) -> bool:
    """Whether orders of the run are short or carried over: its bound is for whole orders."""
    return any(line.lacking for line in run.orders)


def gap_text(run: RunPlan) -> str:
    """Give a run's optimality gap in two words."""
    if not run.blocks:
        return text("proof.none_made")
    if not_whole(run):
        return text("proof.no_gap")
    if run.proof.status == "optimal":
        return text("proof.optimal")
    return text("proof.gap", percent=run.proof.gap_percent)


def verdict(run: RunPlan, units: Units) -> str:
    """Say in one short line how good a run's patterns are."""
    if not run.blocks:
        return text("proof.nothing_made")
    if not_whole(run):
        line = text("proof.no_gap_line")
    elif run.proof.status == "optimal":
        line = text("proof.optimal_line")
    else:
        line = text("proof.gap_line", mass=units.said(run.proof.gap_kg, "kg"),
                    percent=run.proof.gap_percent)  # fmt: skip
    return line + (text("proof.stopped") if run.proof.clock_stopped else "")


def cut_short_text(plan: Plan, units: Units) -> str:
    """Say that the search was ended early, and how far above its bound that leaves the plan.

    Nothing where it was not, or where no plan can lose less.
    """
    goes_on = plan.replanned
    cut_short = goes_on.cut_short if goes_on else any(run.proof.clock_stopped for run in plan.runs)
    if not cut_short:
        return ""
    if not plan.runs or any(map(not_whole, plan.runs)):
        return text("proof.cut_short")
    above_kg = sum(map(_above_bound_kg, plan.runs))
    if round(above_kg) <= 0:
        return ""
    used_kg = sum(run.balance.used_kg for run in plan.runs)
    share = percent(above_kg / used_kg)
    return text("proof.cut_short_above", mass=units.said(above_kg, "kg"), share=share)


def _above_bound_kg(run: RunPlan) -> float:
    """What a run loses, butts in it, beyond the better of its two bounds."""
    proof = run.proof
    across_kg = proof.gap_kg + run.balance.butts_kg
    if proof.metres_bound is None or proof.metres_used is None:
        return across_kg
    above_m = proof.metres_used - proof.metres_bound
    return min(across_kg, mass_kg(run.jumbo_width_mm, above_m, run.grammage_gsm))


def proof_details(run: RunPlan, units: Units) -> tuple[str, ...]:
    """Say all that is proven of a run's patterns, and over what.

    The plan's check proves the bound by prices again; what a search proved it cannot do again.
    """
    proof, balance = run.proof, run.balance
    if not run.blocks:
        return ()
    lines = [
        text(
            "proof.loss",
            loss=units.said(proof.loss_kg, "kg", 1),
            bound=units.said(proof.bound_kg, "kg", 1),
        ),
        text(
            "proof.missed_lacking" if not_whole(run) else "proof.missed",
            under=units.said(balance.under_kg, "kg"),
            over=units.said(balance.over_kg, "kg"),
        ),
        metres_verdict(run, units),
    ]
    if proof.bound_on:
        lines.insert(1, text("proof.bound_on", what=proof.bound_on))
    prices, bound = units.said(proof.price_bound_kg, "kg"), units.said(proof.bound_kg, "kg")
    if prices != bound:
        lines.insert(1, text("proof.by_search", prices=prices, bound=bound))
    return tuple(lines)


def metres_verdict(run: RunPlan, units: Units) -> str:
    """Say how many jumbo metres a run takes, beside the fewest that are proven, and over what."""
    proof = run.proof
    used = proof.metres_used or 0
    if proof.metres_bound is None:
        return text("proof.metres_no_bound", used=units.said(used, "m"))
    gap = (used - proof.metres_bound) / used if used else 0.0
    return text("proof.metres", used=units.said(used, "m"), gap=percent(gap, 3),
                bound=units.said(proof.metres_bound, "m"), what=proof.metres_bound_on)  # fmt: skip


def lost_with_butts_kg(point: TradePoint) -> float:
    """Give the loss with butts of a point of the trade-off: the plan's own or an estimate."""
    return (point.with_butts_kg if point.chosen else point.with_butts_estimate_kg) or 0.0


def trade_trim_loss(point: TradePoint) -> float:
    """Give the trim loss of a point of the trade-off: the plan's own or an estimate."""
    return (point.trim_loss if point.chosen else point.trim_loss_estimate) or 0.0


def trade_text(point: TradePoint) -> str:
    """Say whether a point of the trade-off is this plan or an estimate."""
    return text("trade_off.chosen" if point.chosen else "trade_off.estimate")
