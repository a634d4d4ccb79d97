"""The life of a random plan: run in part, its book and mill changed, planned again and again."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Generator, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from io import StringIO
from pathlib import Path
from random import Random
from typing import Any

from rich.console import Console

from tests.printed import findings
from tests.random_books.book import BEGINS, Row
from tests.random_books.by_hand import SetName, edited, filled_in, labels_of
from tests.random_books.case import RandomCase
from tests.random_books.made import Made, command
from tests.random_books.rare import RARE_FROM, rare_changes, rare_words
from tests.shifts.must_hold import gone_unnamed
from trimopt import read_plan
from trimopt.report.terminal.plan_terminal import print_summary

_TIMES = 3  # planned again

# What a replan rightly refuses: a fault of the book, a jumbo shorter than what was run off it, a
# book of which no line is left, times in a wrong order.
_RIGHTLY = re.compile(
    r"faults?$|were run off jumbo|has none of the orders|which is before now"
    r"|is no later than what was run began",
    re.MULTILINE,
)
_REFUSED = re.compile(r"\"faults\": \[\n|nothing was changed|faults?$", re.MULTILINE)  # an edit
_COUNTS = {  # what a line may say instead
    "Joins allowed": (0, 1, 3),
    "Keep off edge": (None, "yes"),
    "Takes seconds": (None, "yes"),
    "Max. reel mass [kg]": (None, 300, 900),
    "Over tolerance [%]": (0, 5, 40),
    "Due": (None,),
}
_FIGURES = ("Max. diameter [mm]", "Min. diameter [mm]", "Width across [mm]", "Quantity")
_LIMITS = ("speed_m_min", "set_up_min", "max_set_mass_kg", "max_reel_mass_kg", "max_edge_trim_mm")


def lived(case: RandomCase, made: Made) -> Iterator[tuple[str, str]]:
    """What does not hold of a plan that goes on, by kind; its files lie beside the first plan.

    All that is printed of it is read again.
    """
    return _Life(case, made).goes_on()


class _Life:
    """A plan, what it was made from, and the draw of what happens to it."""

    def __init__(self, case: RandomCase, made: Made) -> None:
        self.case = case
        self.made = made
        self.draw = Random(f"the life of a random plan, {case.number}")
        self.rare = Random(f"what is rare in a life, {case.number}")
        self.plan = made.file(".json")
        self.inputs = ["--book", str(made.book), "--mill", str(made.mill)]
        self.ledger: list[str] = []
        if self.draw.random() < 0.3:
            self.ledger = ["--ledger", str(made.folder / "ledger.sqlite")]

    def goes_on(self) -> Iterator[tuple[str, str]]:
        """What does not hold."""
        draw, case_is_rare = self.draw, self.case.number >= RARE_FROM
        for _ in range(_TIMES):
            workbook = self.plan.with_suffix(".xlsx")
            yield from _revised(workbook, self.inputs)
            if draw.random() < 0.3:
                yield from self._issued(["revise", str(edited(workbook, draw))], _REFUSED)
            ran = _to_run(json.loads(self.plan.read_text(encoding="utf-8")), draw)
            if not ran:
                break
            if case_is_rare and self.rare.random() < 0.4:  # some passed over
                ran = sorted(self.rare.sample(ran, self.rare.randint(1, len(ran))))
            words = yield from _told(self.plan, ran, draw, self.ledger)
            if draw.random() < 0.6:
                self.case = changed(self.case, draw)
                if case_is_rare:
                    self.case = _rarely_changed(self.case, self.rare)
                self.case.write(self.made.book.parent)
            before = self.plan
            words = ["replan", str(self.plan), *words, "--time-limit", "2"]
            if case_is_rare and (times := rare_words(self.rare, BEGINS)):
                yield from self._issued([*words, *times], _RIGHTLY)
            if self.plan == before:  # nothing said of time, or what cannot be
                yield from self._issued(words, _RIGHTLY)
            if self.plan == before:
                return  # refused: what was recorded is in no plan
        if self.ledger:
            yield from _trend(self.plan, self.inputs[2:], self.ledger)

    def _issued(self, words: list[str], rightly: re.Pattern[str]) -> Iterator[tuple[str, str]]:
        """Issue what a command makes of the plan, and say what does not hold of it."""
        words += [*self.inputs, *self.ledger, "--out", str(self.made.folder), "--quiet", "--json"]
        code, said, crash = _said([*words, "--issue", "--by", "Vale", "--why", "by hand"])
        if code or crash:
            if crash or not rightly.search(said):
                yield words[0], said
            return
        before, folder = self.plan, self.made.folder
        self.plan = max(folder.glob("*.json"), key=lambda path: path.stat().st_mtime_ns)
        for path in (self.plan, self.plan.with_suffix(".xlsx")):
            code, text, crash = _said(["verify", str(path), *self.inputs])
            if code or crash:
                yield f"plan issued by {words[0]}", text
        yield from _labels(before, self.plan, json.loads(said)["difference"]["labels"])
        yield from _printed(self.made, self.plan)
        if words[0] == "replan":
            forbidden = json.loads(said)["forbidden"]
            for run, number in gone_unnamed(read_plan(before), read_plan(self.plan), forbidden):
                yield "frozen", f"{self.plan.stem}: set {number} of {run} starts soon and is gone"


def _printed(made: Made, plan: Path) -> Iterator[tuple[str, str]]:
    """What workbook, page, labels, JSON and terminal say, by the second opinion."""
    shown = StringIO()
    print_summary(read_plan(plan), Console(file=shown, width=100))
    number = int(plan.stem.rpartition("-")[2])
    for found in findings(replace(made, number=number, stdout=shown.getvalue())):
        yield found.kind, f"{plan.stem}, {found.where}: {found.text}"


def _trend(plan: Path, mill: list[str], ledger: list[str]) -> Iterator[tuple[str, str]]:
    """A set counts once however often the rest was planned, and one that was recorded as run."""
    code, said, crash = _said(["trend", *mill, *ledger, "--json"])
    if code or crash:
        yield "trend", said
        return
    last = json.loads(plan.read_text(encoding="utf-8"))
    done = len(_sets(last, done=True))
    right = {"planned": done + len(_sets(last, done=False)), "planned_of_run": done, "run": done}
    counted = {part: json.loads(said)["whole"][part]["sets"] for part in right}
    if counted != right:
        yield "trend", f"{counted} sets, and not {right}"


def _labels(
    before: Path, after: Path, said: Sequence[Mapping[str, Any]]
) -> Iterator[tuple[str, str]]:
    """Labels that the crew holds and that are not those of the new plan are named, no others."""
    held, now = (labels_of(path.with_name(f"{path.stem}-labels.csv")) for path in (before, after))
    plan = json.loads(after.read_text(encoding="utf-8"))
    held = {name: held[name] for name in held.keys() - set(_sets(plan, done=True))}
    destroy = {name for name, labels in held.items() if now.get(name) != labels}
    reprint = {name for name, labels in now.items() if held.get(name) != labels}
    for kind, right in (("destroy", destroy), ("reprint", reprint)):
        named = {(each["run"], number) for each in said for number in each[kind]}
        if named != right:
            yield "labels", f"to {kind}: {sorted(named)}, and not {sorted(right)}"


def changed(case: RandomCase, draw: Random) -> RandomCase:
    """The case with lines cancelled, new and changed, and at times another limit or jumbo."""
    rows = [dict(row) for row in case.orders]
    if len(rows) > 1 and draw.random() < 0.4:
        del rows[draw.randrange(len(rows))]
    if draw.random() < 0.1:  # all that is left of a paper is cancelled
        gone = draw.choice(rows)
        others = [row for row in rows if _paper(row) != _paper(gone)]
        rows = others or rows
    if draw.random() < 0.5:
        rows.append({**draw.choice(rows), "Order": f"RUSH-{draw.randint(1, 99)}"})
    for _ in range(draw.choice([0, 1, 2])):
        row, heading = draw.choice(rows), draw.choice([*_FIGURES, *_COUNTS])
        if heading in _COUNTS:
            row[heading] = draw.choice(_COUNTS[heading])
        elif isinstance(row.get(heading), int | float):
            row[heading] = max(1, round(row[heading] * draw.choice([0.5, 0.8, 0.95, 1.05, 1.5])))
    sections = deepcopy(dict(case.mill.sections))
    limit = draw.choice(_LIMITS)
    if limit in sections["winder"][0] and draw.random() < 0.3:
        more = sections["winder"][0][limit] * draw.choice([1.1, 1.25])
        sections["winder"][0][limit] = round(more, 2)  # as finely as a width is read
    if draw.random() < 0.1:
        sections["winder"][0]["idle_knives"] = draw.choice(["lifted", "parked"])
    if draw.random() < 0.1:
        sections["jumbo"][draw.choice(["loss_start_m", "loss_end_m"])] = draw.choice([0, 75, 150])
    shorter = draw.random() < 0.15
    return replace(
        case,
        mill=replace(case.mill, sections=sections),
        orders=tuple(rows),
        jumbos=case.jumbos[1:] if shorter else case.jumbos,
        defects=() if shorter else case.defects,
        stock=() if draw.random() < 0.15 else case.stock,
    )


def _rarely_changed(case: RandomCase, draw: Random) -> RandomCase:
    jumbos, stock, instructions = rare_changes(
        draw, case.jumbos, case.stock, case.instructions, case.orders
    )
    names = {row["Jumbo"] for row in jumbos}
    return replace(
        case,
        jumbos=jumbos,
        stock=stock,
        instructions=instructions,
        defects=tuple(row for row in case.defects if row["Jumbo"] in names),
    )


def _paper(row: Row) -> tuple[object, object]:
    return row["Grade"], row["Grammage [g/m²]"]


def _revised(workbook: Path, inputs: list[str]) -> Iterator[tuple[str, str]]:
    """A workbook that nobody touched revises to the same plan."""
    out = str(workbook.parent)
    code, said, crash = _said(["revise", str(workbook), *inputs, "--out", out, "--quiet", "--json"])
    if code or crash:
        yield "revise", said
        return
    answer = json.loads(said)
    difference = answer["difference"]
    other = [
        answer["changes"],
        answer["faults"],
        *(difference[k] for k in ("runs", "sets", "orders")),
    ]
    if any(other) or difference["figures_before"] != difference["figures_after"]:
        yield "revise", f"an untouched workbook changes something: {other}"


def _to_run(plan: Mapping[str, Any], draw: Random) -> list[SetName]:
    """More sets of the first run that has any left, up to half of them."""
    left = _sets(plan, done=False)
    of_first = [name for name in left if name[0] == left[0][0]]
    return of_first[: 1 + draw.randint(0, (len(of_first) - 1) // 2)] if left else []


def _sets(plan: Mapping[str, Any], *, done: bool) -> list[SetName]:
    runs = sorted(plan["runs"], key=lambda run: run.get("start") or "")
    return [(run["name"], row["number"]) for run in runs for block in run["blocks"]
            for row in block["sets"] if bool(row.get("done")) == done]  # fmt: skip


def _told(
    path: Path, ran: list[SetName], draw: Random, ledger: list[str]
) -> Generator[tuple[str, str], None, list[str]]:
    """Options that say which sets have run, at times the last of them spoiled."""
    plan = json.loads(path.read_text(encoding="utf-8"))
    before, (on, last) = _sets(plan, done=True), ran[-1]
    if ledger:
        sheet = filled_in(path.with_suffix(".xlsx"), ran, draw)
        code, said, crash = _said(["record", str(path), str(sheet), *ledger, "--quiet"])
        if code or crash:
            yield "record", said
        words = ["--recorded"]
    elif draw.random() < 0.4:
        sheet = filled_in(path.with_suffix(".xlsx"), (*before, *ran), draw)
        words = ["--as-run", str(sheet)]
    else:
        numbers = defaultdict(list)
        for name, number in (*before, *ran):
            numbers[name].append(number)
        words = [word for name, some in numbers.items()
                 for word in ("--done", f"{name}: {', '.join(map(str, some))}")]  # fmt: skip
    if draw.random() < 0.3:
        words += ["--spoiled", f"{on}: {last}" if len(plan["runs"]) > 1 else str(last)]
    return words


def _said(words: list[str]) -> tuple[int, str, str]:
    code, stdout, stderr, crash = command(words)
    return code, (crash or stderr or stdout).strip() if code or crash else stdout, crash
