"""Plans as JSON and back, and files written whole."""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from tests.plan.sample import sample_plan
from trimopt.errors import ReportError
from trimopt.plan.codec import from_json, plan_json
from trimopt.plan.model import SCHEMA, Effort, Plan, Request
from trimopt.plan.revision import EditedPlan, Revision
from trimopt.whole_files import write_whole


def _with_width(width_mm: Fraction) -> Plan:
    plan = sample_plan()
    return replace(plan, runs=(replace(plan.runs[0], jumbo_width_mm=width_mm), *plan.runs[1:]))


def _width_as_written(plan: Plan) -> object:
    return json.loads(plan_json(plan))["runs"][0]["jumbo_width_mm"]


def test_the_sample_comes_back_equal() -> None:
    """Every field of a whole plan survives, and the text is the same the second time."""
    plan = sample_plan()
    text = plan_json(plan)
    assert from_json(text) == plan
    assert plan_json(from_json(text)) == text


def test_a_whole_number_among_floats_is_worded_as_it_is_read() -> None:
    """The hours that a script asks for, the minutes of a run all from stock: one wording of a plan.

    By it a ledger knows a plan as the one that it keeps.
    """
    plan = replace(sample_plan(), request=Request(hours=8))
    text = plan_json(replace(plan, runs=(replace(plan.runs[0], minutes=sum([])),)))
    assert plan_json(from_json(text)) == text


@settings(max_examples=40)
@given(st.fractions())
def test_every_fraction_comes_back_exactly(width_mm: Fraction) -> None:
    """No width loses anything on the way, however odd its denominator."""
    assert from_json(plan_json(_with_width(width_mm))) == _with_width(width_mm)


@settings(max_examples=40)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_float_comes_back_exactly(kg: float) -> None:
    """Floats are written with as many digits as it takes."""
    plan = sample_plan()
    run = replace(plan.runs[0], balance=replace(plan.runs[0].balance, used_kg=kg))
    assert from_json(plan_json(replace(plan, runs=(run,)))).runs[0].balance.used_kg == kg


@settings(max_examples=40)
@given(st.integers(), st.text())
def test_large_numbers_and_any_text_come_back(price: int, remark: str) -> None:
    """Prices are whole numbers of any size; a text may hold anything an order book can."""
    plan = sample_plan()
    proof = replace(plan.runs[0].proof, gain_price=(price, price * 10**40))
    changed = replace(plan, runs=(replace(plan.runs[0], proof=proof),), notes=(remark,))
    assert from_json(plan_json(changed)) == changed


@pytest.mark.parametrize(
    ("width_mm", "written"),
    [
        (Fraction(3600), 3600),
        (Fraction(2373, 2), 1186.5),
        (Fraction(127, 80), 1.5875),
        (Fraction(1, 3), "1/3"),
        (Fraction(1, 10**30), 1e-30),
        (Fraction(10**17 + 1, 2), "100000000000000001/2"),
    ],
)
def test_a_fraction_is_a_number_where_a_float_keeps_it(width_mm: Fraction, written: object) -> None:
    """People read decimals; only what a decimal of a float cannot hold becomes a text."""
    assert _width_as_written(_with_width(width_mm)) == written


def test_moments_keep_their_time_zone() -> None:
    """A moment with a zone and one without both come back as they were."""
    plan = replace(sample_plan(), made_at=datetime(2026, 3, 2, 5, 10, tzinfo=UTC))
    assert from_json(plan_json(plan)).made_at == plan.made_at
    assert from_json(plan_json(sample_plan())).made_at.tzinfo is None


def _changed(change: Callable[[dict[str, Any]], None]) -> str:
    data = json.loads(plan_json(sample_plan()))
    change(data)
    return json.dumps(data)


