"""Kills a writer at random moments: run as a program, with a ledger's URL and a count.

A parent that has everything loaded forks a child for each turn; the child keeps one plan after
another until it is killed without warning. What was begun is counted through a pipe, so that the
caller can see that the kills fell into the middle of writing.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time

from tests.ledger.looking import require_whole
from tests.ledger.plans import small_plan
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.ledger_file import ledger_url


def main(where: str, turns: int, seed: int) -> None:
    """Kill `turns` writers and print how many plans were begun and how many were kept."""
    rng = random.Random(seed)
    url = ledger_url(where)
    Ledger(url).keep(small_plan("before"))
    begun = 0
    for turn in range(turns):
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read_end)
            for number in range(10_000):
                os.write(write_end, b".")
                Ledger(url).keep(small_plan(f"{turn}-{number}"))
            os._exit(1)
        os.close(write_end)
        os.read(read_end, 1)  # it has begun
        begun += 1
        time.sleep(rng.uniform(0.0, 0.08))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while more := os.read(read_end, 1000):
            begun += len(more)
        os.close(read_end)
        whole = require_whole(url)
        assert "before" in whole
    print(begun, len(require_whole(url)) - 1)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
