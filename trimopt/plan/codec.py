"""A plan as JSON and back, field by field, and files that are written whole or not at all.

The text is strict both ways: a field that is missing, unknown or of the wrong type is an error that
names its path (`runs[0].blocks[2].edge_front_mm`). Figures come back exactly as they were: a
fraction is a JSON number where its decimals end and a float keeps them, else a text such as "1/3";
whole numbers have any length; moments are ISO 8601.
"""

from __future__ import annotations

import json
import math
import os
import re
import types
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, NoReturn, Union, get_args, get_origin, get_type_hints

from trimopt.errors import ReportError
from trimopt.plan.model import SCHEMA, Plan

__all__ = ["from_json", "sync_folder", "to_json", "write_whole"]

_LINE = 120  # what fits on a line of this width is written on one
_MAX_EXPONENT = 600  # beyond it stands no figure of a mill, and an exact fraction would be huge
_RATIO = re.compile(r"-?[0-9]{1,4000}/[0-9]{1,4000}")


def to_json(plan: Plan) -> str:
    """Write a plan as JSON text.

    Parameters
    ----------
    plan
        Any plan; every field of it is written.

    Returns
    -------
    str
        Fields in the order of `trimopt.plan.model`, one to a line where they do not fit together;
        ends with a new line.

    Raises
    ------
    ReportError
        A figure is not a finite number.
    """
    return _text(_plain(plan, ""), "") + "\n"


def from_json(text: str) -> Plan:
    """Read a plan back.

    Parameters
    ----------
    text
        What `to_json` wrote, perhaps changed by a person since.

    Raises
    ------
    ReportError
        The text is not JSON, was written with a newer schema, or has a field that is missing,
        unknown, twice there or of the wrong type. The error names the field's path.
    """
    try:
        data = json.loads(
            text, parse_float=Decimal, parse_constant=_no_constant, object_pairs_hook=_once
        )
    except json.JSONDecodeError as fault:
        message = f"not JSON: line {fault.lineno}, column {fault.colno}: {fault.msg}"
        raise ReportError(message) from fault
    except (ValueError, RecursionError) as fault:  # figures too long to read, or nesting too deep
        message = f"not a plan: {fault}"
        raise ReportError(message) from fault
    schema = data.get("schema") if isinstance(data, dict) else None
    if isinstance(schema, bool) or not isinstance(schema, int) or schema < 1:
        _refuse("schema", schema, "a whole number from 1 on: is this a plan?")
    if schema > SCHEMA:
        message = (
            f"schema: the plan is of schema {schema}, this program reads up to {SCHEMA}; "
            "use the newer program that wrote it"
        )
        raise ReportError(message)
    plan = _read(data, Plan, "", schema < SCHEMA)
    assert isinstance(plan, Plan)
    return plan


