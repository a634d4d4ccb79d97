"""Recording what was run."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import URL, func, select

from tests.ledger.filling import write_csv
from tests.ledger.plans import small_plan
from tests.plan.sample import sample_plan
from trimopt.errors import LedgerError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import reading
from trimopt.ledger.ledger_tables import as_run
from trimopt.ledger.recorded_sets import Recorded, record
from trimopt.plan.model import Plan

_ALL_DONE: dict[tuple[int, int], dict[str, object]] = {(1, n): {"Done": "yes"} for n in (1, 2, 3)}


def _record(
    tmp_path: Path,
    url: URL,
    filled: dict[tuple[int, int], dict[str, object]],
    *,
    plan: Plan | None = None,
    again: bool = False,
    take_back: bool = False,
) -> Recorded:
    plan = plan or small_plan("a-1")
    path = write_csv(tmp_path / "run.csv", plan, filled)
    return record(plan, path, url, replace=again, take_back=take_back)


def _count(url: URL) -> int:
    with reading(url) as connection:
        return connection.scalar(select(func.count()).select_from(as_run)) or 0


def test_run_as_planned_equals_the_plan(tmp_path: Path, ledger: URL) -> None:
    """A plan run as planned, nothing measured, has the plan's balance part by part."""
    plan = sample_plan()
    filled: dict[tuple[int, int], dict[str, object]] = {
        (place, row.number): {"Done": "yes"}
        for place, run in enumerate(plan.runs, start=1)
        for block in run.blocks
        for row in block.sets
    }
    Ledger(ledger).keep(plan)
    recorded = _record(tmp_path, ledger, filled, plan=plan)
    assert (recorded.sets, recorded.recorded, recorded.done) == (13, 13, 13)
    for name, planned in recorded.planned.items():
        assert recorded.run[name] == pytest.approx(planned, abs=0.01), name
    assert recorded.planned["used_kg"] == pytest.approx(
        sum(run.balance.used_kg for run in plan.runs)
    )


def test_the_parts_add_up_to_the_paper_used(tmp_path: Path, ledger: URL) -> None:
    """With everything measured otherwise than planned the balance as run still closes."""
    recorded = _record(
        tmp_path, ledger,
        {
            (1, 1): {"Done": "yes", "Length wound m": 6150, "Jumbo width mm": 3610,
                     "Jumbo length m": 12810},
            (1, 2): {"Done": "yes", "Length wound m": 6180, "Reels rejected": 2,
                     "Reason": "wrinkles", "Edge trim front mm": 21, "Edge trim back mm": 15,
                     "Minutes stopped": 25},
            (1, 3): {"Done": "no", "Length wound m": 900, "Reason": "web break"},
        },
    )  # fmt: skip
    run = recorded.run
    parts = (
        "delivered_kg", "surplus_kg", "edge_trim_kg", "pattern_trim_kg", "sheeter_kg", "butts_kg",
        "start_end_kg", "culled_kg",
    )  # fmt: skip
    assert run["used_kg"] == pytest.approx(sum(run[name] for name in parts))
    assert recorded.minutes_stopped == 25


@pytest.mark.parametrize(
    "measured",
    [
        {"Length wound m": 6150},
        {"Reels rejected": 0},
        {"Reels rejected": 1, "Reason": "starred"},
        {"Jumbo width mm": 3600},
        {"Edge trim front mm": 20.25},
        {"Edge trim back mm": 20.25, "Minutes stopped": 5, "Remark": "cold"},
    ],
)
def test_a_row_that_was_measured_was_run(
    tmp_path: Path, ledger: URL, measured: dict[str, object]
) -> None:
    """Such a row is recorded like one that says yes; a blank row beside it is not recorded."""
    _record(tmp_path, ledger, {(1, 1): {"Done": "yes", **measured}})
    again = _record(tmp_path, ledger, {(1, 1): measured})
    assert (again.recorded, again.done, again.unchanged) == (1, 1, 1)


def test_a_plan_comes_into_the_ledger_with_its_record(tmp_path: Path, ledger: URL) -> None:
    """A plan that was issued without a ledger is kept when its sheet is recorded."""
    assert _record(tmp_path, ledger, dict(_ALL_DONE)).plan_kept
    assert not _record(tmp_path, ledger, dict(_ALL_DONE)).plan_kept


def test_a_plan_by_its_number(tmp_path: Path, ledger: URL) -> None:
    """A plan of the ledger is found by number; an unknown and an ambiguous number are refused."""
    Ledger(ledger).keep(small_plan("a-1"))
    path = write_csv(tmp_path / "run.csv", small_plan("a-1"), dict(_ALL_DONE))
    assert record("a-1", path, ledger).done == 3
    with pytest.raises(LedgerError, match=r"no plan a-7 in the ledger; name the plan's \.json"):
        record("a-7", path, ledger)
    Ledger(ledger).keep(small_plan("a-1", minutes=30))
    with pytest.raises(LedgerError, match="2 plans in the ledger have the number a-1"):
        record("a-1", path, ledger)


