"""How long it takes until a call's first card stands, on a known door with 40 earlier calls beside one with none.

Run: ``python -m benchmarks.opening [calls]``. The doors and their readings are invented; the seed is fixed. Both kinds
take turns in one process, so that a machine that grows slower slows both.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from diagnose import load_trees
from diagnose.calls.call import Call
from diagnose.calls.doors import DoorRecord, Doors, known_at
from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.practice.from_life import shown_when_sound
from diagnose.sitting.sitting import Sitting

SEED = 20261130
BAR = 1.1
SITE, OLD, NEW = "Alder Works", "Dock 1", "Dock 2"
FACTS = {
    "drive": "trolley",
    "construction": "sectional",
    "supply": "three-phase",
    "nominal-volts": "460 V",
    "devices": ("photo-eye", "wall-station", "timer"),
    "fire-rated": "no",
    "counterbalance": "torsion-spring",
}
_SYMPTOM = "reverses-at-floor"
_FIRST = datetime(2016, 3, 1, 9, tzinfo=UTC)
_READ = 12
_TIMES = 25


def main(calls: int = 40) -> None:
    trees = load_trees()
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder) / "calls.sqlite3")
        for name in (OLD, NEW):
            Doors.of(store).keep(DoorRecord(site=SITE, name=name, facts=FACTS))
        fill(store, trees, calls)
        open_call(store, trees, OLD), open_call(store, trees, NEW)
        taken: dict[str, list[tuple[float, float]]] = {OLD: [], NEW: []}
        for _ in range(_TIMES):
            for name, times in taken.items():
                times.append(open_call(store, trees, name))
        # The least of all: what else the machine does can only add to it.
        whole = {name: min(sum(each) for each in times) for name, times in taken.items()}
        memory = {name: min(each[0] for each in times) for name, times in taken.items()}
        kept = known_at(store, trees, SITE, OLD)
        print(f"seed {SEED}, {calls} earlier calls, {len(kept.lines)} lines of readings recalled")
        for name, words in ((NEW, "none before"), (OLD, f"{calls} before")):
            print(f"  {words:12} {1000 * whole[name]:7.1f} ms, of which memory {1000 * memory[name]:6.1f} ms")
        print(f"  {whole[OLD] / whole[NEW]:.2f} × (bar {BAR})")
        store.close()


def open_call(store: Store, trees: Trees, name: str) -> tuple[float, float]:
    """Seconds to recall the door, and from there to the first card."""
    begun = time.perf_counter()
    known = known_at(store, trees, SITE, name)
    recalled = time.perf_counter()
    call = Call(trees, known.facts, [_SYMPTOM], site=SITE, door=name)
    call.recall(known.readings, known.lines)
    Sitting(call).put()
    return recalled - begun, time.perf_counter() - recalled


def fill(store: Store, trees: Trees, calls: int) -> None:
    """So many ended calls on the old door, a quarter of a year apart, a dozen readings in each."""
    draw = random.Random(SEED)
    for number in range(calls):
        at = _FIRST + timedelta(days=91 * number)
        call = Call(
            trees,
            FACTS,
            [_SYMPTOM],
            site=SITE,
            door=OLD,
            clock=lambda at=at: at,  # type: ignore[misc]
            recorder=store.recorder(store.begin()),
        )
        readings = [c for c in trees.checks.values() if c.kind == "reading" and c.healthy and c.series == "no"]
        for check in draw.sample([c for c in readings if c.id in call.situation.tables], _READ):
            call.answer(check.id, shown_when_sound(check))
        call.close("left out of service", "Waits for a part.")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
