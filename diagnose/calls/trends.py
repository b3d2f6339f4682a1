"""What wears or fades at a door, by the readings of its calls: a line, how sure it is, and when it meets a limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from diagnose.calls.events import Then
from diagnose.calls.state import Answer, CallState, Try
from diagnose.calls.then_and_now import borne_on, reading_of, value_of
from diagnose.formulas.wear import FEWEST, Fitted, Reached, fitted, is_jump, reached
from diagnose.knowledge.fitting import tree_facts
from diagnose.knowledge.model import Check, Trees
from diagnose.quantities import to_si
from diagnose.reasoning.compute import compute
from diagnose.reasoning.own_door import within_door
from diagnose.reasoning.situation import instrument_error

if TYPE_CHECKING:
    from diagnose.calls.call import Call

# By check, what was read of a door, the earliest first.
Lines = Mapping[str, tuple[Then, ...]]
# How often a door on which nothing wears may show a trend all the same.
SIGNIFICANT = 0.05
_YEAR = timedelta(days=365.25)
# A door is looked over once a year: what may be reached before the visit after next is done at the next.
_VISITS = 2 * _YEAR
# Further ahead than an operator lasts nobody plans, in years.
_FURTHEST = 30.0


@dataclass(frozen=True)
class Reading:
    """What was read at a moment, in the check's unit."""

    at: datetime
    value: float


@dataclass(frozen=True)
class Trend:
    """A line through a check's readings, in years since the first; ``limit`` is the one it goes towards."""

    check: Check
    readings: tuple[Reading, ...]
    fit: Fitted
    limit: float | None = None
    reached: Reached | None = None

    def years(self, at: datetime) -> float:
        return (at - self.readings[0].at) / _YEAR

    def day(self, years: float) -> datetime | None:
        """The moment so many years after the first reading; ``None`` where it lies further ahead than anybody plans."""
        last = self.years(self.readings[-1].at)
        return None if years > last + _FURTHEST else self.readings[0].at + max(years, -_FURTHEST) * _YEAR

    @property
    def is_past(self) -> bool:
        """Whether the door read beyond its limit at last."""
        return (
            self.check.limit is not None and not self.check.limit[0] <= self.readings[-1].value <= self.check.limit[1]
        )

    def is_due(self, today: datetime) -> bool:
        """Whether the limit may be met before the visit after next, so that it is work for the next one."""
        soonest = self.day(self.reached.soonest) if self.reached is not None else None
        return self.is_past or (soonest is not None and soonest <= today + _VISITS)


@dataclass(frozen=True)
class Carried:
    """What some calls of a door hand on: its lines, and values with their errors, to work out others from."""

    lines: Lines = field(default_factory=dict)
    values: Mapping[str, tuple[float, float]] = field(default_factory=dict)


def lines_of(trees: Trees, calls: Iterable[CallState]) -> Lines:
    """The readings of each check since what it measures was last exchanged or set, from a door's calls in order."""
    return carried_on(trees, calls).lines


def carried_on(trees: Trees, calls: Iterable[CallState], before: Carried | None = None) -> Carried:
    """The readings of each check since what it measures was last exchanged or set, from a door's calls in order.

    A call brings along what it recalled when it began. Only what was seen counts, the last of it in each call. What a
    walk that ends in handing over puts up is new. What is computed takes what is a value and not a degree, such as a
    chain's span, from an earlier call. ``before`` is what the calls before these hand on.
    """
    computed = _computed_from(trees)
    before = before or Carried()
    lines = {name: list(line) for name, line in before.lines.items()}
    known = {name: value for name, (value, _) in before.values.items()}
    errors = {name: error for name, (_, error) in before.values.items()}

    def take(name: str, read: Then) -> None:
        known[name], errors[name] = value_of(trees.checks[name], read)

    for state in calls:
        if state.walk in trees.walks and trees.walks[state.walk].ends == "handed over":
            lines.clear()
        else:
            for name, line in state.lines.items():
                lines.setdefault(name, list(line))
        known = {name: value for name, value in known.items() if _is_value(trees.checks[name])}
        for name, read in state.then.items():
            if name in trees.checks and _is_value(trees.checks[name]):
                take(name, read)
        now: dict[str, Then] = {}
        for item in state.evidence:
            if isinstance(item, Try):
                for name in borne_on(trees, item.remedy):
                    known.pop(name, None)
                    for begun in (name, *(other.id for other in computed.get(name, ()))):
                        lines.pop(begun, None)
                        now.pop(begun, None)
            elif isinstance(item, Answer) and (seen := reading_of(trees, item)) is not None:
                now[item.check] = seen
                if item.check not in computed:
                    continue
                take(item.check, seen)
                facts = tree_facts(trees, state.facts)
                for other in computed[item.check]:
                    worked = compute(trees, other, known, errors, facts)
                    if worked is not None and not isinstance(worked.value, str):
                        now[other.id] = Then((to_si(worked.value, other.unit),), "", item.at)
        for name, latest in now.items():
            lines.setdefault(name, []).append(latest)
    values = {name: (value, errors[name]) for name, value in known.items() if _is_value(trees.checks[name])}
    return Carried({name: tuple(line) for name, line in lines.items()}, values)


