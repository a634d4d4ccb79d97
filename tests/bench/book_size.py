"""How long a large order book takes to read, and how much memory.

    python -m tests.bench.book_size [LINES] [--json]

Writes a book of LINES lines (default 100,000) as a workbook and as csv, reads both against the
example mill, and gives processor seconds and the greatest memory in use so far.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from trimopt import book, mill

HEADINGS = (
    *("Order", "Customer", "Grade", "Grammage", "Product", "Width", "Min. diameter"),
    *("Max. diameter", "Core", "Quantity", "Unit", "Tolerance", "Due", "Priority", "Remarks"),
)
AS_OF = date.fromisoformat("2026-11-23")


def line(index: int) -> list[Any]:
    """One order line; widths, customers and days repeat as in a real book."""
    due = AS_OF + timedelta(days=1 + index % 20)
    row: list[Any] = [f"N{index}", f"Customer {index % 97}", "Folding boxboard", 250, "reel"]
    row += [735 + index % 300, 1150, 1250, 152, 12 + index % 9, "reels", 5, due]
    return [*row, 1 + index % 5, "as before"]


def write(folder: Path, lines: int) -> tuple[Path, Path]:
    """The book as a workbook and as csv."""
    as_workbook, as_text = folder / "large.xlsx", folder / "large.csv"
    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet("Orders")
    sheet.append(["As of", AS_OF])
    sheet.append(HEADINGS)
    texts = [f"As of;{AS_OF.isoformat()}", ";".join(HEADINGS)]
    for index in range(lines):
        row = line(index)
        sheet.append(row)
        texts.append(";".join(str(cell) for cell in row))
    workbook.save(as_workbook)
    as_text.write_text("\n".join(texts), encoding="utf-8")
    return as_workbook, as_text


def main(arguments: list[str]) -> None:
    """Write, read, measure, print."""
    figures = [argument for argument in arguments if argument.isdigit()]
    lines = int(figures[0]) if figures else 100_000
    example = mill.read_mill(Path(__file__).parents[2] / "orders" / "mill.toml")
    measured = []
    with tempfile.TemporaryDirectory() as name:
        for path in reversed(write(Path(name), lines)):
            start = time.process_time()
            orders = book.read_book(path, example).require_clean().orders
            seconds = time.process_time() - start
            assert len(orders) == lines
            memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            measured.append(
                {
                    "file": path.suffix,
                    "lines": lines,
                    "seconds": round(seconds, 2),
                    "memory_mb": round(memory_mb),
                }
            )
    if "--json" in arguments:
        print(json.dumps({"books": measured}))
        return
    for row in measured:
        file, count, spent, memory = row.values()
        print(f"{file:6} {count:>9} lines {spent:>7} s {memory:>5} MB")


if __name__ == "__main__":
    main(sys.argv[1:])
