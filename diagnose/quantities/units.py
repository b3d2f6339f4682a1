"""The units a technician uses, the ways they are spelt, and their conversion.

Factors are exact fractions (``factors.py``), so that a conversion is rounded once, at its end.
"""

from __future__ import annotations

import functools
import itertools
import math
import re
from fractions import Fraction
from typing import Any, Literal

import msgspec

from diagnose.quantities.factors import factors
from diagnose.quantities.quantity import QuantityError

System = Literal["us", "metric", ""]


class Kind(msgspec.Struct, frozen=True):
    """What can be measured. Finer than a dimension: a torque is no energy, and a rotation no frequency."""

    canonical: str
    phrase: str
    # Units often taken for one another at a door, the likeliest first.
    mistaken: tuple[str, ...] = ()


class Unit(msgspec.Struct, frozen=True):
    """A unit as shown (``name``), in words, as pint defines it, and its counterpart in the other system.

    ``spelt`` are further spellings; ``where_asked`` those that stand for it only where its kind is asked for: "lb" for
    a force, "k" for ohms.
    """

    kind: str
    name: str
    words: str
    definition: str = ""
    spelt: str = ""
    system: System = ""
    other: str = ""
    where_asked: str = ""
    # A whole word, shown in the plural unless there is just one.
    spelt_out: bool = False

    @property
    def spellings(self) -> tuple[str, ...]:
        return (self.name, self.words, *self.spelt.split())


KINDS = {
    "length": Kind("m", "a length", ("mm", "cm", "in", "ft")),
    "area": Kind("m²", "an area"),
    "time": Kind("s", "a time", ("s", "min", "h", "day")),
    "mass": Kind("kg", "a mass", ("lb", "kg")),
    "force": Kind("N", "a force", ("lbf", "N")),
    "torque": Kind("N·m", "a torque", ("in-lb", "ft-lb", "N·m")),
    "energy": Kind("J", "an energy"),
    "stiffness": Kind("N/m", "a force per length"),
    "mass per length": Kind("kg/m", "a mass per length"),
    "speed": Kind("m/s", "a speed", ("in/s", "ft/min", "mm/s", "m/s")),
    "rotation": Kind("rad/s", "a speed of rotation"),
    "angle": Kind("rad", "an angle", ("°", "rad")),
    "temperature": Kind("K", "a temperature", ("°F", "°C")),
    "voltage": Kind("V", "a voltage", ("mV", "V", "kV")),
    "current": Kind("A", "a current", ("mA", "A")),
    "resistance": Kind("Ω", "a resistance", ("Ω", "kΩ", "MΩ", "mΩ")),
    "capacitance": Kind("farad", "a capacitance", ("µF", "nF", "pF")),
    "inductance": Kind("H", "an inductance", ("mH", "H")),
    "power": Kind("W", "a power", ("W", "kW", "hp")),
    "apparent power": Kind("VA", "an apparent power", ("VA", "kVA")),
    "frequency": Kind("Hz", "a frequency", ("Hz", "kHz", "MHz", "GHz")),
    "pressure": Kind("Pa", "a pressure", ("psi", "kPa", "bar")),
    "data rate": Kind("bit/s", "a data rate", ("Mbit/s", "kbit/s", "MB/s")),
    "rate of cycles": Kind("cycles/s", "a rate of cycles", ("cycles/h", "cycles/day")),
    "illuminance": Kind("lx", "an illuminance"),
    "power level": Kind("dBm", "a power level in dBm"),
    "level difference": Kind("dB", "a level difference in dB"),
    "share": Kind("%", "a percentage"),
    "gauge": Kind("AWG", "a wire gauge"),
    "count": Kind("", "a plain number"),
    **{
        f"count of {noun}": Kind("", f"a count of {noun}")
        for noun in ("cycles", "turns", "links", "pitches", "teeth", "pulses", "blinks", "flashes", "starts")
    },
}


def _count(one: str, many: str, spellings: str = "") -> Unit:
    return Unit(f"count of {many}", one, many, "", spellings, spelt_out=True)


