"""How often a date for a limit holds, and how often a door on which nothing wears seems to wear.

Run: ``python -m benchmarks.trends [doors]``. The seed is fixed and printed; intervals are 95 %.

A simulated door is looked over about once a year. A reading is its level, the variation of one door (``within-door``),
and the error of its instrument, rounded to its step. On a wearing door one reading goes from where a sound door has it
to its limit, in six to twenty years by a straight line, and is looked at five to ten times before; counted is how often
the interval told then holds the day on which the level does meet the limit. On a steady door every reading that has a
limit is taken at each visit; counted is how often any seems to change.
"""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from diagnose import load_trees
from diagnose.calls.events import Answered, Opened
from diagnose.calls.state import CallState, fold
from diagnose.calls.trends import lines_of, trends_of
from diagnose.knowledge.distributions import LogNormal, Normal, mostly
from diagnose.knowledge.model import Check, Trees
from diagnose.practice.evaluate import share
from diagnose.quantities import to_si
from diagnose.reasoning.own_door import within_door
from diagnose.reasoning.situation import instrument_error

SEED = 20260412
_FIRST = datetime(2021, 4, 12, 9, tzinfo=UTC)
_YEAR = timedelta(days=365.25)
# A visit comes so many years too soon or too late, at most.
_OFF = 0.12
# Where the wear of a door begins, in sound standard deviations from the middle.
_BEGINS = 1.5


def main(doors: int = 1000) -> None:
    trees, source = load_trees(), random.Random(SEED)
    print(f"seed {SEED}, {doors} doors of each kind, {len(_with_limit(trees))} readings with a limit")
    tried, right = held(trees, doors, source)
    print(f"wearing doors that show it: {share([True] * doors + [False] * (tried - doors)).percent()}")
    print(f"... whose 90 % interval holds the day: {share([True] * right + [False] * (doors - right)).percent()}")
    false = false_trends(trees, doors, source)
    print(f"steady doors that seem to wear: {share([True] * false + [False] * (doors - false)).percent()}")


def held(trees: Trees, doors: int, source: random.Random) -> tuple[int, int]:
    """How many wearing doors it takes until so many show it with an interval, and how many of these intervals hold."""
    checks, tried, shown, right = _with_limit(trees), 0, 0, 0
    while shown < doors:
        tried += 1
        check = source.choice(checks)
        assert check.limit is not None
        start, life = _sound(check, source), source.uniform(6.0, 20.0)
        limit = source.choice([end for end in check.limit if math.isfinite(end)])
        visits = source.randint(5, min(10, int(life)))
        calls = calls_at(trees, {check.id: (start, (limit - start) / life)}, visits, source)
        trends = trends_of(trees, lines_of(trees, calls))
        found = next((trend for trend in trends if trend.check.id == check.id), None)
        if found is not None and found.reached is not None:
            shown += 1
            gone = (found.readings[0].at - _FIRST) / _YEAR
            right += found.reached.soonest <= life - gone <= found.reached.latest
    return tried, right


def false_trends(trees: Trees, doors: int, source: random.Random) -> int:
    """On how many of so many steady doors some reading seems to change."""
    checks, false = _with_limit(trees), 0
    for _ in range(doors):
        levels = {check.id: (_sound(check, source), 0.0) for check in checks}
        calls = calls_at(trees, levels, source.randint(5, 10), source)
        false += bool(trends_of(trees, lines_of(trees, calls)))
    return false


def calls_at(
    trees: Trees, levels: Mapping[str, tuple[float, float]], visits: int, source: random.Random
) -> list[CallState]:
    """A door's yearly calls, each with readings of these checks, by what they are at first and more each year."""
    states = []
    for visit in range(visits):
        years = visit + source.uniform(-_OFF, _OFF)
        at = (_FIRST + years * _YEAR).isoformat()
        events: list[Opened | Answered] = [Opened(sequence=1, at=at)]
        for name, (first, more) in levels.items():
            check = trees.checks[name]
            value = _read(trees, check, first + more * years, source)
            answered = Answered(
                sequence=len(events) + 1, at=at, check=check.id, raw="", value=(to_si(value, check.unit),)
            )
            events.append(answered)
        states.append(fold(events))
    return states


def _read(trees: Trees, check: Check, level: float, source: random.Random) -> float:
    sound, within = mostly(check.healthy) if check.healthy else None, within_door(trees, check)
    match sound:
        case Normal(_, spread):
            value = level + source.gauss(0, within * spread)
        case LogNormal(_, factor):
            value = level * math.exp(math.log(factor) * source.gauss(0, within))
        case _:
            raise ValueError(f"'{check.id}' is no bell curve.")
    value += source.gauss(0, instrument_error(check, value))
    step = check.instrument.step if check.instrument is not None else 0.0
    return round(value / step) * step if step else value


def _sound(check: Check, source: random.Random) -> float:
    """A level of a sound door, not far out, and so within the limit."""
    sound, place = mostly(check.healthy) if check.healthy else None, 9.0
    while abs(place) > _BEGINS:
        place = source.gauss(0, 1)
    match sound:
        case Normal(mean, spread):
            return mean + place * spread
        case LogNormal(median, factor):
            return median * math.exp(math.log(factor) * place)
        case _:
            raise ValueError(f"'{check.id}' is no bell curve.")


def _with_limit(trees: Trees) -> list[Check]:
    """The checks with a limit whose sound spread is a bell curve, on doors that have a level of their own there."""
    return [
        check
        for check in trees.checks.values()
        if check.limit is not None
        and check.healthy is not None
        and isinstance(mostly(check.healthy), (Normal, LogNormal))
        and within_door(trees, check) < 1
    ]


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