def test_a_shift_may_record_in_parts(tmp_path: Path, ledger: URL) -> None:
    """Sets that are filled in later are added; the same again changes nothing."""
    first = _record(tmp_path, ledger, {(1, 1): {"Done": "yes"}})
    assert (first.fresh, first.recorded) == (1, 1)
    second = _record(tmp_path, ledger, {(1, 1): {"Done": "yes"}, (1, 2): {"Done": "no"}})
    assert (second.fresh, second.unchanged, second.recorded) == (1, 1, 2)
    third = _record(tmp_path, ledger, {(1, 2): {"Done": "no"}})
    assert (third.unchanged, third.recorded, _count(ledger)) == (1, 2, 2)


def test_other_figures_are_refused_without_replace(tmp_path: Path, ledger: URL) -> None:
    """A set recorded with other figures is listed with what was there; --replace changes it."""
    _record(tmp_path, ledger, {**_ALL_DONE, (1, 2): {"Done": "yes", "Length wound m": 6100}})
    changed: dict[tuple[int, int], dict[str, object]] = {
        (1, 1): {"Done": "no"},
        (1, 2): {"Done": "yes", "Length wound m": 6150},
    }
    with pytest.raises(LedgerError) as error:
        _record(tmp_path, ledger, changed)
    text = str(error.value)
    assert "2 faults; nothing was taken from it" in text
    assert 'row 2, Done: "no" was recorded before as yes; put it back, or give --replace' in text
    assert 'row 3, Length wound m: "6150" was recorded before as 6100' in text
    again = _record(tmp_path, ledger, changed, again=True)
    assert (again.replaced, again.recorded, _count(ledger)) == (2, 3, 3)
    said = [(one.number, one.column, one.was, one.now) for one in again.changes]
    assert said == [(1, "Done", "yes", "no"), (2, "Length wound m", "6100", "6150")]


def test_one_corrected_row_changes_one_set(tmp_path: Path, ledger: URL) -> None:
    """--replace with a single row leaves every other set as it was recorded, and says so."""
    plan = sample_plan()
    filled: dict[tuple[int, int], dict[str, object]] = {
        (place, row.number): {"Done": "yes", "Length wound m": row.length_m - 1}
        for place, run in enumerate(plan.runs, start=1)
        for block in run.blocks
        for row in block.sets
    }
    first = _record(tmp_path, ledger, filled, plan=plan)
    with reading(ledger) as connection:
        before = connection.execute(select(as_run)).mappings().all()
    length = filled[1, 2]["Length wound m"]
    assert isinstance(length, int)
    one: dict[tuple[int, int], dict[str, object]] = {
        (1, 2): {"Done": "yes", "Length wound m": length - 9}
    }
    again = _record(tmp_path, ledger, one, plan=plan, again=True)
    assert (again.recorded, again.replaced, again.not_named) == (first.recorded, 1, 12)
    assert [(change.number, change.now) for change in again.changes] == [(2, str(length - 9))]
    with reading(ledger) as connection:
        after = connection.execute(select(as_run)).mappings().all()
    written = ("run", "number", "done", "length_wound_m", "recorded_at", "source")
    differ = [
        old["number"]
        for old, new in zip(before, after, strict=True)
        if any(old[name] != new[name] for name in written)
    ]
    assert differ == [2]


def test_a_blank_drops_nothing_unasked(tmp_path: Path, ledger: URL) -> None:
    """--replace refuses a blank where something was recorded; --take-back takes it."""
    culled = {"Done": "yes", "Length wound m": 6150, "Reels rejected": 1, "Reason": "starred"}
    _record(tmp_path, ledger, {**_ALL_DONE, (1, 1): dict(culled)})
    plain: dict[tuple[int, int], dict[str, object]] = {(1, 1): {"Done": "yes"}}
    with pytest.raises(LedgerError) as error:
        _record(tmp_path, ledger, plain, again=True)
    text = str(error.value)
    assert "3 faults; nothing was taken from it" in text
    words = "was recorded before as 6150; write it again, or give --take-back to drop it"
    assert f"row 2, Length wound m: {words}" in text
    assert "row 2, Reason: was recorded before as starred" in text
    taken = _record(tmp_path, ledger, plain, again=True, take_back=True)
    assert (taken.replaced, taken.recorded, len(taken.changes)) == (1, 3, 3)


