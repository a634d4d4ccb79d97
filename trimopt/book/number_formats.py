"""What a workbook's number format puts beside a figure, such as a unit, or makes of it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, time
from functools import lru_cache

from trimopt.book.written_figures import Disguised, Midnight, Percent, ZeroPadded
from trimopt.paper.typed import WordsBeside

_SECTION = re.compile(r'((?:"[^"]*"|\\.|[_*].|\[[^\]]*\]|[^;"\\])*);?', re.DOTALL)
_TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|\[\$(?P<currency>[^\]-]*)[^\]]*\]|\[[^\]]*\]|[_*].'
    r"|(?P<core>General|[0#?][0#?.,/ ]*[0#?1-9][0-9]*(?:E[+-][0#?]+)?[.,]*"
    r"|[0#?][.,]*|[.][0#?]+|[%@])"
    r"|(?P<plain>.)",
    re.DOTALL | re.IGNORECASE,
)
_CONDITION = re.compile(r"\[(<=|>=|<>|<|>|=)\s*(-?[0-9.]+)\]")
_HOLDS = {
    "<": lambda a, b: a < b, "<=": lambda a, b: a <= b, ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b, "=": lambda a, b: a == b, "<>": lambda a, b: a != b,
}  # fmt: skip
_NO_WORDS = " \u00a0\u202f'+-()"  # what shows a sign or stands between groups
_WORDS = re.compile(r'"[^"]*"|\\.|\[\$[^\]]*\]|[_*].', re.DOTALL)
_SCALED = re.compile(r"[0#?],+(?:\.|$)")


@dataclass(frozen=True, slots=True)
class _FormatPart:
    """Of a format: the words before and behind the figure, and what happens to the figure."""

    before: str
    core: str
    behind: str
    disguised: bool  # another figure is shown than the cell holds


def as_shown(value: float, number_format: str) -> object:
    """A cell's number together with what its format shows of it.

    Examples
    --------
    >>> as_shown(32, '0" in"')
    WordsBeside(figure=32, before='', behind=' in')
    >>> as_shown(735, "#,##0.0"), as_shown(0.05, "0 %"), as_shown(12000, "0,")
    (735, Percent(share=0.05), Disguised(figure=12000, number_format='0,'))
    """
    if number_format == "General":
        return value
    section = _section_for(value, number_format)
    if "%" in section.core:
        return Percent(value)
    if section.disguised:
        return Disguised(value, number_format)
    zeros = section.core
    if isinstance(value, int) and zeros.startswith("00") and not zeros.strip("0"):
        value = ZeroPadded(value, len(zeros))
    before, behind = (
        words if words.strip(_NO_WORDS) else "" for words in (section.before, section.behind)
    )
    if before or behind:
        return WordsBeside(value, before.lstrip(), behind.rstrip())
    return value


def moment_shown(value: datetime, number_format: str) -> datetime:
    """A cell's date and time; one at 0:00 that shows its time is told from a date alone.

    Examples
    --------
    >>> moment_shown(datetime(2026, 11, 24), 'dd.mm.yyyy hh:mm')
    Midnight(2026, 11, 24, 0, 0)
    >>> moment_shown(datetime(2026, 11, 24), 'd. mmmm yyyy" hh"')
    datetime.datetime(2026, 11, 24, 0, 0)
    """
    if value.time() != time(0) or "h" not in _WORDS.sub("", number_format).casefold():
        return value
    return Midnight(value.year, value.month, value.day)


def _section_for(value: float, number_format: str) -> _FormatPart:
    """The part of a format that is for this value: by its conditions, or by its sign."""
    parts = _parts(number_format)
    for text, section in parts[:2]:
        if found := _CONDITION.search(text):
            if _HOLDS[found[1]](value, float(found[2])):
                return section
        elif any(_CONDITION.search(other) for other, _ in parts[:2]):
            return section
    if any(_CONDITION.search(text) for text, _ in parts[:2]):
        return parts[-1][1]
    numbers = parts[:3]
    index = 1 if value < 0 else 2 if value == 0 else 0
    return numbers[index if index < len(numbers) else 0][1]


@lru_cache(maxsize=1000)
def _parts(number_format: str) -> tuple[tuple[str, _FormatPart], ...]:
    texts = [found[1] for found in _SECTION.finditer(number_format)]
    if len(texts) > 1 and not texts[-1] and not number_format.endswith(";"):
        texts.pop()
    return tuple((text, _section(text)) for text in texts[:4])


def _section(text: str) -> _FormatPart:
    before, core, between, behind = "", "", "", ""
    for token in _TOKEN.finditer(text):
        if (figure := token["core"]) is not None:
            core, between, behind = core + figure, between + behind, ""
            continue
        words = token["quoted"] or token["escaped"] or token["currency"] or token["plain"] or ""
        if core:
            behind += words
        else:
            before += words
    beside = before + between + behind
    return _FormatPart(
        before=before,
        core=core.rstrip(),
        behind=behind,
        disguised=bool(
            _SCALED.search(core.rstrip())
            or between.strip(_NO_WORDS)
            or any(letter.isdigit() for letter in beside)
            or (beside.strip(_NO_WORDS) and not core)
        ),
    )
