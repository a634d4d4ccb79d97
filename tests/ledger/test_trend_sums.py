"""The trend, every figure of it counted again straight from the plans' JSON."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from sqlalchemy import URL, text

from tests.ledger.filling import load
from tests.ledger.history import Shift, shifts
from tests.ledger.recount import Plain, SetCount, count_sets, total
from trimopt.errors import LedgerError
from trimopt.ledger.ledger_file import ledger_url, reading, writing
from trimopt.ledger.trend_model import Asked
from trimopt.ledger.trend_sums import trend
from trimopt.plan.codec import plan_json
from trimopt.report.json.trend_json import trend_json
from trimopt.report.xlsx.trend_workbook import trend_workbook
from trimopt.whole_files import write_whole

_TARGET = 2.4
_DAYS = 20


@pytest.fixture(scope="module")
def history() -> list[Shift]:
    """Twenty days over two months, both winders, with plans that were replaced."""
    return list(shifts(_DAYS, first=date(2024, 1, 20)))


@pytest.fixture(scope="module")
def counted(history: list[Shift]) -> list[SetCount]:
    """All sets that count, from the plans' JSON."""
    plain: list[tuple[Plain, bool, list[Plain]]] = []
    for shift in history:
        names = {plan.replaces for plan, _ in shift.plans}
        for plan, entries in shift.plans:
            replaced = plan.number in names
            plain.append((json.loads(plan_json(plan)), replaced, [asdict(e) for e in entries]))
    assert any(replaced for _, replaced, _ in plain)
    return list(count_sets(plain))


@pytest.fixture(scope="module")
def loaded(history: list[Shift], tmp_path_factory: pytest.TempPathFactory) -> URL:
    """The history in a file, for tests that only read."""
    url = ledger_url(str(tmp_path_factory.mktemp("history") / "ledger.sqlite"))
    load(url, history)
    return url


def _near(found: Any, expected: float, where: str) -> None:
    assert found == pytest.approx(expected, rel=1e-7, abs=1e-3), where


def _same_figures(found: Plain, expected: dict[str, float], where: str) -> None:
    """Compare every figure of one column of a line, ratios and rates worked out again."""
    numbers = {k: v for k, v in found.items() if isinstance(v, int | float)}
    skipped = {"set_ups_100_t", "knife_moves_100_t", "broke_kg"}
    for name, value in numbers.items():
        if name not in skipped:
            _near(value, expected.get(name, 0.0), f"{where} {name}")
    e = defaultdict(float, expected)
    trim = e["edge_trim_m2"] + e["pattern_trim_m2"]
    ratios = {
        "trim_loss": (trim, e["wound_m2"]),
        "trim_loss_deckle": (e["pattern_trim_m2"], e["deckle_m2"]),
        "trim_loss_net": (trim, e["wound_m2"] - e["surplus_m2"]),
        "total_loss": (e["used_kg"] - e["delivered_kg"], e["used_kg"]),
    }
    for name, (above, below) in ratios.items():
        _near(found[name]["numerator"], above, f"{where} {name}")
        _near(found[name]["denominator"], below, f"{where} {name}")
        if below:
            _near(found[name]["share"], above / below, f"{where} {name}")
        else:
            assert found[name]["share"] is None
    if e["wound_kg"]:
        _near(found["set_ups_100_t"], e["set_ups"] / e["wound_kg"] * 100_000, where)
        _near(found["knife_moves_100_t"], e["knife_moves"] / e["wound_kg"] * 100_000, where)


def _same_lines(
    found: list[Plain], sets: list[SetCount], key: Callable[[SetCount], str], *, target: bool = True
) -> None:
    expected = total(sets, key)
    assert [line["label"] for line in found] == sorted(expected)
    for line in found:
        sums = expected[line["label"]]
        for side in ("planned", "planned_of_run", "run"):
            _same_figures(line[side], sums[side], f"{line['label']} {side}")
        for side in ("planned", "run"):
            e = sums[side]
            if e.get("wound_m2") and target:
                share = (e["edge_trim_m2"] + e["pattern_trim_m2"]) / e["wound_m2"]
                assert line[f"{side}_missed"] == (share > _TARGET / 100)


