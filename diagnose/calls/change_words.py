"""What was read of a door when it was right, and how today's reading differs, in words."""

from __future__ import annotations

from diagnose.calls.events import Then
from diagnose.calls.then_and_now import Change, value_of
from diagnose.calls.words import in_words
from diagnose.knowledge.model import Check
from diagnose.knowledge.words import local_day
from diagnose.quantities import to_si
from diagnose.quantities.show import Shown, decimal


def then_in_words(check: Check, then: Then, system: Shown = "us") -> str:
    """``5.1 A (2 Mar 2026)``."""
    value, _ = value_of(check, then)
    return f"{in_words(check, (_si(value, check),), '', system)} ({local_day(then.at)})"


def change_in_words(check: Check, change: Change, system: Shown = "us") -> str:
    """``then 5.1 A, now 7.9 A: 2.8 A more, beyond both instruments' errors``."""
    then, now = (in_words(check, (_si(value, check),), "", system) for value in (change.then, change.now))
    step = check.instrument.step if check.instrument is not None else 0.0
    size = f"{decimal(abs(change.difference), step)} {check.unit}".strip()
    way = "more" if change.difference > 0 else "less"
    if not change.difference:
        return f"then {then}, now the same"
    verdict = "beyond" if change.is_real else "within"
    return f"then {then}, now {now}: {size} {way}, {verdict} both instruments' errors"


def _si(value: float, check: Check) -> float:
    return to_si(value, check.unit)