def trends_of(trees: Trees, lines: Lines) -> tuple[Trend, ...]:
    """What changes at a door, the soonest to meet its limit first.

    A door has many lines, and one in twenty would seem to rise or fall by scatter alone: so many are kept that of all
    those shown, over doors, one in twenty at most is false (Benjamini and Hochberg, 1995); on a door where nothing
    wears that is a false trend in one door of twenty. A jump is no trend.
    """
    tested = [trend for name, line in lines.items() if (trend := _trend(trees, name, line)) is not None]
    if not tested:
        return ()
    from scipy.stats import false_discovery_control

    adjusted = false_discovery_control([1.0 if _jumps(trend) else trend.fit.line.p for trend in tested])
    shown = [trend for trend, chance in zip(tested, adjusted, strict=True) if chance <= SIGNIFICANT]
    return tuple(sorted(shown, key=lambda trend: trend.reached.soonest if trend.reached else float("inf")))


def trends_at(call: Call) -> tuple[Trend, ...]:
    """What changes at the door of a call, its own readings with those it recalled."""
    return trends_of(call.trees, lines_of(call.trees, [call.state]))


def _trend(trees: Trees, name: str, line: Sequence[Then]) -> Trend | None:
    """The line of a check that can wear; ``None`` for too few readings, and where a door has no level of its own."""
    check = trees.checks.get(name)
    if check is None or _is_value(check) or within_door(trees, check) >= 1 or len(line) < FEWEST:
        return None
    readings = [Reading(datetime.fromisoformat(read.at), value_of(check, read)[0]) for read in line]
    readings.sort(key=lambda reading: reading.at)
    times, values = _axes(readings)
    fit = fitted(times, values, _least_sd(check, values))
    if fit is None:
        return None
    limit = None if check.limit is None else check.limit[fit.line.slope > 0]
    if limit is None or abs(limit) == float("inf"):
        return Trend(check, tuple(readings), fit)
    return Trend(check, tuple(readings), fit, limit, reached(fit, limit))


def _jumps(trend: Trend) -> bool:
    times, values = _axes(trend.readings)
    return is_jump(times, values, _least_sd(trend.check, values))


def _axes(readings: Sequence[Reading]) -> tuple[list[float], list[float]]:
    first = readings[0].at
    return [(reading.at - first) / _YEAR for reading in readings], [reading.value for reading in readings]


def _is_value(check: Check) -> bool:
    """Whether a check measures a value and not a degree, so that it neither wears nor fades."""
    return check.worse in ("", "neither")


def _least_sd(check: Check, values: Sequence[float]) -> float:
    """How much readings differ by their instruments, and by rounding, alone."""
    step = check.instrument.step if check.instrument is not None else 0.0
    return math.hypot(instrument_error(check, sum(values) / len(values)), step / math.sqrt(12))


def _computed_from(trees: Trees) -> dict[str, list[Check]]:
    """By a reading's id, the numbers that are worked out from it."""
    found: dict[str, list[Check]] = {}
    for check in trees.checks.values():
        if check.compute and check.is_number:
            for name in dict.fromkeys(check.sources):
                found.setdefault(name, []).append(check)
    return found
