"""The JSON Schema of a plan, made from its model, for programs that read plans.

References
----------
JSON Schema, draft 2020-12: `json-schema.org/draft/2020-12/schema`.
"""

from __future__ import annotations

import inspect
import types
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from fractions import Fraction
from typing import Any, Union, get_args, get_origin, get_type_hints

from trimopt.plan.model import SCHEMA, Plan

__all__ = ["json_schema"]

_DRAFT = "https://json-schema.org/draft/2020-12/schema"

_PLAIN: dict[Any, dict[str, Any]] = {
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    str: {"type": "string"},
    datetime: {"type": "string", "format": "date-time", "description": "ISO 8601; local: no zone"},
    date: {"type": "string", "format": "date"},
    Fraction: {"$ref": "#/$defs/Fraction"},
}
_FRACTION = {
    "description": "An exact figure: a number where its decimals end, else a text such as 1/3.",
    "anyOf": [{"type": "number"}, {"type": "string", "pattern": "^-?[0-9]+/[0-9]+$"}],
}


def json_schema() -> dict[str, Any]:
    """Give the schema of what `trimopt.plan.codec.to_json` writes.

    Returns
    -------
    dict
        Every object of the plan under ``$defs``, its fields all required and no others allowed.
        ``null`` is allowed where the model says so.

    Examples
    --------
    >>> json_schema()["$ref"]
    '#/$defs/Plan'
    """
    known: dict[str, dict[str, Any]] = {"Fraction": _FRACTION}
    _object(Plan, known)
    known["Plan"]["properties"]["schema"] = {"const": SCHEMA}
    return {
        "$schema": _DRAFT,
        "title": f"trimopt plan, schema {SCHEMA}",
        "description": "Widths are mm, lengths m, masses kg, shares of one unless a name says so.",
        "$ref": "#/$defs/Plan",
        "$defs": dict(sorted(known.items())),
    }


def _object(kind: type, known: dict[str, dict[str, Any]]) -> dict[str, Any]:
    if kind.__name__ not in known:
        known[kind.__name__] = {}  # taken, should the model ever refer to itself
        hints = get_type_hints(kind)
        names = [field.name for field in fields(kind)]
        known[kind.__name__] = {
            "type": "object",
            "description": inspect.getdoc(kind) or "",
            "properties": {name: _value(hints[name], known) for name in names},
            "required": names,
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{kind.__name__}"}


def _value(kind: Any, known: dict[str, dict[str, Any]]) -> dict[str, Any]:
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        (inner,) = (part for part in get_args(kind) if part is not types.NoneType)
        return {"anyOf": [_value(inner, known), {"type": "null"}]}
    if origin is tuple:
        parts = get_args(kind)
        if len(parts) == 2 and parts[1] is Ellipsis:
            return {"type": "array", "items": _value(parts[0], known)}
        each = [_value(part, known) for part in parts]
        return {"type": "array", "prefixItems": each, "items": False, "minItems": len(each)}
    if isinstance(kind, type) and issubclass(kind, Enum):
        return {"enum": [each.value for each in kind]}
    if is_dataclass(kind):
        assert isinstance(kind, type)
        return _object(kind, known)
    return dict(_PLAIN[kind])