def _shift_of(each: SetCount) -> str:
    moment = each.at - timedelta(hours=6)  # the day of shifts begins at six
    return f"{moment:%Y-%m-%d} {6 + moment.hour // 8 * 8:02d}:00"


_PERIODS: dict[str, Callable[[SetCount], str]] = {
    "shift": _shift_of,
    "day": lambda each: f"{each.at:%Y-%m-%d}",
    "week": lambda each: f"{each.at:%G-W%V}",
    "month": lambda each: f"{each.at:%Y-%m}",
    "year": lambda each: f"{each.at:%Y}",
}


def test_every_figure_is_counted_again(
    ledger: URL, history: list[Shift], counted: list[SetCount], tmp_path: Path
) -> None:
    """Each figure of the JSON, by every period, grade and winder, follows from the plans' JSON."""
    load(ledger, history)
    for by, key in _PERIODS.items():
        found = json.loads(trend_json(trend(ledger, Asked(), by=by, target_percent=_TARGET)))
        _same_lines(found["periods"], counted, key)
    _same_lines([{**found["whole"], "label": "all"}], counted, lambda _: "all")
    _same_lines(found["months"], counted, _PERIODS["month"])
    _same_lines(found["grades"], counted, lambda each: each.grade)
    _same_lines(found["winders"], counted, lambda each: each.winder)
    assert len(found["grades"]) == 5
    assert len(found["winders"]) == 2
    _same_bound(found["against_bound"], counted)
    _same_carriers(found["widths"], counted, lambda piece: (piece[2],), ("width_mm",))
    _same_carriers(found["orders"], counted, lambda piece: piece[:2], ("order", "customer"))
    _same_culls(found["culled"], counted)
    _same_counts(found, counted)
    _same_workbook(ledger, counted, tmp_path / "trend.xlsx")


def _same_bound(found: Plain, counted: list[SetCount]) -> None:
    for side, sets in (("planned", counted), ("run", [each for each in counted if each.ran])):
        for name in ("unavoidable_kg", "unproven_kg", "for_set_ups_kg", "valued_kg"):
            _near(found[side][name], sum(each.bound[name] for each in sets), f"{side} {name}")
        loss = sum(each.planned["used_kg"] - each.planned["delivered_kg"] for each in sets)
        ends = sum(each.planned["butts_kg"] + each.planned["start_end_kg"] for each in sets)
        _near(found[side]["planned_loss_kg"], loss, side)
        _near(found[side]["ends_kg"], ends, side)
        steps = sum(
            found[side][name]
            for name in ("unavoidable_kg", "unproven_kg", "for_set_ups_kg", "valued_kg", "ends_kg")
        )
        _near(steps, loss, f"{side}: the steps add up to the planned loss")
    ran = [each for each in counted if each.ran]
    lost = sum(each.run["used_kg"] - each.run["delivered_kg"] for each in ran) - sum(
        each.planned["used_kg"] - each.planned["delivered_kg"] for each in ran
    )
    _near(found["run"]["lost_in_running_kg"], lost, "lost in running")
    parts = found["run"]["lost_in_running_parts_kg"]
    _near(parts["culled reels"], sum(each.run["culled_kg"] for each in ran), "culled")
    for name in ("edge_trim_kg", "pattern_trim_kg"):
        moved = sum(each.run[name] - each.planned[name] for each in ran)
        _near(parts[name.removesuffix("_kg").replace("_", " ")], moved, name)


