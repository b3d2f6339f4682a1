"""How much one of a unit is in the canonical unit of its kind, worked out from its definition in exact fractions.

A definition is written as pint reads it; ``tests/quantities/test_units.py`` has pint work out each of them, too.
"""

from __future__ import annotations

import functools
import re
from fractions import Fraction

_PI = "3.1415926535897932384626433832795028841971693993751"
_PREFIXES = {
    "giga": "1e9",
    "mega": "1e6",
    "kilo": "1e3",
    "centi": "1e-2",
    "milli": "1e-3",
    "micro": "1e-6",
    "nano": "1e-9",
    "pico": "1e-12",
}
# What a word is worth in the units of the SI: a number, or a number of another word. A word not listed is worth one.
_WORDS = {
    "inch": ("0.0254", ""),
    "foot": ("12", "inch"),
    "yard": ("36", "inch"),
    "mile": ("5280", "foot"),
    "thou": ("0.001", "inch"),
    "minute": ("60", ""),
    "hour": ("60", "minute"),
    "day": ("24", "hour"),
    "week": ("7", "day"),
    "year": ("365.25", "day"),
    "month": ("1/12", "year"),
    "gram": ("0.001", ""),
    "pound": ("0.45359237", ""),
    "ounce": ("1/16", "pound"),
    "force_kilogram": ("9.80665", ""),
    "force_pound": ("0.45359237", "force_kilogram"),
    "force_ounce": ("1/16", "force_pound"),
    "degree": ("1/180", "pi"),
    "revolution": ("2", "pi"),
    "pi": (_PI, ""),
    "degree_Fahrenheit": ("5/9", ""),
    "horsepower": ("550", "foot*force_pound"),
    "bar": ("1e5", ""),
    "byte": ("8", ""),
}
# Scales that do not begin at nought: what their nought is in the canonical unit.
_NOUGHTS = {"degree_Fahrenheit": "45967/180", "degree_Celsius": "273.15"}


@functools.cache
def factors(definition: str) -> tuple[Fraction, Fraction]:
    """Scale and offset of what is defined so: canonical value = value · scale + offset."""
    scale = Fraction(1)
    for sign, word, power in re.findall(r"([*/]?)([A-Za-z_]+)(?:\*\*(\d))?", definition):
        size = _size(word) ** int(power or 1)
        scale = scale / size if sign == "/" else scale * size
    return scale, Fraction(_NOUGHTS.get(definition, 0))


def _size(word: str) -> Fraction:
    if word in _WORDS:
        number, other = _WORDS[word]
        return Fraction(number) * factors(other)[0]
    prefix = next((prefix for prefix in _PREFIXES if word.startswith(prefix)), "")
    return Fraction(_PREFIXES[prefix]) * _size(word.removeprefix(prefix)) if prefix else Fraction(1)