# In a spelling "·" stands for any of: a space, a point, a hyphen, a raised dot, an asterisk.
# Where one spelling could be two units the first one listed has it: "lb" alone is a mass, "F" a temperature.
UNITS = (
    Unit("length", "m", "metres", "meter", "meter meters metre", "metric", "ft"),
    Unit("length", "mm", "millimetres", "millimeter", "MM millimeter millimeters millimetre", "metric", "in"),
    Unit("length", "cm", "centimetres", "centimeter", "centimeter centimeters centimetre", "metric", "in"),
    Unit("length", "km", "kilometres", "kilometer", "kilometer kilometers kilometre", "metric", "ft"),
    Unit("length", "µm", "micrometres", "micrometer", "um micron microns micrometers", "metric", "mil"),
    Unit("length", "in", "inches", "inch", 'inch "', "us", "mm"),
    Unit("length", "ft", "feet", "foot", "foot '", "us", "m"),
    Unit("length", "yd", "yards", "yard", "yard yds", "us", "m"),
    Unit("length", "mil", "mils", "thou", "thou", "us", "µm"),
    Unit("area", "m²", "square metres", "meter**2", "m2 m^2 sq·m", "metric", "ft²"),
    Unit("area", "cm²", "square centimetres", "centimeter**2", "cm2 cm^2 sq·cm", "metric", "in²"),
    Unit("area", "mm²", "square millimetres", "millimeter**2", "mm2 mm^2 sq·mm", "metric", "in²"),
    Unit("area", "in²", "square inches", "inch**2", "in2 in^2 sq·in", "us", "mm²"),
    Unit("area", "ft²", "square feet", "foot**2", "ft2 ft^2 sq·ft", "us", "m²"),
    Unit("time", "s", "seconds", "second", "sec secs second"),
    Unit("time", "ms", "milliseconds", "millisecond", "MS msec millisecond"),
    Unit("time", "µs", "microseconds", "microsecond", "us usec µsec microsecond"),
    Unit("time", "min", "minutes", "minute", "mins minute"),
    Unit("time", "h", "hours", "hour", "hr hrs hour", where_asked="H"),
    Unit("time", "day", "days", "day", "d", spelt_out=True),
    Unit("time", "week", "weeks", "week", "wk wks", spelt_out=True),
    Unit("time", "month", "months", "month", "mo mos", spelt_out=True),
    Unit("time", "year", "years", "year", "yr yrs y", spelt_out=True),
    Unit("mass", "kg", "kilograms", "kilogram", "kgs kilo kilos kilogram", "metric", "lb"),
    Unit("mass", "g", "grams", "gram", "gram", "metric", "oz"),
    Unit("mass", "lb", "pounds", "pound", "lbs pound lbm", "us", "kg"),
    Unit("mass", "oz", "ounces", "ounce", "ounce ozs", "us", "g"),
    Unit("force", "N", "newtons", "newton", "newton", "metric", "lbf"),
    Unit("force", "kN", "kilonewtons", "kilonewton", "kilonewton", "metric", "lbf"),
    Unit("force", "lbf", "pounds of force", "force_pound", "", "us", "N", where_asked="lb lbs pound pounds"),
    Unit("force", "ozf", "ounces of force", "force_ounce", "", "us", "N", where_asked="oz ounce ounces"),
    Unit("force", "kgf", "kilograms of force", "force_kilogram", "kg·force kp", "metric", "lbf"),
    Unit("torque", "N·m", "newton metres", "newton*meter", "Nm newton·meters", "metric", "ft-lb"),
    Unit("torque", "ft-lb", "foot-pounds", "foot*force_pound", "", "us", "N·m"),
    Unit("torque", "in-lb", "inch-pounds", "inch*force_pound", "", "us", "N·m"),
    Unit("energy", "J", "joules", "joule", "joule"),
    Unit("energy", "kJ", "kilojoules", "kilojoule", "kilojoule"),
    Unit("energy", "Wh", "watt-hours", "watt*hour", ""),
    Unit("energy", "kWh", "kilowatt-hours", "kilowatt*hour", ""),
    Unit("stiffness", "N/m", "newtons per metre", "newton/meter", "", "metric", "lbf/in"),
    Unit("stiffness", "N/mm", "newtons per millimetre", "newton/millimeter", "", "metric", "lbf/in"),
    Unit("stiffness", "lbf/in", "pounds per inch", "force_pound/inch", "lb/in lbs/in", "us", "N/mm"),
    Unit("mass per length", "kg/m", "kilograms per metre", "kilogram/meter", "", "metric", "lb/ft"),
    Unit("mass per length", "lb/ft", "pounds per foot", "pound/foot", "lbs/ft", "us", "kg/m"),
    Unit("speed", "m/s", "metres per second", "meter/second", "", "metric", "ft/s"),
    Unit("speed", "mm/s", "millimetres per second", "millimeter/second", "", "metric", "in/s"),
    Unit("speed", "cm/s", "centimetres per second", "centimeter/second", "", "metric", "in/s"),
    Unit("speed", "m/min", "metres per minute", "meter/minute", "", "metric", "ft/min"),
    Unit("speed", "km/h", "kilometres per hour", "kilometer/hour", "kph kmh", "metric", "mph"),
    Unit("speed", "in/s", "inches per second", "inch/second", "ips", "us", "mm/s"),
    Unit("speed", "in/min", "inches per minute", "inch/minute", "ipm", "us", "mm/s"),
    Unit("speed", "ft/s", "feet per second", "foot/second", "fps", "us", "m/s"),
    Unit("speed", "ft/min", "feet per minute", "foot/minute", "fpm", "us", "m/min"),
    Unit("speed", "mph", "miles per hour", "mile/hour", "mi/h", "us", "km/h"),
    Unit("rotation", "rad/s", "radians per second", "radian/second", ""),
    Unit("rotation", "°/s", "degrees per second", "degree/second", "deg/s deg/sec"),
    Unit("rotation", "rpm", "revolutions per minute", "revolution/minute", "r/min rev/min revs/min"),
    Unit("angle", "rad", "radians", "radian", "radian"),
    Unit("angle", "°", "degrees", "degree", "deg degs degree"),
    Unit("temperature", "K", "kelvins", "kelvin", "kelvin"),
    Unit("temperature", "°F", "degrees Fahrenheit", "degree_Fahrenheit", "F fahrenheit", "us", "°C"),
    Unit("temperature", "°C", "degrees Celsius", "degree_Celsius", "C celsius centigrade", "metric", "°F"),
    Unit("voltage", "V", "volts", "volt", "volt Vrms"),
    Unit("voltage", "mV", "millivolts", "millivolt", "millivolt"),
    Unit("voltage", "µV", "microvolts", "microvolt", "uV microvolt"),
    Unit("voltage", "kV", "kilovolts", "kilovolt", "kilovolt"),
    Unit("voltage", "MV", "megavolts", "megavolt", "megavolt"),
    Unit("current", "A", "amperes", "ampere", "amp amps ampere Arms"),
    Unit("current", "mA", "milliamperes", "milliampere", "MA milliamp milliamps milliampere"),
    Unit("current", "µA", "microamperes", "microampere", "uA microamp microamps"),
    Unit("current", "kA", "kiloamperes", "kiloampere", "kiloamp kiloamps"),
    Unit("resistance", "Ω", "ohms", "ohm", "ohm", where_asked="R"),
    Unit("resistance", "mΩ", "milliohms", "milliohm", "milliohm"),
    Unit("resistance", "kΩ", "kilohms", "kiloohm", "kilohm kiloohm kiloohms", where_asked="k K kilo"),
    Unit("resistance", "MΩ", "megohms", "megaohm", "megohm megaohm megaohms megΩ", where_asked="M meg megs"),
    Unit("resistance", "GΩ", "gigaohms", "gigaohm", "gigohm gigohms gigaohm"),
    Unit("capacitance", "farad", "farads", "farad", "", where_asked="F", spelt_out=True),
    Unit("capacitance", "µF", "microfarads", "microfarad", "uF mfd mfds microfarad"),
    Unit("capacitance", "nF", "nanofarads", "nanofarad", "nanofarad"),
    Unit("capacitance", "pF", "picofarads", "picofarad", "picofarad"),
    Unit("inductance", "H", "henries", "henry", "henry henrys"),
    Unit("inductance", "mH", "millihenries", "millihenry", "millihenry"),
    Unit("inductance", "µH", "microhenries", "microhenry", "uH microhenry"),
    Unit("power", "W", "watts", "watt", "watt"),
    Unit("power", "mW", "milliwatts", "milliwatt", "milliwatt"),
    Unit("power", "kW", "kilowatts", "kilowatt", "kilowatt", "metric", "hp"),
    Unit("power", "MW", "megawatts", "megawatt", "megawatt"),
    Unit("power", "hp", "horsepower", "horsepower", "", "us", "kW"),
    Unit("apparent power", "VA", "volt-amperes", "volt*ampere", "volt·amps"),
    Unit("apparent power", "kVA", "kilovolt-amperes", "kilovolt*ampere", ""),
    Unit("frequency", "Hz", "hertz", "hertz", ""),
    Unit("frequency", "kHz", "kilohertz", "kilohertz", ""),
    Unit("frequency", "MHz", "megahertz", "megahertz", "mhz"),
    Unit("frequency", "GHz", "gigahertz", "gigahertz", ""),
    Unit("pressure", "Pa", "pascals", "pascal", "pascal", "metric", "psi"),
    Unit("pressure", "kPa", "kilopascals", "kilopascal", "kilopascal", "metric", "psi"),
    Unit("pressure", "MPa", "megapascals", "megapascal", "megapascal", "metric", "psi"),
    Unit("pressure", "bar", "bars", "bar", "", "metric", "psi"),
    Unit("pressure", "mbar", "millibars", "millibar", "millibar", "metric", "psi"),
    Unit("pressure", "psi", "pounds per square inch", "force_pound/inch**2", "psig lb/in²", "us", "kPa"),
    Unit("data rate", "bit/s", "bits per second", "bit/second", "bps b/s"),
    Unit("data rate", "kbit/s", "kilobits per second", "kilobit/second", "kbps kb/s Kbps Kb/s"),
    Unit("data rate", "Mbit/s", "megabits per second", "megabit/second", "Mbps mbps Mb/s"),
    Unit("data rate", "Gbit/s", "gigabits per second", "gigabit/second", "Gbps Gb/s"),
    Unit("data rate", "B/s", "bytes per second", "byte/second", "Bps"),
    Unit("data rate", "kB/s", "kilobytes per second", "kilobyte/second", "KB/s kBps KBps"),
    Unit("data rate", "MB/s", "megabytes per second", "megabyte/second", "MBps"),
    Unit("data rate", "GB/s", "gigabytes per second", "gigabyte/second", "GBps"),
    Unit("rate of cycles", "cycles/s", "cycles per second", "1/second", ""),
    Unit("rate of cycles", "cycles/min", "cycles per minute", "1/minute", ""),
    Unit("rate of cycles", "cycles/h", "cycles per hour", "1/hour", "cycles/hr"),
    Unit("rate of cycles", "cycles/day", "cycles per day", "1/day", ""),
    Unit("rate of cycles", "cycles/year", "cycles per year", "1/year", "cycles/yr"),
    Unit("illuminance", "lx", "lux", "lux", ""),
    Unit("power level", "dBm", "dBm"),
    Unit("level difference", "dB", "decibels", "", "decibel"),
    Unit("share", "%", "percent", "", "pct per·cent %RH %·RH"),
    Unit("gauge", "AWG", "a wire gauge", "", "ga gauge gage"),
    Unit("count", "", "a plain number", "", "count counts each ea pcs pieces times"),
    _count("cycle", "cycles"),
    _count("turn", "turns", "rev revs"),
    _count("link", "links"),
    _count("pitch", "pitches"),
    _count("tooth", "teeth"),
    _count("pulse", "pulses"),
    _count("blink", "blinks"),
    _count("flash", "flashes"),
    _count("start", "starts"),
)

