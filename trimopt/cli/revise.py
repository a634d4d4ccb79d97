"""`trimopt revise`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trimopt.cli import ledger_options
from trimopt.cli.options import (
    FILE,
    file_option,
    made_from,
    made_from_options,
    output_options,
    plans_option,
)
from trimopt.cli.output import say

if TYPE_CHECKING:
    from trimopt import Plan, Revision


@click.command("revise")
@click.argument("edited", type=FILE)
@file_option(
    "--plan",
    "issued",
    words="For an edited JSON file: the plan as issued. Default: the file with its number.",
)
@made_from_options
@click.option("--issue", is_flag=True, help="Write it as the next plan, where everything holds.")
@ledger_options.who_options("revised it")
@plans_option
@ledger_options.ledger_option
@output_options
def command(
    edited: Path,
    issued: Path | None,
    book: Path | None,
    mill_path: Path | None,
    instructions: Path | None,
    issue: bool,
    by: str | None,
    why: str | None,
    out: Path,
    ledger: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Say what does not hold of a plan that a person edited, and what the edit does.

    EDITED is a plan's workbook, changed on its sheet Sets, or its JSON file. What follows from the
    edit is worked out anew. With --issue it is written as the next plan.

    Exit code 0 when everything holds, 7 when something does not.

    Example: trimopt revise reports/shift-1.xlsx
    """
    from trimopt import FailedCheckError, read_edited, revise_plan

    by, why = ledger_options.who_and_why(by, why, into=out if issue else None, needed=True)
    read = read_edited(edited, issued, folder=out)
    orders, mill = made_from(read.issued, edited, book, mill_path, instructions)
    kept_in = ledger_options.find_ledger(ledger, mill, quiet=quiet)
    if not quiet:
        ledger_options.say_standing(read.issued, (edited.parent, out), kept_in)
        _say_filled_in(read.issued, edited)
    revision = revise_plan(read, orders, mill)
    written = None
    if issue and not revision.changed:
        raise click.UsageError(f"nothing was changed of plan {read.issued.number}")
    if issue and not revision.faults:
        signed = revision.signed(by, why)
        written = ledger_options.issue_next(signed, orders, mill, out, kept_in, revision.difference)
    if as_json:
        ledger_options.say_difference(_found(revision), revision.difference, written)
    else:
        from trimopt.report.terminal.plan_terminal import print_revision

        print_revision(revision)
    if revision.faults:
        raise click.exceptions.Exit(FailedCheckError.exit_code)
    if written is not None:
        ledger_options.say_written(written, as_json=as_json)


def _say_filled_in(issued: Plan, edited: Path) -> None:
    """Warn where the crew filled in the sheet As run of the workbook."""
    from trimopt import LedgerError, PlanError, what_ran
    from trimopt.errors import FilledSheetError

    if edited.suffix.lower() != ".xlsx":
        return
    try:
        count = len(what_ran(issued, as_run=edited).sets)
    except (FilledSheetError, PlanError):
        count = 1
    except LedgerError:  # the sheet was taken out
        count = 0
    if count:
        said = "warning: its sheet As run is filled in, and all sets are taken here as still to run"
        say(f"{said}: trimopt replan --as-run {edited} goes on from what was run", err=True)


def _found(revision: Revision) -> dict[str, object]:
    return {
        "plan": revision.edited.issued.number,
        "changes": revision.edited.changes,
        "faults": [
            {"run": each.run, "sets": each.sets, "order": each.order, "what": each.what}
            for each in revision.faults
        ],
    }
