"""The check along the web: sets on jumbos, metres, joins, times, and bands of defects.

Every reel that a band lies in is lost, or goes where seconds go.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

from trimopt.book.model import Book, Defect, JumboInStock, Stretch, grade_key
from trimopt.check.check_formulas import cut_out, exact, minutes_between
from trimopt.check.findings import MINUTES_WITHIN, CheckContext, Findings
from trimopt.mill.model import Jumbo, Mill
from trimopt.paper import winding_min
from trimopt.plan.model import Block, JumboUse, Plan, RunPlan, SetRow


def stock_of(run: RunPlan, book: Book, mill: Mill) -> dict[str, JumboInStock]:
    """The jumbos in stock that this run may be wound from: their grammage may differ a little."""
    apart = exact(run.grammage_gsm) * mill.jumbo.max_grammage_difference_percent / 100
    return {
        jumbo.name: jumbo
        for jumbo in book.jumbos
        if grade_key(jumbo.grade) == grade_key(run.grade)
        and abs(exact(jumbo.grammage_gsm) - exact(run.grammage_gsm)) <= apart
    }


def check_unused(plan: Plan, book: Book, notes: Findings) -> None:
    """Every jumbo of the book is wound by a run, or named with the reason why none takes it."""
    opened = {jumbo.name for run in plan.runs for jumbo in run.jumbos}
    named = [row.name for row in plan.unused_jumbos]
    listed = {jumbo.name: jumbo for jumbo in book.jumbos}
    for name in listed:
        if name not in opened and named.count(name) != 1:
            what = "is named once as not used, with the reason"
            notes.add(f"jumbo {name}", what, named.count(name), 1)
    for row in plan.unused_jumbos:
        where, source = f"jumbo {row.name}", listed.get(row.name)
        if row.name in opened:
            notes.add(where, "not used", "yes", "a run is wound from it")
        if source is None:
            notes.add(where, "not used", "yes", "not in the order book")
            continue
        notes.same(where, "grade", row.grade, source.grade)
        notes.same(where, "grammage", row.grammage_gsm, source.grammage_gsm)
        notes.same(where, "width, mm", row.width_mm, source.width_mm)
        notes.same(where, "length, m", row.length_m, source.length_m)
        if not row.why:
            notes.add(where, "why no run takes it", "", "no reason")


def check_jumbos(case: CheckContext) -> None:
    """Check jumbos against mill and stock, and that the sets lie on them end to end."""
    run, notes = case.run, case.notes
    stock = stock_of(run, case.book, case.mill)
    wound = _check_stretches(case)
    run_off, to_run = (
        {part.jumbo for row in run.sets if row.done == done for part in row.stretches}
        for done in (True, False)
    )
    names = [jumbo.name for jumbo in run.jumbos]
    for name in sorted({name for name in names if names.count(name) > 1}):
        notes.add(f"jumbo {name}", "a jumbo is listed once", names.count(name), 1)
    for name in wound:
        if name not in names:
            notes.add(f"jumbo {name}", "sets are wound from it", "", "not among the run's jumbos")
    notes.same("jumbos", "order in which they are opened", tuple(names), tuple(wound))
    if case.book.jumbos_in_order:
        _check_order(case, names, list(stock))
    _check_width_of_sets(case)
    _check_joins(case)
    for place, jumbo in enumerate(run.jumbos, start=1):
        where = f"jumbo {jumbo.name}"
        if jumbo.name in run_off:  # it stands as it is, and is as listed where more is to run
            if jumbo.name in to_run:
                _check_left(case, jumbo, stock)
        else:
            if jumbo.nominal and case.book.only_listed_jumbos:
                notes.add(
                    where, "nominal jumbo", "yes", "the book says that only listed ones exist"
                )
            _check_made(case, jumbo, stock)
        _check_metres(case, jumbo, wound.get(jumbo.name, []), last=place == len(run.jumbos))


def _check_width_of_sets(case: CheckContext) -> None:
    """Knives and edges of a block are for one width: that of every jumbo of its sets."""
    widths = {jumbo.name: jumbo.width_mm for jumbo in case.run.jumbos}
    for block, row in case.run.sets_in_blocks:
        for part in row.stretches:
            found = widths.get(part.jumbo)
            if found is not None and found != case.run.web_mm(block):
                what = f"width of jumbo {part.jumbo}, mm"
                case.notes.add(f"set {row.number}", what, case.run.web_mm(block), found)


def _check_order(case: CheckContext, opened: list[str], listed: list[str]) -> None:
    """Listed jumbos come off in the list's order, nominal ones after them.

    A nominal one with sets that ran, or that stay as issued, may have come before any was listed.
    """
    rows = [row for row in case.run.sets if row.done or row.issued]
    held = {part.jumbo for row in rows for part in row.stretches}
    opened = [name for name in opened if name in listed or name not in held]
    places = [listed.index(name) if name in listed else len(listed) for name in opened]
    for (before, place), (name, after) in pairwise(zip(opened, places, strict=True)):
        if after < place:
            what = "is opened in the order of the book's list"
            case.notes.add(f"jumbo {name}", what, f"after {before}", "listed before it")


def _end_m(case: CheckContext, jumbo: JumboUse) -> int:
    """End loss as the book lists it, that of a jumbo carried forward too."""
    listed = (each.loss_end_m for each in case.book.jumbos if each.name == jumbo.name)
    return next(listed, jumbo.loss_end_m)


def _check_stretches(case: CheckContext) -> dict[str, list[Stretch]]:
    """Stretches of each jumbo, jumbos in the order they are opened."""
    notes = case.notes
    wound: dict[str, list[Stretch]] = defaultdict(list)
    cut = {use.name: cut_out(use, _end_m(case, use)) for use in case.run.jumbos if use.defects}
    open_now = ""
    for row in case.run.sets:
        where = f"set {row.number}"
        if not row.stretches:
            notes.add(where, "lies on a jumbo", "", "on none")
        for part in row.stretches:
            if part.jumbo != open_now and part.jumbo in wound:
                notes.add(where, "one jumbo is open at a time", part.jumbo, "it was left before")
            open_now = part.jumbo
            before = wound[part.jumbo][-1].to_m if wound[part.jumbo] else 0
            # A gap would be paper that nobody accounts for, so sets lie end to end from 0, and
            # from the end of what is cut out.
            starts = [before, *(end for _, end in cut.get(part.jumbo, ()) if end >= before)]
            if part.from_m not in starts:
                what = f"metre where it begins on {part.jumbo}"
                notes.add(where, what, part.from_m, before)
            for start, end in cut.get(part.jumbo, ()):
                if part.from_m < end and start < part.to_m:
                    what = f"lies over what is cut out of {part.jumbo}, metres {start} to {end}"
                    notes.add(where, what, f"{part.from_m} to {part.to_m}", "no defect")
            if part.to_m <= part.from_m:
                notes.add(where, f"metres on {part.jumbo}", part.to_m - part.from_m, "above 0")
            wound[part.jumbo].append(part)
    return dict(wound)


def _check_joins(case: CheckContext) -> None:
    """Within a jumbo a set is joined over what is cut out, and over nothing else."""
    for row in case.run.sets:
        for one, other in pairwise(row.stretches):
            if one.jumbo == other.jumbo and one.to_m == other.from_m:
                what = f"join at metre {one.to_m} of {one.jumbo}"
                case.notes.add(f"set {row.number}", what, "a join", "nothing is cut out there")


def _check_made(case: CheckContext, jumbo: JumboUse, stock: dict[str, JumboInStock]) -> None:
    """Against the mill's nominal jumbo or the one in stock."""
    where, notes = f"jumbo {jumbo.name}", case.notes
    kept = stock.get(jumbo.name)
    if jumbo.nominal and jumbo.name in case.book.jumbo_names:
        notes.add(where, "nominal", "yes", "the book lists a jumbo of that name")
    source = case.mill.jumbo if jumbo.nominal else kept
    if source is None:
        notes.add(where, "listed in the book", "yes", "no such jumbo of this grade and grammage")
        return
    notes.same(where, "length, m", jumbo.length_m, source.length_m)
    notes.same(where, "start loss, m", jumbo.loss_start_m, source.loss_start_m)
    _check_to_run(case, jumbo, source, () if kept is None else kept.defects)
    if jumbo.wound_m > source.usable_m:
        notes.add(where, "metres wound", jumbo.wound_m, f"{source.usable_m} m usable")
    if 0 < jumbo.carried_forward_m < source.loss_end_m:
        notes.add(
            where, "carried forward, with the end loss on it", jumbo.carried_forward_m,
            source.loss_end_m,
        )  # fmt: skip


