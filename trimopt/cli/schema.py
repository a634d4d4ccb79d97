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

    from trimopt import plan_schema

    say_json(json.dumps(plan_schema(), indent=1, ensure_ascii=False))
