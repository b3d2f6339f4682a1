"""Values as shown, and shown values read again."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from diagnose.quantities import QuantityError, read_quantity, show, to_si, to_unit
from diagnose.quantities.show import Shown


@pytest.mark.parametrize(
    ("value", "unit", "system", "step", "text"),
    [
        (3.125, "in", "us", 0, "3 1/8 in"),
        (3.125, "in", "metric", 0, "79.375 mm"),
        (3.125, "in", "both", 0, "3 1/8 in (79.4 mm)"),
        (0.5, "in", "us", 0, "1/2 in"),
        (0, "in", "both", 0, "0 in (0 mm)"),
        (3.8e-7, "in", "both", 0, "0.00000038 in (0.00000965 mm)"),
        (0.00001, "mm", "us", 0, "0.000000393701 in"),
        (-3.5, "in", "us", 0, "-3 1/2 in"),
        (3.11, "in", "us", 0, "3.11 in"),
        (3 + 1 / 32, "in", "us", 0, "3 1/32 in"),
        (3 + 1 / 64, "in", "us", 0, "3.01562 in"),
        (3.125, "in", "us", 0.001, "3.125 in"),
        (3.125, "in", "us", 1 / 16, "3 1/8 in"),
        (126.5 / 12, "ft", "us", 0, "10 ft 6 1/2 in"),
        (10, "ft", "us", 0, "10 ft"),
        (0.5, "ft", "us", 0, "6 in"),
        (-10.5, "ft", "us", 0, "-10 ft 6 in"),
        (10.1, "ft", "us", 0, "10.1 ft"),
        (79, "mm", "metric", 0, "79 mm"),
        (79, "mm", "both", 0, "79 mm (3 1/8 in)"),
        (26, "mm", "both", 0, "26 mm (1.02 in)"),
        (0.3, "mm", "both", 0, "0.3 mm (0.0118 in)"),
        (79.375, "mm", "us", 0, "3 1/8 in"),
        (112.5, "V", "us", 0, "112.5 V"),
        (112.5, "V", "both", 0, "112.5 V"),
        (112, "V", "us", 0.1, "112.0 V"),
        (24.04, "V", "us", 0.1, "24.0 V"),
        (-0.04, "V", "us", 0.1, "0.0 V"),
        (0.04, "in", "both", 0.1, "0.0 in (0 mm)"),
        (1500, "ohm", "us", 0, "1500 Ω"),
        (47000, "ohm", "us", 0.1, "47 kΩ"),
        (4700, "ohm", "us", 0.1, "4700.0 Ω"),
        (2.5, "deg", "us", 0.1, "2.5°"),
        (-1, "deg", "us", 0, "-1°"),
        (2.2e6, "ohm", "us", 0, "2.2 MΩ"),
        (math.inf, "ohm", "both", 0, "OL (open)"),
        (70, "°F", "both", 0, "70 °F (21.1 °C)"),
        (70, "°F", "metric", 1, "21.1 °C"),
        (25, "lbf", "both", 0, "25 lbf (111 N)"),
        (50, "ft-lb", "metric", 1, "68 N·m"),
        (-67, "dBm", "both", 0, "-67 dBm"),
        (14, "AWG", "us", 0, "14 AWG"),
        (-1, "AWG", "us", 0, "2/0 AWG"),
        (1, "day", "us", 0, "1 day"),
        (12, "days", "us", 0, "12 days"),
        (1234567, "cycles", "us", 0, "1234567 cycles"),
        (7, "", "both", 0, "7"),
        (3, "%", "us", 0, "3 %"),
        (35, "µF", "us", 0, "35 µF"),
        (0.00001, "µF", "us", 0, "0.00001 µF"),
        (1e-12, "µF", "us", 0, "1e-12 µF"),
    ],
)
def test_shows(value: float, unit: str, system: Shown, step: float, text: str) -> None:
    value_si = to_si(value, unit)
    assert show(value_si, unit, system, step) == text
    again = to_unit(read_quantity(text, unit).value, unit)
    rounding = max(step, abs(value) * 5e-6, 1e-6)
    assert again == value or again == pytest.approx(value, abs=rounding)


@given(
    value=st.floats(min_value=-1e7, max_value=1e7),
    unit=st.sampled_from(["in", "ft", "mm", "m", "lbf", "N", "lb", "ft-lb", "psi", "in/s", "V", "ohm", "s", "%", "hp"]),
    system=st.sampled_from(["us", "metric", "both"]),
    step=st.sampled_from([0.0, 0.0, 1.0, 0.1, 0.001, 1 / 16]),
)
@example(value=1e-5, unit="mm", system="us", step=0.0)
@example(value=0.79376, unit="mm", system="us", step=0.0)  # a hundred-thousandth of a millimetre off 1/32 in
@example(value=0.0263, unit="m", system="both", step=0.0)
@settings(max_examples=500, deadline=None)
def test_what_is_shown_reads_as_the_same_within_its_rounding(
    value: float, unit: str, system: Shown, step: float
) -> None:
    if abs(value) < 1e-9:
        value = 0.0
    again = to_unit(read_quantity(show(to_si(value, unit), unit, system, step), unit).value, unit)
    assert again == pytest.approx(value, rel=5.1e-6, abs=max(1.1e-6, step * 0.51))


@given(kelvin=st.floats(min_value=0, max_value=5000), unit=st.sampled_from(["°F", "°C"]))
@settings(deadline=None)
def test_temperatures_read_again_in_both_systems(kelvin: float, unit: str) -> None:
    for system in ("us", "metric"):
        shown = show(kelvin + 0.01, unit, system)  # type: ignore[arg-type]
        assert read_quantity(shown, unit).value == pytest.approx(kelvin + 0.01, abs=0.026)


def test_an_unknown_unit_is_refused() -> None:
    with pytest.raises(QuantityError, match="no unit known"):
        show(1.0, "vlots")
