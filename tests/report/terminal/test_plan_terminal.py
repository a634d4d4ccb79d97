"""The plan on a terminal: pictures to scale, plain text where it must be, lines that fit."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from io import BytesIO, StringIO, TextIOWrapper

import pytest
from rich.console import Console

from tests.plan.sample import sample_plan
from tests.report.conftest import trade_off_plan
from trimopt.plan.model import Plan
from trimopt.plan.states import OrderState
from trimopt.progress import PLANNED, RunProgress
from trimopt.report.terminal.plan_terminal import print_summary
from trimopt.report.terminal.progress import ProgressView
from trimopt.report.terminal.terminal_writer import ASCII, UNICODE, draw, fitting_marks
from trimopt.report.words.plan_words import shift_text
from trimopt.report.words.units import METRIC
from trimopt.text import for_terminal


def said(plan: Plan, *, width: int = 80, terminal: bool = False, no_color: bool = False) -> str:
    """Print a plan and give what was printed."""
    out = StringIO()
    console = Console(
        file=out, width=width, force_terminal=terminal, no_color=no_color, color_system="standard"
    )
    print_summary(plan, console)
    return out.getvalue()


def said_in(plan: Plan, encoding: str) -> str:
    """Print a plan to a stream of that encoding and give what was printed."""
    raw = BytesIO()
    stream = TextIOWrapper(raw, encoding=encoding)
    print_summary(plan, Console(file=stream, width=80))
    stream.flush()
    return raw.getvalue().decode(encoding)


def test_orders_that_need_attention_come_before_everything(plan: Plan) -> None:
    """The surplus and the line left out are read before the first run."""
    text = said(plan)
    run = text.index("FOLDING BOARD")
    assert text.index("OVER  4104") < run
    assert text.index("LEFT OUT  4107") < run


def test_a_plan_without_trouble_says_so() -> None:
    """Silence could be a fault of the program; a sentence is not."""
    plan = sample_plan()
    run = plan.runs[1]
    met = tuple(replace(line, state=OrderState.MET) for line in run.orders)
    plan = replace(plan, runs=(replace(run, orders=met),), left_out=())
    assert "Every order of the book is planned and met." in said(plan)


def test_each_sheeter_has_its_line(plan: Plan) -> None:
    """Loads, when, and part loads; a plan that makes no sheets says nothing of them."""
    text = " ".join(said(plan).split())
    assert "Sheeters Sheeter A: 2 loads, 2026-03-02 07:37 to 2026-03-02 08:26; 1 part load" in text
    assert "Sheeters" not in said(replace(plan, loads=()))


def test_losses_are_given_with_what_they_are_a_share_of(plan: Plan) -> None:
    """Numerator and denominator stand beside the per cent, the answer in its own words."""
    text = " ".join(said(plan).split())
    assert "trim loss 1.89 % (536 of 28,350 kg wound)" in text
    assert "total loss 6.79 %" in text
    gap = f"{plan.runs[0].proof.gap_percent:.3f} %"
    assert f"proof: optimality gap {gap} of paper used, {921:,} kg" in text
    assert "optimal:" not in text


@pytest.mark.parametrize("width", [60, 80, 100])
def test_no_line_is_longer_than_the_terminal(plan: Plan, width: int) -> None:
    """Nothing is wrapped by the terminal in the middle of a picture."""
    assert max(len(line) for line in said(plan, width=width).splitlines()) <= width


def test_a_pipe_gets_plain_text(plan: Plan) -> None:
    """No control sequences where the output is no terminal."""
    assert "\x1b" not in said(plan)


def test_no_color_gives_plain_text_on_a_terminal(plan: Plan) -> None:
    """NO_COLOR takes weight and colour away; without it the heading is bold."""
    assert "\x1b" not in said(plan, terminal=True, no_color=True)
    assert "\x1b[1m" in said(plan, terminal=True)


def test_an_ascii_locale_gets_ascii(plan: Plan) -> None:
    """Every sign has a plain form, and no question marks stand for signs of our own."""
    text = said_in(plan, "ascii")
    assert "?" not in text
    assert "6 x 3,150 m" in text
    assert "|/|" in text
    assert "│▒│" in said_in(plan, "utf-8")


def test_picture_in_characters_is_to_scale(plan: Plan) -> None:
    """Cuts stand within a character and a half of their place on the web."""
    block = plan.runs[0].blocks[0]
    upper, lower = draw(block, 76, UNICODE, METRIC)
    assert len(upper) == len(lower) == 76
    cuts = [at for at, sign in enumerate(upper) if sign == "│"]
    places = [0, 20, 1020, 2020, 2800, 3580, 3600]
    assert len(cuts) == len(places)
    for cut, place in zip(cuts, places, strict=True):
        assert abs(cut - place / 3600 * 75) <= 1.6
    assert "1,000" in upper
    assert "4102" in lower


def test_picture_of_many_narrow_reels_stays_a_picture(plan: Plan) -> None:
    """Where words do not fit, strips are still there, each with an inside."""
    block = plan.runs[1].blocks[1]
    many = replace(block, positions=block.positions * 6)
    upper, _ = draw(many, 40, ASCII, METRIC)
    assert upper.count("|") == 36 + 2 + 1
    assert "||" not in upper


def test_marks_follow_the_encoding() -> None:
    """An unknown encoding is treated like the poorest."""
    assert fitting_marks("utf-8") is UNICODE
    assert fitting_marks("latin-1") is ASCII
    assert fitting_marks("no-such") is ASCII
    assert for_terminal("Ü × 2", "latin-1") == "Ü × 2"
    assert for_terminal("2–3 ▲ 5", "latin-1") == "2-3 ^ 5"
    assert for_terminal("a × b", "no-such") == "a x b"


def test_trade_off_is_a_table_with_the_plan_marked() -> None:
    """Each number of patterns has its loss; the plan's line is marked."""
    lines = said(trade_off_plan()).splitlines()
    (chosen,) = [line for line in lines if "◄ this plan" in line]
    assert chosen.split()[:5] == ["3", "1,230", "4.32", "%", "4"]
    (fewest,) = [line for line in lines if line.split()[:2] == ["2", "5,400"]]
    assert "estimate" in fewest
    assert fewest.count("█") > chosen.count("█")
    assert "estimates before winding" in " ".join(lines)


