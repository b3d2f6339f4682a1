"""The question put where a value is outside its range, and the slip it offers."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.quantities import Quantity, implausible, read_quantity, to_si

LOOK_AGAIN = "Look again, and keep it only if that is what is there."

SLIPS = [
    ("112", 0, 48, "in", "112 in? This sits between 0 and 48 in. Did you mean 11.2 in?"),
    ("79", 2, 4, "in", "79 in? This sits between 2 and 4 in. Did you mean 79 mm?"),
    ("10", 96, 144, "in", "10 in? This sits between 96 and 144 in. Did you mean 100 in?"),
    ("10", 110, 144, "in", "10 in? This sits between 110 and 144 in. Did you mean 10 ft?"),
    ("67", -90, -20, "dBm", "67 dBm? This sits between -90 and -20 dBm. Did you mean -67 dBm?"),
    ("24000", 0, 60, "V", "24000 V? This sits between 0 and 60 V. Did you mean 24000 mV?"),
    ("1.2", 90, 140, "V", "1.2 V? This sits between 90 and 140 V. Did you mean 120 V?"),
    ("21", 32, 120, "°F", "21 °F? This sits between 32 and 120 °F. Did you mean 21 °C?"),
    ("10 mohm", 1e6, 1e9, "ohm", "10 mΩ (0.01 Ω)? This sits between 1 and 1000 MΩ. Did you mean 10 MΩ?"),
    ("1500", 0.1, 20, "A", "1500 A? This sits between 0.1 and 20 A. Did you mean 1500 mA?"),
    ("5", 0.25, 2, "in", "5 in? This sits between 1/4 and 2 in. Did you mean 0.5 in?"),
    ("500 cycles", 0, 100, "cycles", "500 cycles? This sits between 0 and 100 cycles. Did you mean 50 cycles?"),
    ("12", 90, math.inf, "V", "12 V? This sits above 90 V. Did you mean 120 V?"),
    ("-5", -math.inf, -10, "dBm", "-5 dBm? This sits below -10 dBm. Did you mean -50 dBm?"),
    ("10 ft 6 in", 0, 48, "in", f"10 ft 6 in (126 in)? This sits between 0 and 48 in. {LOOK_AGAIN}"),
    ("41", 14, 22, "AWG", f"41 AWG? This sits between 14 and 22 AWG. {LOOK_AGAIN}"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "low", "high", "unit", "sentence"), SLIPS)
def test_names_the_likely_slip(text: str, low: float, high: float, unit: str, sentence: str) -> None:
    assert implausible(read_quantity(text, unit), to_si(low, unit), to_si(high, unit), unit) == sentence


@pytest.mark.parametrize(
    ("text", "low", "high", "unit"),
    [("24", 0, 24, "V"), ("48", 0, 48, "in"), ("0", 0, 1, "V"), ("OL", 0, 100, "ohm"), ("70", 0, 100, "°F")],
)
def test_says_nothing_within_the_range_or_of_an_open_circuit(text: str, low: float, high: float, unit: str) -> None:
    assert implausible(read_quantity(text, unit), to_si(low, unit), to_si(high, unit), unit) is None


def test_over_range_is_asked_about_where_the_range_may_be_set_too_low() -> None:
    assert implausible(read_quantity("OL", "A"), 0.0, 60.0, "A") == (
        "Over range? Set the highest range and read again. Keep it if that is over range too, as above 60 A."
    )
    said = implausible(read_quantity("OL", "V"), 0.0, math.inf, "V")
    assert said is not None and said.startswith("Over range? Take the leads off first, and set")


def test_a_value_that_was_not_typed_is_taken_in_the_readings_unit() -> None:
    said = implausible(Quantity(2.8448, "m", ""), 0.0, to_si(48, "in"), "in")
    assert said == "112 in? This sits between 0 and 48 in. Did you mean 11.2 in?"


@given(
    value=st.decimals(min_value=-(10**6), max_value=10**6, places=2),
    low=st.floats(min_value=-500, max_value=500),
    width=st.floats(min_value=0.1, max_value=500),
    unit=st.sampled_from(["V", "in", "ft", "mm", "ohm", "dBm", "°F", "lbf", "s", "turns"]),
)
@settings(max_examples=300, deadline=None)
def test_what_is_offered_is_accepted_and_in_range(value: object, low: float, width: float, unit: str) -> None:
    low = low if unit != "°F" else abs(low)
    value = value if unit != "°F" else abs(value)  # type: ignore[arg-type]
    low_si, high_si = to_si(low, unit), to_si(low + width, unit)
    quantity = read_quantity(f"{value:f}", unit)
    said = implausible(quantity, low_si, high_si, unit)
    if low_si < quantity.value < high_si:
        assert said is None
    offered = re.search(r"Did you mean (.*)\?$", said or "")
    if offered:
        assert low_si <= read_quantity(offered[1], unit).value <= high_si
