"""Conversions against the definitions of the units, and against pint; what may be read for what."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction
from typing import Any

import pint
import pytest

from diagnose.quantities import QuantityError, canonical_unit, known_unit, same_dimension, to_si, to_unit, unit_size
from diagnose.quantities.units import BY_NAME, KINDS, UNITS, Unit, conversion, known

# International yard and pound agreement of 1959 and standard gravity, as in NIST SP 811, appendix B.
INCH = Fraction(254, 10000)
POUND = Fraction(45359237, 100000000)
GRAVITY = Fraction(980665, 100000)

DEFINED = {
    "in": INCH,
    "ft": 12 * INCH,
    "yd": 36 * INCH,
    "mil": INCH / 1000,
    "in²": INCH**2,
    "lb": POUND,
    "oz": POUND / 16,
    "lbf": POUND * GRAVITY,
    "ozf": POUND * GRAVITY / 16,
    "kgf": GRAVITY,
    "ft-lb": 12 * INCH * POUND * GRAVITY,
    "in-lb": INCH * POUND * GRAVITY,
    "lbf/in": POUND * GRAVITY / INCH,
    "lb/ft": POUND / (12 * INCH),
    "psi": POUND * GRAVITY / INCH**2,
    "hp": 550 * 12 * INCH * POUND * GRAVITY,
    "mph": Fraction(44704, 100000),
    "ft/min": 12 * INCH / 60,
    "km/h": Fraction(1000, 3600),
    "bar": Fraction(100000),
    "kWh": Fraction(3600000),
    "year": Fraction(36525, 100) * 86400,
    "month": Fraction(36525, 1200) * 86400,
    "MB/s": Fraction(8000000),
    "cycles/h": Fraction(1, 3600),
}


@pytest.mark.parametrize("unit", DEFINED)
def test_factors_are_exactly_those_defined(unit: str) -> None:
    assert conversion(unit) == (DEFINED[unit], 0)


def test_pound_of_force_to_newton(registry: pint.UnitRegistry) -> None:
    """4.448222 N (NIST SP 811); 4.4482216 by pint's own registry."""
    assert to_si(1, "lbf") == pytest.approx(4.4482216, abs=5e-8)
    assert to_si(1, "lbf") == pytest.approx(registry.Quantity(1, "lbf").to("N").magnitude, rel=1e-15)


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("unit", [unit for unit in UNITS if unit.definition], ids=lambda unit: unit.name)
def test_agrees_with_pint_in_floating_point(unit: Unit, registry: pint.UnitRegistry) -> None:
    """Our names stand for the units pint knows: a wrong definition in our table would be a wrong spelling of it."""
    canonical = BY_NAME[KINDS[unit.kind].canonical]
    outside = registry.Quantity(1.7, unit.definition).to(canonical.definition).magnitude
    assert to_si(1.7, unit.name) == pytest.approx(outside, rel=1e-12)


def test_factors_are_exactly_those_of_pint() -> None:
    """Worked out in fractions; every unit that pint defines and that is not its kind's canonical one has a factor."""
    exact: Any = pint.UnitRegistry(non_int_type=Fraction)
    for unit in UNITS:
        canonical = KINDS[unit.kind].canonical
        if unit.name == canonical or not unit.definition:
            assert conversion(unit.name) == (1, 0)
            continue
        zero, one = (
            Fraction(
                exact.Quantity(Fraction(n), unit.definition).to(exact.Unit(BY_NAME[canonical].definition)).magnitude
            )
            for n in (0, 1)
        )
        assert conversion(unit.name) == (one - zero, zero), unit.name


def test_a_quantitys_unit_is_a_unit_of_its_kind() -> None:
    for name, kind in KINDS.items():
        assert kind.canonical == "" or known(kind.canonical).kind == name


def test_temperatures_have_an_offset_and_widths_have_none() -> None:
    assert to_si(32, "°F") == pytest.approx(273.15, rel=1e-15)
    assert to_si(212, "°F") == pytest.approx(373.15, rel=1e-15)
    assert to_si(-40, "°F") == pytest.approx(to_si(-40, "°C"), rel=1e-15)
    assert unit_size("°F") == pytest.approx(5 / 9, rel=1e-15)
    assert unit_size("°C") == 1.0


def test_rotation_is_not_frequency() -> None:
    assert to_si(60, "rpm") == pytest.approx(2 * math.pi, rel=1e-15)
    assert not same_dimension("rpm", "Hz")


@pytest.mark.parametrize("unit", [unit.name for unit in UNITS])
def test_to_unit_undoes_to_si(unit: str) -> None:
    assert to_unit(to_si(12.5, unit), unit) == pytest.approx(12.5, rel=1e-14)
    assert to_si(math.inf, unit) == math.inf


def test_not_a_number_is_never_converted() -> None:
    with pytest.raises(QuantityError, match="not a number"):
        to_si(math.nan, "V")


@pytest.mark.parametrize(
    ("unit", "canonical"),
    [
        ("in", "m"), ("mV", "V"), ("lbf", "N"), ("lb", "kg"), ("min", "s"), ("°F", "K"), ("kohm", "Ω"), ("dBm", "dBm"),
        ("dB", "dB"), ("AWG", "AWG"), ("turns", ""), ("", ""), ("%", "%"), ("psi", "Pa"), ("ft-lb", "N·m"),
    ],
)  # fmt: skip
def test_canonical_units(unit: str, canonical: str) -> None:
    assert canonical_unit(unit) == canonical


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ("in", "mm", True), ("VAC", "mV", True), ("lb", "lbf", False), ("N·m", "J", False), ("W", "VA", False),
        ("dB", "dBm", False), ("turns", "links", False), ("turns", "", True), ("count", "cycles", True),
        ("%", "", False),
    ],
)  # fmt: skip
def test_same_dimension(first: str, second: str, same: bool) -> None:
    assert same_dimension(first, second) is same
    assert same_dimension(second, first) is same


def test_known_units() -> None:
    assert all(map(known_unit, ["V", "ohm", "Ω", "in", "years", "cycles", "count", "", "Mbit/s", "VAC"]))
    assert not any(map(known_unit, ["vlots", "k", "meg", "[x]", "mb/s", "mF"]))


def test_no_two_units_share_a_name() -> None:
    names = [unit.name for unit in UNITS]
    assert len(names) == len(set(names))
    assert {unit.kind for unit in UNITS} == set(KINDS)
    for unit in UNITS:
        assert not unit.other or next(o for o in UNITS if o.name == unit.other).kind == unit.kind
        assert all(name in names for name in KINDS[unit.kind].mistaken)


def test_importing_loads_nothing_heavy_and_nothing_else_of_ours() -> None:
    program = (
        "import sys; import diagnose.quantities as q; q.read_quantity('24.1 V', 'V'); q.show(24.1, 'V');"
        "print(*sorted(sys.modules))"
    )
    loaded = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.split()
    assert not {"pint", "numpy", "difflib"} & set(loaded)
    ours = {name for name in loaded if name.startswith("diagnose.")}
    assert ours and all(name.startswith("diagnose.quantities") for name in ours)
