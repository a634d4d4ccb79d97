"""Two years of an invented mill through the ledger: run by hand.

    python -m tests.bench.ledger_two_years [DAYS]

Writes every plan with what was run of it, then reads it all back as the trend, its JSON and its
workbook. Seconds are of one core, imports in them.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.ledger.filling import load
from tests.ledger.history import shifts
from tests.ledger.looking import require_whole
from trimopt.ledger.ledger_file import ledger_url
from trimopt.ledger.trend_model import Asked
from trimopt.ledger.trend_sums import trend
from trimopt.report.json.trend_json import trend_json
from trimopt.report.xlsx.trend_workbook import trend_workbook
from trimopt.whole_files import write_whole


def main(days: int) -> None:
    """Print how long each step took."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ledger.sqlite"
        url = ledger_url(str(path))
        history = list(shifts(days))
        began = time.process_time()
        plans = load(url, history)
        print(f"written: {plans} plans in {time.process_time() - began:.1f} s, "
              f"{path.stat().st_size / 1e6:.0f} MB")  # fmt: skip
        began = time.process_time()
        found = trend(url, Asked(), target_percent=2.5)
        read = time.process_time()
        trend_json(found)
        write_whole(Path(folder) / "trend.xlsx", trend_workbook(found))
        ended = time.process_time()
        sets = found.whole.planned.sets
        print(f"read and summed: {sets} sets in {read - began:.2f} s; "
              f"JSON and workbook: {ended - read:.2f} s; both {ended - began:.2f} s")  # fmt: skip
        began = time.process_time()
        whole = len(require_whole(url))
        print(f"every plan counted from its JSON: {whole} in {time.process_time() - began:.1f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 731)
