"""The texts that a crew reads, by key: those of ``texts.toml``, or of another language.

The environment variable TRIMOPT_TEXTS names a file in which a mill puts its own; a key that it
lacks is taken from ours. A text has its figures in braces, such as ``{sets:,}``. One that counts
has a form for 1 and one for any other number, told apart by `count`.
"""

from __future__ import annotations

import os
import tomllib
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path
from string import Formatter
from typing import Any

from trimopt.errors import ReportError

VARIABLE = "TRIMOPT_TEXTS"


def text(key: str, /, **figures: object) -> str:
    """Give the text of a key, such as ``block.sets``, with its figures set in.

    Raises
    ------
    ReportError
        The mill's file cannot be read, or a text in it has braces that do not fit.
    """
    entry = _texts(os.environ.get(VARIABLE, ""))[key]
    counted = isinstance(entry, dict)
    found: str = entry["one" if figures["count"] == 1 else "other"] if counted else entry
    try:
        return found.format(**figures) if figures else found
    except (LookupError, ValueError) as error:
        raise ReportError(f"the text {key} is wrong in its braces: {found}") from error


def heading(key: str) -> str:
    return text(f"column.{key}")


@cache
def _texts(own: str) -> dict[str, Any]:
    ours = _flat(files("trimopt.report.words").joinpath("texts.toml").read_text(encoding="utf-8"))
    if not own:
        return ours
    try:
        theirs = _flat(Path(own).read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise ReportError(f"{VARIABLE}: {own} cannot be read: {error}") from error
    wrong = [
        f"{VARIABLE}: {own}: the text {key} {said}"
        for key in ours
        if key in theirs and (said := _wrong(theirs[key], ours[key]))
    ]
    if wrong:
        raise ReportError("\n".join(wrong))
    return {**ours, **theirs}


def require_fitting() -> None:
    """Read the mill's file, if one is named, before there is anything to print.

    Raises
    ------
    ReportError
        As of `text`; every text that is wrong is named.
    """
    _texts(os.environ.get(VARIABLE, ""))


def _flat(toml: str) -> dict[str, Any]:
    return {
        f"{section}.{name}": value
        for section, values in tomllib.loads(toml).items()
        if isinstance(values, dict)
        for name, value in values.items()
    }


def _wrong(theirs: Any, ours: Any) -> str:
    """What is wrong with a text of the mill's file, held against ours; empty where it fits."""
    counts = isinstance(ours, dict)
    forms: list[Any] = [theirs]
    if isinstance(theirs, dict):
        forms = [theirs.get("one"), theirs.get("other")]
    if counts != isinstance(theirs, dict) or not all(isinstance(form, str) for form in forms):
        return 'needs the two forms "one" and "other"' if counts else "is no text"
    known = {"count": ""} if counts else {}
    for form in ours.values() if counts else [ours]:
        known |= {name: how or "" for _, name, how, _ in Formatter().parse(form) if name}
    for form in forms:
        try:
            for _, name, how, _ in Formatter().parse(form):
                if name is not None and known[name]:
                    format(date.min if "%" in known[name] else 1, how or "")
        except (LookupError, ValueError):
            figures = ", ".join(f"{{{name}}}" for name in known) or "none"
            return f"is wrong in its braces, of which there may be {figures}: {form}"
    return ""
