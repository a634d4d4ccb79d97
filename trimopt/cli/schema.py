"""`trimopt schema`."""

from __future__ import annotations

import click

from trimopt.cli.output import say_json


@click.command("schema")
def command() -> None:
    """Print the JSON Schema of a plan's JSON file, for programs that read plans.

    Example: trimopt schema
    """
    import json

    from trimopt.plan.json_schema import json_schema

    say_json(json.dumps(json_schema(), indent=1, ensure_ascii=False))
