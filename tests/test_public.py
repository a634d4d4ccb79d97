"""The front door: the package's own names are complete, and cost nothing until they are used."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

import trimopt
from trimopt import errors

HEAVY = ("ortools", "openpyxl", "numpy", "rich", "sqlalchemy", "click")
README = Path(__file__).parents[1] / "README.md"


@pytest.mark.parametrize("name", trimopt.__all__)
def test_every_name_is_there_and_explained(name: str) -> None:
    """What the package names can be had, and says what it is."""
    value = getattr(trimopt, name)
    assert name in dir(trimopt)
    assert name == "__version__" or value.__doc__


def test_type_checkers_are_told_the_same_names() -> None:
    """Each name of the stub is handed on under itself, and comes out of the module it says."""
    stub = Path(trimopt.__file__).with_suffix(".pyi").read_text(encoding="utf-8")
    for node in ast.parse(stub).body:
        if isinstance(node, ast.ImportFrom):
            home = importlib.import_module(str(node.module))
            for name in node.names:
                assert name.name == name.asname
                assert getattr(trimopt, name.name) is getattr(home, name.name)


def test_every_error_can_be_caught_by_name() -> None:
    """The whole tree of errors, but for the helpers that share a list of faults."""
    tree = {name for name, kind in vars(errors).items() if name.endswith("Error") and kind.__doc__}
    assert tree - {"FaultsError", "FilledSheetError"} <= {*trimopt.__all__}


_FRONT: Any = trimopt  # as a script without a type checker sees it
_LEDGER: Any = trimopt.open_ledger("ledger.sqlite")
_MOMENT = datetime(2026, 4, 3, tzinfo=UTC)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: _FRONT.make_plan("a", "b"), "make_plan: book is of type str, not Book, which"),
        (lambda: _FRONT.read_book("a", "b"), r"mill is of type str, .* trimopt\.read_mill\(path\)"),
        (lambda: _FRONT.read_book("a", as_of=_MOMENT, mill=1), "as_of is of type datetime"),
        (lambda: _FRONT.verify_plan(None, None, None), "plan is of type NoneType, not Plan"),
        (lambda: _FRONT.replan("a", book=1, mill=2), "replan: plan is of type str"),
        (lambda: _FRONT.write_plan("a", 1, 2), "write_plan: plan is of type str"),
        (lambda: _FRONT.revise_plan("a", 1, 2), "edited is of type str, .* trimopt.read_edited"),
        (lambda: _FRONT.EnquiryService("a"), "EnquiryService.__init__: mill is of type str"),
        (lambda: _FRONT.plan_json(1), "plan is of type int"),
        (lambda: _LEDGER.keep("a"), "Ledger.keep: plan is of type str"),
        (lambda: _LEDGER.trend(begins="2026-04-03"), "begins is of type str, not date"),
        (lambda: _LEDGER.trend(ends=_MOMENT), "ends is of type datetime, not date"),
        (lambda: _LEDGER.trend(grade=5), "grade is of type int, not str, which a text in quotes"),
        (lambda: _LEDGER.hold("a", "b", "c", on=_MOMENT), "order is of type str, not Order"),
        (lambda: _FRONT.trend_json("a"), "trend is of type str, not Trend, which Ledger.trend"),
        (lambda: _FRONT.make_plans("a"), "a job is of type str, not PlanJob"),
        (lambda: _FRONT.read_measure("width", "--width", 735), "text is of type int, not str"),
        (lambda: _FRONT.Budget.lasting("x"), "lasting: seconds is of type str, not a number"),
    ],
)
def test_what_is_of_another_type_is_told_with_where_to_get_it(
    call: Callable[[], object], said: str
) -> None:
    """A path in place of what was read from it, or two in the other's place, is a TypeError."""
    with pytest.raises(trimopt.WrongTypeError, match=said) as caught:
        call()
    assert isinstance(caught.value, TypeError)


def test_what_is_not_known_or_left_open_is_named() -> None:
    """A part that is of no column, and the questions of a first mill file without an answer."""
    mill = trimopt.read_mill("orders/mill.toml")
    with pytest.raises(trimopt.RequestError, match='"colour" cannot be asked'):
        trimopt.read_enquiry({"colour": ("--colour", "white")}, mill)
    with pytest.raises(trimopt.RequestError, match='"reels" cannot be asked; what can: width, gr'):
        trimopt.read_measure("reels", "--reels", "12")
    answers = {each: each.read(each.example) for each in trimopt.MILL_QUESTIONS}
    assert trimopt.read_mill_text(trimopt.first_mill_text(answers).encode()).name
    del answers[trimopt.MILL_QUESTIONS[1]]
    with pytest.raises(trimopt.MillFileError, match="Width of the jumbo") as caught:
        trimopt.first_mill_text(answers)
    assert len(caught.value.faults) == 1


def test_an_unknown_name_is_an_attribute_error() -> None:
    """As of any module."""
    name = "plan_everything"
    with pytest.raises(AttributeError, match=f"no attribute '{name}'"):
        getattr(trimopt, name)


def test_the_import_loads_nothing() -> None:
    """No library, and none of the package's own rooms, until a name is used."""
    code = (
        "import sys, trimopt; "
        f"print([m for m in sys.modules if m.startswith('trimopt.') or m in {HEAVY}])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