def _set(path: str, value: object) -> Callable[[dict[str, Any]], None]:
    def change(data: dict[str, Any]) -> None:
        place: Any = data
        *way, last = path.split(".")
        for step in way:
            place = place[int(step) if step.isdigit() else step]
        place[int(last) if last.isdigit() else last] = value

    return change


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("runs.0.blocks.2.edge_front_mm", "20", "runs[0].blocks[2].edge_front_mm"),
        ("runs.0.blocks.2.edge_front_mm", "1/0", "runs[0].blocks[2].edge_front_mm"),
        ("runs.0.blocks.2.edge_front_mm", None, "runs[0].blocks[2].edge_front_mm"),
        ("runs.0.blocks.0.knife_moves", 1.5, "runs[0].blocks[0].knife_moves"),
        ("runs.0.blocks.0.knife_moves", True, "runs[0].blocks[0].knife_moves"),
        ("runs.0.blocks.0.set_up", 1, "runs[0].blocks[0].set_up"),
        ("runs.0.balance.used_kg", "29160", "runs[0].balance.used_kg"),
        ("runs.0.balance.used_kg", 10**400, "runs[0].balance.used_kg"),
        ("runs.0.orders.0.customer", 7, "runs[0].orders[0].customer"),
        ("runs.0.orders.0.as_written", [["width"]], "runs[0].orders[0].as_written[0]"),
        ("runs.0.start", "2026-03-02", "runs[0].start"),
        ("runs.0.start", "six in the morning", "runs[0].start"),
        ("as_of", "2026-13-02", "as_of"),
        ("runs", {}, "runs"),
        ("runs.1", [], "runs[1]"),
        ("schema", "1", "schema"),
        ("schema", 0, "schema"),
    ],
)
def test_a_wrong_type_is_named_by_its_path(path: str, value: object, said: str) -> None:
    """What is of the wrong type is refused, with where it stands."""
    with pytest.raises(ReportError) as caught:
        from_json(_changed(_set(path, value)))
    assert str(caught.value).startswith(f"{said}:")


def test_a_missing_field_is_named() -> None:
    """A field that somebody deleted is asked for, one with a default too."""

    def change(data: dict[str, Any]) -> None:
        del data["runs"][1]["balance"]["over_kg"]

    with pytest.raises(ReportError, match=r"runs\[1\]\.balance\.over_kg: missing"):
        from_json(_changed(change))


def test_an_unknown_field_is_named() -> None:
    """A field that no plan has is refused, not dropped."""
    with pytest.raises(ReportError, match=r"runs\[0\]\.blocks\[0\]\.knive_moves: no such field"):
        from_json(_changed(_set("runs.0.blocks.0.knive_moves", 1)))


def test_a_field_twice_is_refused() -> None:
    """JSON readers silently take the last of two equal names; a plan may not have two."""
    said = f'"schema": {SCHEMA},'
    text = plan_json(sample_plan()).replace(said, f"{said}\n {said}", 1)
    with pytest.raises(ReportError, match="schema stands twice"):
        from_json(text)


def test_a_newer_schema_is_refused_before_its_fields() -> None:
    """A plan of a newer program says so, whatever else is in it."""
    with pytest.raises(ReportError, match=f"schema {SCHEMA + 1}.*newer program"):
        from_json(json.dumps({"schema": SCHEMA + 1, "new": True}))


@pytest.mark.parametrize(
    ("said", "effort"), [(1, Effort.NORMAL), (7, Effort.THOROUGH), ("quick", Effort.QUICK)]
)
def test_the_effort_of_schema_1_was_a_number(said: object, effort: Effort) -> None:
    """Plans of that schema are read; one of today's says a word."""
    data = json.loads(plan_json(sample_plan()))
    data["request"]["effort"] = data["settings"]["effort"] = said
    if said != effort:
        with pytest.raises(ReportError, match=r"request\.effort.*one of quick, normal, thorough"):
            from_json(json.dumps(data))
    plan = from_json(json.dumps({**data, "schema": 1}))
    assert plan.request.effort is plan.settings.effort is effort