BY_NAME = {unit.name: unit for unit in UNITS}

# The ohm and micro signs have two code points each.
LOOKALIKES = {0x2126: "Ω", 0x03BC: "µ"}

# Units that are written after one another, each a share of the one before: 10 ft 6 in, 1 min 30 s.
FAMILIES = (
    ("ft", "in"),
    ("lb", "oz"),
    ("lbf", "ozf"),
    ("m", "cm", "mm"),
    ("year", "month", "week", "day", "h", "min", "s", "ms"),
)


class Ambiguous(Exception):
    """A unit's spelling in a case that does not say which unit is meant; the names are its arguments."""


def find(spelling: str, kind: str | None = None) -> Unit | None:
    """The unit a spelling stands for, or ``None``; where ``kind`` is asked for, of that kind if it can be.

    Upper and lower case are tried in three steps: as typed; then with only the first letter kept, so that
    "mv" is millivolts and "MOHM" megohms; then in any case, but never taking m for M where it is a prefix.
    The first step at which anything is found decides.

    Raises:
        Ambiguous: the case is wrong, and so does not say which unit of the kind is meant.
    """
    key = _key(spelling)
    for index, form in zip(_index(), _forms(key), strict=True):
        entries = index.get(form, [])
        of_kind = {entry.unit.name: entry for entry in entries if entry.unit.kind == kind}
        if len(of_kind) > 1 or any(entry.case_lost(key) for entry in of_kind.values()):
            raise Ambiguous(*of_kind)
        of_others = [entry for entry in entries if not entry.where_asked and not entry.case_lost(key)]
        if of_kind or of_others:
            return [*of_kind.values(), *of_others][0].unit
    return None


