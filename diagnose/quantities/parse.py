"""Reading what was typed: wholly and in one way, or not at all.

Every text that two people could read differently is refused with a sentence that names both ways of writing
it. Values are kept as exact fractions until the end, so that 3 1/8 in is 0.079375 m to the last bit.
"""

from __future__ import annotations

import functools
import itertools
import math
import re
from fractions import Fraction
from typing import NoReturn

import msgspec

from diagnose.quantities.numerals import LARGEST, find_number, number_in, of_sane_size
from diagnose.quantities.quantity import Quantity, QuantityError
from diagnose.quantities.refused import Refused, quoted
from diagnose.quantities.show import decimal
from diagnose.quantities.typography import plain_text
from diagnose.quantities.units import (
    BY_NAME,
    FAMILIES,
    KINDS,
    Ambiguous,
    Unit,
    alternating_or_direct,
    compatible,
    convert_from_si,
    convert_to_si,
    find,
    known,
    nearest,
)

_ABOVE_RANGE = (
    r"(?:(?P<open>ol \(open\)|open circuit|open|no continuity|infinity|infinite|inf|∞)"
    r"|[o0]\.?l\.?|over ?load|over ?range|over ?limit|out of range)"
    r"(?: ?(?P<unit>[^ ].*))?"
)
# Kinds of which a meter shows that there is more of it than it can show.
_SHOWN_AS_ABOVE_RANGE = ("resistance", "voltage", "current", "power", "force", "torque", "pressure", "illuminance")
_NOTHING_SHOWN = r"(?:no|without)(?: a)? (?:signal|reading|display|value|current|voltage)|nothing|blank|dead"
_IN_BRACKETS = r"(?P<first>[^()]*[^() ]) ?\((?P<second>[^()]+)\)"
_GAUGE = (
    r"(?:#|awg ?#?|no\.? ?)? ?(?:(?P<aught>[1-4])/0|(?P<zeros>0{2,4})|(?P<number>[0-9]{1,2}))"
    r" ?(?:#|awg|ga\.?|gau?ge)?"
)
_CLOCK = (
    r"(?P<sign>-?)(?:(?P<hours>[0-9]{1,4}):)?(?P<minutes>[0-9]{1,4}):(?P<seconds>[0-9]{2}(?:\.[0-9]+)?)"
    r"(?P<unit> ?min)?"
)
_LETTER_FOR_POINT = (
    r"(?P<sign>[+-]?)(?:(?P<whole>[0-9]+)(?P<letter>[RrkKMG])|[Rr])(?P<part>[0-9]+) ?(?:[Oo]hms?|OHMS?|Ω)?"
)

_EXAMPLES = {"in": "3 1/8 in", "ft": "10 ft 6 1/2 in", "AWG": "14 AWG", "dBm": "-67 dBm", "rpm": "1725 rpm"}


class Reading(msgspec.Struct, frozen=True):
    """A text understood: its value in the canonical unit, exact, or ``None`` above the meter's range."""

    value: Fraction | None
    unit: Unit
    # The number as typed, in ``unit``; ``None`` where several were put together (10 ft 6 in).
    number: Fraction | None = None


def read_quantity(text: str, unit: str) -> Quantity:
    """Read what was typed for a reading in ``unit``, which is taken where none is typed.

    Raises:
        QuantityError: the text cannot be read, or in two ways, or is of another kind than ``unit``; or
            ``unit`` is no unit known.
    """
    asked = known(unit)
    try:
        reading = read(text, asked, alternating_or_direct(unit))
    except Refused as refused:
        _raise_error(refused, text, asked)
    value = math.inf if reading.value is None else float(reading.value)
    return Quantity(value, KINDS[asked.kind].canonical, text)


def read(text: str, asked: Unit, way: str = "") -> Reading:
    """The text as a value of the kind of ``asked``; ``way`` is "ac" or "dc" where only that will do.

    Raises:
        Refused: it is not understood, wholly and in one way only.
    """
    plain = plain_text(text)
    if not plain:
        raise Refused("Nothing was typed. Type a number and its unit")
    return (
        _read_above_range(plain, asked)
        or _read_twice(plain, asked, way)
        or _read_gauge(plain, asked)
        or _read_clock(plain, asked)
        or _read_letter_for_point(plain, asked)
        or _read_number(plain, asked, way)
    )


