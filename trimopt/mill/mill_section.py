"""One section of a mill file, read against its table of keys.

Whatever is wrong becomes a fault, and reading goes on: a figure that could not be read is absent,
and later checks leave it alone. A figure may be a number in the unit that ends its key, or a text
with another: ``"59 1/16 in"``, ``"4600 ft/min"``, ``"42 lb/1000 ft²"``. All are kept exact.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeAlias

from trimopt.errors import Fault
from trimopt.mill.mill_keys import SECTIONS, Key, MillTable, ValueKind
from trimopt.paper import INCH_MM, basis_weight_unit
from trimopt.paper.measures import LENGTHS, Measure, UnitTable
from trimopt.paper.typed import CellFaultError, read_number, split_figure_and_unit

# Beyond these a figure is a slip of the keyboard, and making it exact could fill the memory.
_DIGITS_BEFORE_POINT = 12
_DIGITS_AFTER_POINT = 12

_GROUPED = re.compile(r"[,'’]|\d \d{3}(?!\d* ?[/⁄])")


def exact_number(value: object) -> Fraction | None:
    """A TOML integer or float as an exact fraction; None where it is neither, or out of all reason.

    Floats arrive as `decimal.Decimal`, so that 0.1 is one tenth.

    Examples
    --------
    >>> exact_number(Decimal("0.1"))
    Fraction(1, 10)
    >>> exact_number(True) is None
    True
    """
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return Fraction(value) if abs(value) < 10**_DIGITS_BEFORE_POINT else None
    if isinstance(value, Decimal) and value.is_finite():
        exponent = value.as_tuple().exponent
        assert isinstance(exponent, int)  # it is finite
        if value.adjusted() < _DIGITS_BEFORE_POINT and exponent >= -_DIGITS_AFTER_POINT:
            return Fraction(value)
    return None


def typed_figure(value: object, units: UnitTable, unit: Measure) -> Fraction | None:
    """A figure in `unit`, from a TOML number or a text with one of `units` behind it.

    None where it is neither. Decimals take a point, and thousands stand together.

    Raises
    ------
    CellFaultError
        Where its unit may mean several.

    Examples
    --------
    >>> from trimopt.paper.measures import WIDTHS
    >>> typed_figure("59 1/16 in", WIDTHS, WIDTHS.assumed)
    Fraction(24003, 16)
    >>> typed_figure("0.5", WIDTHS, WIDTHS.assumed), typed_figure("0,5", WIDTHS, WIDTHS.assumed)
    (Fraction(1, 2), None)
    """
    if not isinstance(value, str):
        return exact_number(value)
    figure, behind = split_figure_and_unit(value)
    measure = units.unit(behind) if behind else unit
    if measure is None or _GROUPED.search(str(figure)):
        return None
    try:
        number = read_number(str(figure), decimal_sign=".", fractions=True)
    except CellFaultError:
        return None
    return number * measure.factor / unit.factor


def plain(figure: Fraction) -> str:
    """An exact figure for an error text: a decimal number where it ends, else to four places.

    Examples
    --------
    >>> plain(Fraction(3, 2)), plain(Fraction(1500)), plain(Fraction(1, 3))
    ('1.5', '1500', '0.3333')
    """
    if figure.denominator == 1:
        return str(figure.numerator)
    text = f"{float(figure):.4f}" if figure.denominator % 3 == 0 else f"{float(figure):.10f}"
    return text.rstrip("0").rstrip(".")


Value: TypeAlias = Fraction | str | bool | tuple[Fraction, ...] | tuple[str, ...] | Measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """What was read: `title` is where it stands, `written` the values as the file has them."""

    title: str
    keys: tuple[Key, ...] = ()
    values: Mapping[str, Value] = field(default_factory=dict)
    written: Mapping[str, str] = field(default_factory=dict)

    def figure(self, name: str) -> Fraction | None:
        """A number or length; None where it is absent or faulty."""
        value = self.values.get(name)
        return value if isinstance(value, Fraction) else None

    def figures(self, name: str) -> tuple[Fraction, ...]:
        """A list of lengths; empty where it is absent or faulty."""
        value = self.values.get(name)
        return (
            tuple(one for one in value if isinstance(one, Fraction))
            if isinstance(value, tuple)
            else ()
        )

    def text(self, name: str) -> str | None:
        """A text; None where it is absent or faulty."""
        value = self.values.get(name)
        return value if isinstance(value, str) else None

    def flag(self, name: str, default: bool) -> bool:
        """True or false, or the default where the file says nothing."""
        value = self.values.get(name)
        return value if isinstance(value, bool) else default

    def kept(self) -> dict[str, Any]:
        """The values as the model keeps them, by its fields."""
        return {
            key.field: key.kept(self.values[key.name])
            for key in self.keys
            if key.name in self.values
        }

    def fault(self, name: str, wrong: str, right: str) -> Fault:
        """A fault of this section's key, showing its value as written."""
        return Fault(
            where=self.title,
            column=name,
            value=self.written.get(name, ""),
            wrong=wrong,
            right=right,
        )


