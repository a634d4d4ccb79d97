"""Small plans of the example books, made once."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from trimopt import Book, Effort, Mill, Plan, Request, make_plan, read_book, read_mill
from trimopt.plan.codec import from_json, plan_json
from trimopt.whole_files import write_whole

ROOT = Path(__file__).parents[3]
SHIFT = ("4801-01", "4801-02", "4801-05", "4801-06", "4801-08", "4801-12")
WEEK = tuple(f"{run}-0{n}" for run in (485, 486) for n in range(1, 6))


@dataclass(frozen=True, slots=True)
class Case:
    """A plan, and what it was made from."""

    book: Book
    mill: Mill
    plan: Plan


def _case(name: str, numbers: tuple[str, ...], folder: Path) -> Case:
    mill = read_mill(ROOT / "orders" / "mill.toml")
    book = read_book(ROOT / "orders" / f"{name}.xlsx", mill)
    book = replace(book, orders=tuple(each for each in book.orders if each.number in numbers))
    path = folder / f"{name}-1.json"
    if path.exists():  # another worker has made it
        return Case(book, mill, from_json(path.read_text(encoding="utf-8")))
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number=f"{name}-1")
    write_whole(path, plan_json(plan))
    return Case(book, mill, plan)


@pytest.fixture(scope="session")
def cases(tmp_path_factory: pytest.TempPathFactory) -> tuple[Case, Case]:
    """One run of the shift, with sheets; two runs of the week. Workers share what one has made."""
    own = tmp_path_factory.getbasetemp()
    folder = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    return _case("shift", SHIFT, folder), _case("week", WEEK, folder)
