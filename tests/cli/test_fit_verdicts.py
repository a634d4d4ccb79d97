"""What stops an enquiry, or makes it unsure: first line, exit code and JSON say the same."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.conftest import NO_CLOCK, ROOT, Clone
from trimopt import newest_plan, read_mill
from trimopt.cli import trimopt
from trimopt.errors import OrderBookError
from trimopt.plan.codec import plan_json
from trimopt.plan.model import Plan
from trimopt.plan.states import OrderState

pytestmark = pytest.mark.usefixtures("by_work")

_ASKED = ("--quiet", *NO_CLOCK, "--width", "735", "--reels", "12")
_FEW = """order;customer;grade;grammage;product;width;max diameter;core;quantity;unit
A1;Wren;Folding boxboard;250;reel;820;1250;152;40;reels
A2;Wren;Folding boxboard;250;reel;612;1250;152;30;reels
"""


def _both(*words: str) -> tuple[str, int, dict[str, object]]:
    """First line, exit code, JSON."""
    plain = CliRunner().invoke(trimopt, ["fit", *words])
    told = CliRunner().invoke(trimopt, ["fit", *words, "--json"])
    assert told.exit_code == plain.exit_code, plain.output
    return plain.stdout.splitlines()[0], plain.exit_code, json.loads(told.stdout)


def _with_plan(plan: Plan, folder: Path) -> tuple[str, ...]:
    path = folder / "changed.json"
    path.write_text(plan_json(plan), encoding="utf-8")
    return ("orders/shift.xlsx", "--plan", str(path), *_ASKED)


def test_a_shift_that_is_overfull(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The plan carries an order over: nothing more is promised."""
    monkeypatch.chdir(clone.folder)
    (run,) = clone.plan.runs
    line = replace(run.orders[0], state=OrderState.CARRIED_OVER)
    run = replace(run, orders=(line, *run.orders[1:]))
    first, code, told = _both(*_with_plan(replace(clone.plan, runs=(run,)), tmp_path))
    assert first.startswith("No hours left for ")
    assert (code, told["verdict"]) == (10, "hours are short")


