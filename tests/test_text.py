"""Text as it leaves: no output is driven by what stands in a book."""

from __future__ import annotations

import json
import unicodedata
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import example, given, strategies as st

from trimopt.text import for_csv, for_json, for_page, for_terminal, for_workbook, formula_like

_PACKAGE = Path(__file__).parents[1] / "trimopt"

#: What drives or deceives: control codes, turns of direction, marks without width.
HOSTILE = "\x00\x07\x08\x1b\x7f\x85\x9b\u00ad\u200b\u200e\u202a\u202e\u2066\u2069\ufeff\ud800"
_SIGNS = "=+-@＝＋－＠﹦﹢﹣﹫"
_text = st.text(
    st.one_of(st.sampled_from(HOSTILE + _SIGNS + "'\"<>&;,|\t\r\n \u00a0\u2028"), st.characters())
)


def hidden(text: str) -> set[str]:
    """The characters that are not what they look like, lines and joiners apart."""
    kinds = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    return {ch for ch in text if unicodedata.category(ch) in kinds} - set("\n\u200c\u200d")


@given(_text)
@example(HOSTILE)
def test_nothing_hidden_leaves(text: str) -> None:
    """No output holds a control code, a turn of direction or a mark without width."""
    for guard in (for_terminal, for_workbook, for_csv, for_page, for_json):
        assert not hidden(guard(text))


@given(_text, st.sampled_from(["ascii", "cp1252", "cp437", "utf-8", "no-such"]))
def test_a_terminal_can_show_it(text: str, encoding: str) -> None:
    """What is printed can be encoded; lines stay lines, and no other space than one."""
    shown = for_terminal(text, encoding)
    shown.encode("ascii" if encoding == "no-such" else encoding)
    assert shown.count("\n") == text.count("\n")
    assert {ch for ch in shown if ch.isspace()} <= {" ", "\n"}


@given(st.text(st.characters(categories=["L", "N", "P", "S"])))
def test_plain_text_is_left_alone(text: str) -> None:
    """Letters, figures and signs of any script leave as they are."""
    assert for_terminal(text) == for_workbook(text) == for_json(text) == text
    assert for_csv(text).lstrip("'").replace(";'", ";") == text.lstrip("'").replace(";'", ";")


@given(st.text(st.sampled_from(HOSTILE + "\t\r\n \u00a0\u200d")), st.sampled_from(_SIGNS), _text)
@example("\ufeff", "=", "1+1")
@example(" \t", "＝", "1+1")
def test_no_cell_becomes_a_formula(lead: str, sign: str, rest: str) -> None:
    """Whatever stands before the sign, it is led by an apostrophe; a number alone is not."""
    text = f"{lead}{sign}{rest}x"
    assert formula_like(text)
    assert for_csv(text).startswith("'")


@pytest.mark.parametrize("text", ["-4.5", "+3", "-12", "735", "29 1/2", "A-B", "Rook & Sons", ""])
def test_figures_and_names_are_no_formulas(text: str) -> None:
    """A figure with its sign stays a figure."""
    assert for_csv(text) == text


@pytest.mark.parametrize("text", ["a;=1+1", "a; @x", "a;\t+cmd|x", "a;-cmd"])
def test_no_formula_behind_a_separator(text: str) -> None:
    """A desk whose separator is a semicolon splits there."""
    assert ";'" in for_csv(text).replace(" ", "")
    assert for_csv("a; -0.5 mm") == "a; -0.5 mm"


@given(_text)
def test_a_page_shows_it_as_text(text: str) -> None:
    """A browser reads no mark in it, in an attribute either."""
    seen: list[str] = []

    class _Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            seen.append(tag)
            assert [name for name, _ in attrs] == ["title"]

    reader = _Reader()
    reader.feed(f'<p title="{for_page(text)}">{for_page(text)}</p>')
    assert seen == ["p"]


@given(_text, st.sampled_from(["ascii", "cp1252", "utf-8"]))
def test_json_says_the_same(text: str, encoding: str) -> None:
    """Escapes change nothing for a program, and any stream can carry them."""
    shown = for_json(json.dumps({"a": text}, ensure_ascii=False), encoding)
    assert json.loads(shown) == {"a": text}
    shown.encode(encoding)


def test_every_output_goes_through_its_guard() -> None:
    """Messages leave through one voice, escapes and guards against formulas stand in one place."""
    elsewhere = {
        "click.echo": {"cli/output.py"},
        "html import escape": set(),
        "html.escape": {"text.py"},
        "ILLEGAL_CHARACTERS": set(),
        "isprintable": {"text.py"},
        "console.print": {
            "cli/guide.py",  # words of our own
            "report/terminal/terminal_writer.py",
        },
    }
    for path in _PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        name = path.relative_to(_PACKAGE).as_posix()
        assert [word for word, at in elsewhere.items() if word in text and name not in at] == []


def test_every_sign_in_an_answer_has_a_plain_form() -> None:
    """A "−1.4 to 1.1" is no "?1.4 to 1.1" on a terminal of an old code page."""
    package = Path(__file__).parents[1] / "trimopt"
    said = (package / "report" / "words" / "texts.toml").read_text(encoding="utf-8")
    said += "".join(path.read_text(encoding="utf-8") for path in (package / "fit").glob("*.py"))
    signs = {sign for sign in said if sign > "~" and unicodedata.category(sign)[0] in "PS"}
    assert "−" in signs
    assert {sign for sign in signs if "?" in for_terminal(sign, "ascii")} == set()
