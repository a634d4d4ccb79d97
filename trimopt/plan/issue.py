"""Issuing a plan: a number that nothing bears, and its files together or not at all.

The files are made in a hidden folder beside the plans, `.shift-2.issue`; making that folder takes
the number. The JSON is written into it last: once it stands there, all of them are whole, and they
are moved to their names, the JSON last again. A program that is killed before leaves nothing but
the hidden folder; one that is killed among the moves has them finished by the next program that
looks into the folder of plans (`finish`).
"""

from __future__ import annotations

import json
import os
import re
import shutil
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from trimopt.errors import ReportError, types_checked
from trimopt.plan.codec import plan_json
from trimopt.plan.model import Plan
from trimopt.text import one_form
from trimopt.whole_files import sync_folder, write_whole

_ABANDONED_S = 3600  # files are made in seconds; an unfinished folder of an hour ago is left over


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A plan under its number, and its files, the JSON last."""

    plan: Plan
    files: tuple[Path, ...]
    finished: tuple[str, ...]  # plans whose writing was cut short and that are whole now


def issue(
    plan: Plan,
    folder: Path,
    stem: str,
    write: Callable[[Plan, Path], None],
    *,
    kept: Iterable[str] = (),
    standing: str = "",
) -> Issued:
    """Give a plan the next number of its book and write its files.

    Parameters
    ----------
    plan
        A plan that was checked; its number is set here, and what it replaces where it does not say.
        One that goes on from another is numbered after it, whatever stands in the folder.
    folder
        Where plans stand; it is made where there is none.
    stem
        The name of the book, of which numbers are made: shift-1, shift-2, ...
    write
        Writes the files of a numbered plan, all but its JSON, into a folder.
    kept
        Numbers that a ledger has, which are not taken either.
    standing
        The ledger's plan of the same book, maybe issued at another desk; replaced where the folder
        has no newer one.

    Raises
    ------
    ReportError
        The files cannot be written, or a newer plan stands there than the one that this plan says
        it replaces; then none of them stands.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        finished = finish(folder)
        replaces = _replaced(plan, folder, stem)
        if _count(standing, stem) > _count(replaces, stem):
            replaces = standing
        replaces = plan.replaces or replaces
        number, stage = _reserved(folder, stem, (*kept, replaces))
        issued = replace(plan, number=number, replaces=replaces)
        try:
            write(issued, stage)
            names = sorted(path.name for path in stage.iterdir())
            finished += finish(folder)  # another desk may have issued the next one meanwhile
            _replaced(plan, folder, stem)
            write_whole(stage / f"{number}.json", plan_json(issued))
        except BaseException:
            shutil.rmtree(stage, ignore_errors=True)
            raise
    except (OSError, ReportError) as fault:
        cause = fault if isinstance(fault, OSError) else fault.__cause__
        if not isinstance(cause, OSError):
            raise
        message = (
            f"{folder}: nothing of the plan was written: {cause.strerror or cause}; make room "
            "there, or name another folder with --out DIR"
        )
        raise ReportError(message) from fault
    names.append(f"{number}.json")
    return Issued(plan=issued, files=_moved(stage, names), finished=finished)


def _replaced(plan: Plan, folder: Path, stem: str) -> str:
    """The plan of the same work that stands there; none newer than what this says it replaces."""
    found = newest(folder, stem, partial(_same_work, plan))
    if plan.replaces and _count(found, stem) > _count(plan.replaces, stem):
        message = (
            f"{folder}: plan {found} is newer than {plan.replaces}, which this would "
            f"replace; revise or replan {found}"
        )
        raise ReportError(message)
    return found


@types_checked
def newest_after(plan: Plan, folder: Path) -> str:
    """The number of the newest later plan for some of its orders; empty where there is none."""
    stem = plan.number.rpartition("-")[0]
    found = newest(folder, stem, partial(_same_work, plan))
    return found if _count(found, stem) > _count(plan.number, stem) else ""


