"""The JSON Schema of a plan, made from its model, for programs that read plans.

References
----------
JSON Schema, draft 2020-12: `json-schema.org/draft/2020-12/schema`.
"""

from __future__ import annotations

from trimopt.plan.difference import PlanDifference
from trimopt.plan.json_types import FRACTION_SCHEMA, Schema, json_type
from trimopt.plan.model import SCHEMA, Plan

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
