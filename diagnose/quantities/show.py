"""Values as a technician reads them: 3 1/8 in, 10 ft 6 1/2 in, 112.5 V, 79 mm (3 1/8 in)."""

from __future__ import annotations

import math
from typing import Literal

from diagnose.quantities.units import BY_NAME, Unit, known, to_si, to_unit, unit_size

Shown = Literal["us", "metric", "both"]

# A tape's finest mark, in inches, and a ruler's; and what share a value in brackets may be off the mark it is given as.
_TAPE, _RULER, _NEAR = 32, 16, 0.015
_SIGNIFICANT, _SIGNIFICANT_IN_BRACKETS = 6, 3


def show(value_si: float, unit: str, system: Shown = "us", step: float = 0.0) -> str:
    """A value in words a technician uses, in ``unit`` or its counterpart in the other system.

    ``value_si`` is in the canonical unit of ``unit``'s kind. ``step`` is the smallest difference worth
    showing, in ``unit`` (an instrument's display step); without one, six significant figures are shown, and
    whole numbers whole. A length in inches or feet that is a whole number of 1/32 in is shown as a fraction,
    unless ``step`` is a decimal one; any other is shown in decimals, so that nothing is lost. "both" adds
    the other system in brackets to three figures, or to the nearest 1/16 in where that is as near as a tape is read;
    where the two systems have the same unit there is nothing to add. What is shown can be read by ``read_quantity``.

    Raises:
        QuantityError: no such unit.
    """
    asked = known(unit)
    if math.isinf(value_si):
        return (
            "OL (open)"
            if asked.kind == "resistance"
            else f"{'-' if value_si < 0 else ''}over range {asked.name}".rstrip()
        )
    other = BY_NAME[asked.other] if asked.other else None
    if system == "both" and other:
        return f"{in_unit(value_si, asked, step)} ({_in_brackets(_rounded(value_si, asked, step), other)})"
    if other and system not in ("both", asked.system):
        return in_unit(value_si, other, step * unit_size(asked.name) / unit_size(other.name))
    return in_unit(value_si, asked, step)


def in_unit(value_si: float, unit: Unit, step: float = 0.0) -> str:
    """A finite value in this very unit."""
    if unit.name == "Ω" and abs(value_si) >= 1e4:
        # A meter's step grows with its range, so the one given for ohms says nothing up here.
        unit, step = BY_NAME["MΩ" if abs(value_si) >= 1e6 else "kΩ"], 0.0
    value = to_unit(value_si, unit.name)
    if _on_tape(value_si, unit, step):
        return _tape(round(to_unit(value_si, "in") * _TAPE), unit)
    if unit.name == "AWG":
        return f"{1 - round(value)}/0 AWG" if value < 0 else f"{value:.0f} AWG"
    return with_name(decimal(value, step), unit)


def _rounded(value_si: float, unit: Unit, step: float) -> float:
    """The value that ``in_unit`` shows, so that the one in brackets is of the same length."""
    if _on_tape(value_si, unit, step):
        return to_si(round(to_unit(value_si, "in") * _TAPE) / _TAPE, "in")
    if not step:
        return value_si
    return to_si(round(to_unit(value_si, unit.name), _decimals(step)), unit.name)


def decimal(value: float, step: float = 0.0, significant: int = _SIGNIFICANT) -> str:
    """A number without an exponent, to the decimals of ``step``, or to ``significant`` figures."""
    if step:
        text = f"{value:.{_decimals(step)}f}"
        return text.removeprefix("-") if float(text) == 0 else text
    if value == 0:
        return "0"
    decimals = max(0, significant - 1 - math.floor(math.log10(abs(value))))
    if decimals > 15:
        return f"{value:.{significant}g}"
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _decimals(step: float) -> int:
    return max(0, math.ceil(-math.log10(step) - 1e-9))


def _on_tape(value_si: float, unit: Unit, step: float) -> bool:
    """Whether a length lies on a tape's mark and was read off a tape, not off a calliper in decimals."""
    if unit.name not in ("in", "ft"):
        return False
    marks, step_marks = to_unit(value_si, "in") * _TAPE, step * unit_size(unit.name) / unit_size("in") * _TAPE
    # No nearer than a millionth of an inch is asked for, and of a value below one no more than a millionth of itself.
    on_mark = abs(marks - round(marks)) <= 1e-6 * min(_TAPE, abs(marks)) and abs(marks) < 10**7
    by_marks = abs(step_marks - round(step_marks)) < 1e-9
    # A decimal step that would lose a mark of the ruler (1/8 in is not 0.12 in) was not what it was read by.
    return on_mark and (by_marks or (round(marks) % 2 == 0 and _loses(to_unit(value_si, unit.name), step)))


def _loses(value: float, step: float) -> bool:
    return abs(round(value, _decimals(step)) - value) > 1e-6 * abs(value)


def _in_brackets(value_si: float, unit: Unit) -> str:
    if unit.name in ("in", "ft"):
        inches = to_unit(value_si, "in")
        marks = round(inches * _RULER) * _TAPE // _RULER
        # A mark too far off the value would not be taken for the same when both are read again.
        if marks and abs(inches * _TAPE - marks) <= _NEAR * abs(marks):
            return _tape(marks, unit)
    return with_name(decimal(to_unit(value_si, unit.name), significant=_SIGNIFICANT_IN_BRACKETS), unit)


def rounded_to(value_si: float, unit: Unit, step: float = 0.0) -> str:
    """A finite value in this unit as it stands beside another: to ``step``, or three figures, or a ruler's mark."""
    if step:
        return with_name(decimal(round(to_unit(value_si, unit.name), _decimals(step))), unit)
    return _in_brackets(value_si, unit)


def _tape(marks: int, unit: Unit) -> str:
    """A whole number of 1/32 in as a tape reads it, in inches or in feet and inches."""
    sign, marks = "-" if marks < 0 else "", abs(marks)
    feet, marks = divmod(marks, 12 * _TAPE) if unit.name == "ft" else (0, marks)
    inches, marks = divmod(marks, _TAPE)
    parts = [f"{feet} ft"] if feet else []
    if inches or marks or not feet:
        common = math.gcd(marks, _TAPE)
        fraction = f"{marks // common}/{_TAPE // common}" if marks else ""
        whole = f"{inches}" if inches or not fraction else ""
        parts.append(f"{whole} {fraction}".strip() + " in")
    return sign + " ".join(parts)


def with_name(number: str, unit: Unit) -> str:
    """A number with its unit's name; words in the plural unless it is one."""
    name = unit.words if unit.spelt_out and number not in ("1", "-1") else unit.name
    return f"{number}°" if name == "°" else f"{number} {name}".rstrip()
