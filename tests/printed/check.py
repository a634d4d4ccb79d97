"""The second plain checker: what it finds wrong in what was printed of a plan."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from tests.printed.across import check_across
from tests.printed.alike import (
    compare_blocks,
    compare_calls,
    compare_orders,
    compare_reels,
    compare_runs,
    compare_unused,
)
from tests.printed.along import check_along
from tests.printed.amounts import check_amounts
from tests.printed.asked import check_asked
from tests.printed.beside import check_defects, check_served
from tests.printed.facts import read_facts
from tests.printed.figures import Found, Notes
from tests.printed.in_metric import terminal_in_metric
from tests.printed.inputs import read_inputs
from tests.printed.lists import check_lists, check_loads, check_stock
from tests.printed.page import page_says
from tests.printed.refused import false_refusals
from tests.printed.texts import labels_say, terminal_says
from tests.printed.workbook import workbook_says


class Printed(Protocol):
    """Where the inputs and the outputs of a plan are."""

    @property
    def mill(self) -> Path:
        """The mill file."""

    @property
    def book(self) -> Path:
        """The order book."""

    @property
    def stdout(self) -> str:
        """What the terminal showed."""

    @property
    def stderr(self) -> str:
        """Why there is no plan, where there is none."""

    def file(self, ending: str) -> Path:
        """The plan's file with that ending."""


def refusals(made: Printed) -> tuple[Found, ...]:
    """Orders of a plan that is none, refused on stderr, of which a set can be made all the same."""
    refused = dict(re.findall(r"^  (\S+): (.*)$", made.stderr, re.MULTILINE))
    return tuple(false_refusals(read_inputs(made.mill, made.book), refused))


def findings(made: Printed) -> tuple[Found, ...]:
    """What does not hold; empty where all of it does."""
    notes = Notes()
    facts = read_facts(made.file(".json"), read_inputs(made.mill, made.book))
    inches = facts.inches
    workbook, sheets = workbook_says(made.file(".xlsx"), inches=inches)
    page = page_says(made.file(".html"), inches=inches)
    labels = labels_say(made.file("-labels.csv"), inches=inches)
    shown = terminal_in_metric(made.stdout) if inches else made.stdout
    terminal = terminal_says(shown, [run["name"] for run in facts.runs])
    compare_runs(facts, [workbook, page, terminal], notes)
    compare_blocks(facts, [workbook, page, terminal], notes)
    compare_reels(facts, [workbook, labels], notes)
    compare_orders(facts, [workbook, page], notes)
    compare_calls(facts, [workbook, page, terminal], notes)
    compare_unused(facts, [workbook, page, terminal], notes)
    check_across(facts, notes)
    check_along(facts, notes)
    check_served(facts, notes)
    check_defects(facts, notes)
    check_asked(facts, notes)
    check_amounts(facts, notes)
    check_lists(facts, sheets, notes)
    check_loads(facts, [workbook, page], notes)
    check_stock(facts, [workbook, labels], notes)
    left_out = {each["order"]: each["why"] for each in facts.plan["left_out"]}
    inputs = facts.inputs
    if facts.plan["replaces"]:  # what stays has its jumbos; lines may have faults by now
        left_out = {o: w for o, w in left_out.items() if not re.search("has faults|asked about", w)}
        wound = {jumbo["name"] for run in facts.runs for jumbo in run["jumbos"]}
        inputs = replace(inputs, listed=tuple(x for x in inputs.listed if x.name not in wound))
    return (*notes.found, *false_refusals(inputs, left_out))
