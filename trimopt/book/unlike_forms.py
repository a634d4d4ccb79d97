"""Decimal signs and date orders that differ inside one book: each figure alone can be read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache

from trimopt.book.dates_and_times import read_moment
from trimopt.book.row_reader import RowReader
from trimopt.book.units_of_measure import FIGURES, Dimension
from trimopt.book.written_figures import as_text, read_figure
from trimopt.errors import Fault
from trimopt.paper.typed import CellFaultError, split_figure_and_unit

_REMEMBERED = 20_000
_Place = tuple[RowReader, str]
"""A row and the key of its column."""


def _one_reading(forms: tuple[str, ...], read: Callable[[str], object]) -> str | None:
    """The form under which alone a text can be read; None where it is none or several."""
    able = []
    for form in forms:
        try:
            read(form)
        except CellFaultError:
            continue
        able.append(form)
    return able[0] if len(able) == 1 else None


@lru_cache(maxsize=_REMEMBERED)
def decimal_sign_shown(text: str) -> str | None:
    """The decimal sign that a figure cannot do without; None where it may be written with either.

    Examples
    --------
    >>> decimal_sign_shown("1.250,5"), decimal_sign_shown("12.5 t"), decimal_sign_shown("1,250")
    (',', '.', None)
    """
    figure, _ = split_figure_and_unit(text)
    return _one_reading((",", "."), lambda sign: read_figure(figure, decimal_sign=sign))


@lru_cache(maxsize=_REMEMBERED)
def date_order_shown(text: str) -> str | None:
    """The order of day and month that a date cannot do without.

    Examples
    --------
    >>> date_order_shown("13/12/2026"), date_order_shown("12/13/26"), date_order_shown("3/4/2026")
    ('d/m/y', 'm/d/y', None)
    """
    # With hyphens a year of two figures may come first: 26-12-03.
    forms = ("d/m/y", "m/d/y", *(("y/m/d",) if "-" in text else ()))
    return _one_reading(forms, lambda order: read_moment(text, date_order=order))


def shown_forms(readers: Sequence[RowReader]) -> tuple[dict[str, list[_Place]], ...]:
    """Where each decimal sign is shown, and where each date order, among cells that are texts."""
    signs: dict[str, list[_Place]] = defaultdict(list)
    orders: dict[str, list[_Place]] = defaultdict(list)
    for reader in readers:
        for key, column in reader.table.columns.items():
            value = reader.raw(key) if key in reader.table.headings else None
            if not isinstance(value, str) or len(value) > 60:
                continue
            if column.dimension in FIGURES:
                shown, kept = decimal_sign_shown(value), signs
            elif column.dimension is Dimension.MOMENT:
                shown, kept = date_order_shown(value), orders
            else:
                continue
            if shown is not None:
                kept[shown].append((reader, key))
    return signs, orders


def unlike_forms(readers: Sequence[RowReader]) -> Iterator[tuple[RowReader, Fault]]:
    """A fault for each row that shows the rarer decimal sign or date order, with both places.

    Where the book or the mill file states the form, a cell that goes against it is a fault of its
    own.
    """
    kinds = (("decimal sign", "decimal_sign"), ("date order", "date_order"))
    for kept, (what, setting) in zip(shown_forms(readers), kinds, strict=True):
        if len(kept) < 2 or getattr(readers[0].table.settings, setting) is not None:
            continue
        usual, rare = sorted(kept, key=lambda form: -len(kept[form]))
        other, key = kept[usual][0]
        place = f"row {other.row}, {other.table.headings[key].text}"
        shows = f'"{as_text(other.raw(key))}" shows {usual}'
        for reader, key in kept[rare]:
            wrong = f"shows the {what} {rare}, while {place}, {shows}"
            right = "write the whole book in one way"
            value = reader.raw(key)
            yield reader, reader.table.fault(reader.row, wrong, right, key=key, value=value)