def known(unit: str) -> Unit:
    """The unit a tree or a caller names.

    Raises:
        QuantityError: no such unit; the sentence names a near one.
    """
    try:
        found = find(unit)
    except Ambiguous:
        found = None
    if found is None:
        near = nearest(unit)
        hint = f"Did you mean {near}?" if near else "Use a unit like V, ohm, in, mm, lbf or s."
        raise QuantityError(f'"{unit[:40]}" is no unit known here. {hint}', unit, near)
    return found


def nearest(spelling: str, kind: str | None = None) -> str | None:
    """The spelling most like this one, of that kind where a kind is given."""
    import difflib

    spellings = [word for unit in UNITS if kind in (None, unit.kind) for word in _all_spellings(unit) if word]
    near = difflib.get_close_matches(_key(spelling), spellings, n=1, cutoff=0.6)
    return near[0].replace("·", " ") if near else None


def compatible(unit: Unit, other: Unit) -> bool:
    """Whether a value in one can be read as the other: of one kind; a plain number fits any count."""
    if unit.kind == other.kind:
        return True
    counts = KINDS[unit.kind].canonical == KINDS[other.kind].canonical == ""
    return counts and "count" in (unit.kind, other.kind)


def convert_to_si(value: Fraction, unit: Unit) -> Fraction:
    """A value in ``unit`` in the canonical unit of its kind, exactly."""
    scale, offset = conversion(unit.name)
    return value * scale + offset


