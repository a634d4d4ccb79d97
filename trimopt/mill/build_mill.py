"""From sections without a fault to a `Mill`."""

from __future__ import annotations

from typing import Any

from trimopt.mill import model
from trimopt.mill.mill_rules import Sections, knife_spacing_mm
from trimopt.mill.mill_section import Section


def build_mill(sections: Sections, source: str, fingerprint: str) -> model.Mill:
    """The mill that sections without a fault describe; what the file leaves out has its default."""
    return model.Mill(
        winders=tuple(map(_winder, sections.winders, sections.cores)),
        sheeters=tuple(model.Sheeter(**section.kept()) for section in sections.sheeters),
        jumbo=_jumbo(sections.jumbo),
        grades=tuple(model.Grade(**section.kept()) for section in sections.grades),
        values=model.Values(**sections.values.kept()),
        tolerances=tuple(model.ToleranceStep(**section.kept()) for section in sections.tolerances),
        stock_widths=tuple(model.StockWidth(**section.kept()) for section in sections.stock_widths),
        units=model.UnitChoice(**sections.units.kept()),
        headings={
            name: text for name, text in sections.headings.values.items() if isinstance(text, str)
        },
        export=model.Export(
            ignored=_texts(sections.headings, "ignore"),
            words={word: _texts(sections.words, word) for word in sections.words.values},
            **sections.export.kept(),
        ),
        source=source,
        fingerprint=fingerprint,
        **sections.mill.kept(),
        **sections.ledger.kept(),
    )


def _texts(section: Section, name: str) -> tuple[str, ...]:
    texts = section.values.get(name, ())
    return tuple(map(str, texts)) if isinstance(texts, tuple) else ()


def _winder(section: Section, cores: tuple[Section, ...]) -> model.Winder:
    kept = section.kept()
    by_others: dict[str, Any] = {
        "max_reel_width_mm": kept["max_web_mm"],
        "min_knife_spacing_mm": knife_spacing_mm(section),
        "max_reels": kept["knives"] - 1,
        "typical": tuple(name for name in model.Winder.TIMES if name not in kept),
    }
    return model.Winder(
        cores=tuple(model.Core(**core.kept()) for core in cores), **{**by_others, **kept}
    )


def _jumbo(section: Section) -> model.Jumbo:
    kept = section.kept()
    usable_m = kept.pop("usable_length_m", None)
    if usable_m is not None:
        lost_m = kept.get("loss_start_m", 0) + kept.get("loss_end_m", 0)
        kept["length_m"] = usable_m + lost_m
    return model.Jumbo(**kept)
