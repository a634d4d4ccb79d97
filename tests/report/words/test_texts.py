"""The one file of texts: complete, and a mill can put another language in."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tests.plan.sample import sample_plan
from trimopt.cli.options import load_mill
from trimopt.errors import ReportError
from trimopt.plan.model import CAUTION
from trimopt.plan.states import OrderState
from trimopt.report.html.plan_page import page_html
from trimopt.report.words.plan_words import states_text
from trimopt.report.words.texts import VARIABLE, text

ROOM = Path(__file__).parents[3] / "trimopt" / "report"


def test_every_text_that_is_named_is_there() -> None:
    """A key that is written out in the room's code or templates stands in the file."""
    file = tomllib.loads((ROOM / "words" / "texts.toml").read_text(encoding="utf-8"))
    keys = {f"{section}.{name}" for section, texts in file.items() for name in texts}
    named = {
        key
        for path in ROOM.rglob("*")
        if path.suffix in (".py", ".j2")
        for key in re.findall(r"\btext\(\s*[\"']([a-z_.0-9]+)[\"'][,)]", path.read_text("utf-8"))
    }
    assert len(named) > 150
    assert named <= keys
    for texts in file.values():
        for entry in texts.values():
            assert isinstance(entry, str) or set(entry) == {"one", "other"}


def test_a_text_that_counts_has_two_forms() -> None:
    """One up, two ups."""
    assert text("strip.ups", count=1) == "1 up"
    assert text("strip.ups", count=2) == "2 ups"


def test_caution_and_states_are_those_of_the_plan() -> None:
    """What the check asks of a plan and what an order's state is called say the same in print."""
    assert text("plan.caution") == CAUTION
    for state in OrderState:
        assert states_text((state,)) == state
    assert states_text((OrderState.LATE, OrderState.LIGHT)) == "late, light"


def test_another_language(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the mill's file has is printed, escaped like the rest; what it lacks stays ours."""
    file = tmp_path / "texts.toml"
    file.write_text(
        '[plan]\ntitle = "Rollenschneidplan <{number}>"\ncaution = "Vorsicht."\n'
        '[column]\nreels = "Rollen"\n[state]\nlate = "zu spät"\nmet = "erfüllt"\n',
        encoding="utf-8-sig",  # as some editors save it
    )
    monkeypatch.setenv(VARIABLE, str(file))
    page = page_html(sample_plan())
    assert "<h1>Rollenschneidplan &lt;2026-0007&gt;</h1>" in page
    assert "<footer>Vorsicht.</footer>" in page
    assert "erfüllt" in page
    assert "Trim loss" in page


@pytest.mark.parametrize(
    "content",
    [
        '[plan]\ntitle = "Plan {nummer}"\n',
        "[plan\n",
        '[plan]\ntitle = "Plan {number"\n',
        '[plan]\ntitle = "Plan {number.name}"\n',
        "[plan]\ntitle = 3\n",
        '[progress]\nloss = "{mass:kg}"\n',
        '[strip]\nups = "{count} Nutzen"\n',
    ],
)
def test_a_wrong_file_is_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: str
) -> None:
    """Braces that do not fit, and a file that is none: said as the mill is read, whatever for."""
    file = tmp_path / "texts.toml"
    file.write_text(content, encoding="utf-8")
    monkeypatch.setenv(VARIABLE, str(file))
    with pytest.raises(ReportError):
        load_mill(Path("orders/mill.toml"), None)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "none.toml"))
    with pytest.raises(ReportError):
        text("plan.title", number="1")


def test_our_own_file_as_a_copy_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a mill begins: every text of it fits."""
    monkeypatch.setenv(VARIABLE, str(ROOM / "words" / "texts.toml"))
    assert load_mill(Path("orders/mill.toml"), None).name