def write_whole(path: Path, content: bytes | str) -> None:
    """Write a file whole or not at all.

    The content goes to a temporary file in the same folder, is forced to the disk, and takes the
    name at once. A reader sees the old file or the new one, never a part.

    Parameters
    ----------
    path
        Where to write; its folder must exist. A file of that name is replaced.
    content
        Text is written as UTF-8, its line ends as they are.

    Raises
    ------
    ReportError
        The file cannot be written; one that stood there is as it was.
    """
    try:
        data = content.encode() if isinstance(content, str) else content
    except UnicodeEncodeError as fault:
        message = f"{path}: cannot be written: {fault}; mend that text in the order book"
        raise ReportError(message) from fault
    part = path.with_name(f".{path.name}.{os.getpid()}.{os.urandom(4).hex()}.part")
    try:
        # os.open leaves the rights to the user's own mask, which a temporary file would narrow.
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        handle = os.open(part, flags, 0o666)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(part, path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
        sync_folder(path.parent)
    except OSError as fault:
        reason = fault.strerror or str(fault)
        message = f"{path}: cannot be written: {reason}; choose another folder or free the file"
        raise ReportError(message) from fault


def sync_folder(folder: Path) -> None:
    """Force the new name to the disk, where the system lets a folder be opened."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


# Writing


def _plain(value: object, path: str) -> object:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name), f"{path}.{f.name}") for f in fields(value)}
    if isinstance(value, tuple):
        return [_plain(part, f"{path}[{n}]") for n, part in enumerate(value)]
    if isinstance(value, Fraction):
        return _fraction_out(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        message = f"{path.lstrip('.')}: {value} is not a finite number"
        raise ReportError(message)
    return value


def _fraction_out(value: Fraction) -> int | float | str:
    if value.denominator == 1:
        return value.numerator
    try:
        near = float(value)
    except OverflowError:
        return str(value)
    return near if Fraction(repr(near)) == value else str(value)


def _text(value: object, indent: str) -> str:
    whole = json.dumps(value, ensure_ascii=False)
    if not isinstance(value, dict | list) or len(indent) + len(whole) <= _LINE:
        return whole
    inner = indent + " "
    if isinstance(value, list):
        rows = [_text(part, inner) for part in value]
        return "[\n" + ",\n".join(inner + row for row in rows) + f"\n{indent}]"
    rows = [f"{json.dumps(key)}: {_text(part, inner)}" for key, part in value.items()]
    return "{\n" + ",\n".join(inner + row for row in rows) + f"\n{indent}}}"


# Reading


def _no_constant(name: str) -> NoReturn:
    message = f"{name} is not a finite number"
    raise ValueError(message)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        message = f"field {twice} stands twice in one place; keep one"
        raise ValueError(message)
    return found


def _refuse(path: str, value: object, right: str) -> NoReturn:
    shown = json.dumps(value, ensure_ascii=False, default=str)
    if len(shown) > 60:
        shown = shown[:57] + "…"
    message = f"{path.lstrip('.')}: {shown} where there should be {right}"
    raise ReportError(message)


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(value: object, kind: Any, path: str, older: bool) -> object:
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        return _read_union(value, kind, path, older)
    if origin is tuple:
        return _read_tuple(value, get_args(kind), path, older)
    if isinstance(kind, type) and issubclass(kind, Enum):
        words = [str(each.value) for each in kind]
        if value not in words:
            _refuse(path, value, f"one of {', '.join(words)}")
        return kind(value)
    if is_dataclass(kind):
        assert isinstance(kind, type)
        return _read_fields(value, kind, path, older)
    return _READERS[kind](value, path)


def _read_union(value: object, kind: Any, path: str, older: bool) -> object:
    (inner,) = (part for part in get_args(kind) if part is not types.NoneType)
    return None if value is None else _read(value, inner, path, older)


def _read_tuple(value: object, kinds: tuple[Any, ...], path: str, older: bool) -> object:
    if not isinstance(value, list):
        _refuse(path, value, "a list")
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        kinds = (kinds[0],) * len(value)
    if len(kinds) != len(value):
        _refuse(path, value, f"a list of {len(kinds)}")
    return tuple(
        _read(part, kind, f"{path}[{n}]", older)
        for n, (part, kind) in enumerate(zip(value, kinds, strict=True))
    )


def _read_fields(value: object, kind: type, path: str, older: bool) -> object:
    if not isinstance(value, dict):
        _refuse(path or kind.__name__.lower(), value, "an object with fields")
    hints = _hints(kind)
    for name in value:
        if name not in hints:
            message = f"{f'{path}.{name}'.lstrip('.')}: no such field; take it out"
            raise ReportError(message)
    read: dict[str, object] = {}
    for field in fields(kind):
        here = f"{path}.{field.name}"
        if field.name in value:
            read[field.name] = _read(value[field.name], hints[field.name], here, older)
        elif not (older and field.default is not MISSING):
            # A field that an older schema did not have takes its default.
            message = f"{here.lstrip('.')}: missing; put it back"
            raise ReportError(message)
    return kind(**read)


def _bool(value: object, path: str) -> bool:
    if not isinstance(value, bool):
        _refuse(path, value, "true or false")
    return value


def _int(value: object, path: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        _refuse(path, value, "a whole number")
    return value


def _float(value: object, path: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        _refuse(path, value, "a number")
    try:
        read = float(value)
    except OverflowError:
        read = math.inf
    if not math.isfinite(read):
        _refuse(path, value, "a number that a float can hold")
    return read


def _str(value: object, path: str) -> str:
    if not isinstance(value, str):
        _refuse(path, value, "a text")
    return value


def _fraction(value: object, path: str) -> Fraction:
    right = 'a number, or a text such as "1/3"'
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        _refuse(path, value, right)
    if isinstance(value, Decimal) and abs(value.adjusted()) > _MAX_EXPONENT:
        _refuse(path, value, "a number of the size that a mill has")
    if isinstance(value, str):
        if not _RATIO.fullmatch(value):
            _refuse(path, value, right)
        top, bottom = map(int, value.split("/"))
        if bottom == 0:
            _refuse(path, value, "a fraction that is not divided by 0")
        return Fraction(top, bottom)
    return Fraction(value)


def _datetime(value: object, path: str) -> datetime:
    try:
        # A date alone is read as its midnight by fromisoformat; a moment has its time with it.
        if not isinstance(value, str) or len(value) <= len("2026-03-02"):
            raise ValueError
        return datetime.fromisoformat(value)
    except ValueError:
        _refuse(path, value, "a moment such as 2026-03-02T06:00:00")


def _date(value: object, path: str) -> date:
    try:
        if not isinstance(value, str):
            raise ValueError
        return date.fromisoformat(value)
    except ValueError:
        _refuse(path, value, "a day such as 2026-03-02")


_READERS: dict[type, Callable[[object, str], object]] = {
    bool: _bool,
    int: _int,
    float: _float,
    str: _str,
    Fraction: _fraction,
    datetime: _datetime,
    date: _date,
}
