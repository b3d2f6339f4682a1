"""How much processor time it takes to prove and review the trees that ship, beside reading them.

Run: ``python benchmarks/check.py [rounds]``. All are taken in turn within each round, each in fresh trees; printed are
medians and their ratios to reading.
"""

from __future__ import annotations

import sys
import time
from statistics import median

from diagnose.knowledge.checker import Book
from diagnose.review.pairs import pairs
from diagnose.safety import prove


def main(rounds: int = 5) -> None:
    times: dict[str, list[float]] = {"reading the trees": [], "proof of safety": [], "all pairs of causes": []}
    for _ in range(rounds):
        start = time.process_time()
        book = Book.read()
        read = time.process_time()
        prove(book)
        proved = time.process_time()
        list(pairs(book))
        paired = time.process_time()
        for name, spent in zip(times, (read - start, proved - read, paired - proved), strict=True):
            times[name].append(spent)
    reading = median(times["reading the trees"])
    for name, spent in times.items():
        print(f"{name:20s} median {median(spent):6.2f} s   × reading: {median(spent) / reading:.2f}")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:]))
