"""Texts as technicians, telephones and bad luck would type them, each with what it must be read as.

The generator builds a quantity first and writes it down afterwards, so it knows the answer without reading
anything: that, with the factors below, is the oracle. A text it spoils in a way that leaves no single meaning
must be refused. A text of mere noise has no known answer; it must be refused, or read alike again and again.

``python -m tests.abuse.typed_readings 100000`` runs that many and prints the counts.
"""

from __future__ import annotations

import math
import random
import re
import sys
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple

from diagnose.quantities import QuantityError, read_quantity, show, unit_size

# By definition: the international inch and pound, and standard gravity (NIST SP 811, appendix B).
INCH, POUND, GRAVITY = Fraction(254, 10000), Fraction(45359237, 10**8), Fraction(980665, 10**5)
LBF = POUND * GRAVITY
KILO, MEGA, MILLI, MICRO = Fraction(1000), Fraction(10**6), Fraction(1, 1000), Fraction(1, 10**6)

# Kind → (spellings, size in the canonical unit). Temperatures are apart: they have an offset.
SPELT: dict[str, list[tuple[str, Fraction]]] = {
    "V": [
        *((word, Fraction(1)) for word in ("V", "v", "volts", "Volts", "VAC", "Vdc", "V ac", "volt")),
        *((word, MILLI) for word in ("mV", "mv", "millivolts")),
        *((word, KILO) for word in ("kV", "KV", "kv")),
    ],
    "A": [*((word, Fraction(1)) for word in ("A", "amps", "AMPS", "a")), ("mA", MILLI), ("MA", MILLI)],
    "ohm": [
        *((word, Fraction(1)) for word in ("Ω", "\u2126", "ohm", "ohms", "OHMS", "R")),
        *((word, KILO) for word in ("kΩ", "k", "K", "kohm", "kohms", "k ohm", "KOHM")),
        *((word, MEGA) for word in ("MΩ", "M", "meg", "Mohm", "MOHM", "megohms")),
        *((word, MILLI) for word in ("mΩ", "mohm")),
    ],
    "in": [
        *((word, INCH) for word in ("in", "IN", "in.", "inch", "inches", '"', "″", "”", "''")),
        *((word, 12 * INCH) for word in ("ft", "FT", "feet", "'", "′", "’")),
        *((word, MILLI) for word in ("mm", "MM", "millimeters")),
        ("cm", Fraction(1, 100)),
        ("m", Fraction(1)),
    ],
    "lbf": [
        *((word, LBF) for word in ("lb", "lbs", "LB", "lbf", "pounds", "Lbs.")),
        *((word, Fraction(1)) for word in ("N", "newtons")),
        ("kN", KILO),
    ],
    "lb": [*((word, POUND) for word in ("lb", "lbs", "pounds", "LBS")), ("kg", Fraction(1)), ("g", MILLI)],
    "ft-lb": [
        *((word, 12 * INCH * LBF) for word in ("ft-lb", "ft lb", "ft·lb", "lb-ft", "ft-lbs", "foot-pounds")),
        *((word, INCH * LBF) for word in ("in-lb", "in lbs", "inch-pounds", "in.-lb")),
        *((word, Fraction(1)) for word in ("N·m", "Nm", "N m", "N-m")),
    ],
    "s": [
        *((word, Fraction(1)) for word in ("s", "sec", "seconds", "S")),
        *((word, Fraction(60)) for word in ("min", "minutes", "MIN")),
        *((word, Fraction(3600)) for word in ("h", "hr", "hours")),
        *((word, Fraction(86400)) for word in ("days", "day")),
    ],
    "psi": [("psi", LBF / INCH**2), ("PSI", LBF / INCH**2), ("kPa", KILO), ("bar", Fraction(10**5))],
    "in/s": [("in/s", INCH), ("in/sec", INCH), ("ft/min", INCH / 5), ("fpm", INCH / 5), ("mm/s", MILLI)],
    "µF": [*((word, MICRO) for word in ("µF", "\u03bcF", "uF", "mfd", "MFD")), ("nF", MICRO / 1000)],
    "Hz": [("Hz", Fraction(1)), ("hz", Fraction(1)), ("kHz", KILO), ("MHz", MEGA), ("GHz", KILO * MEGA)],
    "Mbit/s": [("Mbit/s", MEGA), ("Mbps", MEGA), ("mbps", MEGA), ("kbit/s", KILO), ("MB/s", 8 * MEGA)],
    "dBm": [("dBm", Fraction(1)), ("dbm", Fraction(1)), ("DBM", Fraction(1))],
    "dB": [("dB", Fraction(1)), ("db", Fraction(1))],
    "%": [("%", Fraction(1)), ("percent", Fraction(1)), ("pct", Fraction(1))],
    "turns": [("turns", Fraction(1)), ("turn", Fraction(1)), ("TURNS", Fraction(1))],
    "cycles": [("cycles", Fraction(1)), ("Cycles", Fraction(1))],
}
# What a bare number means in each reading.
ASSUMED = {
    "V": Fraction(1), "A": Fraction(1), "ohm": Fraction(1), "in": INCH, "lbf": LBF, "lb": POUND,
    "ft-lb": 12 * INCH * LBF, "s": Fraction(1), "psi": LBF / INCH**2, "in/s": INCH, "µF": MICRO, "Hz": Fraction(1),
    "Mbit/s": MEGA, "dBm": Fraction(1), "dB": Fraction(1), "%": Fraction(1), "turns": Fraction(1),
    "cycles": Fraction(1),
}  # fmt: skip

