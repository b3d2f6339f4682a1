"""What was read of a door when it was right, beside what is read today."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from diagnose.calls.events import AnyEvent, Then
from diagnose.calls.inference import in_check_unit
from diagnose.calls.state import Answer, Try, fold
from diagnose.knowledge.model import Check, Trees

if TYPE_CHECKING:
    from diagnose.quantities.show import Shown

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


def as_left(trees: Trees, calls: Iterable[Sequence[AnyEvent]]) -> dict[str, Then]:
    """The latest reading of each check that still tells how a door is when it is right, from its calls in order.

    That is what was seen after the last repair of a call that ended with the door handed over or returned to service.
    A later repair, however its call ended, takes with it what bears on the causes that it removes.
    """
    kept: dict[str, Then] = {}
    for events in calls:
        state = fold(events)
        for done in state.tries:
            for check in _borne_on(trees, done.remedy):
                kept.pop(check, None)
        if state.outcome not in _RIGHT:
            continue
        last = max((number for number, item in enumerate(state.evidence) if isinstance(item, Try)), default=-1)
        for item in state.evidence[last + 1 :]:
            if isinstance(item, Answer) and (then := _reading(trees, item)) is not None:
                kept[item.check] = then
    return kept


def then_in_units(trees: Trees, then: Mapping[str, Then]) -> tuple[tuple[str, tuple[float, float]], ...]:
    """Readings in their checks' units, each with its standard uncertainty; those of checks that are known."""
    known = ((trees.checks[name], each) for name, each in sorted(then.items()) if name in trees.checks)
    return tuple((check.id, _value(check, each)) for check, each in known)


def change_of(trees: Trees, then: Mapping[str, Then], answer: Answer | None) -> Change | None:
    """How a check's answer differs from what was read then; ``None`` where one of them is no number."""
    check = trees.checks.get(answer.check) if answer is not None else None
    if answer is None or check is None or answer.check not in then or _reading(trees, answer) is None:
        return None
    return difference(_value(check, then[answer.check]), _value(check, answer))


def then_in_words(check: Check, then: Then, system: Shown = "us") -> str:
    """``5.1 A (2 Mar 2026)``."""
    from diagnose.calls.words import in_words

    value, _ = _value(check, then)
    return f"{in_words(check, (_si(value, check),), '', system)} ({_day(then.at)})"


def change_in_words(check: Check, change: Change, system: Shown = "us") -> str:
    """``then 5.1 A, now 7.9 A: 2.8 A more, beyond both instruments' errors``."""
    from diagnose.calls.words import in_words
    from diagnose.quantities.show import decimal

    then, now = (in_words(check, (_si(value, check),), "", system) for value in (change.then, change.now))
    step = check.instrument.step if check.instrument is not None else 0.0
    size = f"{decimal(abs(change.difference), step)} {check.unit}".strip()
    way = "more" if change.difference > 0 else "less"
    if not change.difference:
        return f"then {then}, now the same"
    verdict = "beyond" if change.is_real else "within"
    return f"then {then}, now {now}: {size} {way}, {verdict} both instruments' errors"


def _borne_on(trees: Trees, remedy: str) -> set[str]:
    return {check for cause in trees.causes.values() if remedy in cause.remedies for check in cause.signs}


def _reading(trees: Trees, answer: Answer) -> Then | None:
    """An answer as a reading to be kept; ``None`` for one that was told, is a series, or no number."""
    check = trees.checks.get(answer.check)
    if check is None or check.series == "yes" or answer.heard == "told" or isinstance(answer.value, str):
        return None
    return Then(answer.value, answer.unit, answer.at) if all(map(math.isfinite, answer.value)) else None


def _value(check: Check, read: Then | Answer) -> tuple[float, float]:
    values = read.values if isinstance(read, Then) else read.value
    value, error = in_check_unit(check, Answer(check.id, values, (), read.unit, "seen", read.at, "", 0))
    assert isinstance(value, float)
    return value, error


def _si(value: float, check: Check) -> float:
    from diagnose.quantities import to_si

    return to_si(value, check.unit)


def _day(at: str) -> str:
    return f"{datetime.fromisoformat(at).astimezone():%-d %b %Y}"
