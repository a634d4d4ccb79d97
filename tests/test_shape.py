"""The rooms and what they may know: imports run one way, public names are complete."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "trimopt"

#: What each room may import. A room knows what stands left of it, never what stands right.
MAY_KNOW = {
    "errors": set(),
    "guide": set(),
    "interrupt": set(),
    "progress": set(),
    "budget": {"interrupt", "progress"},
    "workers": {"interrupt", "progress"},
    "paper": {"errors"},
    "mill": {"errors", "paper"},
    "book": {"errors", "paper", "mill"},
    "cutting": {"errors", "budget"},
    "making": {"errors", "budget", "paper", "mill", "book", "cutting"},
    "winding": {"errors", "budget", "paper", "mill", "book", "cutting", "making"},
    "plan": {
        "errors", "interrupt", "progress", "budget", "paper", "mill", "book", "cutting", "making",
        "winding", "workers",
    },
    "check": {"errors", "paper", "mill", "book", "plan"},
    "fit": {"errors", "budget", "paper", "mill", "book", "cutting", "making", "winding", "plan"},
    "ledger": {"errors", "paper", "mill", "book", "plan"},
    "report": {"errors", "progress", "paper", "mill", "book", "plan", "fit", "ledger"},
}  # fmt: skip
#: Files beside the rooms.
ALONE = {"errors", "interrupt", "progress", "budget", "workers"}
SOLVER = {"cutting", "winding"}
#: Functions of more than forty lines of code, to be parted; no more may come.
LONG = {
    "replanned_plan.py: replanned",
    "whole_run.py: whole_run",
}
#: What the check knows of the plan: its data, and no way in which it is made.
CHECKED = {
    f"trimopt.plan.{name}"
    for name in ("mass_balance", "model", "proof_data", "sheeter_load", "states", "way_out")
}


def _imports(path: Path) -> set[str]:
    """Full names of the modules that a file imports, at the top or inside functions."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


def _rooms(path: Path) -> set[str]:
    rooms = {name.split(".")[1] for name in _imports(path) if name.startswith("trimopt.")}
    return rooms - {"text", "whole_files"}  # how text and files leave, for every room


@pytest.mark.parametrize("room", sorted(set(MAY_KNOW) - ALONE))
def test_imports_run_one_way(room: str) -> None:
    """No file of a room imports a room that stands right of it."""
    wrong = {
        str(path.relative_to(PACKAGE)): sorted(_rooms(path) - MAY_KNOW[room] - {room})
        for path in (PACKAGE / room).rglob("*.py")
    }
    assert {path: rooms for path, rooms in wrong.items() if rooms} == {}


def test_every_room_has_its_rule() -> None:
    """A new room is given its place in the flow here; the command line may know all."""
    rooms = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").is_file()}
    assert rooms == set(MAY_KNOW) - ALONE | {"cli"}


def test_a_file_name_is_used_once() -> None:
    """Apart from `model`; a file in cli/ or report/ may bear the name of its command or page."""
    names: Counter[tuple[str, str]] = Counter()
    for path in PACKAGE.rglob("*.py"):
        room = path.relative_to(PACKAGE).parts[0]
        names[room if room in {"cli", "report"} else "elsewhere", path.name] += 1
    twice = {name for (_, name), count in names.items() if count > 1}
    assert twice == {"__init__.py", "model.py"}


def test_no_file_is_long() -> None:
    """At 420 lines a file says more than one thing; it is parted by what it says."""
    files = (*PACKAGE.rglob("*.py"), *(PACKAGE.parent / "orders").glob("*.py"))
    lines = {path.name: path.read_text(encoding="utf-8").count("\n") for path in files}
    assert {name: count for name, count in lines.items() if count > 420} == {}


def _body(function: ast.FunctionDef, lines: list[str]) -> int:
    """Lines of code in it: without its head, docstring, blanks and comments."""
    first = function.body[1 if ast.get_docstring(function) and len(function.body) > 1 else 0]
    code = (line.strip() for line in lines[first.lineno - 1 : function.end_lineno])
    return sum(1 for line in code if line and not line.startswith("#"))


def test_no_function_is_long() -> None:
    """A function has forty lines of code at the most; ruff counts its ways (C901)."""
    long = {}
    for path in PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        lines = text.splitlines()
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef) and (count := _body(node, lines)) > 40:
                long[f"{path.name}: {node.name}"] = count
    assert set(long) <= LONG


