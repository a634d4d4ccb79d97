"""Reading the workbook of a plan, sheet by sheet, as a person would."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from tests.printed.figures import exact, figures_in, plain
from tests.printed.in_metric import rows_in_metric
from tests.printed.page import DEFECTS, MARKS, cores_of, span_of
from tests.printed.records import BlockSaid, Output, ReelSaid, RunSaid, StripSaid, TradeSaid

Row = Sequence[Any]
Sheets = dict[str, list[Row]]


def sheets_of(path: Path, *, inches: bool = False) -> Sheets:
    """Values of every sheet, row by row."""
    book = load_workbook(path, read_only=True)  # merged cells take long to open otherwise
    found: Sheets = {
        sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book.worksheets
    }
    book.close()
    if inches:
        for title, rows in found.items():
            found[title] = [*rows_in_metric(rows, drawn=title.startswith("Slitter"))]
    return found


def rows_under(sheet: Iterable[Row], first: str) -> list[dict[str, Any]]:
    """Rows of the table whose headings begin with `first`, by heading."""
    headings: list[str] | None = None
    found: list[dict[str, Any]] = []
    for row in sheet:
        if headings is None:
            if row and row[0] == first:
                headings = [str(value or "") for value in row]
        elif not any(value is not None for value in row):
            break
        else:
            found.append(dict(zip(headings, row, strict=False)))
    return found


def workbook_says(path: Path, *, inches: bool = False) -> tuple[Output, Sheets]:
    """Read a workbook; the sheets themselves come with it."""
    sheets = sheets_of(path, inches=inches)
    said = Output(name="workbook")
    _summary(said, sheets["Summary"])
    for title, rows in sheets.items():
        if title.startswith("Slitter"):
            run = str(rows[0][0]).split("   jumbo ")[0]
            said.runs[run].blocks = _blocks(rows)
            said.runs[run].figures |= dict(
                zip(("jumbo mm", "deckle mm"), figures_in(rows[0][0].split("   ")[1]), strict=True)
            )
    for row in rows_under(sheets.get("Jumbos", []), "Run"):
        said.runs[row["Run"]].jumbos.append(_jumbo(row))
    jumbos = [str(row[0]) for row in sheets.get("Jumbos", []) if row[0] is not None]
    if "Listed jumbos not used" in jumbos:
        said.unused = jumbos[jumbos.index("Listed jumbos not used") + 1 :]
    said.reels = [_reel(row, said.number) for row in rows_under(sheets["Reels"], "Reel")]
    _orders(said, sheets["Orders"])
    _balance(said, sheets["Mass balance"])
    _trade_off(said, sheets.get("Trade-off", []))
    for row in rows_under(sheets.get("Sheeter loads", []), "Sheeter"):
        said.loads.setdefault(row["Sheeter"], []).append(
            {
                "number": row["Load"],
                "order": row["Order"],
                "reels": row["Reels on stands"],
                "width": exact(row["Reel width mm"]),
                "length": Fraction(row["Length m"]),
                "ups": row["Ups"],
                "sheets": row["Sheets"],
                "which": str(row["Which reels"]).split(),
            }
        )
    return said, sheets


def _summary(said: Output, rows: list[Row]) -> None:
    said.number = str(rows[0][0]).removeprefix("Slitter plan ")
    part = run = ""
    headings: Row = ()
    for row in rows:
        first = row[0]
        texts = [value for value in row if value is not None]
        if isinstance(first, str) and len(texts) == 1:
            attention = "attention" in first or first.startswith("Every order")
            part = "attention" if attention else first
            said.heading = first if attention else said.heading
            continue
        run = first if first in said.runs else run
        if texts and part == "attention":
            said.calls.append((str(first), str(row[1]), " ".join(str(row[3] or "").split())))
        elif texts and part == "Runs" and first != "Run":
            said.runs[str(first)] = RunSaid(name=str(first), figures=_overview(row))
        elif texts and part.startswith("Mass balance"):
            headings = row if first == "Run" else headings
            if run:  # none where all comes from stock
                said.runs[run].figures |= _parts(row, headings)
        elif texts and part.startswith("Losses"):
            said.runs[run].figures |= _losses(row)


def _overview(row: Row) -> dict[str, float]:
    names = (
        "jumbos", "sets", "set-ups", "knife moves", "used t", "delivered t", "ordered t",
        "delivered / ordered", "trim loss", "total loss", "minutes",
    )  # fmt: skip
    return {
        name: plain(str(value)) if isinstance(value, str) else float(value)
        for name, value in zip(names, row[1:], strict=False)
        if value is not None
    }


def _parts(row: Row, headings: Row) -> dict[str, float]:
    """Two rows a run: kg, then shares."""
    unit = {"kg": "kg", "of used": "share"}.get(str(row[1]), "")
    return {
        f"summary {str(name).removeprefix('of it ')} {unit}": float(value)
        for name, value in zip(headings[2:], row[2:], strict=False)
        if unit and value is not None
    }


def _losses(row: Row) -> dict[str, float]:
    """Three rows a run: trim loss, on the deckle, total loss, with the masses they come from."""
    name, masses = str(row[1]), figures_in(str(row[4]))
    return {
        f"losses {name}": float(row[3]),
        f"losses {name} kg": masses[0],
        f"losses {name} of kg": masses[1],
    }


def _blocks(rows: list[Row]) -> list[BlockSaid]:
    """The blocks of a slitter plan; a block of several pages is one."""
    heads = [at for at, row in enumerate(rows) if str(row[0] or "").startswith(" BLOCK ")]
    found: list[BlockSaid] = []
    for at, end in pairwise([*heads, len(rows)]):
        block = _block(rows[at:end])
        if found and found[-1].number == block.number:
            assert found[-1].metres is not None
            assert block.metres is not None
            found[-1] = replace(found[-1], metres=_joined(found[-1].metres, block.metres))
        else:
            found.append(replace(block, metres=_joined((), block.metres or ())))
    return found


def _joined(
    one: tuple[tuple[int, str], ...], other: tuple[tuple[int, str], ...]
) -> tuple[tuple[int, str], ...]:
    """Rows of sets; a row "and" (here set 0) goes on with the set before it."""
    rows = list(one)
    for number, text in other:
        if number:
            rows.append((number, text))
        else:
            rows[-1] = (rows[-1][0], f"{rows[-1][1]} + {text}")
    return tuple(rows)


def _block(rows: list[Row]) -> BlockSaid:
    texts = [value for value in rows[1] if isinstance(value, str)]
    band = re.fullmatch(
        rf" BLOCK (\d+) of \d+    (\d+) × (.*?) m    sets? (\d+)(?:–(\d+))?"
        rf"(?:    (?:NARROW|WIDE) JUMBO, [^ ]+ (?:MM|IN))?(?:    {DEFECTS.upper()}.*?)?"
        rf"(?:    page \d+ of \d+)?(?:    ({MARKS}))?",
        str(rows[0][0]),
    )
    facts = re.fullmatch(
        r"(Cores? .*?)\|Diameter (.*?)\|Edge trim  front (.*?)  back (.*?)\|Pattern trim (.*?)\|"
        r"(?:(first pattern|SET-UP|no set-up), )?(?:(\d+) knife moves?|knife moves not known), "
        r"(\d+) knives(?:\|.*jumbo.*)?",
        "|".join(texts),
    )
    if band is None or facts is None:
        raise ValueError(f"a block cannot be read: {rows[0][0]}|{texts}")
    head = next(at for at, row in enumerate(rows) if "Positions" in row)
    knives = [
        value
        for row in rows[4:head]
        for value in row
        if isinstance(value, str) and re.fullmatch(r"(▲ )?[\d,.]+", value)
    ]
    knives.sort(key=plain)
    column = {str(value): at for at, value in enumerate(rows[head]) if value is not None}
    body = [row for row in rows[head + 1 :] if any(value is not None for value in row)]
    low, high = span_of(band[3])
    return BlockSaid(
        number=int(band[1]),
        count=int(band[2]),
        length_m=(int(low), int(high)),
        sets=(int(band[4]), int(band[5] or band[4])),
        cores_mm=cores_of(facts[1]),
        diameter_mm=span_of(facts[2]),
        edges_mm=(exact(facts[3]), exact(facts[4])),
        set_up=(facts[6] or "first pattern").lower(),
        moves=int(facts[7]) if facts[7] else None,
        mark=" ".join((band[6] or "").split()),
        knives_mm=tuple(exact(text.removeprefix("▲ ")) for text in knives),
        moved=tuple("▲" in text for text in knives),
        strips=tuple(_strip(row, column) for row in body if row[column["Positions"]] is not None),
        metres=tuple(
            (
                0 if row[column["Set"]] == "and" else int(row[column["Set"]]),
                f"{row[column['Jumbo']]} {row[column['From m']]:,}–{row[column['To m']]:,} m",
            )
            for row in body
            if row[column["Set"]] is not None
        ),
    )


def _strip(row: Row, column: dict[str, int]) -> StripSaid:
    def cell(name: str) -> Any:
        return row[column[name]] if name in column else None

    places: list[int] = []
    for part in str(cell("Positions")).split(", "):
        first, _, last = part.partition("–")
        places += range(int(first), int(last or first) + 1)
    diameter = cell("Diameter mm")
    return StripSaid(
        count=int(cell("Reels")),
        width_mm=exact(cell("Width mm")),
        order=str(cell("Order") or ""),
        customer=str(cell("Customer") or ""),
        use=str(cell("For")),
        max_kg=float(cell("Max. kg")),
        places=tuple(places),
        core_mm=None if cell("Core mm") is None else float(cell("Core mm")),
        diameter_mm=None if diameter is None else span_of(str(diameter)),
    )


def _jumbo(row: dict[str, Any]) -> dict[str, Any]:
    names = ("Width mm", "Length m", "Start loss m", "Wound m", "Butt m", "End loss m",
             "Carried forward m")  # fmt: skip
    return {
        "name": str(row["Jumbo"]),
        "from": row["From"],
        "sets": str(row["Sets"]),
        **{name: exact(row[name]) for name in names},
        "Butt kg": float(row["Butt kg"]),
        "Carried forward kg": float(row["Carried forward kg"]),
    }


def _reel(row: dict[str, Any], number: str) -> ReelSaid:
    use = str(row["For"])
    core = row["Core mm"]
    return ReelSaid(
        identity=f"{number}-{row['Reel']}",
        run=row["Run"],
        jumbo=str(row["Jumbo"]),
        set_number=int(row["Set"]),
        place=int(row["Position"]),
        order=str(row["Order"]),
        customer=str(row["Customer"] or ""),
        destination=str(row["Destination"] or ""),
        use="stock" if use.startswith("STOCK") else use.split(",", maxsplit=1)[0],
        width_mm=exact(row["Width mm"]),
        core_mm=None if core is None else float(core),
        length_m=int(row["Length m"]),
        diameter_mm=float(row["Diameter mm"]),
        mass_kg=float(row["Mass kg"]),
        joins=int(row["Joins"]),
    )


def _orders(said: Output, rows: list[Row]) -> None:
    run: RunSaid | None = None
    headings: list[str] = []
    for row in rows:
        if row[0] in said.runs and row[1] is None:
            run = said.runs[row[0]]
        elif row[0] == "Order":
            headings = [str(value) for value in row]
        elif run is not None and row[0] is not None:
            cells = dict(zip(headings, row, strict=False))
            run.orders[str(row[0])] = {
                "customer": cells["Customer"] or "",
                "size": cells["Size"],
                "asked": float(
                    cells["Ordered"] - cells["Already made"] - (cells.get("From stock") or 0)
                ),
                "planned": float(cells["Planned"]),
                "difference": float(cells["Difference"]),
                "allowed": cells["Allowed now"],
                "unit": cells["Unit"],
                "delivered kg": float(cells["Delivered kg"]),
                "ordered kg": float(cells["To make kg"]),
                "surplus kg": float(cells["Surplus kg"]),
                "due": cells["Due"],
                "finished": cells["Finished"],
                "state": cells["State"],
                "why": cells["Why, and remarks"] or "",
            }


def _balance(said: Output, rows: list[Row]) -> None:
    run: RunSaid | None = None
    for row in rows[1:]:
        if row[0] in said.runs:
            run = said.runs[row[0]]
        elif run is not None and isinstance(row[1], (int, float)):
            run.figures[f"{row[0]} kg"] = float(row[1])
            if row[2] is not None:
                run.figures[f"{row[0]} share"] = float(row[2])


def _trade_off(said: Output, rows: list[Row]) -> None:
    run: RunSaid | None = None
    headings: list[str] = []
    for row in rows[1:]:
        if row[0] in said.runs:
            run = said.runs[row[0]]
        elif row[0] == "Patterns":
            headings = [str(value) for value in row]
        elif run is not None and isinstance(row[0], int):
            cells = dict(zip(headings, row, strict=False))
            run.trade_off.append(
                TradeSaid(
                    patterns=row[0],
                    with_butts_kg=float(cells["Loss with butts kg"]),
                    loss_kg=float(cells["Across the width, before winding kg"]),
                    bound_kg=float(cells["Lower bound kg"]),
                    trim_percent=100 * float(cells["Trim loss"]),
                    moves=cells["Knife moves"],
                    figures=str(cells["Figures"]).removeprefix("◄ "),
                )
            )
