"""Issues small plans until it is stopped: run as a program, with a folder and how many at most.

With a count of kills it is the killer: each turn forks a child that issues plans, kills it without
warning at a random moment, and checks what stands in the folder. More turns follow while fewer than
half of them fell when a plan was being written.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from tests.ledger.plans import small_plan
from trimopt.plan.codec import from_json
from trimopt.plan.issue import finish, issue
from trimopt.plan.model import Plan
from trimopt.whole_files import write_whole

KINDS = (".xlsx", ".html", "-labels.csv", ".json")


def write(plan: Plan, folder: Path) -> None:
    """Stand in for workbook, page and labels."""
    for kind in KINDS[:-1]:
        write_whole(folder / f"{plan.number}{kind}", f"{kind} of {plan.number}\n" * 200)


def require_whole(folder: Path) -> list[str]:
    """The numbers of the folder's plans; every one must have all its files, whole."""
    names = {path.name for path in folder.iterdir() if not path.name.startswith(".")}
    numbers = sorted(name.removesuffix(".json") for name in names if name.endswith(".json"))
    assert names == {f"{number}{kind}" for number in numbers for kind in KINDS}
    for number in numbers:
        assert from_json((folder / f"{number}.json").read_text(encoding="utf-8")).number == number
        for kind in KINDS[:-1]:
            text = (folder / f"{number}{kind}").read_text(encoding="utf-8")
            assert text == f"{kind} of {number}\n" * 200
    return numbers


def main(folder: Path, count: int, kills: int) -> None:
    """Issue `count` plans and print their numbers, or kill so many that do."""
    if not kills:
        for _ in range(count):
            print(issue(small_plan(""), folder, "shift", write).plan.number)
        return
    rng = random.Random(17)
    begun = time.monotonic()
    issue(small_plan(""), folder, "shift", write)
    usual_s = time.monotonic() - begun
    cut_short = 0
    for turn in range(10 * kills):
        if turn >= kills and 2 * cut_short >= kills:
            break
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read_end)
            for _ in range(count):
                os.write(write_end, b".")
                issue(small_plan(""), folder, "shift", write)
            os._exit(1)
        os.close(write_end)
        os.read(read_end, 1)  # it has begun
        time.sleep(rng.uniform(0.0, 3 * usual_s))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(read_end)
        before = list(folder.glob(".*.issue"))
        cut_short += len(before)
        finish(folder)
        require_whole(folder)
        for stage in folder.glob(".*.issue"):
            os.utime(stage, (0, 0))  # as if it had been left long ago
        finish(folder)
        assert not list(folder.glob(".*"))
    print(cut_short, len(require_whole(folder)))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
