"""The model's types as JSON. One description of a type reads it, writes it and publishes it.

`json_type` walks the dataclasses of the model once. Reading is strict: what is missing, unknown or
of the wrong type is an error that names its path (`runs[0].blocks[2].edge_front_mm`).
"""

from __future__ import annotations

import inspect
import json
import math
import re
import types
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Any, NoReturn, Union, get_args, get_origin, get_type_hints

from trimopt.errors import ReportError

Schema = dict[str, Any]

_MAX_EXPONENT = 600  # beyond it stands no figure of a mill, and an exact fraction would be huge
_RATIO = re.compile(r"-?[0-9]{1,4000}/[0-9]{1,4000}")

FRACTION_SCHEMA: Schema = {
    "description": "An exact figure: a number where its decimals end, else a text such as 1/3.",
    "anyOf": [{"type": "number"}, {"type": "string", "pattern": "^-?[0-9]+/[0-9]+$"}],
}


def refuse(path: str, value: object, right: str) -> NoReturn:
    """Raise ReportError: what stands there, and what should."""
    shown = json.dumps(value, ensure_ascii=False, default=str)
    if len(shown) > 60:
        shown = shown[:57] + "…"
    message = f"{path.lstrip('.')}: {shown} where there should be {right}"
    raise ReportError(message)


@dataclass(frozen=True, slots=True)
class JsonType:
    """A type of the model. Paths lead to a value, for error texts.

    `read` gives the value of a parsed JSON text; where that is of an older schema, fields may be
    missing. `write` gives what `json.dumps` takes. `schema` puts objects by name into what is
    known, and gives the type's own JSON Schema.
    """

    read: Callable[[Any, str, bool], Any]  # value, path, whether the schema is older
    write: Callable[[Any, str], Any]  # value, path
    schema: Callable[[dict[str, Schema]], Schema]


@cache
def json_type(kind: Any) -> JsonType:
    """The description of a type that the model uses."""
    origin, parts = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        (inner,) = (part for part in parts if part is not types.NoneType)
        return _optional(json_type(inner))
    if origin is tuple:
        return _list(parts)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return _choice(kind)
    if isinstance(kind, type) and is_dataclass(kind):
        return _object(kind)
    return _SCALARS[kind]


def _optional(inner: JsonType) -> JsonType:
    return JsonType(
        read=lambda value, path, older: None if value is None else inner.read(value, path, older),
        write=lambda value, path: None if value is None else inner.write(value, path),
        schema=lambda known: {"anyOf": [inner.schema(known), {"type": "null"}]},
    )


def _list(parts: tuple[Any, ...]) -> JsonType:
    """A tuple of one type, or of a type for each place."""
    endless = len(parts) == 2 and parts[1] is Ellipsis
    items = tuple(json_type(part) for part in parts if part is not Ellipsis)

    def each(value: Sequence[Any], path: str) -> Iterator[tuple[JsonType, Any, str]]:
        for n, part in enumerate(value):
            yield items[0 if endless else n], part, f"{path}[{n}]"

    def read(value: Any, path: str, older: bool) -> tuple[Any, ...]:
        if not isinstance(value, list):
            refuse(path, value, "a list")
        if not endless and len(value) != len(items):
            refuse(path, value, f"a list of {len(items)}")
        return tuple(item.read(part, at, older) for item, part, at in each(value, path))

    def schema(known: dict[str, Schema]) -> Schema:
        if endless:
            return {"type": "array", "items": items[0].schema(known)}
        places = [item.schema(known) for item in items]
        return {"type": "array", "prefixItems": places, "items": False, "minItems": len(places)}

    return JsonType(
        read=read,
        write=lambda value, path: [item.write(part, at) for item, part, at in each(value, path)],
        schema=schema,
    )


def _choice(kind: type[Enum]) -> JsonType:
    words = [str(each.value) for each in kind]

    def read(value: Any, path: str, older: bool) -> Enum:
        try:
            if older or value in words:
                return kind(value)  # a choice may know what an older schema says in its place
        except ValueError:
            pass
        refuse(path, value, f"one of {', '.join(words)}")

    return JsonType(read=read, write=lambda value, _: value.value, schema=lambda _: {"enum": words})