def _same_carriers(
    found: list[Plain],
    counted: list[SetCount],
    key: Callable[[tuple[Any, ...]], tuple[Any, ...]],
    names: tuple[str, ...],
) -> None:
    expected: dict[tuple[Any, ...], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for each in counted:
        across = sum(piece[2] for piece in each.pieces)
        for piece in each.pieces:
            sums, share = expected[key(piece)], piece[2] / across
            sums["reels"] += piece[3]
            sums["reels_kg"] += piece[4]
            sums["planned_kg"] += share * each.planned["pattern_trim_kg"]
            if each.ran:
                sums["planned_of_run_kg"] += share * each.planned["pattern_trim_kg"]
                sums["run_kg"] += share * each.run["pattern_trim_kg"]
    assert {tuple(line[name] for name in names) for line in found} == set(expected)
    whole = sum(sums["planned_kg"] for sums in expected.values())
    _near(whole, sum(each.planned["pattern_trim_kg"] for each in counted), "all trim is carried")
    most, so_far = float("inf"), 0.0
    for line in found:
        sums = expected[tuple(line[name] for name in names)]
        for name, value in sums.items():
            _near(line[name], value, f"{names} {name}")
        assert line["planned_kg"] <= most + 1e-6
        most = line["planned_kg"]
        so_far += most / whole
        _near(line["share"], most / whole, "share")
        _near(line["cumulative"], so_far, "share so far")


def _same_culls(found: list[Plain], counted: list[SetCount]) -> None:
    expected: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0])
    for each in counted:
        if each.run.get("culled_kg") and each.written:
            done = each.written["done"]
            reels = each.written["reels_rejected"] if done else len(each.pieces)
            for n, value in enumerate((1, reels, each.run["culled_kg"])):
                expected[each.written["reason"]][n] += value
    assert {line["reason"] for line in found} == set(expected)
    for line in found:
        sets, reels, mass = expected[line["reason"]]
        assert (line["sets"], line["reels"]) == (sets, reels)
        _near(line["culled_kg"], mass, line["reason"])


def _same_counts(found: Plain, counted: list[SetCount]) -> None:
    ran = [each for each in counted if each.ran]
    written = [each.written for each in ran if each.written]
    assert found["measured"] == {
        "sets": len(ran),
        "length": sum(entry["length_wound_m"] is not None for entry in written),
        "width": sum(entry["jumbo_width_mm"] is not None for entry in written),
        "jumbo_length": 0,
    }
    assert found["plans"] == len({each.plan for each in counted})
    missed = total(counted, _PERIODS[found["by"]])
    for side in ("planned", "run"):
        assert found["periods_missed"][side] == [
            label
            for label, sums in sorted(missed.items())
            if (sums[side]["edge_trim_m2"] + sums[side]["pattern_trim_m2"])
            > _TARGET / 100 * sums[side]["wound_m2"]
        ]


def _same_workbook(url: URL, counted: list[SetCount], path: Path) -> None:
    """Cells of the workbook: the front sheet, a line of the periods, and all raw rows summed."""
    write_whole(path, trend_workbook(trend(url, Asked(), by="week", target_percent=_TARGET)))
    book = load_workbook(path, read_only=True)
    front = {row[0]: row[1:4] for row in book["Trim loss"].iter_rows(values_only=True)}
    whole = total(counted, lambda _: "all")["all"]
    for column, side in enumerate(("planned", "planned_of_run", "run")):
        for words, name in (("Paper used t", "used_kg"), ("Pattern trim t", "pattern_trim_kg")):
            _near(front[words][column], whole[side][name] / 1000, f"{words} {side}")
        e = whole[side]
        share = (e["edge_trim_m2"] + e["pattern_trim_m2"]) / e["wound_m2"]
        _near(front["Trim loss"][column], share, f"front trim loss {side}")
    weeks = total(counted, _PERIODS["week"])
    lines = list(book["Periods"].iter_rows(min_row=2, values_only=True))
    assert [line[0] for line in lines] == sorted(weeks)
    for line in lines:
        for column, side in ((1, "planned"), (2, "run")):
            e = weeks[str(line[0])][side]
            _near(line[column], (e["edge_trim_m2"] + e["pattern_trim_m2"]) / e["wound_m2"], "week")
        assert line[3] == pytest.approx(_TARGET / 100)
    rows = list(book["Rows"].iter_rows(values_only=True))
    headings = [str(name) for name in rows[0]]
    for heading, side, name in (
        ("Planned used kg", "planned", "used_kg"),
        ("Planned of run wound m²", "planned_of_run", "wound_m2"),
        ("Run culled kg", "run", "culled_kg"),
        ("Run knife moves", "run", "knife_moves"),
    ):
        column = headings.index(heading)
        summed = sum(float(str(row[column] or 0)) for row in rows[1:])
        assert summed == pytest.approx(whole[side][name], abs=1.0), heading
    book.close()