def as_written(value: object) -> str:
    """A value as a mill file would have it, shortened for an error text."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, dict):
        text = "a table"
    elif isinstance(value, list):
        text = "[" + ", ".join(as_written(item) for item in value[:8])
        text += ", …]" if len(value) > 8 else "]"
    elif isinstance(value, str):
        scheme, mark, _ = value.partition("://")
        text = f'"{scheme}://…"' if mark else f'"{value}"'  # a URL may hold a password
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "…"


def closest(name: str, known: tuple[str, ...]) -> str | None:
    """The known name that is spelt most like this one, or None where none comes close."""
    near = difflib.get_close_matches(name.casefold(), known, n=1, cutoff=0.6)
    return near[0] if near else None


def read_section(
    table: MillTable, title: str, raw: Mapping[str, object]
) -> tuple[Section, list[Fault]]:
    """The section with all that could be read, and its faults: unknown, missing and wrong keys."""
    written = {name: as_written(value) for name, value in raw.items()}
    section = Section(title=title, keys=table.keys, written=written)
    values: dict[str, Value] = {}
    faults: list[Fault] = []
    meant: set[str] = set()  # keys that a misspelt one stands for; not missing as well
    names = tuple(key.name for key in table.keys)
    for name, value in raw.items():
        key = table.key(name)
        if key is None:
            right, stands_for = _place(table, name, tuple(n for n in names if n not in raw))
            meant.add(stands_for)
            faults.append(section.fault(name, "is no key of this section", right))
            continue
        read, wrong = _value(key, value)
        if wrong:
            faults.append(section.fault(name, wrong, key.right))
        elif read is not None:
            values[name] = read
    faults += [
        section.fault(key.name, "is missing", key.right)
        for key in table.keys
        if key.needed and key.name not in raw and key.name not in meant
    ]
    return replace(section, values=values), faults


def _place(table: MillTable, name: str, free: tuple[str, ...]) -> tuple[str, str]:
    """What to do with an unknown key, and the key of this section that it stands for, if any."""
    homes = [other.title for other in SECTIONS if other.key(name) is not None]
    if homes:
        return f"move it to {' or '.join(homes)}", ""
    suggestion = closest(name, free)
    if suggestion is not None:
        return f"write {suggestion}", suggestion
    inner = [other for other in SECTIONS if other.name.startswith(f"{table.name}.")]
    for other in inner:
        if closest(name, (other.name.rpartition(".")[2],)) is not None:
            return f"write {other.title} as a section of its own", ""
    return f"leave it out; the keys are {', '.join(key.name for key in table.keys)}", ""


def _value(key: Key, value: object) -> tuple[Value | None, str]:
    """The value that a key was given, or what is wrong with it."""
    if key.kind is ValueKind.FLAG:
        return (value, "") if isinstance(value, bool) else (None, "is neither true nor false")
    if key.kind is ValueKind.TEXT:
        return _text(key, value)
    if key.kind is ValueKind.TEXTS:
        texts = texts_of(value)
        return (None, "is not a list of texts") if texts is None else (texts, "")
    if key.kind is ValueKind.LENGTHS:
        return _lengths(key, value)
    if key.kind is ValueKind.BASIS:
        return _basis_weight(key, value)
    return _figure(key, value)


def _text(key: Key, value: object) -> tuple[str | None, str]:
    if not isinstance(value, str):
        return None, "is not a text"
    if key.choices:
        return (value, "") if value in key.choices else (None, "is none of the choices")
    if not value.strip():
        return None, "is empty"
    return value.strip(), ""


def _basis_weight(key: Key, value: object) -> tuple[Measure | None, str]:
    text, wrong = _text(key, value)
    if text is None:
        return None, wrong
    try:
        unit = basis_weight_unit(text)
    except CellFaultError as fault:
        return None, f"is {fault.wrong}"
    return unit, "" if unit is not None else "is no basis weight"


def texts_of(value: object) -> tuple[str, ...] | None:
    """A list of texts, none of them empty; None where it is no such list."""
    if not isinstance(value, list):
        return None
    texts = tuple(item.strip() for item in value if isinstance(item, str) and item.strip())
    return texts if len(texts) == len(value) else None


def _lengths(key: Key, value: object) -> tuple[tuple[Fraction, ...] | None, str]:
    if not isinstance(value, list):
        return None, "is not a list"
    lengths: list[Fraction] = []
    for item in value:
        length, wrong = _figure(key, item)
        if length is None:
            return None, f"holds {as_written(item)}, which {wrong}"
        lengths.append(length)
    return tuple(lengths), ""


def _figure(key: Key, value: object) -> tuple[Fraction | None, str]:
    try:
        figure = _figure_in_unit(key, value)
    except CellFaultError as fault:
        return None, f"is not clear: {fault.wrong}"
    if figure is None:
        return None, _not_a_figure(key, value)
    wrong = ""
    in_mm = key.kind in (ValueKind.LENGTH, ValueKind.LENGTHS)
    if in_mm and 100 % figure.denominator and 128 % (figure / INCH_MM).denominator:
        wrong = "is finer than hundredths of a millimetre or 128ths of an inch"
    if key.kind is ValueKind.WHOLE and figure.denominator != 1:
        wrong = "is not a whole number"
    if key.above is not None and figure <= key.above:
        wrong = f"is not above {key.above}"
    if key.min is not None and figure < key.min:
        wrong = f"is below {key.min}"
    if key.max is not None and figure > key.max:
        wrong = f"is above {key.max}"
    return (None, wrong) if wrong else (figure, "")


def _figure_in_unit(key: Key, value: object) -> Fraction | None:
    """The figure in the unit of its key; None where it is none."""
    if key.units is None:
        return exact_number(value)
    figure = typed_figure(value, *key.units)
    # No mill marks its jumbos off in feet that are whole metres.
    if figure is not None and key.kind is ValueKind.WHOLE and _in_feet(value):
        return Fraction(math.ceil(figure) if key.rounds_up else math.floor(figure))
    return figure


def _in_feet(value: object) -> bool:
    return LENGTHS.unit(str(split_figure_and_unit(value)[1])) == LENGTHS.named["ft"]


def _not_a_figure(key: Key, value: object) -> str:
    if isinstance(value, str):
        if key.kind in (ValueKind.LENGTH, ValueKind.LENGTHS):
            return "is no width that can be read"
        if key.units is not None:
            return "is no figure with a unit that can be read"
        return "is a text where a number belongs"
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        return "is out of all range"
    return "is not a number"