def _raise_error(refused: Refused, text: str, asked: Unit) -> NoReturn:
    """The error for a refusal, with the first of its suggestions that would be accepted."""
    for suggestion in refused.suggestions:
        try:
            read(suggestion, asked)
        except Refused:
            continue
        raise QuantityError(f"{refused.what}: try {suggestion}.", text, suggestion) from None
    example = "12" if KINDS[asked.kind].canonical == "" else _EXAMPLES.get(asked.name, f"24.1 {asked.name}")
    message = refused.what if refused.what.endswith(".") else f"{refused.what}, like {example}."
    raise QuantityError(message, text) from None


@functools.cache
def _pattern(pattern: str, flags: int = 0) -> re.Pattern[str]:
    return re.compile(pattern, flags)


def _read_above_range(plain: str, asked: Unit) -> Reading | None:
    """``OL``, ``O.L``, ``OL MΩ``, ``over range``: more than the meter can show; ``open`` too, of a resistance."""
    match = _pattern(_ABOVE_RANGE, re.IGNORECASE).fullmatch(plain)
    if not match:
        return None
    unit = _find(match["unit"], asked) if match["unit"] else asked
    if not unit:
        return None
    if unit.kind != asked.kind:
        raise Refused(f"{quoted(plain)} is {KINDS[unit.kind].phrase}. This reading wants {asked.words}")
    if match["open"] and asked.kind == "current":
        raise Refused("An open circuit carries no current. Type what the meter shows", f"0 {asked.name}")
    if match["open"] and asked.kind != "resistance":
        raise Refused(f"{quoted(plain)} is said of a resistance. Type the number that the meter shows")
    if asked.kind == "temperature":
        raise Refused("A thermometer shows OL where its probe is loose or broken. Mend that and read again; ? if not")
    if asked.kind not in _SHOWN_AS_ABOVE_RANGE:
        raise Refused(f"{quoted(plain)} says only that it is a lot. Type a number and its unit; ? if it cannot be read")
    return Reading(None, asked)


def _read_twice(plain: str, asked: Unit, way: str) -> Reading | None:
    """``79 mm (3 1/8 in)``: the first is the reading; the one in brackets must say the same, within 2 %."""
    match = _pattern(_IN_BRACKETS).fullmatch(plain)
    if not match:
        return None
    reading = read(match["first"], asked, way)
    try:
        again = read(match["second"], asked, way)
    except Refused:
        again = Reading(None, asked)
    if reading.value is None or again.value is None:
        raise Refused(
            "Brackets are read only around the same value in another unit. Type one number and its unit",
            match["first"],
        )
    tolerance = Fraction(1) if asked.kind == "temperature" else abs(reading.value) / 50
    if abs(reading.value - again.value) > tolerance:
        raise Refused(f"{quoted(match['first'])} and {quoted(match['second'])} differ. Type the one you read.")
    return reading


def _read_gauge(plain: str, asked: Unit) -> Reading | None:
    """``14 AWG``, ``#14``, ``14 ga``, ``AWG 14``; 1/0 to 4/0 are 0 to -3, as in ASTM B258."""
    if asked.kind != "gauge":
        return None
    match = _pattern(_GAUGE, re.IGNORECASE).fullmatch(plain)
    if match:
        aught = int(match["aught"] or len(match["zeros"] or ""))
        gauge = Fraction(1 - aught if aught else int(match["number"]))
        if gauge <= 56:
            return Reading(gauge, asked, gauge)
    started = find_number(plain)
    spelling = plain[started.end() :].strip() if started else ""
    other = _find(spelling, asked) if spelling else None
    if other and other.kind != "gauge":
        return None
    digits = re.match(r"[0-9]+", plain)
    raise Refused(
        "A wire gauge is a whole number from 0 to 56, or 1/0 to 4/0. Type it with AWG",
        *([f"{digits[0]} AWG"] if digits else []),
    )


def _read_clock(plain: str, asked: Unit) -> Reading | None:
    """``1:30`` is a minute and a half where seconds or minutes are asked for; ``1:02:30`` has hours."""
    match = _pattern(_CLOCK).fullmatch(plain)
    if not match:
        return None
    if asked.kind != "time":
        raise Refused(f"{quoted(plain)} is a time. This reading wants {asked.words}")
    hours, minutes, seconds = int(match["hours"] or 0), int(match["minutes"]), Fraction(match["seconds"])
    if seconds >= 60 or (match["hours"] and (minutes >= 60 or match["unit"])):
        raise Refused(f"{quoted(plain)} is no time. Type minutes and seconds", "1 min 30 s")
    if not match["hours"] and not match["unit"] and asked.name not in ("s", "min"):
        first, second = match["minutes"], match["seconds"]
        raise Refused(f"{quoted(plain)} can be read two ways. Type {first} h {second} min or {first} min {second} s.")
    total = (hours * 60 + minutes) * 60 + seconds
    return Reading(-total if match["sign"] else total, BY_NAME["s"])


