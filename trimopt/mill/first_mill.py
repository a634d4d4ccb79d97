"""A first mill file from nine values; whatever else a mill may say stays in it as a comment."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from trimopt.errors import Fault, MillFileError
from trimopt.mill.mill_file import example_mill_text
from trimopt.mill.mill_keys import SECTIONS, MillTable
from trimopt.mill.mill_section import read_section

Values = tuple[tuple[str, str], ...]
"""Keys of one section, with their values as a mill file writes them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A value that a first plan needs, and the keys that the answer fills in."""

    asks: str
    section: str
    keys: tuple[str, ...]
    example: str
    several: bool = False  # may be given more than once, with commas between

    def read(self, answer: str) -> tuple[Values, ...]:
        """The answer as values of its keys, once for each thing that it names.

        Raises
        ------
        ValueError
            What is wrong with it, and what would be right.
        """
        items = answer.split(",") if self.several else [answer]
        return tuple(self._item(item.strip()) for item in items)

    def _item(self, item: str) -> Values:
        parts = [item] if len(self.keys) == 1 else self._split(item)
        if len(parts) != len(self.keys) or not all(parts):
            raise ValueError(f'"{item}" is not like {self.example}')
        table = _TABLES[self.section]
        raw = {
            key: part if key == "name" else _number(part)
            for key, part in zip(self.keys, parts, strict=True)
        }
        _, faults = read_section(table, table.title, raw)
        for fault in faults:
            if fault.column in self.keys:
                raise ValueError(f"{fault.value} {fault.wrong}; {fault.right}")
        return tuple((key, _as_toml(value)) for key, value in raw.items())

    def _split(self, item: str) -> Sequence[str]:
        if self.keys[0] == "name":
            return item.rsplit(maxsplit=1)
        return [part.strip() for part in re.split(r"\bto\b|\bx\b|×|–", item)]


_TABLES: Mapping[str, MillTable] = {table.name: table for table in SECTIONS}

MILL_QUESTIONS: tuple[Question, ...] = (
    Question(asks="The mill's name", section="mill", keys=("name",), example="Our board mill"),
    Question(asks="Width of the jumbo, edge trim on it, mm", section="jumbo",
             keys=("width_mm",), example="4680"),
    Question(asks="Least edge trim, each side, mm", section="winder",
             keys=("min_edge_trim_mm",), example="20"),
    Question(asks="Usable length of a jumbo, m", section="jumbo",
             keys=("usable_length_m",), example="15600"),
    Question(asks="Narrowest reel, mm", section="winder",
             keys=("min_reel_width_mm",), example="300"),
    Question(asks="Slitter knives", section="winder", keys=("knives",), example="14"),
    Question(asks="Smallest to largest reel diameter, mm", section="winder",
             keys=("min_reel_diameter_mm", "max_reel_diameter_mm"), example="600 to 1500"),
    Question(asks="Cores, inside x wall, mm", section="winder.core",
             keys=("inside_mm", "wall_mm"), example="76 x 10, 152 x 13", several=True),
    Question(asks="Grades, each with its bulk in cm3/g", section="grade",
             keys=("name", "bulk_cm3_g"), example="Folding boxboard 1.6, Kraft liner 1.3",
             several=True),
)  # fmt: skip
_LISTED = ("winder.core", "grade")  # sections that are written anew
_KEPT = ("values", "tolerance")  # what the example says of them is a custom, not a machine
_KEY = re.compile(r"(\w+) = ")
_SECTION = re.compile(r"\[+([\w.]+)\]+\s*$")


def _number(text: str) -> Decimal | str:
    try:
        return Decimal(text)
    except InvalidOperation:
        return text  # with its unit


def _as_toml(value: Decimal | str) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}"
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


def first_mill_text(
    answers: Mapping[Question, tuple[Values, ...]] | Sequence[tuple[Question, tuple[Values, ...]]],
) -> str:
    """The example mill file with these values; what else it states of a machine is commented out.

    The widest set is then that of the winder's deckle.

    Raises
    ------
    MillFileError
        Some of the questions have no answer.
    """
    answers = dict(answers)
    open_ones = tuple(
        Fault(where=each.asks, wrong="has no answer", right=f"one such as {each.example}")
        for each in MILL_QUESTIONS
        if not answers.get(each)
    )
    if open_ones:
        raise MillFileError("first mill file", open_ones)
    single: dict[tuple[str, str], str] = {}
    listed: dict[str, tuple[Values, ...]] = {}
    for question, read in answers.items():
        if question.section in _LISTED:
            listed[question.section] = read
        else:
            single |= {(question.section, key): value for key, value in read[0]}
    single["winder", "max_web_mm"] = single["jumbo", "width_mm"]
    lines: list[str] = []
    section = ""
    for line in example_mill_text().splitlines():
        if found := _SECTION.match(line):
            section, entered = found[1], section
            if section in _LISTED and section != entered:
                lines.extend(_blocks(section, listed[section]))
        lines.extend(_line(line, section, single))
    return "\n".join(lines) + "\n"


def _blocks(section: str, read: tuple[Values, ...]) -> list[str]:
    blocks: list[str] = []
    for values in read:
        blocks += [f"[[{section}]]", *(f"{key} = {value}" for key, value in values), ""]
    return blocks


def _line(line: str, section: str, single: Mapping[tuple[str, str], str]) -> list[str]:
    """A line of the example as it stands in a first mill file; none of one that is written anew."""
    key = _KEY.match(line)
    if not key and not _SECTION.match(line):
        return [] if section in _LISTED and not line else [line]
    if section in _LISTED:
        return []
    if section == "sheeter":
        return [f"# {line}"]
    if not key or section in _KEPT:
        return [line]
    value = single.get((section, key[1]))
    if value is None:
        return [f"# {line}"]
    remark = line.partition("#")[2]
    return [f"{key[1]} = {value}" + (f"  #{remark}" if remark else "")]
