"""From sections without a fault to a `Mill`."""

from __future__ import annotations

from fractions import Fraction

from trimopt.mill.mill_rules import Sections
from trimopt.mill.mill_section import Section
from trimopt.mill.model import Core, Grade, Jumbo, Mill, Sheeter, ToleranceStep, Values, Winder

__all__ = ["build_mill"]

_MAX_BOOK_T = 20_000.0  # what the largest machine makes in a week
_DIAMETER_TOLERANCE_MM = 50.0


def _must(section: Section, name: str) -> Fraction:
    figure = section.figure(name)
    assert figure is not None, f"{section.title} {name} was checked to be there"
    return figure


def _float(section: Section, name: str) -> float | None:
    figure = section.figure(name)
    return None if figure is None else float(figure)


def _percent(section: Section, name: str) -> Fraction:
    return (section.figure(name) or Fraction(0)) / 100


def build_mill(sections: Sections, source: str, fingerprint: str) -> Mill:
    """The mill that sections without a fault describe, what the file leaves out filled in."""
    headings = sections.headings
    below = sections.mill.figure("diameter_tolerance_mm")
    max_t = sections.mill.figure("max_book_t")
    return Mill(
        name=sections.mill.text("name") or "",
        winders=tuple(map(_winder, sections.winders, sections.cores)),
        sheeters=tuple(_sheeter(section) for section in sections.sheeters),
        jumbo=_jumbo(sections.jumbo),
        grades=tuple(_grade(section) for section in sections.grades),
        values=_values(sections.values),
        tolerances=tuple(_tolerance(section) for section in sections.tolerances),
        headings={column: headings.text(column) or "" for column in headings.values},
        width_step_mm=sections.mill.figure("width_step_mm") or Fraction(1),
        trim_target_percent=_float(sections.mill, "trim_target_percent"),
        max_book_t=_MAX_BOOK_T if max_t is None else float(max_t),
        diameter_tolerance_mm=_DIAMETER_TOLERANCE_MM if below is None else float(below),
        diameter_tolerance_percent=_float(sections.mill, "diameter_tolerance_percent"),
        ledger=sections.ledger.text("url"),
        source=source,
        fingerprint=fingerprint,
    )


def _winder(winder: Section, cores: tuple[Section, ...]) -> Winder:
    knives = int(_must(winder, "knives"))
    a_side = winder.figure("max_reels_per_side")
    return Winder(
        name=winder.text("name") or "Winder",
        kind=winder.text("kind") or "two-drum",
        max_web_mm=_must(winder, "max_web_mm"),
        min_edge_trim_mm=_must(winder, "min_edge_trim_mm"),
        max_edge_trim_mm=winder.figure("max_edge_trim_mm"),
        min_reel_width_mm=_must(winder, "min_reel_width_mm"),
        max_reel_width_mm=_must(winder, "max_reel_width_mm"),
        knives=knives,
        min_knife_spacing_mm=_must(winder, "min_knife_spacing_mm"),
        idle_knives=winder.text("idle_knives") or "lifted",
        max_reels=int(winder.figure("max_reels") or knives - 1),
        max_reels_per_side=None if a_side is None else int(a_side),
        min_reel_diameter_mm=float(_must(winder, "min_reel_diameter_mm")),
        max_reel_diameter_mm=float(_must(winder, "max_reel_diameter_mm")),
        cores=tuple(
            Core(inside_mm=float(_must(core, "inside_mm")), wall_mm=float(_must(core, "wall_mm")))
            for core in cores
        ),
        max_reel_mass_kg=_float(winder, "max_reel_mass_kg"),
        max_set_mass_kg=_float(winder, "max_set_mass_kg"),
        set_change_min=float(_must(winder, "set_change_min")),
        set_up_min=float(_must(winder, "set_up_min")),
        knife_move_min=float(_must(winder, "knife_move_min")),
        jumbo_change_min=float(_must(winder, "jumbo_change_min")),
        speed_m_min=float(_must(winder, "speed_m_min")),
        acceleration_m_min_s=float(_must(winder, "acceleration_m_min_s")),
        joins_allowed=winder.flag("joins_allowed", default=False),
        min_join_part_m=int(winder.figure("min_join_part_m") or 1),
        core_change_is_set_up=winder.flag("core_change_is_set_up", default=False),
        length_change_is_set_up=winder.flag("length_change_is_set_up", default=False),
        web_shift=winder.flag("web_shift", default=True),
        knives_at_mm=winder.figures("knives_at_mm"),
        min_broke_width_mm=winder.figure("min_broke_width_mm"),
        broke_position=winder.text("broke_position") or "edge",
    )


