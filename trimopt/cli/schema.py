"""`trimopt schema`."""

from __future__ import annotations

import click

__all__ = ["command"]


@click.command("schema")
def command() -> None:
    """Print the JSON Schema of a plan's JSON file, for programs that read plans.

    Example: trimopt schema
    """
    import json

    from trimopt.plan.schema import json_schema

    click.echo(json.dumps(json_schema(), indent=1, ensure_ascii=False))
