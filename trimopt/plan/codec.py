"""A plan as JSON and back, field by field.

The text is strict both ways: a field that is missing, unknown or of the wrong type is an error that
names its path (`runs[0].blocks[2].edge_front_mm`). Figures come back exactly as they were: a
fraction is a JSON number where its decimals end and a float keeps them, else a text such as "1/3";
whole numbers have any length; moments are ISO 8601. The schema is made from the model.

References
----------
JSON Schema, draft 2020-12: `json-schema.org/draft/2020-12/schema`.
"""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any, NoReturn

from trimopt.errors import ReportError, types_checked
from trimopt.plan.difference import PlanDifference
from trimopt.plan.json_types import FRACTION_SCHEMA, Schema, json_type, refuse
from trimopt.plan.model import SCHEMA, Plan

_LINE = 120  # what fits on a line of this width is written on one


@types_checked
def plan_json(plan: Plan) -> str:
    """Write a plan as JSON text.

    Returns
    -------
    str
        Fields in the order of `trimopt.plan.model`, one to a line where they do not fit together;
        ends with a new line.

    Raises
    ------
    ReportError
        A figure is not a finite number.
    """
    return _text(json_type(Plan).write(plan, ""), "") + "\n"


def from_json(text: str) -> Plan:
    """Read a plan back.

    Parameters
    ----------
    text
        What `plan_json` wrote, perhaps changed by a person since.

    Raises
    ------
    ReportError
        The text is not JSON, was written with a newer schema, or has a field that is missing,
        unknown, twice there or of the wrong type. The error names the field's path.
    """
    try:
        data = json.loads(
            text, parse_float=Decimal, parse_constant=_no_constant, object_pairs_hook=_once
        )
    except json.JSONDecodeError as fault:
        message = f"not JSON: line {fault.lineno}, column {fault.colno}: {fault.msg}"
        raise ReportError(message) from fault
    except (ValueError, RecursionError) as fault:  # figures too long to read, or nesting too deep
        message = f"not a plan: {fault}"
        raise ReportError(message) from fault
    schema = data.get("schema") if isinstance(data, dict) else None
    if isinstance(schema, bool) or not isinstance(schema, int) or schema < 1:
        refuse("schema", schema, "a whole number from 1 on: is this a plan?")
    if schema > SCHEMA:
        message = (
            f"schema: the plan is of schema {schema}, this program reads up to {SCHEMA}; "
            "use the newer program that wrote it"
        )
        raise ReportError(message)
    plan = json_type(Plan).read(data, "", schema < SCHEMA)
    assert isinstance(plan, Plan)
    return plan


def _text(value: object, indent: str) -> str:
    whole = json.dumps(value, ensure_ascii=False)
    if not isinstance(value, dict | list) or len(indent) + len(whole) <= _LINE:
        return whole
    inner = indent + " "
    if isinstance(value, list):
        rows = [_text(part, inner) for part in value]
        return "[\n" + ",\n".join(inner + row for row in rows) + f"\n{indent}]"
    rows = [f"{json.dumps(key)}: {_text(part, inner)}" for key, part in value.items()]
    return "{\n" + ",\n".join(inner + row for row in rows) + f"\n{indent}}}"


def _no_constant(name: str) -> NoReturn:
    message = f"{name} is not a finite number"
    raise ValueError(message)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        message = f"field {twice} stands twice in one place; keep one"
        raise ValueError(message)
    return found


_DRAFT = "https://json-schema.org/draft/2020-12/schema"


def plan_schema() -> Schema:
    """Give the schema of what `trimopt.plan.codec.plan_json` writes.

    Returns
    -------
    dict
        Every object of the plan under ``$defs``, its fields all required and no others allowed;
        those of a difference between two plans too (``#/$defs/PlanDifference``).
        ``null`` is allowed where the model says so.

    Examples
    --------
    >>> plan_schema()["$ref"]
    '#/$defs/Plan'
    """
    known: dict[str, Schema] = {"Fraction": FRACTION_SCHEMA}
    json_type(Plan).schema(known)
    json_type(PlanDifference).schema(known)
    known["Plan"]["properties"]["schema"] = {"const": SCHEMA}
    return {
        "$schema": _DRAFT,
        "title": f"trimopt plan, schema {SCHEMA}",
        "description": "Widths are mm, lengths m, masses kg, shares of one unless a name says so.",
        "$ref": "#/$defs/Plan",
        "$defs": dict(sorted(known.items())),
    }