def _check_left(case: CheckContext, jumbo: JumboUse, stock: dict[str, JumboInStock]) -> None:
    """What is left of a jumbo in part run is as the book lists it, where it lists it."""
    kept = stock.get(jumbo.name)
    if kept is not None:
        case.notes.same(f"jumbo {jumbo.name}", "nominal", jumbo.nominal, False)
        _check_to_run(case, jumbo, kept, kept.defects)


def _check_to_run(
    case: CheckContext, jumbo: JumboUse, source: Jumbo | JumboInStock, defects: tuple[Defect, ...]
) -> None:
    """What holds of the metres that are still to run: width, defects, the end.

    A remainder that is carried forward keeps the end loss on it, so the use then says 0.
    """
    where, notes = f"jumbo {jumbo.name}", case.notes
    notes.same(where, "width, mm", jumbo.width_mm, source.width_mm)
    notes.same(where, "defects", jumbo.defects, defects)
    end_m = 0 if jumbo.carried_forward_m else source.loss_end_m
    notes.same(where, "end loss, m", jumbo.loss_end_m, end_m)


def _check_metres(case: CheckContext, jumbo: JumboUse, parts: list[Stretch], *, last: bool) -> None:
    where, notes = f"jumbo {jumbo.name}", case.notes
    notes.same(where, "metres wound", jumbo.wound_m, sum(part.to_m - part.from_m for part in parts))
    total = (
        jumbo.loss_start_m + jumbo.wound_m + jumbo.butt_m + jumbo.carried_forward_m
        + jumbo.loss_end_m + jumbo.defect_m
    )  # fmt: skip
    cut_m = sum(end - start for start, end in cut_out(jumbo, _end_m(case, jumbo)))
    notes.same(where, "cut out for defects, m", jumbo.defect_m, cut_m)
    notes.same(
        where,
        "length, m, and the sum of its losses, wound, butt, cut out and carried forward",
        jumbo.length_m,
        total,
    )
    if jumbo.butt_m < 0 or jumbo.carried_forward_m < 0:
        notes.add(
            where, "butt and carried forward, m", (jumbo.butt_m, jumbo.carried_forward_m), "below 0"
        )
    if jumbo.carried_forward_m and not last:
        notes.add(where, "carried forward, m", jumbo.carried_forward_m, "not the run's last jumbo")


