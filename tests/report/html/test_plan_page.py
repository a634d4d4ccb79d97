"""The page: self-contained, escaped, drawn to scale, and shown by a real browser."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from trimopt.plan.model import Plan
from trimopt.report.html.plan_page import page_html
from trimopt.whole_files import write_whole

_VOID = {"meta", "br", "link", "img", "hr"}


class _Tags(HTMLParser):
    """Collects tags and text, and checks that every tag is closed in its place."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.open: list[str] = []
        self.text: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep it."""
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep one that closes itself."""
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        """Close it."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        self.text.append(data)


def parsed(text: str) -> _Tags:
    """Parse a page."""
    tags = _Tags()
    tags.feed(text)
    tags.close()
    assert tags.open == []
    return tags


def test_page_holds_the_plan(plan: Plan) -> None:
    """Every order, set and loss of the plan stands on the page."""
    page = parsed(page_html(plan))
    text = " ".join(" ".join(page.text).split())
    for run in plan.runs:
        assert run.name in text
        for line in run.orders:
            assert line.number in text
            assert line.customer in text
    for words in (
        "1.89 %",
        "4 orders need attention: 1 left out, 1 over, 2 met, light",
        "Replaces plan 2026-0006",
        plan.caution,
        "this plan",
    ):
        assert words in text
    assert page.attributes.count(("class", "set")) == sum(len(run.blocks) for run in plan.runs)


def test_page_holds_the_sheeters_loads(plan: Plan) -> None:
    """A row a load, part loads marked; without sheet orders there is no such part."""
    text = " ".join(" ".join(parsed(page_html(plan)).text).split())
    assert "Sheeter A 2 loads, 2026-03-02 07:37 to 2026-03-02 08:26; 1 part load" in text
    assert "4103 4 of 4 7, 8, 9 1,460 3,150 2 24,456" in text
    assert "4103 2 of 4, part load 10 1,460 3,150 2 12,228" in text
    assert "Sheeters: reels" not in page_html(replace(plan, loads=()))


def test_names_of_stock_reels_stay_whole(plan: Plan) -> None:
    """Broken at its hyphen a name is another's: they stand in lines of their own."""
    names = [f"Bay 3-S-110{number}" for number in range(4)]
    own = tuple(replace(each, stock=name)
                for each, name in zip(plan.loads[0].reels, names, strict=True))  # fmt: skip
    page = page_html(replace(plan, loads=(replace(plan.loads[0], reels=own),)))
    lines = ",\n".join(names)
    assert f'<td class="names" data-label="Sets">{lines}</td>' in page
    assert "td.names { white-space: pre; }" in page


def test_page_fetches_and_runs_nothing(plan: Plan) -> None:
    """No scripts, no links to elsewhere, and a policy that forbids both."""
    page = parsed(page_html(plan))
    assert "script" not in page.tags
    assert not [value for name, value in page.attributes if name in ("src", "href", "onload")]
    assert ("content", "default-src 'none'; style-src 'unsafe-inline'") in page.attributes


def _drawn(plan: Plan, block: int) -> str:
    """The picture of a block of the first run, as the page has it."""
    pictures: list[str] = re.findall(r"<svg.*?</svg>", page_html(plan), re.DOTALL)
    return [svg for svg in pictures if svg.count('class="knife') > 2][block]


def test_picture_is_to_scale(plan: Plan) -> None:
    """Rectangles have the widths of the strips, and each knife stands at its place."""
    block = plan.runs[0].blocks[1]
    svg = _drawn(plan, 1)
    widths = [
        float(w) for w in re.findall(r'<rect class="\w+" x="[\d.]+" y="4" width="([\d.]+)"', svg)
    ]
    expected = [w / 3.6 for w in (20, 1000, 1000, 1460, 100, 20)]
    assert widths == pytest.approx(expected, abs=0.01)
    knives = [
        float(x) for x in re.findall(r'class="knife(?: moved)?" d="M[\d.-]+ [\d.]+L([\d.]+)', svg)
    ]
    assert knives == pytest.approx([float(k) / 3.6 for k in block.knives_mm], abs=0.01)
    assert svg.count('<path class="knife moved"') == 1


def test_knife_figures_do_not_cover_one_another(plan: Plan) -> None:
    """Places that stand close go to lines of their own."""
    svg = _drawn(plan, 1)
    found = re.findall(r'<text class="knife[^"]*" x="([\d.]+)" y="([\d.]+)">([\d,.]+)<', svg)
    boxes = [(float(x), float(y), len(text) * 3.6) for x, y, text in found]
    assert len(boxes) == 5
    for i, (x, y, half) in enumerate(boxes):
        for other_x, other_y, other_half in boxes[:i]:
            assert y != other_y or abs(x - other_x) >= half + other_half


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no chromium on this machine")
def test_a_browser_shows_the_page(plan: Plan, tmp_path: Path) -> None:
    """A real browser reads the page to its end and keeps its pictures."""
    path = tmp_path / "plan.html"
    write_whole(path, page_html(plan))
    shown = subprocess.run(
        [
            "chromium",
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            f"--user-data-dir={tmp_path / 'profile'}",
            "--dump-dom",
            path.as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert shown.returncode == 0, shown.stderr[-500:]
    assert shown.stdout.count('<svg class="set"') == 5
    assert "Planning document." in shown.stdout


def test_set_ups_and_knife_moves_stand_under_their_headings_as_figures_do(plan: Plan) -> None:
    """In the table of runs all figures stand to the right, those with a bound behind them too."""
    page = page_html(plan)
    for heading in ("Set-ups", "Knife moves", "Sets"):
        assert f'<th scope="col" class="n">{heading}</th>' in page