def test_a_shift_with_minutes_left(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Two minutes hold no set."""
    monkeypatch.chdir(clone.folder)
    (run,) = clone.plan.runs
    assert run.finish is not None
    until = run.finish + timedelta(minutes=2)
    plan = replace(clone.plan, settings=replace(clone.plan.settings, until=until))
    first, code, told = _both(*_with_plan(plan, tmp_path))
    assert first.startswith("No hours left for ")
    assert (code, told["verdict"]) == (10, "hours are short")


def test_a_plan_of_an_older_book(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It is not asked: a plan is made now, and the first line says so."""
    monkeypatch.chdir(clone.folder)
    book = tmp_path / "few.csv"
    book.write_text(_FEW, encoding="utf-8")
    path = tmp_path / "old.json"
    path.write_text(plan_json(clone.plan), encoding="utf-8")
    words = (str(book), "--mill", "orders/mill.toml", "--quiet", *NO_CLOCK)
    asked = ("--width", "735", "--reels", "12", "--plan", str(path))
    first, code, told = _both(*words, *asked)
    assert ", by a plan made now" in str(told["answer"])
    assert ", by a plan" in first  # the rest stands on the next line
    assert code in (0, 10)
    notes = told["notes"]
    assert isinstance(notes, list)
    assert any("another state of the order book" in note for note in notes)


def test_no_plan_and_no_time(clone: Clone, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A week's run cannot be planned in a tenth of a second: that is not an answer."""
    monkeypatch.chdir(clone.folder)
    words = (str(ROOT / "orders" / "week.xlsx"), "--out", str(tmp_path), "--quiet")
    asked = ("--grade", "Folding boxboard", "--grammage", "250", "--width", "735", "--reels", "12")
    first, code, told = _both(*words, *asked, "--time-limit", "0.1")
    assert first.startswith("Not answered for 12 reels of 735 mm: no good plan")
    assert (code, told["verdict"]) == (10, "not answered")
    old = tmp_path / "old.json"
    old.write_text(plan_json(clone.plan), encoding="utf-8")
    first, *_ = _both(*words, *asked, "--time-limit", "0.1", "--plan", str(old))
    assert first.startswith(
        "Not answered for 12 reels of 735 mm: plan shift-1 was made from another"
    )


def test_an_older_plan_of_this_very_book_is_asked(tmp_path: Path) -> None:
    """Not the newest, which is of another copy of the book; where none is of this one, that."""
    mill = read_mill(ROOT / "orders" / "mill.toml")
    book = tmp_path / "few.csv"
    for number, state in enumerate((_FEW, "another", "a third"), 1):
        made_from = {"book": sha256(state.encode()).hexdigest(), "mill": mill.fingerprint}
        fields = {key: {"fingerprint": each} for key, each in made_from.items()}
        path = tmp_path / f"few-{number}.json"
        path.write_text(json.dumps(fields | {"winder": mill.winder.name}), encoding="utf-8")
    for state, asked in ((_FEW, "few-1.json"), ("another", "few-2.json"), ("new", "few-3.json")):
        book.write_text(state, encoding="utf-8", newline="")
        assert newest_plan(book, mill, tmp_path) == tmp_path / asked


def test_a_faulty_book() -> None:
    """Its faults are named, and nothing is answered."""
    words = ("--grade", "Folding boxboard", "--grammage", "250", *_ASKED)
    result = CliRunner().invoke(trimopt, ["fit", str(ROOT / "orders" / "faulty.xlsx"), *words])
    assert isinstance(result.exception, OrderBookError)
    assert result.exception.exit_code == 3
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("words", "said", "code"),
    [
        (("--width", "2700"), "Cannot be made: a width of 2700 mm is wider than ", 5),
        (
            ("--width", "5000"),
            "Cannot be made: a width of 5000 mm is wider than the winder's widest",
            5,
        ),
        (("--width", "299"), "Cannot be made: a width of 299 mm is narrower than ", 5),
        (("--width", "735", "--core", "100"), "Cannot be made: the winder has no core of 100", 5),
    ],
)
def test_what_the_mill_cannot_make(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str, code: int
) -> None:
    """The limit, and what would pass."""
    monkeypatch.chdir(clone.folder)
    asked = ("orders/shift.xlsx", "--quiet", "--reels", "12", *words)
    first, ended, told = _both(*asked)
    assert first.startswith(said)
    assert (ended, told["verdict"]) == (code, "cannot be made")
    assert "would pass" in str(told["stop"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--width", "0"), '--width: "0" zero; a figure above 0\n'),
        (("--width", "1,250"), "can be read as 1.250 or as 1250"),
        (("--width", "735", "--grade", "Foldng boxbord"), '"Folding boxboard" is the nearest'),
        (("--width", "735", "--grade", "Coated boxboard"), "no run of the book fits"),
    ],
)
def test_what_cannot_be_read(
    clone: Clone, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    """Wrong usage: what stands there, and what would be right."""
    monkeypatch.chdir(clone.folder)
    asked = ["fit", "orders/shift.xlsx", "--quiet", "--reels", "12", *words]
    result = CliRunner().invoke(trimopt, asked)
    assert result.exit_code == 2
    assert said in result.output


@pytest.mark.parametrize(
    "words",
    [
        ("--width", "48.5in", "--quantity", "12 reels"),
        ("--width", "735", "--quantity", "6500 kg"),
        ("--width", "735", "--quantity", "9000 m"),
        ("--across", "720", "--chop", "1020", "--quantity", "40 reams of 500"),
        ("--width", "735", "--reels", "12", "--core", "free", "--diameter", "free"),
    ],
)
def test_units_are_those_of_the_order_book(words: tuple[str, ...]) -> None:
    """Inches, and quantities in any unit."""
    mill = ("--mill", str(ROOT / "orders" / "mill.toml"), "--grade", "Folding boxboard")
    result = CliRunner().invoke(trimopt, ["fit", *mill, "--grammage", "250", *words])
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("Can be made: ")


@pytest.mark.parametrize(
    ("width", "said"),
    [
        ("735", "5 × 735 mm and a broke reel across the deckle, 965 mm of trim"),
        ("2400", "1 × 2,400 mm and a broke reel across the deckle, 2,240 mm of trim"),
        ("1150", "4 × 1,150 mm across the deckle, 40 mm of trim"),
    ],
)
def test_alone_across_only_what_the_winder_winds(width: str, said: str) -> None:
    """Six of 735 leave 230 mm: too much for the edge strips, and too narrow for a broke reel."""
    mill = ("--mill", str(ROOT / "orders" / "mill.toml"), "--grade", "Folding boxboard")
    asked = ("--grammage", "250", "--width", width, "--reels", "12")
    result = CliRunner().invoke(trimopt, ["fit", *mill, *asked])
    assert f"Can be made: {said}" in " ".join(result.stdout.split()), result.output