@pytest.mark.parametrize(
    ("asked", "kept"),
    [
        (Asked(grade="white liner"), lambda each: each.grade == "White liner"),
        (Asked(winder="Winder 2"), lambda each: each.winder == "Winder 2"),
        (
            Asked(begins=date(2024, 1, 22), ends=date(2024, 1, 25)),
            lambda each: date(2024, 1, 22) <= each.at.date() <= date(2024, 1, 25),
        ),
        (
            Asked(begins=date(2024, 2, 1), grade="Plain board", winder="winder 1"),
            lambda each: (
                each.at >= datetime.fromisoformat("2024-02-01T00:00")
                and (each.grade, each.winder) == ("Plain board", "Winder 1")
            ),
        ),
    ],
)
def test_a_choice_of_sets(
    loaded: URL,
    counted: list[SetCount],
    asked: Asked,
    kept: Callable[[SetCount], bool],
) -> None:
    """A grade, a winder and a span of days leave exactly their sets."""
    found = json.loads(trend_json(trend(loaded, asked, by="day", target_percent=_TARGET)))
    chosen = [each for each in counted if kept(each)]
    assert chosen
    _same_lines(found["periods"], chosen, _PERIODS["day"])


def test_a_replaced_plan_counts_only_what_was_run(
    loaded: URL, history: list[Shift], counted: list[SetCount]
) -> None:
    """Of a replaced plan two sets were run: only those count, and the trend says how many."""
    found = trend(loaded, Asked())
    again = [shift for shift in history if len(shift.plans) == 2]
    assert found.replaced_plans == len(again)
    assert found.replaced_sets == sum(
        int(entry.done or bool(entry.length_wound_m))
        for shift in again
        for entry in shift.plans[0][1]
    )
    assert found.whole.planned.sets == len(counted)


def test_nothing_to_show_says_what_there_is(file_ledger: URL, history: list[Shift]) -> None:
    """An empty choice names the days, grades and winders that the ledger has."""
    load(file_ledger, history[:3])
    with pytest.raises(LedgerError) as error:
        trend(file_ledger, Asked(grade="Newsprint"))
    assert "no set counts for grade Newsprint" in str(error.value)
    assert "sets from 2024-01-20 to 2024-01-2" in str(error.value)
    assert "winders: Winder " in str(error.value)


def test_days_that_end_before_they_begin_are_an_error(file_ledger: URL) -> None:
    """And not a time in which nothing ran."""
    with pytest.raises(LedgerError, match="2024-01-30, lies before the first, 2024-02-02"):
        trend(file_ledger, Asked(begins=date(2024, 2, 2), ends=date(2024, 1, 30)))


@pytest.mark.parametrize("shifts", ["6,14,22", 6, (25,), ("6", 14)])
def test_shifts_are_hours(file_ledger: URL, shifts: Any) -> None:
    """As the command line reads them, and no text of them."""
    with pytest.raises(LedgerError, match="hours from 0 to 23"):
        trend(file_ledger, Asked(), by="shift", shifts=shifts)


@pytest.mark.parametrize("target", [-3.0, 101.0, float("nan"), "2.5"])
def test_a_target_is_a_share_of_the_web(file_ledger: URL, target: Any) -> None:
    """Any other would be missed or met by every period."""
    with pytest.raises(LedgerError, match="is no trim loss"):
        trend(file_ledger, Asked(), target_percent=target)


def test_a_ledger_changed_from_outside_is_not_summed(ledger: URL, history: list[Shift]) -> None:
    """Where sets no longer add up to their plan's balance the trend refuses and names the plan."""
    load(ledger, history[:3])
    with writing(ledger) as connection:
        connection.execute(text("UPDATE sets SET edge_trim_kg = edge_trim_kg + 9 WHERE number = 2"))
    with pytest.raises(LedgerError, match=r"the sets of plan 2024-01-20-\d\d-1, .* do not add up"):
        trend(ledger, Asked())


def test_a_ledger_without_records(file_ledger: URL, history: list[Shift]) -> None:
    """Plans alone give the planned side; run has no sets and no percentages."""
    load(file_ledger, [Shift(plans=tuple((p, ()) for p, _ in s.plans)) for s in history[:6]])
    found = trend(file_ledger, Asked(), target_percent=_TARGET)
    assert found.measured.sets == 0
    assert found.whole.run.trim_loss.share is None
    assert found.whole.run_missed is None
    assert found.against_run.running_kg == ()
    with reading(file_ledger) as connection:
        assert connection.execute(text("SELECT count(*) FROM as_run")).scalar_one() == 0
