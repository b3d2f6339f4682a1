"""No test reads a clock, or waits by one: what is slow on a busy machine is not wrong. Timing is `benchmarks/`'s."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

HERE = Path(__file__).parent
CLOCKS = {
    *("perf_counter", "perf_counter_ns", "monotonic", "monotonic_ns", "process_time", "process_time_ns"),
    *("thread_time", "thread_time_ns", "time_ns", "clock_gettime", "clock_gettime_ns", "getrusage", "timeit"),
    *("utcnow", "wait_for", "wait_for_idle", "SIGALRM", "setitimer"),
}
# Clocks by a name that other things have too: read when they are called with nothing.
BARE_CLOCKS = {"time", "now", "today"}
# Waits that are no more than a turn for others when they are called with nothing, or with 0.
WAITS = {"sleep", "pause"}
# Limits of time, harmless as None.
LIMITS = {"timeout", "deadline"}


def by_the_clock(source: str) -> Iterator[str]:
    """Each place that reads a clock, waits a time or sets a limit of time, as ``line: what``."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Attribute(attr=name) | ast.Name(id=name) | ast.alias(name=name) if name in CLOCKS:
                yield f"{node.lineno}: {name}"
            case ast.ImportFrom(module="time", names=names) if any(each.name == "time" for each in names):
                yield f"{node.lineno}: time"
            case ast.Call(func=ast.Attribute(attr=name), args=[], keywords=[]) if name in BARE_CLOCKS:
                yield f"{node.lineno}: {name}"
            case ast.Call(func=ast.Attribute(attr="now", value=ast.Name(id="datetime"))):
                yield f"{node.lineno}: now"
            case ast.Call(func=ast.Attribute(attr=name) | ast.Name(id=name), args=[first, *_]) if name in WAITS:
                if not (isinstance(first, ast.Constant) and first.value == 0):
                    yield f"{node.lineno}: {name}"
            case ast.keyword(arg=str(name), value=value) if name in LIMITS:
                if not (isinstance(value, ast.Constant) and value.value is None):
                    yield f"{node.lineno}: {name}"


def test_no_test_is_judged_by_the_clock() -> None:
    files = sorted(HERE.rglob("*.py"))
    assert len(files) > 50
    found = {
        f"{path.relative_to(HERE)}:{place}"
        for path in files
        for place in by_the_clock(path.read_text(encoding="utf-8"))
    }
    assert found == set()


@pytest.mark.parametrize(
    ("source", "what"),
    [
        ("import time\nstart = time.perf_counter()\nassert time.perf_counter() - start < 20", "perf_counter"),
        ("from time import monotonic as tick", "monotonic"),
        ("from time import time", "time"),
        ("import time\nassert time.time() < 9", "time"),
        ("from datetime import UTC, datetime\nstart = datetime.now(UTC)", "now"),
        ("from datetime import date\nday = date.today()", "today"),
        ("loop.time()", "time"),
        ("subprocess.run(command, timeout=60)", "timeout"),
        ("child.wait(timeout=limit)", "timeout"),
        ("settings(deadline=200)", "deadline"),
        ("await asyncio.wait_for(work, 5)", "wait_for"),
        ("await asyncio.sleep(0.1)", "sleep"),
        ("await pilot.pause(delay)", "pause"),
        ("import timeit\ntimeit.timeit(work)", "timeit"),
    ],
)
def test_a_clock_is_seen(source: str, what: str) -> None:
    assert {place.rpartition(" ")[2] for place in by_the_clock(source)} == {what}


@pytest.mark.parametrize(
    "source",
    [
        "time.tzset()",
        "settings(deadline=None)",
        "await pilot.pause()",
        "await asyncio.sleep(0)",
        "at = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)",
        "await app.workers.wait_for_complete(busy)",
        "seconds = travel.time(40)",
        "datetime.time(12, 30)",
    ],
)
def test_what_reads_none_is_left_alone(source: str) -> None:
    assert list(by_the_clock(source)) == []
