"""`trimopt start`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from trimopt.cli.output import say


@click.command("start")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), metavar="DIR")
@click.option(
    "--book",
    "book_alone",
    is_flag=True,
    help="Write the empty order book again, for DIR/mill.toml as it is now.",
)
@click.option(
    "--ask/--example",
    "ask",
    default=None,
    help="Ask nine values of the mill, or lay down the example. Default: ask on a terminal.",
)
@click.option(
    "--from",
    "export",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="EXPORT",
    help="Say what DIR/mill.toml should hold so that this order export is read; write nothing.",
)
def command(folder: Path, book_alone: bool, ask: bool | None, export: Path | None) -> None:
    """Lay down a mill file and an empty order book for it, ready to fill in.

    Refuses to overwrite existing files; with --book, an order book with anything filled in.

    Example: trimopt start ourmill
    """
    mill_path, book_path = folder / "mill.toml", folder / "orders.xlsx"
    if export is not None:
        _propose(export, mill_path)
        return
    if book_alone:
        from trimopt import read_mill, write_template

        write_template(book_path, read_mill(mill_path))
        say(f"{book_path}: empty, with the grades, cores and limits of {mill_path}")
        return
    from trimopt import example_mill_text, lay_down

    asked = sys.stdin.isatty() if ask is None else ask
    lay_down(folder, _asked_mill if asked else example_mill_text)
    if asked:
        say(f"{mill_path}: your nine values; all else has its default and is explained there")
        say(f"{book_path}: with your grades, cores and limits")
    else:
        say(f"{mill_path}: describe your mill here; every key is explained")
        again = f"trimopt start {folder} --book"
        say(f"{book_path}: for your mill's grades and cores, run again: {again}")
    say(f"Fill in the orders, then run: trimopt plan {book_path}")


def _asked_mill() -> str:
    """The mill file from nine answers; one that cannot be is asked again."""
    from trimopt import MILL_QUESTIONS, first_mill_text

    say("Nine values for a first plan. Another unit may stand behind a figure: 184 1/4 in.")
    answers = []
    for question in MILL_QUESTIONS:
        while True:
            answer = click.prompt(f"{question.asks} (such as {question.example})")
            try:
                answers.append((question, question.read(answer)))
                break
            except ValueError as error:
                say(str(error), err=True)
    return first_mill_text(answers)


def _propose(export: Path, mill_path: Path) -> None:
    """What the mill file should say of an export, to be copied into it."""
    from trimopt import example_mill_text, proposal_for, read_mill, read_mill_text

    if mill_path.exists():
        mill = read_mill(mill_path)
    else:
        mill = read_mill_text(example_mill_text().encode())
        say(f"{mill_path} does not exist: read against the example mill", err=True)
    say(proposal_for(export, mill).text())