def test_a_mended_length_of_a_jumbo_contradicts_what_stands(tmp_path: Path, ledger: URL) -> None:
    """Mended beside one set alone, a jumbo's length is refused at the row that mends it."""
    said = {"Done": "yes", "Jumbo length m": 12800}
    _record(tmp_path, ledger, {(1, 1): dict(said), (1, 2): dict(said)})
    words = r'row 2, Jumbo length m: "12700" jumbo K-17 was 12800 m beside set 2'
    with pytest.raises(LedgerError, match=words):
        _record(tmp_path, ledger, {(1, 1): {"Done": "yes", "Jumbo length m": 12700}}, again=True)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"Plan": "b-1"}, 'Plan: "b-1" is another plan; give the sheet of plan a-1'),
        ({"Run": "Fluting"}, 'Run: "Fluting" is no run of the plan; one of: Sack kraft 120 g/m²'),
        ({"Set": 9}, 'Set: "9" is no set of that run; a set from 1 to 3'),
        ({"Set": None}, "Set: is no set of that run"),
        ({"Jumbo": "J77"}, 'Jumbo: "J77" is not the set\'s jumbo in the plan; leave it as K-17'),
        ({"Planned length m": 6201}, 'Planned length m: "6201" is not the set\'s length'),
        ({"Done": None, "Minutes stopped": 5}, "Done: is blank beside other entries; write yes or"),
        ({"Done": None, "Remark": "cold"}, "Done: is blank beside other entries; write yes or no"),
        ({"Done": None, "Length wound m": 5}, '"5" is too short for a set that was done; no under'),
        ({"Done": None, "Length wound m": 62000}, 'row 2, Length wound m: "62000" is far longer'),
        ({"Length wound m": 0}, 'Length wound m: "0" is too short for a set that was done; no'),
        ({"Length wound m": 620}, '"620" is too short for a set that was done; no under "Done"'),
        ({"Length wound m": 62000}, 'row 2, Length wound m: "62000" is far longer than the set'),
        ({"Done": "no", "Length wound m": 20341}, '"20341" is far longer than the set; the metres'),
        ({"Length wound m": "-6200"}, 'Length wound m: "-6200" negative; a figure from 0 up'),
        ({"Reels rejected": "-2", "Reason": "starred"}, 'Reels rejected: "-2" negative'),
        ({"Minutes stopped": "1e308"}, 'Minutes stopped: "1e308" text where a number belongs'),
        ({"Minutes stopped": "1" + "0" * 400}, "not of a size that any mill has"),
        ({"Minutes stopped": 20_000}, "more than can be; at most 10,000"),
        ({"Jumbo length m": 128000}, '"128000" is far longer than K-17; the metres on it when'),
        ({"Jumbo length m": 11000}, 'row 2, Jumbo length m: "11000" is less than the 12,400 m'),
        ({"Jumbo width mm": 36000}, "more than can be; at most 20,000"),
        ({"Jumbo width mm": 5600}, 'Jumbo width mm: "5600" is far wider than the plan\'s jumbo'),
        ({"Edge trim front mm": 2000}, 'Edge trim front mm: "2000" is wider than the reels leave'),
        ({"Edge trim back mm": 2000}, 'Edge trim back mm: "2000" is wider than the reels leave'),
        (
            {"Jumbo width mm": 3600, "Edge trim back mm": 90},
            "is wider than the reels leave; the strip that came off beside 3559.5 mm of reels on a",
        ),
        (
            {"Edge trim front mm": 60, "Edge trim back mm": 60},
            'row 2, Edge trim front mm: "60" edge trims and pattern are 60 + 3559.5 + 60 mm',
        ),
        (
            {"Edge trim front mm": 120},
            "of reels on a jumbo of 3600 mm; if that was wider, write its width",
        ),
        (
            {"Done": "no", "Length wound m": 6200},
            'Reason: is missing beside a length of a set not done; yes under "Done", or why',
        ),
        ({"Reels rejected": 4, "Reason": "starred"}, '"4" more than the set has; the set gives 3'),
        ({"Reels rejected": 1}, "Reason: is missing; one of: web break, wrinkles"),
        ({"Reels rejected": 1, "Reason": "mice"}, 'Reason: "mice" is not on the list; one of: web'),
        ({"Reason": "starred"}, "Reels rejected: has a reason but no number"),
        ({"Done": "no", "Reels rejected": 1, "Reason": "starred"}, "of a set that was not done"),
        ({"Jumbo width mm": 3500}, '"3500" is less than the reels across; at least 3559.5 mm'),
        (
            {"Jumbo width mm": 3600, "Edge trim front mm": 30, "Edge trim back mm": 30},
            "edge trims and pattern are 30 + 3559.5 + 30 mm, which is 19.5 mm off",
        ),
        ({"Length wound m": 7000}, 'row 2, Length wound m: "7000" 13,200 m were wound from K-17'),
    ],
)
def test_what_does_not_match_is_listed(
    tmp_path: Path, file_ledger: URL, cells: dict[str, object], words: str
) -> None:
    """Every kind of row that does not fit its set is named with its place, and none is kept."""
    first: dict[str, object] = {"Done": "yes", **cells}
    filled: dict[tuple[int, int], dict[str, object]] = {(1, 1): first, (1, 2): {"Done": "yes"}}
    with pytest.raises(LedgerError) as error:
        _record(tmp_path, file_ledger, filled)
    assert words in str(error.value)
    assert "run.csv, row " in str(error.value)
    Ledger(file_ledger).keep(small_plan("a-1"))
    assert _count(file_ledger) == 0