def test_limits_of_an_order_had_other_names_up_to_schema_3() -> None:
    """Plans of those schemas are read; in one of today's they are fields that nobody knows."""
    data = json.loads(plan_json(sample_plan()))
    for line in data["runs"][0]["orders"]:
        line["least"], line["most"] = line.pop("min_quantity"), line.pop("max_quantity")
    with pytest.raises(ReportError, match=r"orders\[0\]\.least: no such field"):
        from_json(json.dumps(data))
    assert from_json(json.dumps({**data, "schema": 3})).runs == sample_plan().runs


@pytest.mark.parametrize("said", [True, 1.5, None, "fast", [], {}])
def test_no_effort_of_any_schema(said: object) -> None:
    """What no schema knew is refused in all of them."""
    for schema in (1, SCHEMA):
        data = json.loads(plan_json(sample_plan()))
        data["request"]["effort"] = said
        with pytest.raises(ReportError, match=r"request\.effort"):
            from_json(json.dumps({**data, "schema": schema}))


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", "7", '{"schema": NaN}', "[" * 100_000, "9" * 5000]
)
def test_what_is_no_plan_is_refused(text: str) -> None:
    """Broken, foreign or hostile text is an error of ours, never another exception."""
    with pytest.raises(ReportError):
        from_json(text)


def test_an_exponent_that_would_fill_the_memory_is_refused() -> None:
    """An exact fraction of 1e999999999 would never be finished."""
    text = plan_json(sample_plan()).replace(
        '"jumbo_width_mm": 3600', '"jumbo_width_mm": 1e999999999', 1
    )
    with pytest.raises(ReportError, match="jumbo_width_mm"):
        from_json(text)


def test_a_figure_that_is_no_number_is_not_written() -> None:
    """Infinity has no place in JSON, so the field that holds it is named."""
    plan = sample_plan()
    run = replace(plan.runs[0], minutes=float("inf"))
    with pytest.raises(ReportError, match=r"runs\[0\]\.minutes"):
        plan_json(replace(plan, runs=(run,)))


def test_a_file_is_written_whole(tmp_path: Path) -> None:
    """The new content replaces the old, with the rights any new file has and nothing beside it."""
    path = tmp_path / "plan.json"
    write_whole(path, "old")
    write_whole(path, "neu: ä\n")
    assert path.read_bytes() == "neu: ä\n".encode()
    assert os.listdir(tmp_path) == ["plan.json"]
    plain = tmp_path / "plain"
    plain.touch()
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


def test_bytes_are_written_as_they_are(tmp_path: Path) -> None:
    """Workbooks are bytes."""
    path = tmp_path / "plan.xlsx"
    write_whole(path, b"\x00\r\n\xff")
    assert path.read_bytes() == b"\x00\r\n\xff"


def test_what_cannot_be_written_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fails at the last moment leaves the old file, and no part of the new one."""
    path = tmp_path / "plan.json"
    write_whole(path, "old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ReportError, match="No space left"):
        write_whole(path, "new")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["plan.json"]


def test_a_folder_that_is_none_is_an_error(tmp_path: Path) -> None:
    """The error names the file that could not be written."""
    (tmp_path / "missing").write_text("")
    with pytest.raises(ReportError, match="missing"):
        write_whole(tmp_path / "missing" / "plan.json", "x")


def test_a_plan_revised_by_a_later_program_is_of_its_schema() -> None:
    """The plan that it replaces stays of the schema in which it was issued."""
    issued = from_json(json.dumps({**json.loads(plan_json(sample_plan())), "schema": SCHEMA - 1}))
    assert issued.schema == SCHEMA - 1
    edited = EditedPlan(issued=issued, plan=issued)
    signed = Revision(edited=edited, faults=(), plan=issued).signed("me", "why")
    assert signed.schema == SCHEMA
