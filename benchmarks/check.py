"""How much processor time it takes to look the trees over: parts of it, and the whole of ``diagnose trees check``.

Run: ``python benchmarks/check.py [rounds]``. First the parts, in turn within each round, each in fresh trees: medians
and their ratios to reading. Then the whole, cold (nothing kept of an earlier review), warm with nothing changed, and
warm when one file has come to the trees: a cause with a check and a remedy. Each is a process of its own, on a copy of
the trees, and its start is counted.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from diagnose.knowledge.checker import Book
from diagnose.review.pairs import pairs
from diagnose.safety import prove
from diagnose.shipped import shipped_folder

_MORE = """\
source: estimate
causes:
  tried-cause-{number}:
    title: A cause to try {number}
    base: 2 per 1000 calls
    symptoms: {{noisy-door: even}}
    signs: {{tried-look-{number}: {{bad: always}}}}
    remedies: [tried-remedy-{number}]
checks:
  tried-look-{number}: {{ask: Is it bad?, answers: [sound, bad], healthy: {{sound: always}}, how: Look., minutes: 1}}
remedies:
  tried-remedy-{number}: {{title: Mend it {number}, how: As new., minutes: 9, proofs: [door-arm-fast]}}
"""


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
    with tempfile.TemporaryDirectory() as folder:
        trees = Path(folder) / "trees"
        shutil.copytree(shipped_folder("trees"), trees)
        print(f"{'check, cold':20s} {_checked(trees):13.2f} s")
        print(f"{'check, warm':20s} median {median(_checked(trees) for _ in range(rounds)):6.2f} s")
        changed = []
        for number in range(rounds):
            (trees / "tried.yaml").write_text(_MORE.format(number=number), encoding="utf-8")
            changed.append(_checked(trees))
        print(f"{'one file changed':20s} median {median(changed):6.2f} s")


def _checked(trees: Path) -> float:
    """Processor time of one ``diagnose trees check``, in seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "DIAGNOSE_CACHE": str(trees.parent / "cache")}
    command = [sys.executable, "-m", "diagnose", "trees", "check", str(trees)]
    subprocess.run(command, env=environment, check=False, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:]))
