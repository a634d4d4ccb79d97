"""The check of loss, bound, gap and trade-off."""

from __future__ import annotations

from fractions import Fraction

from trimopt.book.model import Order
from trimopt.check import price_proof
from trimopt.check.check_formulas import exact, same_core, web_diameter_mm
from trimopt.check.findings import KG_WITHIN, CheckContext
from trimopt.plan.proof_data import TradePoint

_PERCENT_WITHIN = 0.0051  # a percentage may be rounded to two places


def check_set_lengths(case: CheckContext) -> None:
    """Check the winding classes that the bound was taken over.

    A mixed class may state its diameter on any core of the winder.
    """
    notes = case.notes
    seen = set()
    widths_mm = {jumbo.width_mm for jumbo in case.run.jumbos}
    widths_mm |= {jumbo.width_mm for jumbo in case.book.jumbos}
    for row in case.run.set_lengths:
        where = f"set length {row.length_m} m"
        if (row.core_mm, row.length_m, row.jumbo_width_mm) in seen:
            notes.add(where, "listed once", "", "twice")
        seen.add((row.core_mm, row.length_m, row.jumbo_width_mm))
        if row.jumbo_width_mm is not None and row.jumbo_width_mm not in widths_mm:
            notes.add(where, "jumbo width, mm", row.jumbo_width_mm, "no jumbo is so wide")
        if row.length_m < 1:
            notes.add(where, "length", f"{row.length_m} m", "below 1 m")
            continue
        if row.core_mm is None and case.winder.kind != "single-drum":
            notes.add(where, "core", "mixed", "a two-drum winder winds one core a set")
        found = [
            web_diameter_mm(core, row.length_m, case.caliper_um)
            for core in case.winder.cores
            if row.core_mm is None or same_core(core.inside_mm, row.core_mm)
        ]
        if not found:
            notes.add(where, "core", row.core_mm, "the winder has no such core")
        elif not any(abs(mm - row.diameter_mm) <= 0.501 for mm in found):
            notes.add(where, "diameter, mm", row.diameter_mm, found[0])


def check_proof(case: CheckContext) -> None:
    """Check the loss from its definition and the bound from the exported prices.

    A bound above that of the prices was proven by a search, which cannot be done again here: it
    must lie between the prices' bound and the loss.
    """
    run, notes = case.run, case.notes
    where, proof = "proof", run.proof
    listed = _listed(case)
    if len(listed) != len(run.orders):
        return  # noted elsewhere; prices are in the order of the run's orders
    if not _unit_holds(case):
        return
    kg_a_unit = proof.width_unit_mm * exact(run.grammage_gsm) / 1_000_000 / price_proof.SCALE
    pieces = price_proof.pieces_of(run, case.mill, listed)
    demands = price_proof.demands_of(run, case.mill, listed, pieces)
    loss_kg = float(price_proof.loss_units(run, case.mill, listed, demands) * kg_a_unit)
    notes.near(where, "loss, kg", proof.loss_kg, loss_kg)
    bound = price_proof.price_bound_units(run, case.mill, demands, pieces, notes)
    if bound is not None:
        found_kg = float((bound + price_proof.ran_units(run, case.mill, listed)) * kg_a_unit)
        # Without prices those of 0 stand for them, and what is claimed may be lower.
        priced = bool(proof.gain_price or proof.worth_price)
        if priced or not proof.price_bound_kg <= found_kg:
            notes.near(where, "bound of the prices, kg", proof.price_bound_kg, found_kg)
    if not proof.price_bound_kg <= proof.bound_kg + KG_WITHIN:
        notes.add(where, "bound, kg", proof.bound_kg, f"{proof.price_bound_kg:.6g} by the prices")
    if not proof.bound_kg <= loss_kg + KG_WITHIN:
        notes.add(where, "bound, kg", proof.bound_kg, f"a loss of {loss_kg:.6g}")
    _check_gap(case, loss_kg)
    _check_metres(case)
    _check_trade_off(case, loss_kg)


def _listed(case: CheckContext) -> list[Order]:
    return [case.orders[x.number] for x in case.run.orders if x.number in case.orders]


def _unit_holds(case: CheckContext) -> bool:
    """Every width is a whole number of units, so that loss and worth are whole too."""
    run, notes = case.run, case.notes
    unit_mm = run.proof.width_unit_mm
    if unit_mm <= 0:
        notes.add("proof", "width unit, mm", unit_mm, "not above 0")
        return False
    widths = [run.jumbo_width_mm, *(jumbo.width_mm for jumbo in run.jumbos)]
    widths += [
        position.width_mm
        for block in run.blocks
        for position in block.positions
        if position.kind != "broke" and any(position.number not in r.spoiled for r in block.sets)
    ]
    for width in widths:
        if (width / unit_mm).denominator != 1:
            notes.add("proof", "width unit, mm", unit_mm, f"{float(width):g} mm is no multiple")
            return False
    return True