def _object(kind: type) -> JsonType:
    """A dataclass: an object with all of its fields and no others."""
    hints = get_type_hints(kind)
    its_types = {field.name: json_type(hints[field.name]) for field in fields(kind)}
    none = (MISSING, MISSING)
    has_default = {f.name for f in fields(kind) if (f.default, f.default_factory) != none}
    former: dict[str, str] = getattr(kind, "FORMER_NAMES", {})

    def read(value: Any, path: str, older: bool) -> Any:
        if not isinstance(value, dict):
            refuse(path or kind.__name__.lower(), value, "an object with fields")
        if older:
            value = {former.get(name, name): part for name, part in value.items()}
        # A field that an older schema did not have takes its default.
        _require_fields(value, path, its_types, has_default if older else ())
        return kind(
            **{
                name: its_type.read(value[name], f"{path}.{name}", older)
                for name, its_type in its_types.items()
                if name in value
            }
        )

    def write(value: Any, path: str) -> Any:
        return {
            name: its_type.write(getattr(value, name), f"{path}.{name}")
            for name, its_type in its_types.items()
        }

    def schema(known: dict[str, Schema]) -> Schema:
        if kind.__name__ not in known:
            known[kind.__name__] = {
                "type": "object",
                "description": inspect.getdoc(kind) or "",
                "properties": {name: each.schema(known) for name, each in its_types.items()},
                "required": list(its_types),
                "additionalProperties": False,
            }
        return {"$ref": f"#/$defs/{kind.__name__}"}

    return JsonType(read=read, write=write, schema=schema)


def _require_fields(
    value: Collection[str], path: str, known: Collection[str], may_lack: Collection[str]
) -> None:
    for name in value:
        if name not in known:
            raise ReportError(f"{f'{path}.{name}'.lstrip('.')}: no such field; take it out")
    for name in known:
        if name not in value and name not in may_lack:
            raise ReportError(f"{f'{path}.{name}'.lstrip('.')}: missing; put it back")


class _MisfitError(ValueError):
    """A scalar that does not fit, with what would be right in place of the usual words."""


def _scalar(
    take: Callable[[Any], Any],
    right: str,
    schema: Schema,
    give: Callable[[Any], Any] = lambda value: value,
) -> JsonType:
    """`take` gives the value of what JSON holds, or raises ValueError: `right` would be right."""

    def read(value: Any, path: str, _: bool) -> Any:
        try:
            return take(value)
        except _MisfitError as misfit:
            refuse(path, value, str(misfit))
        except ValueError:
            refuse(path, value, right)

    def write(value: Any, path: str) -> Any:
        if isinstance(value, float) and not math.isfinite(value):
            raise ReportError(f"{path.lstrip('.')}: {value} is not a finite number")
        return give(value)

    return JsonType(read=read, write=write, schema=lambda _: dict(schema))


def _only(*kinds: type) -> Callable[[Any], Any]:
    """Take values of these types as they are. A truth value is a number nowhere but in Python."""

    def take(value: Any) -> Any:
        if not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds):
            raise ValueError
        return value

    return take


def _float(value: Any) -> float:
    try:
        read = float(_only(int, Decimal)(value))
    except OverflowError:
        read = math.inf
    if not math.isfinite(read):
        raise _MisfitError("a number that a float can hold")
    return read


def _fraction(value: Any) -> Fraction:
    figure = _only(int, Decimal, str)(value)
    if isinstance(figure, str):
        if not _RATIO.fullmatch(figure):
            raise ValueError
        top, bottom = map(int, figure.split("/"))
        if bottom == 0:
            raise _MisfitError("a fraction that is not divided by 0")
        return Fraction(top, bottom)
    if isinstance(figure, Decimal) and abs(figure.adjusted()) > _MAX_EXPONENT:
        raise _MisfitError("a number of the size that a mill has")
    return Fraction(figure)


def _fraction_out(value: Fraction) -> int | float | str:
    """A number where its decimals end and a float keeps them, else a text such as "1/3"."""
    if value.denominator == 1:
        return value.numerator
    try:
        near = float(value)
    except OverflowError:
        return str(value)
    return near if Fraction(repr(near)) == value else str(value)


def _datetime(value: object) -> datetime:
    # A date alone is read as its midnight by fromisoformat; a moment has its time with it.
    if not isinstance(value, str) or len(value) <= len("2026-03-02"):
        raise ValueError
    return datetime.fromisoformat(value)


def _date(value: object) -> date:
    if not isinstance(value, str):
        raise ValueError
    return date.fromisoformat(value)


_SCALARS: dict[type, JsonType] = {
    bool: _scalar(_only(bool), "true or false", {"type": "boolean"}),
    int: _scalar(_only(int), "a whole number", {"type": "integer"}),
    # A sum of nothing is a whole number: written as it is read back, a plan has one wording.
    float: _scalar(_float, "a number", {"type": "number"}, float),
    str: _scalar(_only(str), "a text", {"type": "string"}),
    Fraction: _scalar(
        _fraction,
        'a number, or a text such as "1/3"',
        {"$ref": "#/$defs/Fraction"},
        _fraction_out,
    ),
    datetime: _scalar(
        _datetime,
        "a moment such as 2026-03-02T06:00:00",
        {"type": "string", "format": "date-time", "description": "ISO 8601; local: no zone"},
        datetime.isoformat,
    ),
    date: _scalar(
        _date, "a day such as 2026-03-02", {"type": "string", "format": "date"}, date.isoformat
    ),
}
