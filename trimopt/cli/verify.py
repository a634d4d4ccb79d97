"""`trimopt verify`."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from trimopt.cli.options import FILE, made_from, made_from_options, output_options
from trimopt.cli.output import counted, say, say_fields


@click.command("verify")
@click.argument("plan", type=FILE)
@made_from_options
@output_options
def command(
    plan: Path,
    book: Path | None,
    mill_path: Path | None,
    instructions: Path | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Check a plan as it was issued against its book and mill; say what does not hold.

    PLAN is the JSON file or the workbook. Of a workbook that was changed since, the changes are
    named: trimopt revise says what they do.

    Exit code 0 when everything holds, 7 when something does not, or the plan was changed.

    Example: trimopt verify reports/shift-1.json
    """
    from trimopt import FailedCheckError, read_edited, read_plan, verify_plan
    from trimopt.errors import do_not_hold

    changes: tuple[str, ...] = ()
    if plan.suffix.lower() == ".xlsx":
        edited = read_edited(plan)
        kept, changes = edited.issued, edited.changes
    else:
        kept = read_plan(plan)
    orders, mill = made_from(kept, plan, book, mill_path, instructions)
    findings = verify_plan(kept, orders, mill)
    if as_json:
        found = {
            "plan": kept.number,
            "findings": [asdict(finding) for finding in findings],
            "changes": changes,
        }
        say_fields(found)
    else:
        for finding in findings:
            say(str(finding))
        verdict = "everything holds" if not findings else do_not_hold(len(findings))
        say(f"{kept.number}{' as issued' if changes else ''}: {verdict}")
    if changes and not quiet:
        for change in changes:
            say(f"changed: {change}", err=True)
    if stale := [one for one in findings if one.what.startswith("fingerprint of the ")]:
        what = " and ".join(one.what.removeprefix("fingerprint of the ") for one in stale)
        said = f"it was made from another {what}, or that was changed since"
        say(f"{said}: name it as it was with --book or --mill, or plan anew", err=True)
        raise click.exceptions.Exit(FailedCheckError.exit_code)
    if changes or findings:
        reason = f"{counted(len(changes), 'change')} since" if changes else "if it was edited"
        say(f"{reason}: trimopt revise {plan} says what holds of it and what it does", err=True)
        raise click.exceptions.Exit(FailedCheckError.exit_code)
