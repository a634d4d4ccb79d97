"""Pages from their templates: every text that is set in is escaped."""

from __future__ import annotations

from datetime import datetime
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from trimopt.report.table_columns import Column, Strong, Value
from trimopt.report.words.figures import number, percent, short_moment
from trimopt.report.words.texts import text
from trimopt.text import for_page

__all__ = ["rendered"]


def rendered(template: str, **context: object) -> Markup:
    """Give a template with `context` set in."""
    return Markup(_environment().get_template(template).render(**context))


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
    environment.globals |= {"text": text, "number": number, "percent": percent, "shown": _shown}
    environment.filters["capitalized"] = lambda words: words[:1].upper() + words[1:]
    environment.tests["strong"] = lambda value: isinstance(value, Strong)
    return environment


def _escaped(value: object) -> Markup:
    """Escape a text, and show what nobody sees; what a template made is markup already."""
    return value if isinstance(value, Markup) else Markup(for_page(str(value)))


def _shown(column: Column, value: Value) -> str:
    """Give the text of a table's cell."""
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, datetime):
        return short_moment(value)
    assert isinstance(value, (int, float)) or hasattr(value, "denominator")
    if column.kind == "share":
        return percent(value)  # type: ignore[arg-type]
    if column.kind == "t":
        return f"{value:,.2f}"
    return number(value, 0 if column.kind == "kg" else 4)  # type: ignore[arg-type]