def _durations(case: CheckContext) -> list[float]:
    """Minutes of each set: set-up, moves, change of jumbo before it; winding; set change after.

    The first set-up and the first jumbo change are counted; the caller allows for a winder that
    stands ready.
    """
    winder = case.winder
    minutes = []
    jumbo = None
    for place, block in enumerate(case.run.blocks):
        ahead = winder.set_up_min if block.set_up or place == 0 else 0.0
        ahead += winder.knife_move_min * block.knife_moves
        for row in block.sets:
            minutes.append(ahead + winder.set_change_min)
            ahead = 0.0
            for part, before in zip(row.stretches, (None, *row.stretches), strict=False):
                if part.jumbo != jumbo:
                    minutes[-1] += winder.jumbo_change_min
                elif before is not None:
                    minutes[-1] += winder.join_min
                jumbo = part.jumbo
                length_m = max(0, part.to_m - part.from_m)
                minutes[-1] += winding_min(
                    length_m, winder.speed_m_min, winder.acceleration_m_min_s
                )
    return minutes


def check_times(case: CheckContext) -> None:
    """Check minutes, and the timetable where there is one.

    Starts and finishes follow one another; a set takes what the mill file's minutes come to. The
    first may take less, by its set-up, its jumbo change or both, where the winder stands ready.
    """
    run, notes = case.run, case.notes
    expected = _durations(case)
    rows = case.run.sets
    set_up, change = case.winder.set_up_min, case.winder.jumbo_change_min
    total = sum(
        minutes_between(row.start, row.finish) if row.done and row.start and row.finish else minutes
        for row, minutes in zip(rows, expected, strict=True)
    )
    ready = [
        less
        for less in (0.0, set_up, change, set_up + change)
        if abs(total - less - run.minutes) <= MINUTES_WITHIN / 2
    ]
    if not ready:
        notes.add("run", "minutes", run.minutes, total)
    before = run.start
    for place, (row, minutes) in enumerate(zip(rows, expected, strict=True)):
        where = f"set {row.number}"
        if row.start is None or row.finish is None:
            if row.start is not None or row.finish is not None or run.start is not None:
                notes.add(where, "start and finish", (row.start, row.finish), "one is missing")
            continue
        if before is None or minutes_between(before, row.start) < -MINUTES_WITHIN:
            notes.add(where, "starts after what comes before it", row.start, before)
        before = row.finish
        if row.done:
            continue
        taken = minutes_between(row.start, row.finish)
        allowed = (ready or [0.0]) if place == 0 else [0.0]
        if not any(abs(minutes - less - taken) <= MINUTES_WITHIN for less in allowed):
            notes.add(where, "minutes from start to finish", taken, minutes)
    if rows and run.start is not None:
        notes.same("run", "start and that of its first set", run.start, rows[0].start)
        notes.same("run", "finish and that of its last set", run.finish, rows[-1].finish)


