"""Reading the labels and what the terminal shows of a plan."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tests.printed.figures import exact, figures_in, plain
from tests.printed.in_metric import rows_in_metric
from tests.printed.page import DEFECTS, cores_of, span_of
from tests.printed.records import BlockSaid, Output, ReelSaid, RunSaid, StripSaid, TradeSaid

_STATES = r"(LEFT OUT|NEEDS SALES|SHORT|CARRIED OVER|LATE|OVER|MET, LIGHT)"


def labels_say(path: Path, *, inches: bool = False) -> Output:
    """Read the labels; an apostrophe that guards a text is no part of it."""
    said = Output(name="labels")
    with path.open(newline="", encoding="utf-8-sig") as file:
        rows = list(csv.reader(file))
    head, *rows = rows_in_metric(rows) if inches else rows
    said.reels = [_reel(dict(zip(head, map(_bare, row), strict=True))) for row in rows]
    return said


def _bare(text: str) -> str:
    return text.removeprefix("'")


def _reel(row: dict[str, str]) -> ReelSaid:
    return ReelSaid(
        identity=row["batch identity"],
        run=row["run"],
        jumbo=row["jumbo"],
        set_number=int(row["set"]),
        place=int(row["position"]),
        order=row["order"],
        customer=row["customer"],
        destination=row["destination"],
        use=row["for"],
        width_mm=exact(row["width mm"]),
        core_mm=float(exact(row["core mm"])) if row["core mm"] else None,
        length_m=int(exact(row["length m"])),
        diameter_mm=float(exact(row["diameter mm"])),
        mass_kg=float(exact(row["mass kg"])),
        joins=int(row["joins"]),
    )


def terminal_says(text: str, runs: Sequence[str]) -> Output:
    """Read what was printed; `runs` are the names to look for, as other outputs write them."""
    said = Output(name="terminal")
    lines = [line.rstrip() for line in text.splitlines()]
    said.number = lines[0].removeprefix("Slitter plan ")
    shown = {name.upper().replace("G/M²", "g/m²"): name for name in runs}
    run: RunSaid | None = None
    where = ""
    for group in _groups(lines):
        words = " ".join(line.strip() for line in group)
        where = words if words and not group[0].startswith(" ") else where
        if where == "Listed jumbos not used" and words.startswith("- "):
            said.unused.append(words.removeprefix("- "))
        elif group[0] in shown:
            run = said.runs[shown[group[0]]] = RunSaid(name=shown[group[0]])
        elif group[0].endswith("planned and met.") or "attention: " in group[0]:
            said.heading = said.heading or words
        elif found := re.match(rf"{_STATES}  (\S+)  (.*)", words):
            if run is None:
                said.calls.append((found[2], found[1], " ".join(found[3].split())))
        elif run is not None:
            _run_line(run, group, words)
    return said


def _groups(lines: list[str]) -> list[list[str]]:
    """Lines with those that go on below them, further in."""
    groups: list[list[str]] = []
    for line in lines:
        inside = len(line) - len(line.lstrip())
        if not line:
            groups.append([""])
            continue
        before = groups[-1] if groups else [""]
        first = len(before[0]) - len(before[0].lstrip())
        alone = re.match(r"\s*(│|\d+ × |knives|\d+\s+[\d,.]+\s+[\d.]+ %)", line)
        goes_on = before[0] and inside > first >= 2 and not alone
        # Paragraphs of a run stand two in, and so do their further lines.
        starts = re.match(
            r"  (\d[\d,]* jumbos?, |[\d,.]+ t used|trim loss|proof:|carried forward|"
            r"- |\d+\.  |What fewer|patterns |knives at|│)",
            line,
        )
        paragraph = inside == 2 and first == 2 and before[0] and not starts
        if goes_on or (paragraph and not re.match(rf"  ({_STATES}|\s)", line)):
            before.append(line)
        else:
            groups.append([line])
    return groups


def _run_line(run: RunSaid, group: list[str], words: str) -> None:
    figures = run.figures
    if found := re.match(
        r"(\d[\d,]*) jumbos?, ([\d,]+) sets?, ([\d,]+) blocks?; set-ups (\d+).*?, knife moves (\d+)"
        r".*?; ([\d,]+) min",
        words,
    ):
        names = ("jumbos", "sets", "blocks", "set-ups", "knife moves", "minutes")
        figures |= {name: plain(found[at]) for at, name in enumerate(names, start=1)}
    elif found := re.match(
        r"([\d,.]+) t used, ([\d,.]+) t delivered(?: \(([\d.]+) % of ordered\))?", words
    ):
        figures |= {"used t": plain(found[1]), "delivered t": plain(found[2])}
        if found[3]:
            figures["ordered %"] = float(found[3])
    elif words.startswith("trim loss"):
        ends = ("trim %", "trim kg", "wound kg", "deckle %", "total %")
        figures |= dict(zip(ends, figures_in(words), strict=True))
    elif words.startswith("carried forward"):
        figures["carried m"] = plain(words)
    elif found := re.fullmatch(
        r"(\d+)\.  ([\d,]+) × (.*?) m, sets? (\d+)(?:–(\d+))?, (cores? .*?), ø ([\d,.–]+) mm"
        r"(?:, (\d+) knife moves?)?(?:, (?:narrow|wide) jumbo, [\d,.]+ mm)?"
        rf"(?:, {DEFECTS}.*)?",
        words,
    ):
        low, high = span_of(found[3])
        run.blocks.append(
            BlockSaid(
                number=int(found[1]),
                count=int(plain(found[2])),
                length_m=(int(low), int(high)),
                sets=(int(found[4]), int(found[5] or found[4])),
                cores_mm=cores_of(found[6]),
                diameter_mm=span_of(found[7]),
                moves=int(found[8]) if found[8] else None,
                strips=(),
            )
        )
    elif words.startswith("knives at "):
        marks = words.removeprefix("knives at ").split()
        knives = tuple(exact(mark.lstrip("▲")) for mark in marks)
        _amend(run, knives_mm=knives, moved=tuple("▲" in mark for mark in marks))
    elif found := re.match(r"(\d+) × ([\d,.]+) mm  (.*)", words):
        _amend(run, strips=(*run.blocks[-1].strips, _strip(int(found[1]), found[2], found[3])))
    elif re.fullmatch(r"\s+\d+\s+[\d,.]+\s+[\d.]+ %.*", group[0]):
        run.trade_off.append(_trade(group[0]))


def _amend(run: RunSaid, **more: object) -> None:
    run.blocks[-1] = replace(run.blocks[-1], **more)  # type: ignore[arg-type]


def _strip(count: int, width: str, rest: str) -> StripSaid:
    rest = re.sub(r"  positions? [\d, –]+$", "", rest)
    order, _, customer = rest.partition("  ")
    broke = rest.startswith("broke reel")
    customer, _, use = customer.partition("  for ")
    core = re.search(r"  core ([\d.,]+) mm, ø (.*?) mm", rest)
    return StripSaid(
        count=count,
        width_mm=exact(width),
        order="" if broke else order,
        customer="" if broke else re.sub(r"  core .*", "", customer).strip(),
        use="broke" if broke else re.sub(r"  core .*", "", use) or "customer",
        core_mm=float(core[1]) if core else None,
        diameter_mm=span_of(core[2]) if core else None,
    )


def _trade(line: str) -> TradeSaid:
    found = re.match(r"\s+(\d+)\s+([\d,.]+)\s+([\d.]+) %(?:\s+(\d+))?\s+(?:◄ )?(.*?)(?:  |$)", line)
    assert found is not None
    return TradeSaid(
        patterns=int(found[1]),
        with_butts_kg=plain(found[2]),
        trim_percent=float(found[3]),
        moves=int(found[4]) if found[4] else None,
        figures=found[5],
    )
