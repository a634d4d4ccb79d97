"""Options that commands share, and how they find the mill file and what a plan was made from."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping
from contextlib import nullcontext, suppress
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from zipfile import BadZipFile, ZipFile

import click

from trimopt.budget import MAX_PLAN_S
from trimopt.cli.output import fault_lines, say
from trimopt.errors import TrimoptError
from trimopt.whole_files import require_writable

if TYPE_CHECKING:
    from trimopt import Book, Mill, Plan

MAX_TIME_LIMIT_S = 86_400
EFFORTS = ("quick", "normal", "thorough")  # those of `trimopt.Effort`, which is slow to import
F = TypeVar("F", bound=Callable[..., object])

TIMES = ["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"]
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


class LookedAtPath(click.Path):
    """A file that is looked at before the command begins; `look` raises where it will not do."""

    def __init__(self, look: Callable[[Path], None], **rules: Any) -> None:
        super().__init__(dir_okay=False, **rules)
        self._look = look

    def convert(
        self,
        value: str | os.PathLike[str],
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Path:
        """The path, if it will do."""
        path = Path(str(super().convert(value, param, ctx)))
        self._look(path)
        return path


def _require_no_plan(path: Path) -> None:
    """Refuse a plan's file where an order book belongs."""
    if path.suffix.lower() == ".json" or _has_plan_sheet(path):
        from trimopt import read_plan

        with suppress(TrimoptError):
            book = read_plan(path).book.name
            message = f"{path} is a plan; name the order book that it was made from, {book}."
            raise click.BadParameter(message)


def _has_plan_sheet(path: Path) -> bool:
    """Whether it is the workbook of a plan, told without opening it."""
    with suppress(OSError, BadZipFile, KeyError), ZipFile(path) as archive:
        return b'name="plan"' in archive.read("xl/workbook.xml")
    return False


NEW_FILE = LookedAtPath(require_writable)
BOOK = LookedAtPath(_require_no_plan, exists=True)
book_argument = click.argument("book", type=BOOK)


def file_option(*names: str, words: str, kind: click.Path = FILE) -> Callable[[F], F]:
    """An option that takes a file: one that is there, where its kind is none of the above."""
    return click.option(*names, type=kind, metavar="FILE", help=words)


mill_option = file_option(
    "--mill", "mill_path", words="The mill file. Default: mill.toml beside the order book."
)
instructions_option = file_option(
    "--instructions",
    words="Instructions to keep: a csv or xlsx file, or a plan's workbook with its sheet "
    "Instructions filled in. Default: the book's own sheet Instructions.",
)
plans_option = click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("reports"),
    show_default=True,
    metavar="DIR",
    help="The folder of the plans.",
)
leave_out_faulty_option = click.option(
    "--leave-out-faulty",
    is_flag=True,
    help="Use the valid lines of a book with faults; those left out are named.",
)


class Figure(click.FloatRange):
    """A number of a range; "nan" is none, and "inf" lies in no range."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number, or wrong usage."""
        figure: float = super().convert(value, param, ctx)
        if not math.isfinite(figure):
            self.fail(f"{value!r} is no number.", param, ctx)
        return figure


