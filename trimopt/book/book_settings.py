"""What a book states about itself in pairs of cells: a name, and the value to its right."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from trimopt.book.dates_and_times import read_moment
from trimopt.book.match_headings import name_key
from trimopt.book.raw_tables import Cells
from trimopt.book.written_figures import CellFaultError, as_text, read_flag
from trimopt.errors import Fault

__all__ = ["SETTING_NAMES", "Settings", "read_settings", "settings_in"]

SETTING_NAMES: Mapping[str, str] = {
    "as_of": "As of",
    "decimal_sign": "Decimal sign",
    "date_order": "Date order",
    "shift_ends": "Shift ends",
    "only_listed_jumbos": "Only these jumbos",
    "jumbos_in_order": "Keep this order",
}
_KEYS = {name_key(name): key for key, name in SETTING_NAMES.items()} | {
    "as of date": "as_of",
    "date of the book": "as_of",
    "decimal point": "decimal_sign",
    "only listed jumbos": "only_listed_jumbos",
    "jumbos in this order": "jumbos_in_order",
    "shift end": "shift_ends",
}
_SIGNS = {",": ",", ".": ".", "comma": ",", "point": ".", "decimal comma": ",", "dot": "."}
_ORDERS = {"d m y": "d/m/y", "m d y": "m/d/y", "dd mm yyyy": "d/m/y", "mm dd yyyy": "m/d/y"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The settings of a book; None where it states nothing."""

    decimal_sign: str | None = None
    date_order: str | None = None
    as_of: date | None = None
    only_listed_jumbos: bool = False
    jumbos_in_order: bool = False
    shift_ends: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedSetting:
    """A pair of cells as it stands in the book."""

    key: str
    value: object
    where: str
    row: int


@dataclass(slots=True)
class _Taken:
    values: dict[str, object] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def settings_in(where: str, rows: Iterable[tuple[int, Cells]]) -> Iterable[StatedSetting]:
    """The pairs in some rows: above a table, or on a sheet of settings."""
    for row, cells in rows:
        for index, cell in enumerate(cells):
            key = _KEYS.get(name_key(cell)) if isinstance(cell, str) else None
            if key is not None:
                value = next((right for right in cells[index + 1 :] if right is not None), None)
                if isinstance(value, str) and name_key(value) in _KEYS:
                    value = None  # the next pair of the row: this one is blank
                yield StatedSetting(key=key, value=value, where=where, row=row)


def read_settings(stated: Iterable[StatedSetting]) -> tuple[Settings, tuple[Fault, ...]]:
    """The settings, and the faults of those that cannot be read.

    A name with nothing beside it states nothing. A setting stated twice with two values is a fault.
    """
    taken = _Taken()
    pairs = [setting for setting in stated if setting.value is not None]
    # The order of the date's parts comes first: the book's own date may need it.
    for setting in sorted(pairs, key=lambda pair: pair.key != "date_order"):
        try:
            value = _read(setting, taken.values.get("date_order"))
            if taken.values.setdefault(setting.key, value) != value:
                raise CellFaultError("stated a second time with another value", "state it once")
        except CellFaultError as fault:
            taken.faults.append(
                Fault(
                    where=setting.where,
                    row=setting.row,
                    column=SETTING_NAMES[setting.key],
                    value=as_text(setting.value),
                    wrong=fault.wrong,
                    right=fault.right,
                )
            )
    decimal_sign, date_order = taken.values.get("decimal_sign"), taken.values.get("date_order")
    as_of, shift_ends = taken.values.get("as_of"), taken.values.get("shift_ends")
    settings = Settings(
        decimal_sign=decimal_sign if isinstance(decimal_sign, str) else None,
        date_order=date_order if isinstance(date_order, str) else None,
        as_of=as_of if isinstance(as_of, date) else None,
        only_listed_jumbos=taken.values.get("only_listed_jumbos") is True,
        jumbos_in_order=taken.values.get("jumbos_in_order") is True,
        shift_ends=shift_ends if isinstance(shift_ends, datetime) else None,
    )
    return settings, tuple(taken.faults)


def _read(setting: StatedSetting, date_order: object) -> object:
    if setting.key in {"as_of", "shift_ends"}:
        order = date_order if isinstance(date_order, str) else None
        moment = read_moment(setting.value, date_order=order)
        return moment.date() if setting.key == "as_of" else moment
    if setting.key in {"only_listed_jumbos", "jumbos_in_order"}:
        return read_flag(setting.value)
    word = as_text(setting.value).casefold()
    if setting.key == "decimal_sign":
        if word in _SIGNS:
            return _SIGNS[word]
        raise CellFaultError("neither a comma nor a point", "write , or .")
    if name_key(word) in _ORDERS:
        return _ORDERS[name_key(word)]
    raise CellFaultError("no known order", "write d/m/y or m/d/y")