def newest(
    folder: Path,
    stem: str,
    fits: Callable[[Mapping[str, Any]], bool] = lambda _: True,
    holding: Iterable[str] = (),
) -> str:
    """The number of the newest plan of a book in the folder; empty where there is none.

    Parameters
    ----------
    fits
        Whether a plan is one of those that are meant, from the fields of its JSON; from none where
        the file cannot be read.
    holding
        Texts that stand in the files of those that are meant: no other is parsed.

    Examples
    --------
    >>> import tempfile
    >>> folder = Path(tempfile.mkdtemp())
    >>> newest(folder, "shift")
    ''
    >>> (folder / "shift-1.json").touch()
    >>> newest(folder, "shift")
    'shift-1'
    """
    plans = [path.stem for path in folder.glob("*.json") if not path.name.startswith(".")]
    counted = sorted((name for name in plans if _count(name, stem, "$")), key=_last, reverse=True)
    texts = tuple(text.encode() for text in holding)
    return next((name for name in counted if fits(_fields(folder / f"{name}.json", texts))), "")


def _fields(path: Path, holding: Iterable[bytes]) -> Mapping[str, Any]:
    try:
        text = path.read_bytes()
        data = json.loads(text) if all(part in text for part in holding) else {}
    except (OSError, ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}


def _same_work(plan: Plan, data: Mapping[str, Any]) -> bool:
    """Whether a plan is replaced by this one: of the same winder, for some of the same orders."""
    if (data.get("mill_name"), data.get("winder")) != (plan.mill_name, plan.winder):
        return False
    ordered = plan.order_numbers
    try:
        return any(line["number"] in ordered for run in data["runs"] for line in run["orders"])
    except (LookupError, TypeError):
        return False


def finish(folder: Path) -> tuple[str, ...]:
    """Put the files in place of every plan whose program was killed among the moves.

    Returns
    -------
    tuple of str
        The numbers of those plans. What an unfinished writing of long ago left is removed.
    """
    finished = []
    for stage in sorted(folder.glob(".*.issue")):
        number = stage.name.removeprefix(".").removesuffix(".issue")
        with suppress(OSError):  # whoever issues it has finished it, or the folder is read only
            if (stage / f"{number}.json").is_file():
                names = (path.name for path in stage.iterdir())
                _moved(stage, sorted(names, key=lambda name: (name.endswith(".json"), name)))
                finished.append(number)
            elif time.time() - stage.stat().st_mtime > _ABANDONED_S:
                shutil.rmtree(stage)
    return tuple(finished)


def _reserved(folder: Path, stem: str, kept: tuple[str, ...]) -> tuple[str, Path]:
    """A number that no file and no plan of the ledger bears, and the folder that takes it."""
    stem = one_form(stem)
    while True:
        names = (*kept, *os.listdir(folder))
        number = f"{stem}-{max((_count(name, stem) for name in names), default=0) + 1}"
        stage = folder / f".{number}.issue"
        try:
            stage.mkdir()
        except FileExistsError:
            continue
        # Another program may have taken the number and finished since the names were listed.
        count = _count(number, stem)
        if all(_count(name, stem) != count for name in os.listdir(folder) if name != stage.name):
            return number, stage
        stage.rmdir()


def _count(name: str, stem: str, end: str = r"(?!\d)") -> int:
    """The count in a file's name or a number: 2 of "shift-2-labels.csv"; 0 where it has none.

    Letters are compared as a Mac or a Windows desk compares them, which may share the folder.
    """
    name, stem = (one_form(text).casefold() for text in (name, stem))
    found = re.match(rf"(?:\.|~\$|\.~lock\.)?{re.escape(stem)}-([0-9]{{1,9}}){end}", name)
    return int(found[1]) if found else 0


def _last(name: str) -> int:
    return int(name.rpartition("-")[2])


def _moved(stage: Path, names: Sequence[str]) -> tuple[Path, ...]:
    """Move the files of a whole plan to their places, in the order given, and none over another.

    Raises
    ------
    ReportError
        A person put a file under such a name in these seconds; that one stays.
    """
    targets = tuple(stage.parent / name for name in names)
    for target in targets:
        try:
            _move_new(stage / target.name, target)
        except FileNotFoundError:
            continue  # another program finishes the same plan
        except FileExistsError as fault:
            message = (
                f"{target}: another file of this name was put there meanwhile; move it away and "
                f"plan again: the rest of the plan waits in {stage}"
            )
            raise ReportError(message) from fault
    with suppress(OSError):
        stage.rmdir()
        sync_folder(stage.parent)
    return targets


def _move_new(path: Path, target: Path) -> None:
    try:
        os.link(path, target)
    except FileExistsError:
        if not path.samefile(target):
            raise
    except FileNotFoundError:
        raise
    except OSError:  # a file system without links
        if target.exists():
            raise FileExistsError(target) from None
        path.rename(target)
        return
    path.unlink()
