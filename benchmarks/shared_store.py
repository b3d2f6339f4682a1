"""Many writers on one store, killed and cut off; and the open calls among a million.

    python -m benchmarks.shared_store postgresql://…           # 16 writers, 20,000 events; a million calls
    python -m benchmarks.shared_store postgresql://… 4 400 2000

Everything stays on loopback. A schema of its own is made in that database and dropped at the end.
"""

from __future__ import annotations

import json
import random
import secrets
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from socket import SHUT_RDWR, create_connection, create_server, socket
from statistics import median
from threading import Thread

import sqlalchemy as sql

from diagnose.calls import events as ev
from diagnose.calls.differences import Differences
from diagnose.calls.store import MovedOn, Store, StoreError
from diagnose.calls.sync import sync

_AT = "2026-11-25T08:00:00+00:00"
_SHARED = [f"2026-11-25-s{n:03}" for n in range(10)]
_LAPTOPS = 4


@contextmanager
def schema_of_our_own(url: str) -> Iterator[str]:
    """The URL of an empty schema, dropped in the end."""
    name = f"bench_{secrets.token_hex(4)}"
    engine = sql.create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA {name}")
    try:
        yield f"{url}?options=-csearch_path%3D{name}"
    finally:
        with engine.begin() as connection:
            connection.exec_driver_sql(f"DROP SCHEMA {name} CASCADE")
        engine.dispose()


class Wire:
    """A way to a server on loopback that can be cut: every connection on it breaks off."""

    def __init__(self, port: int) -> None:
        self._to, self._ends = port, list[socket]()
        self._door = create_server(("127.0.0.1", 0))
        self.port: int = self._door.getsockname()[1]
        Thread(target=self._let_in, daemon=True).start()

    def _let_in(self) -> None:
        while True:
            try:
                here, _ = self._door.accept()
                there = create_connection(("127.0.0.1", self._to))
            except OSError:
                return
            self._ends += [here, there]
            for giver, taker in ((here, there), (there, here)):
                Thread(target=_pass_on, args=(giver, taker), daemon=True).start()

    def cut(self) -> int:
        """Break off every connection; how many there were."""
        ends, self._ends = self._ends, []
        for end in ends:
            with suppress(OSError):
                end.shutdown(SHUT_RDWR)  # wakes whoever waits for it, which closing does not
            end.close()
        return len(ends) // 2

    def close(self) -> None:
        self._door.close()
        self.cut()


def _pass_on(giver: socket, taker: socket) -> None:
    try:
        while data := giver.recv(65536):
            taker.sendall(data)
    except OSError:
        pass
    with suppress(OSError):
        taker.shutdown(SHUT_RDWR)


def write(url: str, log: Path, name: str, events: int) -> None:
    """Record ``events`` notes, half of them in calls that all write to; each is in ``log`` once it is on the disk.

    Begun again with the same log it goes on: what was in hand when it was killed may be there or not, so it looks.
    """
    store, chance = _opened(url), random.Random(name)
    own = f"2026-11-25-{name}"
    done = len(log.read_text().splitlines()) if log.exists() else 0
    places = [chance.choice(_SHARED) if chance.random() < 0.5 else own for _ in range(events)]
    with log.open("a") as kept:
        for number in range(done, events):
            place, text = places[number], f"{name}.{number}"
            sequence = 0
            while True:
                try:
                    if not sequence:
                        there = store.events(place)
                        if number == done and any(isinstance(e, ev.Noted) and e.text == text for e in there):
                            break
                        sequence = len(there) + 1
                    store.append(place, ev.Noted(sequence=sequence, at=_AT, by=name, text=text))
                    break
                except MovedOn as moved:
                    sequence = len(moved.there) + 1
                except StoreError:
                    time.sleep(0.05)  # cut off: the same again, which is never there twice
            print(text, file=kept, flush=True)
    store.close()


def _opened(url: str) -> Store:
    while True:
        try:
            return Store.open(url)
        except StoreError:
            time.sleep(0.05)


@dataclass(frozen=True)
class Outcome:
    """What became of the events: how many were said to be taken, are missing, are there twice; how many cut, killed."""

    taken: int
    lost: int
    doubled: int
    gaps: int
    killed: int
    cut: int
    seconds: float
    differences_expected: int
    differences_listed: int