VULGAR = {
    (1, 2): "½", (1, 3): "⅓", (2, 3): "⅔", (1, 4): "¼", (3, 4): "¾", (1, 5): "⅕", (1, 6): "⅙", (5, 6): "⅚",
    (1, 8): "⅛", (3, 8): "⅜", (5, 8): "⅝", (7, 8): "⅞",
}  # fmt: skip
RAISED, LOWERED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"), str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
SPACES = ["", " ", " ", "\u00a0", "\u2009", "\u202f", "  "]
NOT_TYPED = ["\x00", "\x07", "\t", "\n", "\r", "\x1b[31m", "\x7f", "\u200b", "\u202e", "\ufeff", "\u2028", "\ud800"]
MARKUP = ["[/x]", "[bold]", "[red]", "[psi]", "[", "]", "\\[", "[@click=x()]", "[link=file:x]", "{}", "%s", "$(x)"]
NOISE = [
    *"0123456789",
    *"0123456789",
    *" .,-+/'\"°%#:()[]",
    *"eEkKMmRrVvinftlbLO",
    "½",
    "⅛",
    "−",
    "″",
    "Ω",
    "µ",
    "±",
    "²",
]

REFUSED = "refused"
UNKNOWN = "unknown"
OPEN = "open"


class Case(NamedTuple):
    """A text for a reading in ``unit``, and the value it must have: exact, or one of the three words above."""

    how: str
    text: str
    unit: str
    value: Fraction | str


def built(pick: random.Random) -> Case:
    """One case of any sort."""
    return pick.choices(
        [decimal_case, fraction_case, feet_case, time_case, temperature_case, gauge_case, letter_case, open_case,
         spoilt_case, noise_case],
        weights=[24, 16, 10, 6, 5, 5, 5, 2, 17, 10],
    )[0](pick)  # fmt: skip


def signed(pick: random.Random) -> tuple[str, int]:
    return pick.choice([("", 1), ("", 1), ("", 1), ("-", -1), ("−", -1), ("–", -1), ("+", 1)])


def with_unit(pick: random.Random, number: str, unit: str, value: Fraction, how: str) -> Case:
    """The number with one of the unit's spellings, or bare."""
    if pick.random() < 0.2:
        return Case(how, padded(pick, number), unit, value * ASSUMED[unit])
    spelling, size = pick.choice(SPELT[unit])
    text = padded(pick, number + pick.choice(SPACES) + spelling)
    if abs(value * size) > 10**15:
        return Case("more than anything measured", text, unit, REFUSED)
    return Case(how, text, unit, value * size)


def padded(pick: random.Random, text: str) -> str:
    return pick.choice(["", "", "", " ", "\u00a0"]) + text + pick.choice(["", "", "", " ", "\u2009"])


