"""Reading the page of a plan: headings, paragraphs and tables, as a browser shows them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from tests.printed.figures import exact, figures_in, plain
from tests.printed.in_metric import rows_in_metric, text_in_metric
from tests.printed.records import BlockSaid, Output, RunSaid, StripSaid, TradeSaid


@dataclass(slots=True)
class _Part:
    """A heading, a paragraph, an item of a list (text), or a table (rows)."""

    tag: str
    text: str = ""
    rows: list[list[str]] = field(default_factory=list)


class _Reader(HTMLParser):
    """Text of headings, paragraphs and items, cells of tables; pictures are passed over."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[_Part] = []
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("meta", "br"):
            return
        self._open.append(tag)
        if tag in ("h1", "h2", "h3", "p", "li", "section", "summary", "table"):
            self.parts.append(
                _Part(tag, dict(attrs).get("class") or "" if tag == "section" else "")
            )
        elif tag == "tr":
            self.parts[-1].rows.append([])
        elif tag in ("td", "th"):
            self.parts[-1].rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "svg" in self._open or "style" in self._open or not self.parts:
            return
        last = self.parts[-1]
        if last.tag == "table":
            if {"td", "th"} & set(self._open):
                last.rows[-1][-1] += data
        elif last.tag != "section" or data.strip():
            last.text += data


def page_says(path: Path, *, inches: bool = False) -> Output:
    """Read a page."""
    reader = _Reader()
    reader.feed(path.read_text(encoding="utf-8"))
    page = _Page()
    for part in reader.parts:
        if inches:
            part.text, part.rows = text_in_metric(part.text), rows_in_metric(part.rows)
        page.take(part, " ".join(part.text.split()))
    return page.said


class _Page:
    """Part after part, with the headings that they stand under."""

    def __init__(self) -> None:
        self.said = Output(name="page")
        self.run: RunSaid | None = None
        self.where = ""  # the last heading
        self.block = ""  # the heading of a block

    def take(self, part: _Part, text: str) -> None:
        """Take a part in."""
        if part.tag == "h1":
            self.said.number = text.removeprefix("Slitter plan ")
        elif part.tag == "section":
            self.run = None
            if text.startswith("attention none"):
                self.said.heading = text.removeprefix("attention none")
        elif part.tag in ("h2", "h3"):
            self._heading(part.tag, text)
        elif part.tag == "li" and self.where == self.said.heading:
            self.said.calls.append(_call(text))
        elif part.tag == "li" and self.where == "Listed jumbos not used":
            self.said.unused.append(text)
        elif part.tag == "p" and self.run is not None and text.startswith("Jumbo "):
            self.run.figures |= _intro(text)
        elif part.tag == "table":
            self._table(part.rows)

    def _heading(self, tag: str, text: str) -> None:
        self.where = text
        self.block = text if re.match(r"\d+\. \d+ × ", text) else ""
        if tag == "h2" and text in self.said.runs:
            self.run = self.said.runs[text]
        elif tag == "h2" and "attention" in text:
            self.said.heading = text

    def _table(self, rows: list[list[str]]) -> None:
        if self.run is None:
            if self.where == "Runs":
                for row in rows[1:]:
                    self.said.runs[row[0]] = RunSaid(name=row[0], figures=_overview(row))
            elif rows[0][0] == "Load":
                self.said.loads[self.where] = [_load(row) for row in rows[1:]]
        elif self.block and rows[0][0] == "Reels":
            self.run.blocks.append(_block(self.block, rows))
        elif self.block:
            metres = tuple((int(row[0]), row[1]) for row in rows[1:])
            self.run.blocks[-1] = replace(self.run.blocks[-1], metres=metres)
        else:
            _run_table(self.run, rows)


_STATES = "left out|needs sales|short|carried over|late|over|met, light|light"


def _call(text: str) -> tuple[str, str, str]:
    """An order that needs attention: "O001 Cust A: over. 464 kg …"."""
    found = re.search(rf": ({_STATES})\. (.*)", text)
    return text.split(" ", maxsplit=1)[0], found[1] if found else "", found[2] if found else ""


def _overview(row: list[str]) -> dict[str, float]:
    names = (
        "jumbos",
        "sets",
        "set-ups",
        "knife moves",
        "used t",
        "delivered t",
        "trim %",
        "total %",
    )
    return {name: plain(cell) for name, cell in zip(names, row[1:], strict=False)}


def _intro(text: str) -> dict[str, float]:
    jumbo, deckle, trim, kg, of_kg, on_deckle = figures_in(text)[:6]
    return {
        "jumbo mm": jumbo, "deckle mm": deckle, "trim %": trim, "trim kg": kg, "wound kg": of_kg,
        "deckle %": on_deckle,
    }  # fmt: skip


def span_of(text: str) -> tuple[float, float]:
    """The ends of "436–541 mm", or twice the figure of "541 mm"."""
    found = figures_in(text)
    return found[0], found[-1]


def cores_of(text: str) -> tuple[float, ...]:
    """Figures of "core 76 mm" or "cores 76, 152 mm"; none where it says mixed cores."""
    return tuple(figures_in(text))


