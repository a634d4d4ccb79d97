"""`trimopt guide`."""

from __future__ import annotations

import sys

import click

from trimopt.cli.output import say
from trimopt.guide import CHAPTERS, chapter_text


@click.command("guide")
@click.argument("chapter", type=click.Choice(list(CHAPTERS)), required=False)
def command(chapter: str | None) -> None:
    """Read the guide: its chapters, or one of them.

    Example: trimopt guide glossary
    """
    if chapter is None:
        for name, what in CHAPTERS.items():
            say(f"{name:<12} {what}")
        return
    text = chapter_text(chapter)
    if not sys.stdout.isatty():
        say(text.removesuffix("\n"))
        return
    from rich.console import Console
    from rich.markdown import Markdown

    console = Console()
    with console.pager(styles=True):
        console.print(Markdown(text))
