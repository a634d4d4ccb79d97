"""What a plan was made from: its mill file, order book and instructions, found again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from trimopt.cli.options import FILE, load_book, mill_option

if TYPE_CHECKING:
    from trimopt import Book, Mill, Plan

F = TypeVar("F", bound=Callable[..., object])


def made_from_options(function: F) -> F:
    """`--book`, `--mill` and `--instructions`, by default the files that the plan names."""
    function = click.option(
        "--instructions",
        type=FILE,
        metavar="FILE",
        help="The file of instructions. Default: the file that the plan names, where it names one.",
    )(function)
    return click.option(
        "--book",
        type=FILE,
        metavar="FILE",
        help="The order book. Default: the file that the plan names.",
    )(mill_option(function))


def made_from(
    plan: Plan,
    path: Path,
    book: Path | None,
    mill_path: Path | None,
    instructions: Path | None,
    *,
    quiet: bool = True,
) -> tuple[Book, Mill]:
    """Read the order book and the mill file of a plan that stands at `path`.

    What the book's warnings are is said where it may be another than the plan was made from.

    Raises
    ------
    click.UsageError
        One of them is not where the plan says; the option that names it is said.
    """
    from trimopt import read_mill

    mill = read_mill(mill_path or _found(plan.mill.name, path, "--mill"))
    if instructions is None and plan.instructions_from is not None:
        instructions = _found(plan.instructions_from.name, path, "--instructions")
    book = book or _found(plan.book.name, path, "--book")
    return load_book(book, mill, plan.as_of, quiet=quiet, instructions=instructions), mill


def _found(name: str, plan: Path, option: str) -> Path:
    """The file that a plan names: as written, or beside the plan."""
    from trimopt.text import one_form

    for path in (Path(name), Path(name.replace("\\", "/"))):  # an older plan made on Windows
        for candidate in (path, plan.parent / path, plan.parent.parent / path):
            if candidate.is_file():
                return candidate
            for other in candidate.parent.glob("*"):  # as a Mac writes it
                if one_form(other.name) == one_form(candidate.name):
                    return other
    message = f"{name}, which the plan was made from, is not here; name it with {option} FILE"
    raise click.UsageError(message)
