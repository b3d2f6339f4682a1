"""A reading as it was typed, with its unit, and beside it what that is in the other one: 1/8 in = 3.2 mm."""

from __future__ import annotations

import re
from fractions import Fraction

from diagnose.quantities.numerals import find_number
from diagnose.quantities.parse import Reading, read
from diagnose.quantities.quantity import QuantityError
from diagnose.quantities.refused import Refused
from diagnose.quantities.show import Shown, in_unit, rounded_to, with_name
from diagnose.quantities.typography import plain_text
from diagnose.quantities.units import BY_NAME, Unit, alternating_or_direct, known

# What a fraction of an inch leaves of a millimetre.
_TENTH = 0.1


def as_typed(text: str, unit: str, system: Shown = "both", joint: str = " = ") -> str:
    """What was typed for a reading in ``unit``, as it was typed, with the unit it was taken in.

    Where ``system`` is ``both``, or the other than the typed unit's, the value in the other system's unit follows
    after ``joint`` (`` (`` closes its bracket); where another unit of the same system was typed, the one asked for.
    Lengths that a ruler shows are in sixteenths of an inch.

    Raises:
        QuantityError: it is no reading in ``unit``.
    """
    asked = known(unit)
    try:
        reading = read(text, asked, alternating_or_direct(unit))
    except Refused as refused:
        raise QuantityError(refused.what, text) from None
    if reading.value is None:
        return "OL (open)"
    typed = _with_unit(plain_text(text), reading)
    if "(" in typed:
        return typed
    beside = _beside(reading, asked, system)
    if beside is None:
        return typed
    return f"{typed}{joint}{rounded_to(float(reading.value), beside, _step(reading, typed, beside))}" + (
        ")" if joint.endswith("(") else ""
    )


def took_the_unit(text: str, unit: str) -> str:
    """The unit in words that a bare number was taken in; ``""`` where one was typed, or none is wanted."""
    plain, asked = plain_text(text), known(unit)
    number = find_number(plain)
    bare = number is not None and not plain[number.end() :].strip()
    return asked.words if bare and asked.name and asked.kind != "gauge" else ""


def _with_unit(plain: str, reading: Reading) -> str:
    number = find_number(plain)
    bare = number is not None and not plain[number.end() :].strip()
    if bare and reading.unit.kind == "gauge":
        return in_unit(float(reading.number or 0), reading.unit)
    return with_name(plain, reading.unit) if bare else plain


def _beside(reading: Reading, asked: Unit, system: Shown) -> Unit | None:
    """The unit that is worth showing beside the one typed."""
    typed = reading.unit
    others = [each for each in (asked, BY_NAME[asked.other] if asked.other else None) if each and each != typed]
    if reading.number is None and typed.system and asked.system == typed.system:
        # Feet and inches together are one length, whichever of the two is asked for.
        others = [each for each in others if each.system != typed.system]
    if reading.number is None and asked.kind == "time":
        return asked
    if not others or asked.kind == "gauge":
        return None
    across = next((each for each in others if each.system and each.system != typed.system), None)
    if across is not None:
        return across if system == "both" or system != typed.system else None
    return others[0] if typed != asked else None


def _step(reading: Reading, typed: str, beside: Unit) -> float:
    """What of the other unit the typed fraction leaves; 0 where three figures do."""
    fraction = re.search(r"\d/\d", typed) is not None and reading.unit.kind == "length"
    small = reading.value is not None and abs(reading.value) < Fraction(1)
    return _TENTH if fraction and beside.name == "mm" and small else 0.0
