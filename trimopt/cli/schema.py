"""`trimopt schema`."""

from __future__ import annotations

import click

from trimopt.cli.output import say_fields


@click.command("schema")
def command() -> None:
    """Print the JSON Schema of a plan's JSON file, for programs that read plans.

    Example: trimopt schema
    """
    from trimopt import plan_schema

    say_fields(plan_schema())
