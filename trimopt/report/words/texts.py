"""The texts that a crew reads, by key: those of ``texts.toml``, or of another language.

The environment variable TRIMOPT_TEXTS names a file in which a mill puts its own; a key that it
lacks is taken from ours. A text has its figures in braces, such as ``{sets:,}``. One that counts
has a form for 1 and one for any other number, told apart by `count`.
"""

from __future__ import annotations

import os
import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path
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
        return {**ours, **_flat(Path(own).read_text(encoding="utf-8"))}
    except (OSError, ValueError) as error:
        raise ReportError(f"{VARIABLE}: {own} cannot be read: {error}") from error


def _flat(toml: str) -> dict[str, Any]:
    return {
        f"{section}.{name}": value
        for section, values in tomllib.loads(toml).items()
        for name, value in values.items()
    }
