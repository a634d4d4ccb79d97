"""The front door: the package's own names are complete, and cost nothing until they are used."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
from pathlib import Path

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
