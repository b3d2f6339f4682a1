"""Calls at random on the trees that ship, each closing judged by the rule written a second time from the events alone.

Run: ``python -m benchmarks.closing [calls] [acts] [seed] [first]``. Prints a line for every 500 calls, so that a run
that is cut short has its figures; ``first`` is the number of the call to begin with. At the end: how many closings were
right, wrong and refused, and how many of each kind of door, person and complaint were closed.
"""

from __future__ import annotations

import sys

from diagnose.knowledge.load import load_trees
from tests.safety.anybody import Count, play

_PART = 500


def main(calls: int = 20_000, acts: int = 60, seed: str = "7", first: int = 0) -> None:
    trees = load_trees()
    count = Count()
    for number in range(first, first + calls):
        count.add(play(trees, f"{seed} {number}", acts))
        if (number + 1) % _PART == 0 or number + 1 == first + calls:
            print(f"seed {seed}, calls {first} to {number}: {_figures(count)}", flush=True)
    for wrong in (*count.wrong, *count.differ):
        print(f"  {wrong}")
    for kind, met in sorted(count.met.items()):
        if kind.startswith("closed "):
            print(f"  {kind.removeprefix('closed ')}: {met}")


def _figures(count: Count) -> str:
    return f"{count.closed} closed, {count.refused} refused, {len(count.wrong)} wrong, {len(count.differ)} differ"


if __name__ == "__main__":
    numbers = [int(each) for each in sys.argv[1:]]
    main(*numbers[:2], *(str(each) for each in numbers[2:3]), *numbers[3:4])