class Moment(click.DateTime):
    """A moment that a mill plans for."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        """The moment, or wrong usage."""
        try:
            moment: datetime = super().convert(value, param, ctx)
        except click.BadParameter:
            example = datetime(2026, 11, 23, 9).strftime(self.formats[-1])  # noqa: DTZ001
            self.fail(f'{value!r} is not written as "{example}".', param, ctx)
        if not 2000 <= moment.year <= 2099:
            self.fail(f"{value!r} does not lie between 2000 and 2099.", param, ctx)
        return moment


def _day(ctx: click.Context, param: click.Parameter, value: datetime | None) -> date | None:
    del ctx, param
    return None if value is None else value.date()


DAY: Mapping[str, Any] = {"type": Moment(["%Y-%m-%d"]), "callback": _day, "metavar": "DATE"}
"""An option that takes a day."""

as_of_option = click.option(
    "--as-of",
    **DAY,
    help="The day on which overdue lines are judged. Default: the book's (As of).",
)


def together(*options: Callable[[F], F]) -> Callable[[F], F]:
    """One decorator for some options, which are listed in their order."""

    def applied(function: F) -> F:
        for option in reversed(options):
            function = option(function)
        return function

    return applied


output_options = together(
    click.option("--json", "as_json", is_flag=True, help="Print the result as JSON."),
    click.option("--quiet", is_flag=True, help="Print no progress and no warnings."),
)
"""The last of every command that has a result."""


def time_limit_option(default: float | None, words: str) -> Callable[[F], F]:
    """`--time-limit`, in seconds of a day at the most; None: the words say the default."""
    return click.option(
        "--time-limit",
        type=Figure(0.1, MAX_TIME_LIMIT_S),
        default=default,
        show_default=default is not None,
        metavar="SECONDS",
        help=words,
    )


search_options = together(
    time_limit_option(
        MAX_PLAN_S, "For the whole book. What is found by then is kept, with its gap."
    ),
    click.option(
        "--seed",
        type=click.IntRange(0, 2**31 - 1),
        default=0,
        metavar="N",
        show_default=True,
        help="Where the search begins: of equally good plans, which one is found.",
    ),
    click.option(
        "--effort",
        type=click.Choice(EFFORTS),
        default="normal",
        show_default=True,
        help="How hard to look for less loss, fewer set-ups and knife moves.",
    ),
)
made_from_options = together(
    file_option(
        "--book", kind=BOOK, words="The order book. Default: the file that the plan names."
    ),
    file_option(
        "--mill", "mill_path", words="The mill file. Default: the file that the plan names."
    ),
    file_option(
        "--instructions",
        words="The file of instructions. Default: the file that the plan names, where it names "
        "one.",
    ),
)


def load_mill(mill_path: Path | None, beside: Path | None) -> Mill:
    """The mill file given, or mill.toml beside the book.

    Raises
    ------
    click.UsageError
        There is none.
    MillFileError
        It has faults.
    ReportError
        The mill's file of texts has faults: told before anything is planned.
    """
    from trimopt import read_mill
    from trimopt.report.words.texts import require_fitting

    if mill_path is None:
        mill_path = (beside.parent if beside is not None else Path()) / "mill.toml"
        if not mill_path.is_file():
            message = (
                f"there is no {mill_path}; name the mill file with --mill FILE, or lay one down "
                "with: trimopt start DIR"
            )
            raise click.UsageError(message)
    require_fitting()
    return read_mill(mill_path)


def load_book(
    path: Path,
    mill: Mill,
    as_of: date | None,
    *,
    quiet: bool,
    instructions: Path | None = None,
    meanwhile: Callable[[], object] | None = None,
) -> Book:
    """Read the book, with the instructions of a file of their own; its warnings go to stderr.

    What is done meanwhile has another processor read it.
    """
    from trimopt import read_book
    from trimopt.workers import begun

    read = partial(read_book, path, mill, as_of=as_of, instructions=instructions)
    with nullcontext(read) if meanwhile is None else begun(read) as answer:
        if meanwhile is not None:
            meanwhile()
        book = answer()
    if not quiet:
        for line in fault_lines(book.warnings):
            say(f"warning: {line}", err=True)
    return book


def made_from(
    plan: Plan,
    path: Path,
    book: Path | None,
    mill_path: Path | None,
    instructions: Path | None,
    *,
    quiet: bool = True,
    meanwhile: Callable[[], object] | None = None,
) -> tuple[Book, Mill]:
    """Read the order book and the mill file of a plan that stands at `path`, as `load_book` does.

    What the book's warnings are is said where it may be another than the plan was made from.

    Raises
    ------
    click.UsageError
        One of them is not where the plan says; the option that names it is said.
    """
    mill = load_mill(mill_path or _found(plan.mill.name, path, "--mill"), None)
    if instructions is None and plan.instructions_from is not None:
        instructions = _found(plan.instructions_from.name, path, "--instructions")
    book = book or _found(plan.book.name, path, "--book")
    read = partial(load_book, book, mill, plan.as_of, quiet=quiet, instructions=instructions)
    return read(meanwhile=meanwhile), mill


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