class _Terminal(StringIO):
    """A stream that says it is a terminal."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        """It says so."""
        return True


def test_progress_is_shown_on_a_terminal() -> None:
    """Run, phase, loss and bound are drawn while solving goes on, and how far the whole is."""
    stream = _Terminal()
    with ProgressView(stream=stream) as view:
        assert view.shown
        view.report(
            RunProgress(
                run="Board", phase="patterns", loss_kg=1200, bound_kg=1100, share=0.25, left_s=7.2
            )
        )
        view.report(RunProgress(run="Board", phase=PLANNED, share=0.5, left_s=3))
        view.report(RunProgress(run="", phase="check", share=0.9))
    text = stream.getvalue()
    for words in ("Board", "25%", "about 7 s left", "loss 1,200 kg", "at least 1,100 kg", "check"):
        assert words in text


def test_progress_is_silent_when_quiet_or_piped() -> None:
    """--quiet and a redirected stream get nothing at all."""
    quiet, piped = _Terminal(), StringIO()
    for view in (ProgressView(quiet=True, stream=quiet), ProgressView(stream=piped)):
        with view:
            assert not view.shown
            view.report(RunProgress(run="Board", phase="patterns", share=0.1))
            view.report(RunProgress(run="Board", phase=PLANNED, share=0.1))
    assert quiet.getvalue() == piped.getvalue() == ""


def test_progress_is_taken_away_after_an_interrupt() -> None:
    """Ctrl-C leaves the terminal with its cursor."""
    stream = _Terminal()

    def solve() -> None:
        with ProgressView(stream=stream) as view:
            view.report(RunProgress(run="Board", phase="patterns", share=0.1))
            assert "\x1b[?25l" in stream.getvalue()  # the cursor is hidden
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        solve()
    assert stream.getvalue().rindex("\x1b[?25h") > stream.getvalue().rindex("\x1b[?25l")


def test_notes_are_counted_and_not_repeated_with_every_plan() -> None:
    """They stand under the basis of the plan; a terminal says how many there are."""
    text = said(replace(sample_plan(), notes=tuple(f"overdue, line {n}" for n in range(1200))))
    assert "overdue, line" not in text
    assert "1,200 notes: see Basis of the plan" in " ".join(text.split())


def test_a_reel_too_narrow_for_its_order_has_its_position(plan: Plan) -> None:
    """The number in the picture leads to the line below, which names the order."""
    block = plan.runs[0].blocks[0]
    narrow = replace(block.positions[0], width_mm=Fraction(90), order="ORDER-900", number=7)
    _, lower = draw(replace(block, positions=(*block.positions, narrow)), 100, UNICODE, METRIC)
    assert "7" in lower
    shown = " ".join(said(plan).split())
    assert "positions 1–2" in shown


def test_one_number_of_patterns_has_no_other_rows() -> None:
    """What is said of the other rows of the trade-off is said where there are any."""
    plan = trade_off_plan()
    first, *rest = plan.runs
    alone = replace(first, trade_off=first.trade_off[1:2])
    assert "other rows" in " ".join(said(plan).split())
    assert "other rows" not in " ".join(said(replace(plan, runs=(alone, *rest))).split())


def test_the_minutes_left_of_a_shift_are_those_between_the_times_shown() -> None:
    """From 09:55 to 10:00 are 5 minutes, whatever the seconds that are not shown."""
    plan = sample_plan()
    run = replace(plan.runs[0], finish=datetime.fromisoformat("2026-11-23T09:55:56"))
    settings = replace(plan.settings, until=datetime.fromisoformat("2026-11-23T10:00"))
    told = shift_text(replace(plan, runs=(run,), settings=settings))
    assert told.endswith("the last set is finished 2026-11-23 09:55, 5 min before")
    long = replace(settings, until=datetime.fromisoformat("2026-11-24T10:00"))
    told = shift_text(replace(plan, runs=(run,), settings=long))
    assert told.endswith("1,445 min before")