def check_defects(case: CheckContext) -> None:
    """Check the reels of sets that are still to run against the bands of their jumbos."""
    jumbos = {jumbo.name: jumbo for jumbo in case.run.jumbos}
    for block, row in case.run.sets_in_blocks:
        if row.done:
            continue
        hit = _hit(block, row, jumbos)
        takes = {
            position.number
            for position in block.positions
            if position.order in case.orders and case.orders[position.order].takes_seconds
        }
        where = f"set {row.number}"
        lost, seconds = tuple(sorted(hit - takes)), tuple(sorted(hit & takes))
        case.notes.same(where, "reels lost to a defect", row.spoiled, lost)
        what = "reels with a defect, to orders that take it"
        case.notes.same(where, what, row.seconds, seconds)


def _hit(block: Block, row: SetRow, jumbos: dict[str, JumboUse]) -> set[int]:
    """Positions of reels that a band lies in, anywhere along the set."""
    spans = {}
    front = block.edge_front_mm
    for position in block.positions:
        if position.kind != "broke":
            spans[position.number] = front, front + position.width_mm
        front += position.width_mm
    hit: set[int] = set()
    for part in row.stretches:
        jumbo = jumbos.get(part.jumbo)
        if jumbo is None:
            continue
        for band in jumbo.defects:
            first, last = part.from_m + jumbo.loss_start_m, part.to_m + jumbo.loss_start_m
            if band.from_m < last and first < band.to_m:
                hit |= {
                    number
                    for number, (start, end) in spans.items()
                    if band.from_mm < end and start < band.to_mm
                }
    return hit
