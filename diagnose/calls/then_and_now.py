"""What was read of a door when it was right, beside what is read today."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diagnose.calls.events import Then
from diagnose.calls.inference import in_check_unit
from diagnose.calls.state import Answer, CallState, Try
from diagnose.knowledge.model import Check, Trees

# How a call ends that leaves a door right.
_RIGHT = ("returned to service", "handed over")
# Two standard uncertainties: about 95 % (JCGM 100:2008, 6.3.3).
_COVERAGE = 2.0


@dataclass(frozen=True)
class Change:
    """How a reading differs from what it was, in the check's unit, with the standard uncertainty of the difference."""

    then: float
    now: float
    error: float

    @property
    def difference(self) -> float:
        return self.now - self.then

    @property
    def is_real(self) -> bool:
        """Whether it is more than both instruments' errors would bring about."""
        return abs(self.difference) > _COVERAGE * self.error


def difference(then: tuple[float, float], now: tuple[float, float]) -> Change:
    """Two readings, each with its standard uncertainty, taken as independent: u² = u₁² + u₂² (JCGM 100:2008, 5.1.2)."""
    return Change(then[0], now[0], math.hypot(then[1], now[1]))


def as_left(trees: Trees, calls: Iterable[CallState], before: Mapping[str, Then] | None = None) -> dict[str, Then]:
    """The latest reading of each check that still tells how a door is when it is right, from its calls in order.

    ``before`` is what the calls before these have left.

    That is what was seen after the last repair of a call that ended with the door handed over or returned to service.
    A later repair, however its call ended, takes with it what bears on the causes that it removes.
    """
    kept = dict(before or {})
    for state in calls:
        for done in state.tries:
            for check in borne_on(trees, done.remedy):
                kept.pop(check, None)
        if state.outcome not in _RIGHT:
            continue
        last = max((number for number, item in enumerate(state.evidence) if isinstance(item, Try)), default=-1)
        for item in state.evidence[last + 1 :]:
            if isinstance(item, Answer) and (then := reading_of(trees, item)) is not None:
                kept[item.check] = then
    return kept


def then_in_units(trees: Trees, then: Mapping[str, Then]) -> tuple[tuple[str, tuple[float, float]], ...]:
    """Readings in their checks' units, each with its standard uncertainty; those of checks that are known."""
    known = ((trees.checks[name], each) for name, each in sorted(then.items()) if name in trees.checks)
    return tuple((check.id, value_of(check, each)) for check, each in known)


def change_of(trees: Trees, then: Mapping[str, Then], answer: Answer | None) -> Change | None:
    """How a check's answer differs from what was read then; ``None`` where one of them is no number."""
    check = trees.checks.get(answer.check) if answer is not None else None
    if answer is None or check is None or answer.check not in then or reading_of(trees, answer) is None:
        return None
    return difference(value_of(check, then[answer.check]), value_of(check, answer))


def borne_on(trees: Trees, remedy: str) -> set[str]:
    """The checks that a remedy may have changed: those that the causes it removes bear on."""
    return {check for cause in trees.causes.values() if remedy in cause.remedies for check in cause.signs}


def reading_of(trees: Trees, answer: Answer) -> Then | None:
    """An answer as a reading to be kept; ``None`` for one that was told, is a series, or no number."""
    check = trees.checks.get(answer.check)
    if check is None or check.series == "yes" or answer.heard == "told" or isinstance(answer.value, str):
        return None
    return Then(answer.value, answer.unit, answer.at) if all(map(math.isfinite, answer.value)) else None


def value_of(check: Check, read: Then | Answer) -> tuple[float, float]:
    """A reading in its check's unit, and its standard uncertainty."""
    values = read.values if isinstance(read, Then) else read.value
    value, error = in_check_unit(check, Answer(check.id, values, (), read.unit, "seen", read.at, "", 0))
    assert isinstance(value, float)
    return value, error