def _read_letter_for_point(plain: str, asked: Unit) -> Reading | None:
    """``1k5``, ``2M2``, ``4R7``, ``R47``: the multiplier stands for the decimal point (IEC 60062)."""
    match = _pattern(_LETTER_FOR_POINT).fullmatch(plain)
    if not match or asked.kind != "resistance":
        return None
    unit = BY_NAME[{"R": "Ω", "K": "kΩ", "M": "MΩ", "G": "GΩ"}[(match["letter"] or "R").upper()]]
    number = of_sane_size(Fraction(f"{match['sign']}{match['whole'] or 0}.{match['part']}"), plain)
    return _checked(Reading(convert_to_si(number, unit), unit, number), plain)


def _read_number(plain: str, asked: Unit, way: str) -> Reading:
    """A number with a unit or without, or several that belong together: 10 ft 6 1/2 in."""
    started = find_number(plain)
    if not started:
        _refuse_without_number(plain, asked)
    number = number_in(started)
    spelling = plain[started.end() :].strip()
    unit = _find(spelling, asked) if spelling else asked
    # Several are tried before one of another kind is refused: 8ft2 is an area only where an area is asked.
    together = None if unit and compatible(unit, asked) else _read_together(plain, asked)
    if together:
        reading = together
    elif unit:
        reading = Reading(convert_to_si(number, unit), unit, number)
    else:
        _refuse_rest(plain, started.group(), spelling, asked)
    if not compatible(reading.unit, asked):
        _refuse_kind(plain, started.group(), reading, asked)
    typed_way = alternating_or_direct(spelling)
    if way and typed_way and way != typed_way:
        names = {"ac": "alternating (AC)", "dc": "direct (DC)"}
        raise Refused(
            f"That is {names[typed_way]}; this reading wants {names[way]} {asked.words}. Set the meter and read again."
        )
    return _checked(reading, plain)


def _find(spelling: str, asked: Unit) -> Unit | None:
    if asked.kind == "temperature" and asked.name != "K" and re.fullmatch(r"°|deg\.?|degrees?", spelling):
        return asked
    if asked.kind == "resistance" and spelling == "m":
        raise Refused(f"{quoted(spelling)} does not say which ohms. Type mΩ for thousandths or MΩ for millions.")
    try:
        return find(spelling, asked.kind)
    except Ambiguous as ambiguous:
        names = " or ".join(ambiguous.args)
        raise Refused(f"{quoted(spelling)} does not say which unit: capitals matter. Type {names}.") from None


def _read_together(plain: str, asked: Unit) -> Reading | None:
    """``10' 6 1/2"``, ``10ft6``, ``10'-6"``, ``1 min 30 s``: whole numbers, each in a smaller unit."""
    sign, rest = (-1, plain[1:]) if plain[0] == "-" else (1, plain.removeprefix("+"))
    parts: list[tuple[Fraction, Unit]] = []
    while rest:
        number = find_number(rest)
        if not number or number["sign"]:
            return None
        rest = rest[number.end() :]
        word = _pattern(r" ?([A-Za-z]+|['\"])\.?").match(rest)
        if word:
            rest = rest[word.end() :]
            minutes = asked.kind == "time" and word[1] == "m"
            unit = BY_NAME["min"] if minutes else _find(word[1], asked)
        else:
            left_out = parts and not rest and number.group()[0].isdigit()
            unit = _next_smaller(parts[-1][1]) if left_out else None
        if not unit:
            return None
        parts.append((number_in(number), unit))
        if rest:
            joint = _pattern(r" - |-|, | and | ?").match(rest)
            rest = rest[joint.end() :] if joint else rest
            if not rest:
                return None
    if len(parts) < 2:
        return None
    _check_parts(parts, plain)
    total = sum((convert_to_si(value, unit) for value, unit in parts), Fraction(0))
    return Reading(sign * total, parts[0][1])


def _next_smaller(unit: Unit) -> Unit | None:
    """The unit left out after this one where nothing else can be meant: 10' 6, 1 h 30, 1 min 30."""
    following = {"ft": "in", "h": "min", "min": "s"}.get(unit.name)
    return BY_NAME[following] if following else None