def decimal_case(pick: random.Random) -> Case:
    """112.5, 112,5, 1,250.5, 1.250,5, 1e3, and the one comma that could be either."""
    unit = pick.choice(list(SPELT))
    whole, places = pick.randrange(10 ** pick.randrange(1, 7)), pick.randrange(5)
    part = "".join(pick.choices("0123456789", k=places))
    mark, sign = signed(pick)
    value = sign * Fraction(f"{whole}.{part or 0}")
    how = pick.choice(["point", "point", "comma", "thousands", "thousands", "exponent"])
    if how == "comma" and part:
        number = f"{mark}{whole},{part}"
        if 0 < whole < 1000 and places == 3:
            case = with_unit(pick, number, unit, value, "one comma, three digits")
            return case._replace(value=REFUSED)
    elif how == "thousands" and whole >= 1000:
        comma, point = pick.choice([(",", "."), (".", ",")])
        grouped = f"{whole:,}".replace(",", comma)
        if not part and grouped.count(comma) == 1:
            part = "5"
            value = sign * Fraction(f"{whole}.5")
        number = f"{mark}{grouped}{point if part else ''}{part}"
    elif how == "exponent":
        power = pick.randrange(-6, 4)
        number = f"{mark}{whole}.{part or 0}{pick.choice('eE')}{power}"
        value *= Fraction(10) ** power
    else:
        how, number = "point", f"{mark}{whole}.{part}" if part else f"{mark}{whole}"
    return with_unit(pick, number, unit, value, how)


def written_fraction(pick: random.Random, whole: int) -> tuple[str, Fraction]:
    """3 1/8 in one of its dresses."""
    bottom = pick.choice([2, 3, 4, 5, 6, 8, 8, 16, 16, 32, 64])
    top = pick.randrange(1, bottom)
    value = whole + Fraction(top, bottom)
    dresses = [f"{top}/{bottom}", f"{top}⁄{bottom}", f"{top} / {bottom}"]
    joints = [" ", "-", "\u00a0"]
    if (top, bottom) in VULGAR:
        dresses, joints = [VULGAR[top, bottom]], [*joints, ""]
    elif pick.random() < 0.2:
        dresses, joints = [f"{str(top).translate(RAISED)}⁄{str(bottom).translate(LOWERED)}"], [*joints, ""]
    dress = pick.choice(dresses)
    return (f"{whole}{pick.choice(joints)}{dress}" if whole else dress), value


def fraction_case(pick: random.Random) -> Case:
    unit = pick.choice(["in", "in", "in", "ft-lb", "turns", "lb", "V", "psi"])
    number, value = written_fraction(pick, pick.choice([0, pick.randrange(1, 200)]))
    mark, sign = signed(pick)
    return with_unit(pick, mark + number, unit, sign * value, "fraction")


def feet_case(pick: random.Random) -> Case:
    """10' 6 1/2", 10ft6, 10'-6"."""
    feet, inches = pick.randrange(60), pick.randrange(12)
    number, value = (str(inches), Fraction(inches)) if pick.random() < 0.5 else written_fraction(pick, inches)
    foot, inch = pick.choice([("'", '"'), ("′", "″"), ("’", "”"), (" ft", " in"), ("ft", "in"), (" feet", " inches")])
    joint = pick.choice(["", " ", "-", " - ", ", "])
    mark, sign = signed(pick)
    inch = pick.choice([inch, inch, ""])
    text = f"{mark}{feet}{foot}{joint}{number}{inch}"
    return Case("feet and inches", padded(pick, text), "in", sign * (feet * 12 + value) * INCH)


def time_case(pick: random.Random) -> Case:
    minutes, seconds = pick.randrange(60), pick.randrange(60)
    hours = pick.choice([0, 0, pick.randrange(1, 10)])
    total = Fraction(hours * 3600 + minutes * 60 + seconds)
    if hours:
        text = pick.choice([f"{hours}:{minutes:02}:{seconds:02}", f"{hours} h {minutes} min {seconds} s"])
    else:
        text = pick.choice(
            [
                f"{minutes}:{seconds:02}",
                f"{minutes} min {seconds} s",
                f"{minutes}m{seconds}s",
                f"{minutes} min {seconds}",
            ]
        )
    return Case("time", padded(pick, text), "s", total)