def _check_gap(case: CheckContext, loss_kg: float) -> None:
    """The gap in per cent is of the paper wound at the nominal set lengths."""
    run, notes = case.run, case.notes
    where, proof = "proof", run.proof
    gap_kg = proof.loss_kg - proof.bound_kg
    notes.near(where, "gap, kg", proof.gap_kg, gap_kg)
    area = sum(case.run.web_mm(block) * block.length_m * len(block.sets) for block in run.blocks)
    paper_kg = float(area * exact(run.grammage_gsm) / 1_000_000)
    percent = 100 * gap_kg / paper_kg if paper_kg else 0.0
    notes.near(where, "gap, % of the paper wound", proof.gap_percent, percent, _PERCENT_WITHIN)
    if proof.status not in ("optimal", "feasible"):
        notes.add(where, "status", proof.status, "neither optimal nor feasible")
    meets = abs(loss_kg - proof.bound_kg) <= KG_WITHIN
    if proof.status == "optimal" and not meets:
        notes.add(where, "status", proof.status, f"a gap of {gap_kg:.6g} kg")
    if proof.clock_stopped and proof.status == "optimal" and not meets:
        notes.add(where, "stopped by the clock", proof.clock_stopped, "optimal")


def _check_metres(case: CheckContext) -> None:
    """The joint bound, where one is stated: wound and butts, a remainder carried forward not."""
    run, notes = case.run, case.notes
    proof = run.proof
    used = sum(jumbo.wound_m + jumbo.butt_m for jumbo in run.jumbos)
    if proof.metres_used is not None:
        notes.same("proof", "jumbo metres used", proof.metres_used, used)
    if proof.metres_bound is not None and not 0 <= proof.metres_bound <= used:
        notes.add("proof", "bound on jumbo metres", proof.metres_bound, f"{used} m used")


def _check_trade_off(case: CheckContext, loss_kg: float) -> None:
    """The chosen row is this plan as it is wound; the others are estimates and say so."""
    run, notes = case.run, case.notes
    chosen = [point for point in run.trade_off if point.chosen]
    if run.trade_off and len(chosen) != 1:
        notes.add("trade-off", "one point is chosen", len(chosen), 1)
    for point in run.trade_off:
        where = f"trade-off, {point.patterns} patterns"
        if not point.loss_bound_kg <= point.loss_kg + KG_WITHIN:
            notes.add(where, "bound, kg", point.loss_bound_kg, point.loss_kg)
        wound = (point.with_butts_kg, point.trim_loss, point.knife_moves)
        estimated = (point.with_butts_estimate_kg, point.trim_loss_estimate)
        if None in (wound if point.chosen else estimated):
            notes.add(where, "figures", "missing", "as wound" if point.chosen else "estimates")
        elif any(x is not None for x in (estimated if point.chosen else wound)):
            notes.add(where, "figures", "both", "as wound, or estimates")
        elif not point.chosen:
            _check_estimates(case, point)
    for point in chosen:
        _check_chosen(case, point, loss_kg)


def _check_estimates(case: CheckContext, point: TradePoint) -> None:
    where, notes = f"trade-off, {point.patterns} patterns", case.notes
    if not 0 <= (point.trim_loss_estimate or 0) < 1:
        notes.add(where, "trim loss", point.trim_loss_estimate, "a share from 0 to 1")
    if not (point.with_butts_estimate_kg or 0) >= point.loss_kg - KG_WITHIN:
        notes.add(where, "loss with butts, kg", point.with_butts_estimate_kg, point.loss_kg)


def _check_chosen(case: CheckContext, point: TradePoint, loss_kg: float) -> None:
    """The plan's own row, recounted from its sets; the balance it is reckoned from is checked too.

    Patterns are counted as set-ups are, broke reels apart.
    """
    run, notes, values = case.run, case.notes, case.mill.values
    where = "trade-off, chosen point"
    notes.near(where, "loss, kg", point.loss_kg, loss_kg)
    wound = Fraction(0)
    useful = Fraction(0)
    patterns = set()
    for block in run.blocks:
        widths = [position.width_mm for position in block.positions if position.kind != "broke"]
        metres = sum(row.length_m for row in block.sets)
        wound += case.run.web_mm(block) * metres
        useful += sum(widths, Fraction(0)) * metres
        core = block.core_mm if case.winder.core_change_is_set_up else None
        length = block.length_m if case.winder.length_change_is_set_up else None
        patterns.add((tuple(sorted(widths)), core, length))
    notes.same(where, "patterns", point.patterns, len(patterns))
    notes.same(where, "knife moves", point.knife_moves, run.knife_moves)
    if point.trim_loss is not None:
        share = float((wound - useful) / wound) if wound else 0.0
        notes.near(where, "trim loss", point.trim_loss, share, _PERCENT_WITHIN / 100)
    if point.with_butts_kg is not None:
        said = run.balance
        lost = said.used_kg - said.delivered_kg - said.stock_worth_kg - said.start_end_kg
        valued = float(values.under) * said.under_kg + float(values.over) * said.over_kg
        notes.near(where, "loss with butts, kg", point.with_butts_kg, lost + valued, 0.1)