def convert_from_si(value: Fraction, unit: Unit) -> Fraction:
    """A value in the canonical unit of its kind in ``unit``, exactly."""
    scale, offset = conversion(unit.name)
    return (value - offset) / scale


@functools.cache
def conversion(name: str) -> tuple[Fraction, Fraction]:
    """Scale and offset of a unit: canonical value = value · scale + offset."""
    return factors(BY_NAME[name].definition)


def to_si(value: float, unit: str) -> float:
    """A value in ``unit`` in the canonical unit of its kind.

    Raises:
        QuantityError: no such unit, or the value is not a number.
    """
    return _converted(value, known(unit), convert_to_si)


def to_unit(value_si: float, unit: str) -> float:
    """A value in the canonical unit of ``unit``'s kind in ``unit``.

    Raises:
        QuantityError: no such unit, or the value is not a number.
    """
    return _converted(value_si, known(unit), convert_from_si)


def _converted(value: float, unit: Unit, convert: Any) -> float:
    if math.isnan(value):
        raise QuantityError("That is not a number. Give a number to convert.")
    return value if math.isinf(value) else float(convert(Fraction(value), unit))


def unit_size(unit: str) -> float:
    """How much one of ``unit`` is in the canonical unit, as a difference: 1 °F is 5/9 K.

    For widths, uncertainties and display steps, where the offset between scales must not be added.

    Raises:
        QuantityError: no such unit.
    """
    return float(conversion(known(unit).name)[0])


