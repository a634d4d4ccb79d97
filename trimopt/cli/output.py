"""The voice of the commands: all that they print is guarded, and long lists of faults are cut."""

from __future__ import annotations

import json
import re
import sys
from collections import Counter
from collections.abc import Sequence

import click

from trimopt.errors import Fault
from trimopt.text import for_json, for_terminal

_SHOWN = 200
_KINDS = 20  # of what is not shown


def say(text: str, *, err: bool = False) -> None:
    """Print a message, as the terminal can show it."""
    stream = sys.stderr if err else sys.stdout
    click.echo(for_terminal(text, stream.encoding or "ascii"), err=err)


def say_json(text: str) -> None:
    click.echo(for_json(text, sys.stdout.encoding or "ascii"))


def say_fields(fields: object) -> None:
    """Print as JSON what a program reads."""
    say_json(json.dumps(fields, ensure_ascii=False, indent=1))


def counted(number: int, what: str) -> str:
    """A number of things in words.

    >>> counted(1, "run"), counted(12, "run")
    ('1 run', '12 runs')
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def fault_lines(faults: Sequence[Fault]) -> list[str]:
    """The first faults in words, then how many there are of each kind of the others."""
    lines = [str(fault) for fault in faults[:_SHOWN]]
    rest = Counter(_kind(fault) for fault in faults[_SHOWN:])
    if rest:
        lines.append(f"and {rest.total():,} more (--json lists all):")
        shown = rest.most_common(_KINDS)
        lines += [f"  {count:,} × {kind}" for kind, count in shown]
        if len(rest) > _KINDS:
            others = rest.total() - sum(count for _, count in shown)
            lines.append(f"  {others:,} of {len(rest) - _KINDS:,} other kinds")
    return lines


def _kind(fault: Fault) -> str:
    where = f"{fault.where}, {fault.column}" if fault.column else fault.where
    return f"{where}: {re.sub(r'[0-9][0-9.,]*', '…', fault.wrong)}"