def temperature_case(pick: random.Random) -> Case:
    degrees = Fraction(pick.randrange(-400, 3000), 10)
    text = f"{float(degrees):.1f}".replace("-", pick.choice("-−"))
    spelling = pick.choice(["°F", " F", "degF", " deg F", "°", "", "°C", " C", " ℃", " celsius"])
    celsius = "c" in spelling.lower() or "℃" in spelling
    kelvin = degrees + Fraction(27315, 100) if celsius else (degrees + Fraction(45967, 100)) * Fraction(5, 9)
    return Case("temperature", padded(pick, text + spelling), "°F", kelvin)


def gauge_case(pick: random.Random) -> Case:
    gauge = pick.randrange(-3, 41)
    number = str(gauge) if gauge >= 0 else f"{1 - gauge}/0"
    text = pick.choice(["{} AWG", "#{}", "{} ga", "{}", "AWG {}", "{}awg", "#{} AWG", "{} gauge"]).format(number)
    if pick.random() < 0.15:
        return Case("gauge spoilt", f"{number}{pick.choice(['.5', '-2', '/2', ' in', 'mm', 'x'])}", "AWG", REFUSED)
    return Case("gauge", padded(pick, text), "AWG", Fraction(gauge))


def letter_case(pick: random.Random) -> Case:
    """1k5, 2M2, 4R7."""
    letter, size = pick.choice([("k", KILO), ("K", KILO), ("M", MEGA), ("R", Fraction(1)), ("r", Fraction(1))])
    whole, part = str(pick.randrange(1000)), str(pick.randrange(1000))
    if letter in "Rr" and pick.random() < 0.5:
        whole = ""
    text = whole + letter + part + pick.choice(["", "", "Ω", " ohm"])
    return Case("letter for point", padded(pick, text), "ohm", Fraction(f"{whole or 0}.{part}") * size)


def open_case(pick: random.Random) -> Case:
    text = pick.choice(["OL", "O.L", "ol", "0L", "OL MΩ", "OL Ω", "overload", "OPEN", "open circuit", "∞", "inf"])
    if pick.random() < 0.3:
        return Case("open, not of ohms", text, pick.choice(["in", "µF", "s"]), REFUSED)
    if pick.random() < 0.3:
        over = pick.choice(["OL", "O.L", "ol", "0L", "overload", "over range"])
        return Case("over range", padded(pick, over), pick.choice(["V", "A", "psi"]), OPEN)
    return Case("open", padded(pick, text), "ohm", OPEN)


def spoilt_case(pick: random.Random) -> Case:
    """A good text made into one without a single meaning."""
    good = pick.choice([decimal_case, fraction_case])(pick)
    text = good.text.strip()
    place = pick.randrange(len(text) + 1)
    other = pick.choice([unit for unit in SPELT if {unit, good.unit} != {"lb", "lbf"} and unit != good.unit])
    spoilt: dict[str, Callable[[], str]] = {
        "not typed": lambda: text[:place] + pick.choice(NOT_TYPED) + text[place:],
        "markup": lambda: pick.choice(["{1}{0}", "{0}{1}", "{0} {1}", "{1}{0}{1}"]).format(text, pick.choice(MARKUP)),
        "two numbers": lambda: text + pick.choice([" 3", " - 7 V", " to 9", "/5", "; 4", " x 2", " ± 1"]),
        "about": lambda: pick.choice(["~", "about ", "<", ">", "≈", "$", "=", "x", "(", "*", "`"]) + text,
        "another kind": lambda: f"12 {pick.choice(spellings_only_of(other))}",
        "improper fraction": lambda: f"{(top := pick.randrange(2, 99))}/{pick.randrange(1, top + 1)} in",
        "no number": lambda: pick.choice(["", " ", "nan", "-nan", "volts", "-", "+", ".", ",", "NaN V", "½½", "١٢"]),
        "far outside": lambda: pick.choice(["1e16", "-1e300", "1e999999", "9" * 30, "1e-31", "1" + "0" * 190]),
        "too long": lambda: text + " " * 200 + "1",
        "no unit": lambda: f"12 {pick.choice(['zorks', 'qq', 'V/', 'V V', 'in in', 'mVm', '²', 'V²', 'Ω.m', '&'])}",
        "fraction of a decimal": lambda: f"{pick.randrange(9)}.5 1/8 in",
        "too many inches": lambda: f"{pick.randrange(9)}' {pick.randrange(12, 99)}\"",
        "points": lambda: pick.choice(["1.2.3", "1,2,3", "1,25,000", "1.250.5", "1,250,5", "12,3456,7", "1,,2"]),
    }  # fmt: skip
    how = pick.choice(list(spoilt))
    unit = "in" if how in ("improper fraction", "fraction of a decimal", "too many inches") else good.unit
    return Case(f"spoilt: {how}", spoilt[how](), unit, REFUSED)