def _check_parts(parts: list[tuple[Fraction, Unit]], plain: str) -> None:
    names = [unit.name for _, unit in parts]
    family = next((family for family in FAMILIES if set(names) <= set(family)), ())
    places = [family.index(name) for name in names] if family else []
    if not family or places != sorted(set(places)):
        raise Refused(f"{quoted(plain)} is more than one number. Type one, in one unit")
    for (value, unit), (following, smaller) in itertools.pairwise(parts):
        if value.denominator != 1 or convert_to_si(following, smaller) >= convert_to_si(Fraction(1), unit):
            raise Refused(
                f"{quoted(plain)} does not add up. Type whole {unit.words} first,"
                f" then what is left, less than one, in {smaller.words}."
            )


def _checked(reading: Reading, plain: str) -> Reading:
    assert reading.value is not None
    if abs(reading.value) > LARGEST:
        of_sane_size(reading.value, plain)
    if reading.unit.kind == "temperature" and reading.value < 0:
        raise Refused(f"{quoted(plain)} is below absolute zero. Type the temperature you read")
    return reading


def _refuse_without_number(plain: str, asked: Unit) -> NoReturn:
    if _pattern(_NOTHING_SHOWN, re.IGNORECASE).fullmatch(plain):
        if asked.kind == "power level":
            raise Refused("No signal is weaker than the meter shows. Type the weakest that it shows", "-100 dBm")
        raise Refused(f"{quoted(plain)} can be 0, or a meter that is off. Type 0 only where it shows 0, else ?.")
    later = re.search(r"([+-]?) ?([.,]?[0-9].*)", plain)
    if not later:
        raise Refused(f"There is no number in {quoted(plain)}. Type what you read")
    if re.match(r"#|awg", plain, re.IGNORECASE):
        raise Refused(f"{quoted(plain)} is a wire gauge. This reading wants {asked.words}")
    if plain[0] in "<>≤≥":
        above_range = plain[0] in ">≥" and asked.kind in _SHOWN_AS_ABOVE_RANGE
        raise Refused(
            f"{quoted(plain)} is a limit, not a reading. Type what the meter shows",
            *(["OL"] if above_range else []),
        )
    raise Refused(f"{quoted(plain)} does not start with a number. Type only number and unit", later[1] + later[2])


def _refuse_rest(plain: str, number: str, rest: str, asked: Unit) -> NoReturn:
    """The number is clear, what follows is not: say so in the terms of what it looks like."""
    if rest.startswith(("±", "+/-", "+-")):
        unit = re.sub(r"^[^A-Za-zΩµ°%]*", "", rest)
        raise Refused(
            "How far the meter may be off is known already. Type only what it shows",
            f"{number} {unit}".strip(),
        )
    if re.search(r"(?:^|[^\w^])[.,]?[0-9]", rest):
        raise Refused(f"{quoted(plain)} is more than one number. Type one, in one unit")
    if asked.kind == "capacitance" and rest.lower() == "mf":
        raise Refused(f"{quoted(rest)} can mean microfarads or millifarads. For microfarads type {number} µF.")
    near = nearest(rest, asked.kind) or nearest(rest)
    raise Refused(
        f"{quoted(rest)} is no unit known here. Type the number with its unit",
        *([f"{number} {near}"] if near else []),
    )


def _refuse_kind(plain: str, number: str, reading: Reading, asked: Unit) -> NoReturn:
    typed, value = reading.unit, reading.value
    assert value is not None
    if {typed.kind, asked.kind} == {"mass", "force"}:
        newtons_per_kilogram = convert_to_si(Fraction(1), BY_NAME["kgf"])
        wanted, value = (
            ("a force, in N or lb", value * newtons_per_kilogram)
            if asked.kind == "force"
            else ("a mass, in kg or lb", value / newtons_per_kilogram)
        )
        raise Refused(
            f"That is {KINDS[typed.kind].phrase}. This reading wants {wanted}; for what weighs {quoted(plain)}",
            f"{decimal(float(convert_from_si(value, asked)), significant=4)} {asked.name}",
        )
    if (typed.name, asked.kind) == ("m", "time"):
        raise Refused("That is a length, in metres. Minutes are typed min", f"{number} min")
    if not asked.name:
        raise Refused(
            f"That is {KINDS[typed.kind].phrase}; this check asks for a number alone. Type the number you read."
        )
    # No number of that other kind is offered with this unit: it would be taken for a reading that nobody made.
    that = f"That is {KINDS[typed.kind].phrase}; this check asks for {asked.words}."
    raise Refused(f"{that} Type the {asked.words.removeprefix('a ')} you read.")