def canonical_unit(unit: str) -> str:
    """The unit values of this kind are kept in: "m" for "in", "V" for "mV", "" for a count.

    Raises:
        QuantityError: no such unit.
    """
    return KINDS[known(unit).kind].canonical


def same_dimension(unit_a: str, unit_b: str) -> bool:
    """Whether a value in one unit can be read in the other. Counts of different things are not alike.

    Raises:
        QuantityError: no such unit.
    """
    return compatible(known(unit_a), known(unit_b))


def known_unit(unit: str) -> bool:
    """Whether this is a unit a reading can ask for. "lb" is a mass; a force is "lbf"."""
    try:
        known(unit)
    except QuantityError:
        return False
    return True


def alternating_or_direct(spelling: str) -> str:
    """ "ac" or "dc" where the spelling of a voltage or current says which, else ""."""
    ending = _key(spelling)[-2:].lower()
    return ending if ending in ("ac", "dc") else ""


def _key(spelling: str) -> str:
    """A spelling with its separators made alike: "ft. lb", "ft-lb" and "ft·lb" are one."""
    key = spelling.translate(LOOKALIKES).strip()
    key = key.removesuffix(".").rstrip()
    key = re.sub(r" *(?:/| per ) *", "/", key)
    return re.sub(r"[ ·*.\-]+", "·", key)


def _forms(key: str) -> tuple[str, str, str]:
    """A key as typed, with only its first letter's case kept, and in lower case."""
    return key, key[:1] + key[1:].lower(), key.lower()


class _Entry(msgspec.Struct, frozen=True):
    unit: Unit
    where_asked: bool
    # The first letter where its case carries the meaning: milli or mega, kelvin or kilo.
    cased: str

    def case_lost(self, key: str) -> bool:
        return not key.startswith(self.cased)


@functools.cache
def _index() -> tuple[dict[str, list[_Entry]], dict[str, list[_Entry]], dict[str, list[_Entry]]]:
    """The units of every spelling, in each of its three forms."""
    indexes: tuple[dict[str, list[_Entry]], ...] = ({}, {}, {})
    for unit in UNITS:
        of_kind = {word.lower() for other in UNITS if other.kind == unit.kind for word in other.spellings}
        words = [(word, False) for word in _all_spellings(unit)] + [(word, True) for word in unit.where_asked.split()]
        for word, where_asked in words:
            key = _key(word)
            cased = key[0] if key == "K" or (key[:1] in ("m", "M") and key[1:].lower() in of_kind - {""}) else ""
            for index, form in zip(indexes, _forms(key), strict=True):
                index.setdefault(form, []).append(_Entry(unit, where_asked, cased))
    return indexes[0], indexes[1], indexes[2]


def _all_spellings(unit: Unit) -> list[str]:
    """The spellings of the table, and those put together from parts: volts with ac, feet with pounds, k with ohm."""
    written = list(unit.spellings)
    if unit.kind == "force":
        written += [f"{word}·force" for word in unit.where_asked.split()]
    if unit.kind == "temperature" and unit.name.startswith("°"):
        degrees = ("deg", "deg·", "degs·", "°·", "degrees·", "degree·")
        written += [f"{word}{unit.name[1]}" for word in degrees]
    if unit.kind == "resistance" and len(unit.name) == 2:
        prefixes = (unit.name[0], *(["meg"] if unit.name == "MΩ" else []))
        written += [f"{prefix}{gap}{word}" for prefix in prefixes for gap in ("", "·") for word in ("ohm", "ohms", "Ω")]
    if unit.kind in ("voltage", "current"):
        written += [f"{word}{gap}{way}" for word in unit.spellings for gap in ("", "·") for way in ("ac", "dc")]
    if unit.name in ("ft-lb", "in-lb"):
        lengths = BY_NAME[unit.name[:2]].spellings[:3]
        forces = ("lb", "lbs", "lbf", "pound", "pounds")
        for pair in itertools.product(lengths, forces):
            for first, second in (pair, pair[::-1]):
                written += [f"{first}{second}", f"{first}·{second}"]
    if unit.kind == "speed" and "/" in unit.name:
        length, time = (BY_NAME[part].spellings for part in unit.name.split("/"))
        written += [f"{top}/{bottom}" for top, bottom in itertools.product(length, time)]
    return written