def test_all_faults_come_at_once(tmp_path: Path, file_ledger: URL) -> None:
    """Cells that cannot be read and rows that do not match are listed together, by row."""
    filled: dict[tuple[int, int], dict[str, object]] = {
        (1, 1): {"Done": "yes", "Reason": "mice"},
        (1, 2): {"Done": "perhaps"},
        (1, 3): {"Done": "yes", "Run": "Fluting"},
    }
    with pytest.raises(LedgerError) as error:
        _record(tmp_path, file_ledger, filled)
    lines = str(error.value).splitlines()
    assert "faults; nothing was taken from it" in lines[0]
    rows = [line.split("row ")[1][0] for line in lines[1:]]
    assert rows == sorted(rows)
    assert set(rows) == {"2", "3", "4"}


def test_a_set_stands_once(tmp_path: Path, file_ledger: URL) -> None:
    """A second row for one set is a fault that names the first."""
    filled: dict[tuple[int, int], dict[str, object]] = {
        (1, 1): {"Done": "yes"},
        (1, 2): {"Set": 1, "Done": "yes"},
    }
    with pytest.raises(LedgerError, match="stands twice; keep one row a set; the first is row 2"):
        _record(tmp_path, file_ledger, filled)


def test_one_length_a_jumbo(tmp_path: Path, file_ledger: URL) -> None:
    """Two lengths of one jumbo contradict each other, also when they come on two sheets."""
    first = {"Done": "yes", "Jumbo length m": 12800}
    second = {"Done": "yes", "Jumbo length m": 12700}
    words = "row 3, .* jumbo K-17 was 12800 m beside set 1; one length a jumbo"
    with pytest.raises(LedgerError, match=words):
        _record(tmp_path, file_ledger, {(1, 1): dict(first), (1, 2): dict(second)})
    _record(tmp_path, file_ledger, {(1, 1): dict(first)})
    with pytest.raises(LedgerError, match=words):
        _record(tmp_path, file_ledger, {(1, 2): dict(second)})


def test_a_blank_sheet_is_no_record(tmp_path: Path, file_ledger: URL) -> None:
    """A sheet in which nothing was filled in is refused."""
    with pytest.raises(LedgerError, match='no set has yes or no under "Done"'):
        _record(tmp_path, file_ledger, {})


def test_a_length_of_two_jumbos_is_not_told_apart(tmp_path: Path, file_ledger: URL) -> None:
    """Beside a set of two jumbos a jumbo length is refused rather than guessed."""
    plan = small_plan("a-1")
    run = plan.runs[0]
    block = run.blocks[1]
    row = block.sets[0]
    stretch = row.stretches[0]
    joined = replace(
        row,
        stretches=(
            replace(stretch, jumbo="K-17", from_m=12400, to_m=12600),
            replace(stretch, from_m=0, to_m=row.length_m - 200),
        ),
    )
    blocks = (run.blocks[0], replace(block, sets=(joined,)))
    jumbos = (
        replace(run.jumbos[0], wound_m=12600, butt_m=0),
        replace(run.jumbos[1], wound_m=6000, carried_forward_m=6900),
    )
    mass = 3600 * 400 * 120 / 1e6  # the butt of 200 m is gone, and 200 m less of the second
    balance = replace(run.balance, used_kg=run.balance.used_kg - mass / 2, butts_kg=0.0)
    joined_plan = replace(plan, runs=(replace(run, blocks=blocks, jumbos=jumbos, balance=balance),))
    with pytest.raises(LedgerError, match=r"could be either of K-17 \+ J04"):
        _record(
            tmp_path, file_ledger, {(1, 3): {"Done": "yes", "Jumbo length m": 9}}, plan=joined_plan
        )
    recorded = _record(tmp_path, file_ledger, dict(_ALL_DONE), plan=joined_plan)
    assert recorded.run["used_kg"] == pytest.approx(recorded.planned["used_kg"])
