"""`trimopt verify`."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trimopt.cli.options import FILE, load_book, mill_option, output_options
from trimopt.cli.saying import say, say_json

if TYPE_CHECKING:
    from trimopt.plan.model import Plan

__all__ = ["command"]


@click.command("verify")
@click.argument("plan", type=FILE)
@click.option(
    "--book",
    type=FILE,
    metavar="FILE",
    help="The order book. Default: the file that the plan names.",
)
@mill_option
@click.option(
    "--instructions",
    type=FILE,
    metavar="FILE",
    help="The file of instructions. Default: the file that the plan names, where it names one.",
)
@output_options
def command(
    plan: Path,
    book: Path | None,
    mill_path: Path | None,
    instructions: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Check a plan, edited or not, against its book and mill; say what no longer holds.

    PLAN is the JSON file or the workbook. In the workbook a person may change the sheet that lists
    the sets: a width, a count, the order of sets.

    Exit code 0 when everything holds, 7 when something does not.

    Example: trimopt verify reports/shift-1.json
    """
    from trimopt import FailedCheckError, read_mill, verify_plan

    kept, notes = _read(plan)
    mill = read_mill(mill_path or _found(kept.mill.name, plan, "--mill"))
    if instructions is None and kept.instructions_from is not None:
        instructions = _found(kept.instructions_from.name, plan, "--instructions")
    book = book or _found(kept.book.name, plan, "--book")
    orders = load_book(book, mill, kept.as_of, quiet=True, instructions=instructions)
    if not quiet:
        for note in notes:
            say(f"changed: {note}", err=True)
    findings = verify_plan(kept, orders, mill)
    if as_json:
        found = {"plan": kept.number, "findings": [asdict(finding) for finding in findings]}
        say_json(json.dumps(found, indent=1))
    else:
        for finding in findings:
            say(str(finding))
        verdict = "everything holds" if not findings else f"{len(findings)} things do not hold"
        say(f"{kept.number}: {verdict}")
    if findings:
        raise click.exceptions.Exit(FailedCheckError.exit_code)


def _read(path: Path) -> tuple[Plan, tuple[str, ...]]:
    """A plan from its JSON file or its workbook, with the changes made in the workbook."""
    from trimopt import read_plan

    if path.suffix.lower() != ".xlsx":
        return read_plan(path), ()
    from trimopt.report.read_back.plan_from_workbook import read_back

    back = read_back(path)
    return back.plan, back.changes


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
