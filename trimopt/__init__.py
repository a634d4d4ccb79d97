"""trimopt: reel trim and slitting plans of a paper or board mill's finishing department.

Orders and a mill file in, a checked slitter plan out::

    import trimopt

    mill = trimopt.read_mill("orders/mill.toml")
    book = trimopt.read_book("orders/shift.xlsx", mill)
    plan = trimopt.make_plan(book, mill)
    assert not trimopt.verify_plan(plan, book, mill)
    written = trimopt.write_plan(plan, book, mill, "reports")

Names are loaded when they are first used, so that importing the package costs next to nothing.
They stand in `__init__.pyi`, for type checkers and for this loader alike (SPEC 1 of the Scientific
Python projects: lazy loading of submodules).
`trimopt guide python` shows more.
"""

from __future__ import annotations

import ast
import importlib
import os
from typing import Any


def _homes() -> dict[str, str]:
    """Every public name with the module that it stands in, as type checkers read them."""
    with open(os.path.splitext(__file__)[0] + ".pyi", encoding="utf-8") as stub:
        lines = ast.parse(stub.read()).body
    imports = [line for line in lines if isinstance(line, ast.ImportFrom)]
    return {each.name: str(line.module) for line in imports for each in line.names}


_HOME_OF = _homes()
__all__ = ["__version__", *_HOME_OF]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("trimopt")
    if name not in _HOME_OF:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    value = getattr(importlib.import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
