"""Quantities as they are written in trees: amounts, differences, ranges, and bands of readings.

A bare number is in the unit of what it stands for; units are looked up only where another one is written.
"""

from __future__ import annotations

import math
from typing import Any

from diagnose.knowledge.words import NotUnderstood, number_or_word, shortened

# Characters that an amount with its unit may have.
_LONGEST = 80


def amount(written: Any, unit: str) -> float:
    """A quantity as written in a tree, in ``unit``; a bare number is in ``unit`` already."""
    if isinstance(written, (int, float)):
        return _finite(float(written), written)
    text = str(written).strip()
    if len(text) > _LONGEST:
        raise NotUnderstood(f"'{shortened(text)}' is no amount.", "Write a number, and a unit if need be.")
    number, _, typed = text.partition(" ")
    if typed.strip() in ("", unit):
        try:
            return _finite(float(number), written)
        except ValueError:
            pass
    from diagnose.quantities import QuantityError, read_quantity, to_unit

    try:
        return to_unit(read_quantity(text, unit).value, unit)
    except QuantityError as error:
        raise NotUnderstood(str(error), "") from None


def _finite(value: float, written: Any) -> float:
    if not math.isfinite(value):
        raise NotUnderstood(f"'{shortened(written)}' is no number to reckon with.", "Write a number that ends.")
    return value


def difference(written: Any, unit: str) -> float:
    """A width in ``unit``: like ``amount``, but an offset between scales (°C, °F) falls out."""
    return amount(written, unit) - (0.0 if isinstance(written, (int, float)) else _zero(written, unit))


def _zero(written: str, unit: str) -> float:
    typed = str(written).strip().partition(" ")[2].strip()
    return 0.0 if typed in ("", unit) else amount(f"0 {typed}", unit)


def read_range(value: Any, unit: str) -> tuple[float, float]:
    low, separator, high = str(value).partition(" to ")
    if not separator:
        raise NotUnderstood(f"'{value}' is no range.", "Write it like '0 to 60'.")
    bottom, top = amount(_with_unit(low, high), unit), amount(high, unit)
    if bottom >= top:
        raise NotUnderstood(f"The range '{value}' ends before it starts.", "Write the lower number first.")
    return bottom, top


def _with_unit(low: str, high: str) -> str:
    """``0 to 60 V``: the unit written once, at the end, is meant for both."""
    unit = high.strip().partition(" ")[2]
    return low if " " in low.strip() or not unit else f"{low.strip()} {unit}"


def read_limit(value: Any, unit: str) -> tuple[float, float]:
    """What a door may read, in ``unit``: ``at most 3 percent``, ``at least 20 V`` or ``0.1 to 0.9 in``."""
    text = str(value).strip()
    if text.startswith("at most "):
        return float("-inf"), amount(number_or_word(text[8:]), unit)
    if text.startswith("at least "):
        return amount(number_or_word(text[9:]), unit), float("inf")
    if " to " not in text:
        wrong = f"'{shortened(text)}' is no limit."
        raise NotUnderstood(wrong, "Write it like 'at most 3 percent', 'at least 20 V' or '0.1 to 0.9 in'.")
    return read_range(text, unit)


def read_band(written: str, unit: str) -> tuple[float, float] | None:
    """The range that ``below 20 V``, ``above 3 V`` or ``2 to 5 V`` names, in ``unit``; ``None`` if it is none."""
    text = written.strip()
    try:
        if text.startswith("below "):
            return float("-inf"), amount(number_or_word(text[6:]), unit)
        if text.startswith("above "):
            return amount(number_or_word(text[6:]), unit), float("inf")
        return read_range(text, unit)
    except NotUnderstood:
        return None