def spellings_only_of(unit: str) -> list[str]:
    """Spellings that mean nothing in a reading of another kind: "M" and "k" alone are left out."""
    return [spelling for spelling, _ in SPELT[unit] if len(spelling) > 1 or spelling in "VAΩ%"]


def noise_case(pick: random.Random) -> Case:
    """Characters at random, or a good text with one character changed."""
    unit = pick.choice([*SPELT, "AWG", "°F", ""])
    if pick.random() < 0.5:
        return Case("noise", "".join(pick.choices(NOISE, k=pick.randrange(1, 12))), unit, UNKNOWN)
    good = pick.choice([decimal_case, fraction_case, feet_case])(pick)
    place = pick.randrange(len(good.text) + 1)
    text = good.text[:place] + pick.choice([*NOISE, ""]) + good.text[place + pick.randrange(2) :]
    return Case("one character changed", text, good.unit, UNKNOWN)


def check(case: Case) -> bool:
    """Whether the text was read, as it must be, or refused, as it must be.

    Raises:
        AssertionError: read wrongly, read where it should be refused, or the other way about.
    """
    try:
        quantity = read_quantity(case.text, case.unit)
    except QuantityError as error:
        assert case.value in (REFUSED, UNKNOWN), f"refused {case}: {error}"
        assert str(error).isprintable() and error.text == case.text, f"sentence not fit to show for {case}: {error!s}"
        if error.suggestion is not None:
            read_quantity(error.suggestion, case.unit)
        return False
    assert case.value != REFUSED, f"read {case} as {quantity}"
    assert quantity.raw == case.text
    assert read_quantity(quantity.raw, case.unit) == quantity
    assert not math.isnan(quantity.value)
    if case.value == OPEN:
        assert quantity.value == math.inf, f"{case} read as {quantity}"
    elif isinstance(case.value, Fraction):
        assert quantity.value == float(case.value), f"{case} read as {quantity}, not {float(case.value)}"
    elif re.fullmatch(r" *[+-]?([0-9]+\.?[0-9]*|\.[0-9]+) *", case.text) and case.unit in ASSUMED:
        expected = float(Fraction(case.text.strip()) * ASSUMED[case.unit])
        assert quantity.value == expected, f"{case} read as {quantity}, not {expected}"
    for system in ("us", "metric", "both"):
        shown = show(quantity.value, case.unit, system)
        again = read_quantity(shown, case.unit).value
        # Six figures, and what a thermometer of another scale adds by its offset; or a tape's 1e-6 in.
        rounding = 5.1e-6 * abs(quantity.value) + 1e-6 * unit_size("in") * (case.unit == "in")
        assert again == quantity.value or abs(again - quantity.value) <= rounding, f"{case}: {shown!r} reads as {again}"
    return True


def run(count: int, seed: int) -> tuple[Counter[str], Counter[str]]:
    """Check that many cases; how many of each sort were read and how many refused."""
    pick = random.Random(seed)
    read, refused = Counter[str](), Counter[str]()
    for _ in range(count):
        case = built(pick)
        (read if check(case) else refused)[case.how] += 1
    return read, refused


def main(arguments: list[str]) -> None:
    count = int(arguments[0]) if arguments else 100_000
    seed = int(arguments[1]) if len(arguments) > 1 else 1
    read, refused = run(count, seed)
    print(f"{'sort':32}{'read':>8}{'refused':>9}")
    for how in sorted({*read, *refused}):
        print(f"{how:32}{read[how]:8}{refused[how]:9}")
    print(f"{'all':32}{read.total():8}{refused.total():9}   seed {seed}, no disagreement")


if __name__ == "__main__":
    main(sys.argv[1:])
