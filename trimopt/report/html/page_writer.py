"""Pages from their templates: every text that is set in is escaped."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from trimopt.report.table_columns import Strong, shown
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, percent
from trimopt.text import for_page


def rendered(template: str, units: Units, **context: object) -> Markup:
    """Give a template with `context` set in, figures in `units`."""
    return Markup(_environment().get_template(template).render(units=units, **context))


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("trimopt.report", "html"),
        autoescape=True,
        finalize=_escaped,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {"text": text, "percent": percent, "shown": shown}
    environment.filters["capitalized"] = lambda words: words[:1].upper() + words[1:]
    environment.tests["strong"] = lambda value: isinstance(value, Strong)
    return environment


def _escaped(value: object) -> Markup:
    """Escape a text, and show what nobody sees; what a template made is markup already."""
    return value if isinstance(value, Markup) else Markup(for_page(str(value)))
