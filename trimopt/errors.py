"""One tree of errors, each with the exit code that the command line gives for it.

::

    TrimoptError            1
    ├── WrongTypeError      1   a TypeError too: a script gave something else than a name takes
    ├── OrderBookError      3   every fault of the book, at once
    ├── MillFileError       4   every fault of the mill file, at once
    ├── PlanError
    │   ├── RequestError    2   what is asked of a plan cannot be
    │   ├── InfeasibleError 5   no order can be made, and the limit that stops each
    │   ├── OutOfTimeError  6   the clock ended before any whole plan was found
    │   └── FailedCheckError 7  the independent check found what does not hold
    ├── ReportError         8   a file that cannot be read or written
    └── LedgerError         9   a ledger that is newer, foreign or out of reach
        ├── HeldMeanwhileError 10  an enquiry was held since the answer: ask again
        └── FilledSheetError    every fault of a sheet as run, at once

Exit code 2 also is wrong usage of the command line; 130 is Ctrl-C before there is a plan.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any, ClassVar, TypeVar, cast

_SHOWN_FINDINGS = 20
_F = TypeVar("_F", bound=Callable[..., Any])
# What a script gets each of these from, for those that are asked for and are not what is given.
_HAD_FROM = {
    "Book": "trimopt.read_book(path, mill)",
    "Mill": "trimopt.read_mill(path)",
    "Plan": "trimopt.make_plan(book, mill) or trimopt.read_plan(path)",
    "EditedPlan": "trimopt.read_edited(path)",
    "Request": "trimopt.Request(hours=8)",
    "Enquiry": "trimopt.Enquiry(...) or trimopt.read_enquiry(...)",
    "Ledger": "trimopt.open_ledger(path)",
    "Answer": "trimopt.answer_enquiry(enquiry, mill, book)",
    "Order": "trimopt.hold_enquiry(answer, mill, ledger, until, on=day)",
    "EnquiryService": "trimopt.EnquiryService(mill, book, plan)",
    "PlanDifference": "trimopt.revise_plan(edited, book, mill).difference",
    "Trend": "Ledger.trend()",
    "PlanJob": "trimopt.PlanJob(book=path, mill=path)",
    "date": "datetime.date(2026, 4, 3)",
    "str": "a text in quotes",
}


def do_not_hold(count: int, that: str = "") -> str:
    """How many things of a plan do not hold, in words.

    >>> do_not_hold(1), do_not_hold(12, "that ")
    ('1 thing does not hold', '12 things that do not hold')
    """
    return f"1 thing {that}does not hold" if count == 1 else f"{count} things {that}do not hold"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong in an input: where it stands, what it says, what would be right.

    `where` is the sheet of a book or the section of a mill file, `row` the row as the spreadsheet
    program numbers it (``None`` outside a table), `column` the heading or key.
    """

    where: str = ""
    row: int | None = None
    column: str = ""
    value: str = ""
    wrong: str
    right: str

    @property
    def quoted(self) -> str:
        """The value in double quotes; one that the file itself quotes as it is."""
        bare = not self.value or self.value.startswith('"')
        return self.value if bare else f'"{self.value}"'

    def __str__(self) -> str:
        place = [self.where] if self.where else []
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column:
            place.append(self.column)
        said = " ".join(text for text in (self.quoted, self.wrong) if text)
        return f"{', '.join(place)}{': ' if place else ''}{said}; {self.right}"


class TrimoptError(Exception):
    """Base of every error that trimopt raises on purpose."""

    exit_code: ClassVar[int] = 1


class WrongTypeError(TrimoptError, TypeError):
    """A script gave something of another type than is asked for; the text says where to get it."""


def require_type(value: object, kind: str, what: str) -> None:
    """Refuse what is of another type than is asked for, with where to get that.

    Raises
    ------
    WrongTypeError
        It is of another type.
    """
    its = [each.__name__ for each in type(value).__mro__]
    if kind not in its or (kind == "date" and "datetime" in its):
        where = _HAD_FROM[kind]
        raise WrongTypeError(f"{what} is of type {its[0]}, not {kind}, which {where} gives")


def types_checked(function: _F) -> _F:
    """Refuse a book, a mill, a plan and the like that is none, as a path in its place.

    Types are told by their names, as they are annotated: nothing is imported for it.
    """
    names = function.__code__.co_varnames
    asked = {
        name: kinds
        for name, said in function.__annotations__.items()
        if name != "return"
        and (kinds := said.split(" | "))[0] in _HAD_FROM
        and set(kinds[1:]) <= {"None"}
    }

    @wraps(function)
    def checked(*given: Any, **named: Any) -> Any:
        for name, value in (*zip(names, given, strict=False), *named.items()):
            kinds = asked.get(name)
            if kinds is None or (value is None and "None" in kinds):
                continue
            require_type(value, kinds[0], f"{function.__qualname__}: {name}")
        return function(*given, **named)

    return cast("_F", checked)


class FaultsError(TrimoptError):
    """An input with faults; `faults` holds all of them, `head` says how many."""

    _then: ClassVar[str] = ""

    def __init__(self, source: str, faults: tuple[Fault, ...]) -> None:
        self.source = source
        self.faults = faults
        self.head = f"{source}: {len(faults)} fault{'s' if len(faults) != 1 else ''}{self._then}"
        super().__init__("\n".join([self.head, *(f"  {fault}" for fault in faults)]))

    def __reduce__(self) -> tuple[type[FaultsError], tuple[str, tuple[Fault, ...]]]:
        return type(self), (self.source, self.faults)


class OrderBookError(FaultsError):
    """The order book cannot be read, or has lines that cannot be planned."""

    exit_code = 3


class MillFileError(FaultsError):
    """The mill file cannot be read, lacks a key, or describes an impossible mill."""

    exit_code = 4


class PlanError(TrimoptError):
    """No plan that may be published."""


class RequestError(PlanError):
    """What is asked of a plan cannot be; the text says what can."""

    exit_code = 2


class InfeasibleError(PlanError):
    """An order cannot be met; the text names it and the limit that stops it."""

    exit_code = 5


class OutOfTimeError(PlanError):
    """The time limit came before any whole plan."""

    exit_code = 6


class FailedCheckError(PlanError):
    """The independent check found what does not hold; nothing was published."""

    exit_code = 7

    @classmethod
    def of(cls, findings: Sequence[object], where: str) -> FailedCheckError:
        """The error that names the first findings; `where` ends its first line."""
        shown = "".join(f"\n  {finding}" for finding in findings[:_SHOWN_FINDINGS])
        return cls(
            f"the independent check found {do_not_hold(len(findings), 'that ')}{where}:{shown}"
        )


class ReportError(TrimoptError):
    """A report cannot be written, or a written one cannot be read back."""

    exit_code = 8


class LedgerError(TrimoptError):
    """The ledger cannot be opened, is newer than this program, or refuses a plan."""

    exit_code = 9


class HeldMeanwhileError(LedgerError):
    """Somebody has held an enquiry that an answer does not count; nothing was held."""

    exit_code = 10


class FilledSheetError(LedgerError, FaultsError):
    """A sheet as run has rows that cannot be read, or be what was run of its plan."""

    _then = "; nothing was taken from it"  # by record, or by replan
