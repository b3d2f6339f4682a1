"""How fast a door is found by a few letters, beside one bare scan of as many doors.

Run: ``python -m benchmarks.doors [doors]``. The doors are invented; the seed is fixed.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from diagnose.calls.doors import DoorRecord, Doors
from diagnose.calls.store import Store

SEED = 20260302
_SITES = ("Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir", "Gorse", "Hazel", "Ivy", "Juniper")
_KINDS = ("Works", "Mill", "Depot", "Yard", "Market", "Cannery", "Foundry", "Quay")
_TYPED = ("ald 31", "mill dock 7", "quay", "zebra", "47", "gate 12 fir")


def main(doors: int = 100_000) -> None:
    draw = random.Random(SEED)
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder) / "doors.sqlite3")
        kept = Doors.of(store)
        fill(kept, draw, doors)
        scan = timed(lambda: bare_scan(kept))
        print(f"seed {SEED}, {doors} doors; a bare scan of site and name: {1000 * scan:.1f} ms")
        for typed in _TYPED:
            taken = timed(lambda typed=typed: kept.search(typed))  # type: ignore[misc]
            print(f"  {typed!r:16} {1000 * taken:6.1f} ms   {taken / scan:5.2f} × the scan")
        taken = timed(lambda: kept.known("Alder Works 1", "Dock 1"))
        print(f"  by its whole place {1000 * taken:4.2f} ms   {taken / scan:5.3f} × the scan")
        store.close()


def fill(kept: Doors, draw: random.Random, doors: int) -> None:
    kept.keep(DoorRecord(site="Alder Works 1", name="Dock 1"))
    rows = []
    for number in range(doors - 1):
        site = f"{draw.choice(_SITES)} {draw.choice(_KINDS)} {number // 20 + 2}"
        name = f"{draw.choice(('Dock', 'Gate', 'Bay'))} {number % 20 + 1}"
        folds = {"site_folded": site.casefold(), "name_folded": name.casefold()}
        row = {"id": f"d{number}", "site": site, "name": name, **folds, "updated_at": "2026-03-02T12:00:00+00:00"}
        rows.append(row)
    with kept._writing() as connection:
        connection.insert("door", *rows)


def bare_scan(kept: Doors) -> None:
    with kept._reading() as connection:
        connection.execute("SELECT sum(length(site_folded) + length(name_folded)) FROM door").scalar()


def timed(work: Callable[[], object], times: int = 15) -> float:
    """The median time of ``work``, in seconds."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return median(taken)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