#: How a block of a plan that goes on stands beside the sheet that the crew hold.
MARKS = r"has run|NEW|(?:already run: [\d, –]+, *)?(?:as on the sheet of \S+|CHANGED: new sets .*)"

#: What is said of a block's defects begins so, in capitals where the crew read it.
DEFECTS = r"(?:before set [0-9]|set [0-9]+: join|positions? [0-9, –]+ (?:to broke|as seconds))"


def _block(heading: str, rows: list[list[str]]) -> BlockSaid:
    head = re.fullmatch(
        r"(\d+)\. (\d+) × (.*?) m sets? (\d+)(?:–(\d+))?, (cores? .*?), diameter (.*? mm), "
        r"edge trim front (.*?), back (.*?) mm, (first pattern|set-up|no set-up), (?:(\d+) knife "
        r"moves?|knife moves not known), (\d+) knives(?:, (?:narrow|wide) jumbo, [\d,.]+ mm)?"
        rf"(?:, {DEFECTS}.*?)?"
        rf"(?:, ({MARKS}))?",
        heading,
    )
    if head is None:
        raise ValueError(f"a block's heading cannot be read: {heading}")
    low, high = span_of(head[3])
    return BlockSaid(
        number=int(head[1]),
        count=int(head[2]),
        length_m=(int(low), int(high)),
        sets=(int(head[4]), int(head[5] or head[4])),
        cores_mm=cores_of(head[6]),
        diameter_mm=span_of(head[7]),
        edges_mm=(exact(head[8]), exact(head[9])),
        set_up=head[10],
        moves=int(head[11]) if head[11] else None,
        mark=head[13] or "",
        cut_out=tuple(
            (int(number), int(plain(metres)))
            for number, metres in re.findall(
                r"set (\d+)(?:: join at [\d,]+ m,)? cut out (\S+) m", heading
            )
        ),
        strips=tuple(_strip(dict(zip(rows[0], row, strict=True))) for row in rows[1:]),
    )


def _strip(row: dict[str, str]) -> StripSaid:
    return StripSaid(
        count=int(row["Reels"]),
        width_mm=exact(row["Width mm"]),
        order=row["Order"],
        customer=row["Customer"],
        use=row["For"],
        core_mm=float(row["Core mm"]) if row.get("Core mm") else None,
        diameter_mm=span_of(row["Diameter mm"]) if row.get("Diameter mm") else None,
    )


def _run_table(run: RunSaid, rows: list[list[str]]) -> None:
    head = rows[0]
    found: Iterator[dict[str, str]] = (dict(zip(head, row, strict=True)) for row in rows[1:])
    if head[0] == "Order":
        run.orders = {row["Order"]: _order(row) for row in found}
    elif head[0] == "Jumbo":
        run.jumbos = [_jumbo(row) for row in found]
    elif head[0] == "Part":
        for part, mass, share in rows[1:]:
            run.figures[f"{part} kg"] = plain(mass)
            if share:
                run.figures[f"{part} %"] = plain(share)
    elif head[0] == "Patterns":
        run.trade_off = [
            TradeSaid(
                patterns=int(row["Patterns"]),
                with_butts_kg=plain(row["Loss with butts kg"]),
                loss_kg=plain(row["Across the width, before winding kg"]),
                bound_kg=plain(row["Lower bound kg"]),
                trim_percent=plain(row["Trim loss"]),
                moves=int(row["Knife moves"]) if row["Knife moves"] else None,
                figures=row["Figures"],
            )
            for row in found
        ]


def _order(row: dict[str, str]) -> dict[str, Any]:
    reams = {
        f"{what} in reams": plain(row[name])
        for what, name in (("asked", "To make"), ("planned", "Planned"))
        if " ream" in row[name]
    }
    asked, planned = (
        re.sub(r"^[\d,.]+ reams? \((.*)\)$", r"\1", row[name]) for name in ("To make", "Planned")
    )
    return {
        "customer": row["Customer"],
        "size": row["Size"],
        "asked": plain(asked),
        "planned": plain(planned),
        **reams,
        "unit": planned.split()[-1],
        "delivered kg": plain(row["Delivered kg"]),
        "ordered kg": plain(row["To make kg"]),
        "due": row["Due"],
        "finished": row["Finished"],
        "state": re.sub(r", [\d,.]+ \w+( \([\d,.]+ sheets\))? lacking$", "", row["State"]),
    }


def _jumbo(row: dict[str, str]) -> dict[str, Any]:
    names = ("Width mm", "Length m", "Start loss m", "Wound m", "Butt m", "End loss m",
             "Carried forward m")  # fmt: skip
    return {
        "name": row["Jumbo"],
        "from": row["From"],
        "sets": row["Sets"],
        **{name: exact(row[name]) for name in names},
    }


def _load(row: list[str]) -> dict[str, Any]:
    return {
        "number": int(row[0]),
        "order": row[3],
        "reels": row[4],
        "width": exact(row[6]),
        "length": Fraction(int(plain(row[7]))),
        "ups": int(row[8]),
        "sheets": int(plain(row[9])),
    }