def test_a_class_name_means_one_thing() -> None:
    """No two classes of the package share a name, with a leading underscore or without."""
    names: Counter[str] = Counter()
    for path in PACKAGE.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names.update(
            node.name.lstrip("_") for node in ast.walk(tree) if isinstance(node, ast.ClassDef)
        )
    assert sorted(name for name, count in names.items() if count > 1) == []


def test_the_solver_stays_in_its_rooms() -> None:
    """OR-Tools only in cutting and winding."""
    wrong = []
    for path in PACKAGE.rglob("*.py"):
        room = path.relative_to(PACKAGE).parts[0]
        tops = {name.split(".")[0] for name in _imports(path)}
        if "ortools" in tops and room not in SOLVER:
            wrong.append(f"{path.name} imports ortools")
    assert wrong == []


#: What gives an order, or a last bit, that depends on the processor.
_BY_PROCESSOR = {"argpartition", "dot", "inner", "matmul", "tensordot", "vdot"}


def _by_processor(code: str) -> list[int]:
    """Lines with `@`, a function that is as little the same everywhere, or an unstable argsort."""
    found = []
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.BinOp | ast.AugAssign) and isinstance(node.op, ast.MatMult):
            found.append(node.lineno)
        if isinstance(node, ast.Attribute) and node.attr in _BY_PROCESSOR:
            found.append(node.lineno)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            stable = any(ast.unparse(each) == "kind='stable'" for each in node.keywords)
            if node.func.attr == "argsort" and not stable:
                found.append(node.lineno)
    return found


def test_no_search_depends_on_the_processor() -> None:
    """Products stand in `cutting/model/products.py`; places in an order come from stable sorts."""
    faults = "a @ b", "a @= b", "np.dot(a, b)", "a.argpartition(3)", "np.argsort(a)", "a.argsort()"
    assert all(_by_processor(fault) for fault in faults)
    assert not _by_processor("@cache\ndef f(): return np.argsort(a, kind='stable')")
    wrong = {
        path.name: lines
        for room in ("making", "cutting", "winding")
        for path in (PACKAGE / room).rglob("*.py")
        if (lines := _by_processor(path.read_text(encoding="utf-8")))
    }
    assert set(wrong) == {"products.py"}, wrong


def test_the_check_shares_nothing_with_what_makes_a_plan() -> None:
    """It knows the data of plan, book and mill, and formulae of paper."""
    wrong = {
        path.name: sorted(
            name
            for name in _imports(path)
            if name.startswith("trimopt.plan") and name not in CHECKED
        )
        for path in (PACKAGE / "check").glob("*.py")
    }
    assert {name: modules for name, modules in wrong.items() if modules} == {}


def test_a_command_asks_calls_and_prints() -> None:
    """What a command does stands on the front: a script has it too.

    Of the rooms it takes what prints, the guide's chapters, and errors.
    """
    printing = {"errors", "text", "whole_files", "interrupt", "budget", "workers", "guide", "cli"}
    wrong = {
        f"{path.name}: {name}"
        for path in (PACKAGE / "cli").glob("*.py")
        for name in _imports(path)
        if name.startswith("trimopt.")
        and name.split(".")[1] not in printing
        and not name.startswith(("trimopt.report.terminal.", "trimopt.report.words."))
    }
    assert wrong == set()


def test_names_are_listed_once() -> None:
    """A front hands names on as it imports them; only that of the whole, which is lazy, has a list.

    What a file keeps to itself begins with an underscore.
    """
    files = (*PACKAGE.rglob("*.py"), *Path(__file__).parent.rglob("*.py"))
    listed = (path for path in files if re.search(r"^__all__\b", path.read_text(), re.MULTILINE))
    assert list(listed) == [PACKAGE / "__init__.py"]


def test_help_is_quick() -> None:
    """`trimopt --help` spends well under half a second of processor time, start-up included."""
    code = (
        "import resource, subprocess, sys\n"
        "subprocess.run([sys.executable, '-m', 'trimopt', '--help'], check=True,"
        " stdout=subprocess.DEVNULL)\n"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(used.ru_utime + used.ru_stime)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert float(done.stdout) < 0.5