def _sheeter(sheeter: Section) -> Sheeter:
    return Sheeter(
        name=sheeter.text("name") or "",
        max_web_mm=_must(sheeter, "max_web_mm"),
        max_ups=int(_must(sheeter, "max_ups")),
        trim_per_side_mm=_must(sheeter, "trim_per_side_mm"),
        min_chop_mm=_must(sheeter, "min_chop_mm"),
        max_chop_mm=_must(sheeter, "max_chop_mm"),
        max_reel_diameter_mm=float(_must(sheeter, "max_reel_diameter_mm")),
        core_inside_mm=float(_must(sheeter, "core_inside_mm")),
        waste_share=float(_percent(sheeter, "waste_percent")),
        unwinds=int(sheeter.figure("unwinds") or 1),
        speed_m_min=float(_must(sheeter, "speed_m_min")),
        load_change_min=float(_must(sheeter, "load_change_min")),
        max_length_difference_m=int(sheeter.figure("max_length_difference_m") or 0),
        max_cuts_per_min=_float(sheeter, "max_cuts_per_min"),
    )


def _jumbo(jumbo: Section) -> Jumbo:
    start = int(jumbo.figure("loss_start_m") or 0)
    end = int(jumbo.figure("loss_end_m") or 0)
    usable, length = jumbo.figure("usable_length_m"), jumbo.figure("length_m")
    mass = jumbo.figure("mass_t")
    apart = jumbo.figure("max_grammage_difference_percent")
    return Jumbo(
        width_mm=_must(jumbo, "width_mm"),
        length_m=int(usable) + start + end if usable is not None else int(length or 0),
        loss_start_m=start,
        loss_end_m=end,
        diameter_mm=_float(jumbo, "diameter_mm"),
        spool_mm=_float(jumbo, "spool_mm"),
        mass_kg=None if mass is None else float(mass * 1000),
        max_grammage_difference_percent=Fraction(1, 2) if apart is None else apart,
    )


def _grade(grade: Section) -> Grade:
    return Grade(
        name=grade.text("name") or "",
        caliper_um=_float(grade, "caliper_um"),
        bulk_cm3_g=_float(grade, "bulk_cm3_g"),
        density_kg_m3=_float(grade, "density_kg_m3"),
        wound_factor=float(grade.figure("wound_factor") or 1),
    )


def _values(values: Section) -> Values:
    under, over = values.figure("under_delivery_penalty"), values.figure("over_delivery_penalty")
    return Values(
        under=Fraction(1, 10) if under is None else under,
        over=Fraction(1, 10) if over is None else over,
        trim_cost_per_t=_float(values, "trim_cost_per_t"),
        set_up=_float(values, "set_up"),
        split_blocks=values.flag("split_blocks", default=False),
        knife_move=_float(values, "knife_move"),
        currency=values.text("currency") or "",
    )


def _tolerance(step: Section) -> ToleranceStep:
    return ToleranceStep(
        grammage_to_gsm=_float(step, "grammage_to_gsm"),
        below_t=_float(step, "below_t"),
        under=_percent(step, "under_percent"),
        over=_percent(step, "over_percent"),
    )
