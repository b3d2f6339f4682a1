"""What to ask when a value lies outside anything that could be read there: is it a slip of the hand?"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from fractions import Fraction

from diagnose.quantities.parse import Reading, read, read_quantity
from diagnose.quantities.quantity import Quantity, QuantityError
from diagnose.quantities.refused import Refused
from diagnose.quantities.show import decimal, in_unit, with_name
from diagnose.quantities.units import BY_NAME, KINDS, Unit, convert_from_si, known


def implausible(quantity: Quantity, low_si: float, high_si: float, unit: str) -> str | None:
    """The question to put where a quantity is outside ``low_si`` to ``high_si``, or ``None`` where it is not.

    Bounds are in the canonical unit; one may be infinite. ``unit`` is the reading's. The likely slips are tried: the
    sign left out, the decimal point moved, another unit meant; the likeliest is offered that ``read_quantity`` accepts
    and that lies within the bounds. A resistance above the range ("OL") is never implausible; of anything else, it may
    be the range that was set too low.

    Raises:
        QuantityError: no such unit.
    """
    asked = known(unit)
    margin = 1e-9 * max(abs(bound) for bound in (low_si, high_si, 0.0) if math.isfinite(bound))
    if math.isinf(quantity.value) and asked.kind != "resistance":
        first = "Take the leads off first, and s" if asked.kind == "voltage" else "S"
        above = f", as above {in_unit(high_si, asked)}" if math.isfinite(high_si) else ""
        return f"Over range? {first}et the highest range and read again. Keep it if that is over range too{above}."
    if math.isinf(quantity.value) or low_si - margin <= quantity.value <= high_si + margin:
        return None
    typed = _as_typed(quantity, asked)
    subject = in_unit(quantity.value, typed.unit)
    if typed.unit != asked:
        subject += f" ({in_unit(quantity.value, asked)})"
    meant = next((text for text in _slips(typed) if _is_within(text, unit, low_si, high_si)), None)
    advice = f"Did you mean {meant}?" if meant else "Look again, and keep it only if that is what is there."
    return f"{subject}? {_expected(low_si, high_si, asked)} {advice}"


def _as_typed(quantity: Quantity, asked: Unit) -> Reading:
    """The number and unit typed; a quantity that was not typed counts as typed in ``asked``."""
    value = Fraction(quantity.value)
    try:
        reading = read(quantity.raw, asked)
    except Refused:
        return Reading(value, asked, convert_from_si(value, asked))
    return reading


def _is_within(text: str, unit: str, low_si: float, high_si: float) -> bool:
    try:
        return low_si <= read_quantity(text, unit).value <= high_si
    except QuantityError:
        return False


def _slips(typed: Reading) -> Iterator[str]:
    """What may have been meant, the likeliest first."""
    number, unit = typed.number, typed.unit
    if number is None:
        return
    yield _text(-number, unit)
    swapped = BY_NAME.get(unit.name[:1].swapcase() + unit.name[1:])
    if unit.name[:1] in ("m", "M") and swapped:
        yield _text(number, swapped)
    places = () if unit.kind == "gauge" else (-1, 1, -2, 2, -3, 3)
    moved = [_text(number * Fraction(10) ** place, unit) for place in places]
    yield from moved[:2]
    for name in KINDS[unit.kind].mistaken:
        if name != unit.name:
            yield _text(number, BY_NAME[name])
    yield from moved[2:]


def _text(number: Fraction, unit: Unit) -> str:
    return with_name(decimal(float(number), significant=12), unit)


def _expected(low_si: float, high_si: float, unit: Unit) -> str:
    if math.isinf(low_si):
        return f"This sits below {in_unit(high_si, unit)}."
    if math.isinf(high_si):
        return f"This sits above {in_unit(low_si, unit)}."
    low, high = in_unit(low_si, unit), in_unit(high_si, unit)
    name = re.search(r" [^0-9]+$", high)
    if name and re.fullmatch(r"[0-9./ -]+", low.removesuffix(name[0])):
        low = low.removesuffix(name[0])
    return f"This sits between {low} and {high}."