def writers(url: str, count: int = 16, events: int = 20_000, kills: int = 2) -> Outcome:
    """Writers in processes of their own; ``kills`` of them are killed and begun again, and a third are cut off once."""
    store = Store.open(url)
    for call_id in _SHARED:
        store.claim(call_id)
        store.append(call_id, ev.Opened(sequence=1, at=_AT))
    parsed = sql.make_url(url)
    wire = Wire(parsed.port or 5432)
    through = parsed.set(host="127.0.0.1", port=wire.port).render_as_string()
    share, killed, cut = events // count, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        logs = {f"w{n:03}": Path(folder) / f"w{n:03}" for n in range(count)}

        def begin(name: str, number: int) -> subprocess.Popen[bytes]:
            way = through if number % 3 == 0 else url
            given = json.dumps([way, str(logs[name]), name, share])
            return subprocess.Popen([sys.executable, "-m", "benchmarks.shared_store", "--write", given])

        for name in logs:
            store.claim(f"2026-11-25-{name}")
            store.append(f"2026-11-25-{name}", ev.Opened(sequence=1, at=_AT))
        began = time.monotonic()
        running = {name: begin(name, number) for number, name in enumerate(logs)}
        while any(child.poll() is None for child in running.values()):
            written = {name: log.stat().st_size if log.exists() else 0 for name, log in logs.items()}
            for number, name in enumerate(list(logs)[1 : 1 + kills], start=1):
                if killed == number - 1 and written[name] > share * 3 and running[name].poll() is None:
                    running[name].send_signal(signal.SIGKILL)
                    running[name].wait()
                    running[name] = begin(name, number)
                    killed += 1
            if not cut and written["w000"] > share * 3:
                cut = wire.cut()
            time.sleep(0.01)
        seconds = time.monotonic() - began
        wire.close()
        taken = Counter(line for log in logs.values() for line in log.read_text().splitlines())
    found: Counter[str] = Counter()
    gaps = 0
    for call_id in [*_SHARED, *(f"2026-11-25-{name}" for name in logs)]:
        there = store.events(call_id)
        gaps += [event.sequence for event in there] != list(range(1, len(there) + 1))
        found.update(event.text for event in there if isinstance(event, ev.Noted))
    expected, listed = _differ(store)
    store.close()
    lost, doubled = sum((taken - found).values()), sum((found - taken).values())
    return Outcome(sum(taken.values()), lost, doubled, gaps, killed, cut, seconds, expected, listed)


def _differ(store: Store) -> tuple[int, int]:
    """Laptops that went on offline, each saying of every shared call what the office and the others do not."""
    with tempfile.TemporaryDirectory() as folder:
        laptops = [Store.open(Path(folder) / f"{n}.sqlite3") for n in range(_LAPTOPS)]
        for laptop in laptops:
            sync(laptop, store)
        for value, place in [("office", store), *((f"laptop {n}", laptop) for n, laptop in enumerate(laptops))]:
            for call_id in _SHARED:
                number = place.count(call_id) + 1
                place.append(call_id, ev.FactStated(sequence=number, at=_AT, by=value, fact="drive", value=value))
        for laptop in laptops:
            sync(laptop, store)
            laptop.close()
    return _LAPTOPS * len(_SHARED), len(Differences.of(store).unsettled())


def open_calls(place: str, calls: int = 1_000_000, still_open: int = 1_000) -> tuple[float, int]:
    """Milliseconds to list the open calls among so many, the median of 15, and how many were listed."""
    store = Store.open(place)
    numbers = (
        f"SELECT n FROM generate_series(1, {calls}) AS s(n)"
        if place.startswith("postgresql")
        else f"WITH RECURSIVE s(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM s WHERE n < {calls}) SELECT n FROM s"
    )
    body = f'{{"event":"opened","sequence":1,"at":"{_AT}"}}'
    ended = f"CASE WHEN n % {max(1, calls // still_open)} = 0 THEN NULL ELSE 'left out of service' END"
    with store._writing() as connection:
        for statement in (
            f"INSERT INTO call SELECT 'c' || n, '{_AT}', 0, 0 FROM ({numbers}) AS x",
            f"INSERT INTO event SELECT 'c' || n, 1, :body FROM ({numbers}) AS x",
            "INSERT INTO summary (call_id, sequence, opened_at, last_at, site, door, site_folded, door_folded, "
            "symptoms, outcome, likely_cause, trouble, waiting) "
            f"SELECT 'c' || n, 1, '{_AT}' || n, '{_AT}', 'Site ' || n % 5000, 'Dock ' || n % 7, 'site ' || n % 5000, "
            f"'dock ' || n % 7, '[]', {ended}, '', '', '' FROM ({numbers}) AS x",
        ):
            connection.execute(statement, {"body": body})
        connection.execute("ANALYZE")
    times, found = [], 0
    for _ in range(15):
        began = time.perf_counter()
        found = len(store.calls(open_only=True, leading=lambda events: ""))
        times.append((time.perf_counter() - began) * 1000)
    store.close()
    return median(times), found


def main(url: str, count: int = 16, events: int = 20_000, calls: int = 1_000_000) -> None:
    with schema_of_our_own(url) as place:
        print(writers(place, count, events))
    with schema_of_our_own(url) as place:
        taken, found = open_calls(place, calls)
        print(f"PostgreSQL, open calls among {calls:,}: {taken:.1f} ms, {found} listed")
    with tempfile.TemporaryDirectory() as folder:
        taken, found = open_calls(f"{folder}/calls.sqlite3", calls)
        print(f"SQLite, open calls among {calls:,}: {taken:.1f} ms, {found} listed")


if __name__ == "__main__":
    if sys.argv[1] == "--write":
        way, kept, who, number_of = json.loads(sys.argv[2])
        write(way, Path(kept), who, number_of)
    else:
        main(sys.argv[1], *map(int, sys.argv[2:]))
