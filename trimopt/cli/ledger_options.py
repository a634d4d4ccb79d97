"""How commands find the ledger: an option, an environment variable, or the mill file."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trimopt.cli.options import F, file_option, load_mill, together
from trimopt.cli.output import counted, say, say_fields
from trimopt.whole_files import require_writable

if TYPE_CHECKING:
    from trimopt import Book, Ledger, Mill, Order, Plan, PlanDifference, WhatRan, WrittenPlan

ENVIRONMENT = "TRIMOPT_LEDGER"

ledger_option = click.option(
    "--ledger",
    metavar="URL",
    envvar=ENVIRONMENT,
    help=f"The ledger: a file, or the URL of a database. Default: the environment variable "
    f"{ENVIRONMENT}, then the mill file's [ledger] url.",
)

mill_beside_option = file_option(
    "--mill",
    "mill_path",
    words="The mill file. Default: mill.toml beside the plan or the ledger named, else in "
    "this folder.",
)


def who_options(done: str) -> Callable[[F], F]:
    """Who issues the next plan, and why: `done` says what they did."""
    return together(
        click.option("--by", metavar="NAME", help=f"Who {done}: printed on the plan issued."),
        click.option("--why", metavar="TEXT", help="Why: printed on the plan issued."),
    )


def who_and_why(
    by: str | None, why: str | None, *, into: Path | None, needed: bool
) -> tuple[str, str]:
    """Both or neither, and only of a plan that is issued: into a folder that takes files.

    Raises
    ------
    click.UsageError
        One stands without the other or without `--issue`, or both are needed for it and lack.
    ReportError
        Nothing can be written into the folder.
    """
    by, why = (by or "").strip(), (why or "").strip()
    if (by or why) and into is None:
        raise click.UsageError("--by and --why go with --issue: without it nothing is written")
    if into is not None and not (by and why) and (needed or by or why):
        asked = "--issue needs" if needed else "--by and --why go together: give"
        raise click.UsageError(f"{asked} --by NAME and --why TEXT: both stand on the plan")
    if into is not None:
        require_writable(into)
    return by, why


def find_ledger(named: str | None, mill: Mill | None, *, quiet: bool) -> Ledger | None:
    """The ledger that is named, or else the mill file's; None where neither names one.

    A file that the mill file names stands beside the mill file, wherever the command is called. An
    older ledger is brought up to date, and that is said.

    Raises
    ------
    LedgerError
        What is named is no ledger.
    """
    from trimopt import open_ledger

    if named:
        ledger = open_ledger(named)
    elif mill is not None and mill.ledger:
        ledger = open_ledger(mill.ledger, beside=mill.source)
    else:
        return None
    lacked = ledger.migrate()
    if lacked and not quiet:
        said = f"the ledger was of an older version and is brought up to date: {', '.join(lacked)}"
        say(said, err=True)
    return ledger


def issue_next(
    plan: Plan,
    book: Book,
    mill: Mill,
    out: Path,
    ledger: Ledger | None,
    changes: PlanDifference | None,
) -> WrittenPlan:
    """Write a plan that goes on from another, with what it changes."""
    from trimopt import plan_workers, write_plan

    taken = () if ledger is None else ledger.numbers()
    with plan_workers(book, None) as workers:
        return write_plan(
            plan,
            book,
            mill,
            out,
            request=plan.request,
            ledger=ledger,
            taken=taken,
            changes=changes,
            workers=workers,
        )


def say_written(written: WrittenPlan, *, as_json: bool) -> None:
    """Say where a plan was written, and how the ledger took it.

    Raises
    ------
    LedgerError
        The ledger did not take it.
    """
    for path in written.files:
        say(f"written: {path}", err=as_json)
    if written.ledger_error is not None:
        raise written.ledger_error
    if written.kept is not None:
        replaced = f", in place of {written.kept.replaced}" if written.kept.replaced else ""
        say(f"kept in the ledger{replaced}", err=as_json)
        if written.kept.note:
            say(f"note: {written.kept.note}", err=True)


def say_difference(
    found: Mapping[str, object], difference: PlanDifference | None, written: WrittenPlan | None
) -> None:
    """Print as JSON what was found, what changes, and the number issued; empty where none was."""
    from trimopt import difference_json

    changes = None if difference is None else json.loads(difference_json(difference))
    issued = "" if written is None else written.plan.number
    say_fields({**found, "difference": changes, "issued": issued})


def newest_in(folders: Iterable[Path], plan: Plan) -> str:
    """The number of the last plan of these folders that goes on from a plan, else empty."""
    from trimopt import newest_after

    return next(filter(None, (newest_after(plan, folder) for folder in folders)), "")


def say_standing(
    plan: Plan, folders: Iterable[Path], ledger: Ledger | None, ran: WhatRan | None = None
) -> None:
    """Warn where a newer plan stands in place of a plan, or more of it is recorded as run.

    Parameters
    ----------
    folders
        Where plans stand.
    ran
        What is taken as run of it; None: nothing can be.
    """
    there = ledger if ledger is not None and ledger.is_there() else None
    newest = there.newest_after(plan) if there else ""
    if newest := newest or newest_in(folders, plan):
        said = (
            f"warning: plan {newest} stands in place of {plan.number} by now: go on from that one"
        )
        say(said, err=True)
    recorded = {
        (plan.runs[each.place - 1].name, each.number)
        for each in (there.recorded(plan) if there else ())
        if each.done or each.length_wound_m
    }
    if left := recorded - {(each.run, each.number) for each in (ran.sets if ran else ())}:
        said = f"warning: {counted(len(left), 'set')} of {plan.number} recorded as run, to run here"
        say(f"{said}: trimopt replan --recorded goes on from what is recorded", err=True)


def today() -> date:
    """The day by this machine's clock: what is held ends with its day. Nothing else looks at it."""
    return datetime.now().astimezone().date()


def held_now(ledger: Ledger, mill: Mill) -> tuple[Order, ...]:
    """What is held today on the mill's winder."""
    return ledger.held(mill.name, mill.winder.name, on=today())


def mill_beside(
    mill_path: Path | None, plan: Path | None, ledger: str | None, *, quiet: bool
) -> Mill | None:
    """The mill file given, or mill.toml beside the plan, else the ledger, else in this folder.

    It is said which one is taken; None where there is none.

    Raises
    ------
    MillFileError
        It has faults.
    LedgerError
        What is named is no ledger.
    """
    from trimopt import open_ledger

    if mill_path is not None:
        return load_mill(mill_path, None)
    folders = [plan.parent] if plan is not None else []
    if ledger and (url := open_ledger(ledger).url).get_backend_name() == "sqlite":
        folders.append(Path(str(url.database)).parent)
    for folder in (*folders, Path()):
        if (found := folder / "mill.toml").is_file():
            if not quiet:
                say(f"mill file: {found}", err=True)
            return load_mill(found, None)
    return None


def require_ledger(named: str | None, mill: Mill | None, *, quiet: bool) -> Ledger:
    """The ledger as `find_ledger` gives it.

    Raises
    ------
    click.UsageError
        No ledger is named anywhere.
    """
    ledger = find_ledger(named, mill, quiet=quiet)
    if ledger is None:
        message = (
            f"no ledger is named; give --ledger URL, set {ENVIRONMENT}, or name one under [ledger] "
            "in the mill file and give that with --mill FILE"
        )
        raise click.UsageError(message)
    return ledger
