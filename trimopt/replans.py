"""A plan that was run in part: what ran is read, the rest is planned again and judged."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.edited_plans import judged
from trimopt.errors import FailedCheckError, FilledSheetError, LedgerError, PlanError, types_checked
from trimopt.plan.difference import difference_of
from trimopt.plan.model import RunPlan
from trimopt.plan.replan import DoneSet, Replan, WhatRan

if TYPE_CHECKING:
    from trimopt.book.model import Book
    from trimopt.budget import Budget
    from trimopt.errors import Fault
    from trimopt.ledger.ledger import Ledger
    from trimopt.ledger.match_rows import Entry, PlanSet
    from trimopt.mill.model import Mill
    from trimopt.plan.model import Plan, Request
    from trimopt.progress import RunProgress

_ALIKE = 0.02  # lengths of a jumbo that differ by no more may be of the same paper
_NOT_KEPT = "no plan of the rest that keeps it was found"
_NUMBERS = re.compile(r"(\d+)(?:\s*[-\N{EN DASH}]\s*(\d+))?")


@types_checked
def replan(
    plan: Plan,
    book: Book,
    mill: Mill,
    ran: WhatRan | None = None,
    *,
    now: datetime | None = None,
    keep_until: datetime | None = None,
    request: Request | None = None,
    budget: Budget | None = None,
    observer: Callable[[RunProgress], None] | None = None,
) -> Replan:
    """Plan the rest of a plan that was run in part.

    What was run stands as it ran, under its numbers; what orders still lack is planned for the book
    as it is now, from where the winder stands. To issue it, give its plan to `write_plan`.

    Parameters
    ----------
    plan
        The plan as issued.
    book, mill
        As they are now: lines may be new, changed or gone.
    ran
        What was run of it (`what_ran`); None: nothing.
    now
        When the next set may start. Default: when the last set that was run is finished as planned,
        and as much later as the winder is said to have stood. Before that: the crew was faster.
    keep_until
        Sets that start before it stay as issued, unless what is now known forbids one. Default: an
        hour from `now`. After it blocks stay whose change is not worth the mill's `disturbance`.
    request
        What is asked of the plan. Default: what was asked of the plan as issued.
    budget
        When to end with the best so far. Default: from now on the request's time limit.
    observer
        Told how far the search is, as that of `make_plan`; the loss is all paper that a run loses.

    Raises
    ------
    PlanError
        What is said to have run is none of the plan, or cannot have been so.
    OrderBookError, RequestError, InfeasibleError, OutOfTimeError
        As of `make_plan`.
    FailedCheckError
        The independent check finds that something does not hold.
    """
    from trimopt.budget import Budget  # noqa: PLC0415  slow to load, as what follows
    from trimopt.plan.planning.replanning.replanned_plan import replanned  # noqa: PLC0415

    request = request or plan.request
    ran = ran or WhatRan()
    made, forbidden = replanned(
        plan,
        book,
        mill,
        ran,
        now=now,
        keep_until=keep_until,
        request=request,
        budget=budget or Budget.lasting(request.time_limit_s),
        observer=observer,
    )
    made, findings = judged(made, book, mill, _NOT_KEPT)
    if findings:
        raise FailedCheckError.of(findings, " of the plan of the rest")
    assert made.replanned is not None
    return Replan(
        issued=plan,
        plan=made,
        difference=difference_of(plan, made),
        now=made.replanned.now,
        forbidden=forbidden,
        warnings=(*ran.warnings, *_listed_anew(plan, made, book), *_gone_from_stock(plan, book)),
    )


def _gone_from_stock(issued: Plan, book: Book) -> Iterator[str]:
    """Reels that the plan as issued takes from stock for an order, and that are listed no more."""
    listed, ordered = ({each.name for each in book.stock}, {each.number for each in book.orders})
    for number, _, reel in issued.stock_used:
        if reel.name not in listed and number in ordered:
            yield (
                f"stock reel {reel.name} is on the stock sheet no more, so what plan "
                f"{issued.number} takes from it for {number} is made: if it has been delivered, "
                "list it until the order is closed"
            )


def _listed_anew(issued: Plan, after: Plan, book: Book) -> Iterator[str]:
    """Jumbos that are new in the book and seem to be what is left of the one on the unwind."""
    known = {jumbo.name for run in issued.runs for jumbo in run.jumbos}
    known |= {jumbo.name for jumbo in issued.unused_jumbos}
    for run in after.runs:
        ended = [row.stretches[-1] for row in run.sets if row.done][-1:]
        for on, use in ((on, use) for on in ended for use in run.jumbos if use.name == on.jumbo):
            left_m = use.length_m - use.loss_start_m - on.to_m
            for jumbo in book.jumbos:
                alike = jumbo.grade.casefold() == run.grade.casefold()
                alike = alike and jumbo.width_mm == use.width_mm
                near = abs(jumbo.length_m - left_m) <= _ALIKE * left_m
                if alike and near and jumbo.name not in known:
                    yield (
                        f"jumbo {jumbo.name} is new in the book with {jumbo.length_m:,} m, and "
                        f"{left_m:,} m are left of {use.name} on the unwind: if they are the same "
                        f"paper, it counts twice: take {jumbo.name} out of the book"
                    )


def what_ran(
    plan: Plan,
    done: Sequence[str] = (),
    *,
    spoiled: Sequence[str] = (),
    as_run: str | os.PathLike[str] | None = None,
    ledger: Ledger | None = None,
) -> WhatRan:
    """Say what was run of a plan.

    Parameters
    ----------
    plan
        The plan as issued.
    done
        Sets, by their numbers: `1-23`, `1-5, 8`. Of a plan with several runs the run stands before
        them: `Kraft liner 125 g/m²: 1-23`, or `all` in place of numbers.
    spoiled
        Reels that are no good: a set and positions from the front side, `24: 3, 5`, or a set alone
        for all of it; the run before it, as above.
    as_run
        The plan's workbook as the crew filled it in, or a csv of its sheet "As run".
    ledger
        Takes what is recorded of the plan there.

    Raises
    ------
    PlanError
        A text is none of these; a set is none of the plan; or it is not known which of a set's
        reels were rejected.
    LedgerError
        The sheet or the ledger cannot be read, nothing is filled in, or a row matches no set of
        the plan.
    """
    lost = dict(_spoiled(plan, _texts(spoiled)))
    found = {(each.run, each.number): each for each in _named(plan, _texts(done))}
    recorded = () if ledger is None else ledger.recorded(plan)
    entries = {(each.place, each.number): each for each in recorded}
    warnings: tuple[Fault, ...] = ()
    if as_run is not None:
        entries, warnings = _filled(plan, as_run, entries)
    from trimopt.ledger.match_rows import sets_of  # noqa: PLC0415  slow to load

    sets = sets_of(plan)
    stopped = 0.0
    for entry in entries.values():
        each = sets[entry.place, entry.number]
        key = each.run.name, entry.number
        run = _as_run(entry, each, known=key in lost)
        if run is not None:
            found[key] = run
        stopped += entry.minutes_stopped or 0.0
    for key, positions in lost.items():
        if key not in found:
            raise PlanError(f"set {key[1]} of {key[0]} is not said to have been run")
        found[key] = replace(found[key], spoiled=positions)
    return WhatRan(
        sets=tuple(found.values()),
        jumbo_m=tuple((name, round(m)) for name, m in _measured(entries, sets, "jumbo_length_m")),
        jumbo_mm=tuple(_measured(entries, sets, "jumbo_width_mm")),
        stopped=timedelta(minutes=stopped),
        warnings=tuple(map(str, warnings)),
    )


def _texts(given: Sequence[str]) -> Sequence[str]:
    """Texts, of which one may stand alone: it is not read letter by letter."""
    return (given,) if isinstance(given, str) else given


def _measured(
    entries: Mapping[tuple[int, int], Entry],
    sets: Mapping[tuple[int, int], PlanSet],
    figure: str,
) -> Iterable[tuple[str, float]]:
    """A figure of jumbos, by name, where it was measured beside a set wound off one alone."""
    found: dict[str, float] = {}
    for key, entry in entries.items():
        jumbos, measured = sets[key].row.jumbos, getattr(entry, figure)
        if measured is not None and len(jumbos) == 1:
            found[jumbos[0]] = measured
    return found.items()


def _named(plan: Plan, texts: Iterable[str]) -> Iterator[DoneSet]:
    for text in texts:
        run, numbers = _run_of(plan, text)
        for number in _sets_named(text, run, numbers):
            yield DoneSet(run=run.name, number=number)


def _sets_named(text: str, run: RunPlan, numbers: str) -> Iterable[int]:
    """Sets of a run as a text names them."""
    known = [row.number for row in run.sets]
    if numbers.casefold() == "all":
        return known
    its = f"its sets are {min(known)} to {max(known)}" if known else "it has none"
    return _figures(text, numbers, known, f"{run.name} has no set {{}}: {its}")


def _run_of(plan: Plan, text: str) -> tuple[RunPlan, str]:
    """The run that a text begins with, and what stands behind it."""
    for run in sorted(plan.runs, key=lambda run: -len(run.name)):
        if text.strip().casefold().startswith(f"{run.name.casefold()}:"):
            return run, text.strip()[len(run.name) + 1 :].strip()
    if len(plan.runs) == 1:
        return plan.runs[0], text.strip()
    names = ", ".join(f'"{run.name}"' for run in plan.runs)
    raise PlanError(f'"{text}" names no run of plan {plan.number}: put one before it: {names}')


def _figures(text: str, numbers: str, known: Sequence[int], unknown: str) -> Iterator[int]:
    """Figures such as 1-5, 8, each one of those `known`; `unknown` says that one is not."""
    for part in numbers.split(","):
        found = _NUMBERS.fullmatch(part.strip())
        if found is None:
            raise PlanError(f'"{text}": sets are named as 1-23 or 1-5, 8')
        first, last = int(found[1]), int(found[2] or found[1])
        if last < first:
            raise PlanError(f'"{text}": {first} to {last} is no set: write {last}-{first}')
        for number in range(first, last + 1):
            if number not in known:  # so that a range may be however long
                raise PlanError(f'"{text}": {unknown.format(number)}')
            yield number


def _spoiled(plan: Plan, texts: Iterable[str]) -> Iterator[tuple[tuple[str, int], tuple[int, ...]]]:
    for text in texts:
        run, rest = _run_of(plan, text)
        sets, _, places = rest.partition(":")
        reels = {row.number: [r.number for r in block.reels] for block, row in run.sets_in_blocks}
        for wanted in _sets_named(text, run, sets):
            its = reels[wanted]
            lie = f"the reels of set {wanted} lie at {', '.join(map(str, its))}"
            named = _figures(text, places, its, lie) if places.strip() else its
            yield (run.name, wanted), tuple(named)


def _as_run(entry: Entry, each: PlanSet, *, known: bool) -> DoneSet | None:
    """A set as the crew wrote it; None where nothing was wound of it."""
    metres = None if entry.length_wound_m is None else round(entry.length_wound_m)
    if not entry.done:
        if not metres:
            return None
        lost = [reel.number for reel in each.block.reels]
    else:
        lost = [] if known else _rejected(each, entry.reels_rejected or 0)
    return DoneSet(run=each.run.name, number=entry.number, length_m=metres, spoiled=tuple(lost))


def _rejected(each: PlanSet, count: int) -> list[int]:
    """Positions of so many rejected reels: which of them, where all are alike, is all one."""
    reels = each.block.reels
    alike = len({(position.order, position.width_mm) for position in reels}) == 1
    if 0 < count < len(reels) and not alike:
        raise PlanError(
            f"set {each.row.number} of {each.run.name}: reels rejected: {count}, and its reels "
            f"are for different orders: say which with --spoiled {each.row.number}:3,5 "
            "(positions from the front side)"
        )
    return [position.number for position in reels[len(reels) - count :]]


def _filled(
    plan: Plan, path: str | os.PathLike[str], recorded: Mapping[tuple[int, int], Entry]
) -> tuple[dict[tuple[int, int], Entry], tuple[Fault, ...]]:
    """What is entered of each set: on the sheet, else in the ledger; and warnings of the sheet."""
    from trimopt.ledger.as_run_file import read_filled  # noqa: PLC0415  slow to load
    from trimopt.ledger.match_rows import match, two_lengths  # noqa: PLC0415  the same

    filled = read_filled(Path(path))
    entries, faults = match(plan, filled.rows)
    if not entries and not filled.faults and not faults:
        raise LedgerError(
            f'{path}: no set has yes or no under "Done", or anything measured: fill the sheet in '
            "first, or leave it out where nothing was run"
        )
    together = {**recorded, **{(each.place, each.number): each for each in entries}}
    every = [*filled.faults, *faults] or two_lengths(plan, filled.rows, together.values())
    if every:
        raise FilledSheetError(str(path), tuple(sorted(every, key=lambda fault: fault.row or 0)))
    return together, filled.warnings
